"""Single acts at the bench: what they move, and what they refuse."""

from datetime import UTC, datetime

import pytest

from hidewright.mixing import SPRAYED, STOCK, WASTE, Act, Entry, Ledger, Move, Vessel, VesselKind, acts
from hidewright.mixing.ledger import by_component, contents, crosslinked_since, volume
from hidewright.refusals import Refusal
from mixing.bench import LINKER, ML, bench


def filled() -> Ledger:
    """A cup with 100.003 mL of base and 20 mL of white."""
    ledger = bench()
    ledger = ledger.added(acts.pour(ledger, "cup", "base", 100_003, lot="B7"))
    return ledger.added(acts.pour(ledger, "cup", "white", 20_000))


def test_contents_follow_from_the_pours_alone() -> None:
    ledger = filled()
    assert contents(ledger, "cup") == {("base", "B7"): 100_003, ("white", ""): 20_000}
    assert by_component(ledger, STOCK) == {"base": -100_003, "white": -20_000}
    assert volume(ledger, "cup") == 120_003


def test_lots_stay_apart_and_add_up() -> None:
    ledger = filled()
    ledger = ledger.added(acts.pour(ledger, "cup", "base", 5, lot="B8"))
    assert contents(ledger, "cup")[("base", "B8")] == 5
    assert by_component(ledger, "cup")["base"] == 100_008


def test_a_split_takes_every_part_in_proportion_and_loses_no_microlitre() -> None:
    ledger = filled()
    after = ledger.added(acts.split(ledger, "cup", "gun", 40_001))
    assert volume(after, "gun") == 40_001
    assert volume(after, "cup") == 80_002
    for content, amount in contents(after, "gun").items():
        assert amount == pytest.approx(contents(ledger, "cup")[content] * 40_001 / 120_003, abs=1)


def test_a_cup_does_not_run_over() -> None:
    ledger = bench(cup=100)
    ledger = ledger.added(acts.pour(ledger, "cup", "base", 90 * ML))
    with pytest.raises(Refusal, match=r"run over by 5\.00 mL.*at most 10\.00 mL"):
        acts.pour(ledger, "cup", "white", 15 * ML)


def test_more_than_is_there_cannot_be_drawn_off() -> None:
    with pytest.raises(Refusal, match=r"120\.00 mL in it, not 200\.00 mL"):
        acts.use(filled(), "cup", 200 * ML)


def crosslinked() -> Ledger:
    ledger = filled()
    ledger = ledger.added(acts.split(ledger, "cup", "gun", 50 * ML))
    return ledger.added(acts.crosslink(ledger, "gun", LINKER, 1500, at=datetime(2026, 3, 2, 9, tzinfo=UTC)))


def test_crosslinked_colour_cannot_go_back_to_a_jar_and_the_ledger_says_why() -> None:
    with pytest.raises(Refusal, match=r"crosslinked.*cannot go into the jar.*it would set"):
        acts.to_jar(crosslinked(), "gun", "jar", 10 * ML)


def test_crosslinked_colour_is_not_poured_to_colour_that_is_not() -> None:
    ledger = crosslinked()
    with pytest.raises(Refusal, match="may not be poured together"):
        acts.split(ledger, "gun", "cup", 10 * ML)
    with pytest.raises(Refusal, match="may not be poured together"):
        acts.split(ledger, "cup", "gun", 10 * ML)
    with pytest.raises(Refusal, match="nothing more is mixed into it"):
        acts.pour(ledger, "gun", "white", ML)


def test_a_drop_of_crosslinked_colour_is_crosslinked_however_small() -> None:
    """Its share of crosslinker rounds to no µL at all; the history tells."""
    ledger = crosslinked()
    ledger = ledger.added(acts.split(ledger, "gun", "other", 1))
    assert LINKER not in by_component(ledger, "other")
    assert crosslinked_since(ledger, "other") is not None
    with pytest.raises(Refusal, match="crosslinked"):
        acts.to_jar(ledger, "other", "jar", 1)


def test_the_older_crosslinking_counts() -> None:
    ledger = crosslinked()
    ledger = ledger.added(acts.split(ledger, "cup", "other", 30 * ML))
    ledger = ledger.added(acts.crosslink(ledger, "other", LINKER, 900))
    ledger = ledger.added(acts.split(ledger, "gun", "other", 10 * ML))
    since = crosslinked_since(ledger, "other")
    assert since is not None
    assert since.at == datetime(2026, 3, 2, 9, tzinfo=UTC)


def test_an_emptied_gun_cup_starts_afresh() -> None:
    ledger = crosslinked()
    ledger = ledger.added(acts.discard(ledger, "gun", volume(ledger, "gun")))
    assert crosslinked_since(ledger, "gun") is None
    assert acts.split(ledger, "cup", "gun", ML).act is Act.SPLIT


def test_taking_the_crosslinker_back_ends_it() -> None:
    ledger = crosslinked()
    ledger = ledger.added(acts.counter(ledger, ledger.entries[-1].number))
    assert crosslinked_since(ledger, "gun") is None


def test_crosslinker_is_refused_in_a_jar_in_an_empty_cup_twice_and_as_a_pour() -> None:
    ledger = filled()
    ledger = ledger.added(acts.to_jar(ledger, "cup", "jar", ML))
    with pytest.raises(Refusal, match="is a jar"):
        acts.crosslink(ledger, "jar", LINKER, 100)
    with pytest.raises(Refusal, match="is empty"):
        acts.crosslink(ledger, "gun", LINKER, 100)
    with pytest.raises(Refusal, match="crosslinked already"):
        acts.crosslink(crosslinked(), "gun", LINKER, 100)
    with pytest.raises(Refusal, match="not poured as a part"):
        acts.pour(ledger, "cup", LINKER, 100)


def test_boxing_pours_all_of_it_together() -> None:
    ledger = filled()
    ledger = ledger.added(acts.pour(ledger, "other", "umber", 7_777))
    ledger = ledger.added(acts.box(ledger, ["other"], "cup"))
    assert volume(ledger, "other") == 0
    assert by_component(ledger, "cup") == {"base": 100_003, "white": 20_000, "umber": 7_777}


def test_boxing_refuses_what_is_partly_crosslinked_even_into_an_empty_vessel() -> None:
    with pytest.raises(Refusal, match="may not be poured together"):
        acts.box(crosslinked(), ["cup", "gun"], "other")


def test_a_counter_entry_moves_the_same_back_once() -> None:
    ledger = filled()
    ledger = ledger.added(acts.counter(ledger, 2))
    assert by_component(ledger, "cup") == {"base": 100_003}
    with pytest.raises(Refusal, match="taken back already"):
        acts.counter(ledger, 2)
    with pytest.raises(Refusal, match="not taken back"):
        acts.counter(ledger, 3)


def test_what_was_drawn_off_since_must_come_back_first_and_the_refusal_names_it() -> None:
    ledger = filled()
    ledger = ledger.added(acts.split(ledger, "cup", "gun", 50 * ML))
    with pytest.raises(Refusal, match="Take back entry 3 first"):
        acts.counter(ledger, 1)
    ledger = ledger.added(acts.counter(ledger, 3))
    assert acts.counter(ledger, 1).counters == 1


def test_taking_back_into_a_vessel_that_was_filled_since_is_refused() -> None:
    ledger = bench(cup=100)
    ledger = ledger.added(acts.pour(ledger, "cup", "base", 90 * ML))
    ledger = ledger.added(acts.discard(ledger, "cup", 60 * ML))
    ledger = ledger.added(acts.pour(ledger, "cup", "base", 60 * ML))
    with pytest.raises(Refusal, match="run over"):
        acts.counter(ledger, 2)


def test_outer_places_name_no_vessel_and_moves_move_something() -> None:
    for place in (STOCK, SPRAYED, WASTE):
        with pytest.raises(Refusal):
            Vessel(place, "x", VesselKind.CUP, 1000)
    with pytest.raises(Refusal):
        Move("cup", "cup", "base", 1)
    with pytest.raises(Refusal):
        Move(STOCK, "cup", "base", 0)
    with pytest.raises(Refusal):
        Entry(1, Act.POUR, ())


def test_entries_keep_their_order() -> None:
    ledger = filled()
    with pytest.raises(Refusal, match="order of their numbers"):
        ledger.added(ledger.entries[0])
