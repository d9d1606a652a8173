"""The bench's steps on rows: tokens, sequences, counter-entries, overshoots, portions, jars."""

import pytest
from django.test import Client

from hidewright import demo
from hidewright.mixing import MixPart, MixRecipe
from hidewright.mixing.ledger import by_component, volume
from hidewright.refusals import Refusal
from hidewright.workshop.bench import jar_actions as jar_steps
from hidewright.workshop.bench import load_actions as portions
from hidewright.workshop.bench import queries as bench
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixEntry, MixTurn, MixVessel
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job

pytestmark = pytest.mark.django_db

RECIPE = MixRecipe(
    "Saddle",
    (
        MixPart("base", "Clear base", 0.82, 1.03),
        MixPart("PW6", "White", 0.12, 1.95),
        MixPart("PBr7", "Umber", 0.06, 1.45),
    ),
)
HEXES = {"base": "#e9e6df", "PW6": "#f4f2ec", "PBr7": "#5b4636"}


def begun(job: Job, **facts: object) -> MixVessel:
    return steps.begin_cup(job, RECIPE, 500, capacity=700, hexes=HEXES, mixed_hex="#a08060", **facts)  # type: ignore[arg-type]


def mixed(job: Job) -> MixVessel:
    row = begun(job)
    for key, amount in (("base", 410_000), ("PW6", 60_000), ("PBr7", 30_000)):
        steps.pour(row, key, amount)
    return row


def held(row: MixVessel) -> dict[str, int]:
    return by_component(gather.ledger_of([row]), row.key)


def test_what_is_in_the_cup_and_what_is_needed_follow_from_the_pours(job: Job) -> None:
    row = begun(job)
    steps.pour(row, "base", 410_000)
    state = gather.state_of(row)
    assert state.volume == 410
    assert state.next_step is not None
    assert state.next_step.key == "PW6"
    assert state.next_step.grams == pytest.approx(60 * 1.95)
    assert state.next_step.shows == pytest.approx(410 * 1.03 + 60 * 1.95)
    assert gather.colour_in_hand(job) == 0, "a cup that is half poured is no colour in hand"


def test_a_cup_that_lacks_a_little_of_a_strong_pigment_is_not_mixed(job: Job) -> None:
    """Under one per cent of the cup may be all of its red."""
    row = begun(job)
    steps.pour(row, "base", 410_000)
    steps.pour(row, "PW6", 60_000)
    steps.pour(row, "PBr7", 29_000)
    assert not gather.state_of(row).finished
    steps.pour(row, "PBr7", 990)
    assert gather.state_of(row).finished, "0.01 mL is under what a balance of 0.1 g tells"


def test_a_mixed_cup_is_colour_in_hand(job: Job) -> None:
    row = mixed(job)
    assert gather.state_of(row).finished
    assert gather.colour_in_hand(job) == 500


def test_an_overshoot_is_solved_again_and_named(job: Job) -> None:
    row = begun(job)
    steps.pour(row, "base", 410_000)
    steps.pour(row, "PW6", 72_000)
    state = gather.state_of(row)
    assert state.need is not None
    assert state.need.over == "PW6"
    assert state.need.total == 600_000
    assert state.refusal is None
    assert {p.key: p.need for p in state.need.parts} == {"base": 82_000, "PW6": 0, "PBr7": 36_000}


def test_an_overshoot_beyond_the_vessel_goes_on_in_a_bigger_one(job: Job) -> None:
    row = begun(job)
    steps.pour(row, "PW6", 120_000)
    state = gather.state_of(row)
    assert state.refusal is not None
    assert "at least 1000 mL" in state.refusal.remedy
    larger = steps.bigger_vessel(row, 1100, token="big")
    assert steps.bigger_vessel(row, 1100, token="big") == larger
    after = gather.state_of(larger)
    assert after.refusal is None
    assert after.volume == 120
    row.refresh_from_db()
    assert row.put_away is not None


def test_a_repeated_token_is_logged_once(job: Job) -> None:
    row = begun(job)
    first = steps.pour(row, "base", 1000, token="tap")
    again = steps.pour(row, "base", 1000, token="tap")
    assert first.fresh
    assert not again.fresh
    assert first.entry == again.entry
    assert held(row) == {"base": 1000}


def test_each_vessel_has_its_sequence_without_gaps(job: Job) -> None:
    row = mixed(job)
    load = portions.draw_off(row, 100)
    portions.use(load, 40)
    portions.discard(row, 10)
    for vessel, count in ((row, 5), (load, 2)):
        assert list(MixTurn.objects.filter(vessel=vessel).values_list("seq", flat=True)) == list(
            range(1, count + 1)
        )


def test_undo_is_a_counter_entry_once(job: Job) -> None:
    row = begun(job)
    steps.pour(row, "base", 1000)
    act = Act.objects.exclude(undo_name="").latest("id")
    acts.undo(act.pk)
    assert held(row) == {}
    assert MixEntry.objects.count() == 2
    with pytest.raises(Refusal):
        acts.undo(act.pk)
    with pytest.raises(Refusal, match="taken back already"):
        steps.take_back(MixEntry.objects.earliest("id").pk)


def test_a_refused_step_leaves_nothing_behind(job: Job) -> None:
    row = mixed(job)
    before = (MixVessel.objects.count(), MixEntry.objects.count(), Act.objects.count())
    with pytest.raises(Refusal):
        portions.draw_off(row, 9000)
    with pytest.raises(Refusal):
        jar_steps.keep_jar(row, 9000)
    with pytest.raises(Refusal):
        steps.pour(row, "PW6", 300_000)
    assert (MixVessel.objects.count(), MixEntry.objects.count(), Act.objects.count()) == before


def test_crosslinked_colour_starts_its_clock_and_goes_into_no_jar(job: Job) -> None:
    row = mixed(job)
    load = portions.draw_off(row, 200, token="draw")
    assert portions.draw_off(row, 200, token="draw") == load
    portions.crosslink(load, "Polyaziridine", 0.03, 240)
    load.refresh_from_db()
    state = gather.state_of(load)
    assert state.crosslinked
    assert state.life is not None
    assert state.life.minutes == 240
    assert state.volume == pytest.approx(206)
    with pytest.raises(Refusal, match="it would set"):
        jar_steps.keep_jar(load, 50)
    assert MixVessel.objects.filter(kind="jar").count() == 0
    assert gather.colour_in_hand(job) == pytest.approx(506)
    portions.use(load, 150)
    portions.discard(load, 56)
    assert not gather.state_of(load).crosslinked
    assert gather.colour_used(job) == pytest.approx(150 / 1.03, abs=0.01), "without its crosslinker"


def test_a_jar_keeps_its_formula_and_its_day_and_is_made_again(job: Job) -> None:
    row = mixed(job)
    jar = jar_steps.keep_jar(row, 80)
    kept = gather.jar_of(jar)
    assert kept.state.volume == 80
    assert [line.key for line in kept.state.lines] == ["base", "PW6", "PBr7"]
    assert kept.state.lines[1].share == pytest.approx(0.12)
    assert jar.keep_until is not None
    assert jar.kept_on is not None
    assert (jar.keep_until - jar.kept_on).days == 180
    again = jar_steps.mix_again(jar, job, 60)
    need = gather.state_of(again).need
    assert need is not None
    assert {p.key: p.want for p in need.parts} == {"base": 49_200, "PW6": 7_200, "PBr7": 3_600}


def test_boxing_makes_one_batch(job: Job) -> None:
    first, second = mixed(job), mixed(job)
    portions.use(first, 200)
    with pytest.raises(Refusal, match="run over"):
        portions.box([second], first)
    portions.use(first, 100)
    third = jar_steps.mix_again(first, job, 200)
    for part in gather.state_of(third).need.parts:  # type: ignore[union-attr]
        steps.pour(third, part.key, part.need)
    portions.box([third], first)
    assert volume(gather.ledger_of([first]), first.key) == 400_000
    assert gather.state_of(first).finished


def test_a_vessel_with_colour_in_it_is_not_put_away(job: Job) -> None:
    row = mixed(job)
    with pytest.raises(Refusal, match="500 mL in it"):
        steps.put_away(row)
    portions.discard(row, 500)
    steps.put_away(row)
    row.refresh_from_db()
    assert row.put_away is not None
    with pytest.raises(Refusal, match="was put away"):
        steps.pour(row, "base", 1000)


def test_drops_are_calibrated_by_bottle(job: Job) -> None:
    row = begun(job, measure="drops")
    steps.calibrate_drop("PBr7", 20, 1.16)
    state = gather.state_of(row)
    umber = next(s for s in state.steps if s.key == "PBr7")
    white = next(s for s in state.steps if s.key == "PW6")
    assert umber.drops == 750
    assert white.drops == 1200, "20 drops a mL until its bottle was calibrated"


def test_a_cup_that_does_not_fit_its_vessel_is_refused(job: Job) -> None:
    with pytest.raises(Refusal, match="do not go into this vessel"):
        steps.begin_cup(job, RECIPE, 500, capacity=400)


def test_taken_as_it_is(job: Job) -> None:
    row = begun(job)
    steps.pour(row, "base", 400_000)
    assert not gather.state_of(row).finished
    steps.accept(row)
    row.refresh_from_db()
    assert gather.state_of(row).finished
    acts.undo(Act.objects.latest("id").pk)
    row.refresh_from_db()
    assert not gather.state_of(row).finished


def test_spraying_tells_the_book_and_the_yield_together_and_is_undone_together(job: Job) -> None:
    import_csv(job, demo.text("pieces.csv"))
    before = quantities.colour_needed(job)
    assert before is not None
    row = mixed(job)
    groups = bench.groups_left(job)
    shares = bench.shares_of(job, groups[:2], None)
    assert shares
    assert set(shares.values()) == {1.0}
    portions.spray(row, 300, shares, token="spray")
    assert not portions.spray(row, 300, shares, token="spray").fresh
    assert quantities.uses(job)[0].millilitres == 300
    after = quantities.colour_needed(job)
    assert after is not None
    assert after[0] < before[0]
    assert gather.colour_in_hand(job) == 200
    acts.undo(Act.objects.filter(undo_name="mixing.unspray").latest("id").pk)
    assert quantities.uses(job) == []
    assert gather.colour_in_hand(job) == 500


def test_the_bench_says_where_the_colour_gives_out_and_when_to_box(job: Job) -> None:
    import_csv(job, demo.text("pieces.csv"))
    row = mixed(job)
    states = gather.states_of(gather.job_vessels(job))
    found = bench.enough(job, states)
    assert found.short_at is not None
    assert found.stand is not None
    assert found.stand.status == "to mix", "nothing was sprayed yet: it is not short, it is still to be mixed"
    assert found.top_up is not None
    assert found.top_up.mix == found.stand.mix > 0
    assert found.top_up.step_de == 0, "nothing was coated yet"
    shares = bench.shares_of(job, bench.groups_left(job)[:1], 1)
    portions.spray(row, 100, shares)
    again = bench.enough(job, gather.states_of(gather.job_vessels(job)))
    assert again.top_up is not None
    assert again.top_up.step_de > 0
    assert again.in_hand == 400


def test_both_pages_and_the_header_tell_one_amount(job: Job, visitor: Client) -> None:
    import_csv(job, demo.text("pieces.csv"))
    row = mixed(job)
    for spent in (0, 150):
        if spent:
            portions.spray(row, spent, bench.shares_of(job, bench.groups_left(job)[:1], None))
        mixing_page = visitor.get(f"/jobs/{job.pk}/mixing/")
        quantities_page = visitor.get(f"/jobs/{job.pk}/quantities/")
        told = mixing_page.context["enough"].advice
        assert told == quantities_page.context["advice"]
        assert mixing_page.context["enough"].mix == quantities_page.context["stand"].mix > 0
        assert told.what in mixing_page.content.decode()
        assert told.what in quantities_page.content.decode()
        assert mixing_page.context["header"].enough == told.status
