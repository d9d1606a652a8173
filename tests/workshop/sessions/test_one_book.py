"""One book: a session's tap ticks the work, draws the colour, counts the coats and teaches; one undo takes all of it back."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from hidewright.mixing.ledger import volume
from hidewright.takeoff.coats import Stage
from hidewright.workshop.bench import load_actions
from hidewright.workshop.bench import queries as bench
from hidewright.workshop.days.progress_queries import standings
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.sessions.actions import tell
from hidewright.workshop.sessions.draw_queries import draws
from hidewright.workshop.sessions.models import SessionDone
from hidewright.workshop.shelf import vessel_queries as vessels
from hidewright.workshop.shelf.models import MixVessel, StockMove
from hidewright.workshop.shelf.vessel_actions import take_back
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo
from workshop.lean_shop import PIECES, keys, lean_job, mixed

pytestmark = pytest.mark.django_db


@pytest.fixture
def lean(db: None) -> Job:
    return lean_job()


def done(job: Job) -> set[str]:
    return {key for key, standing in standings(job).items() if standing.done}


def held(vessel: MixVessel) -> float:
    return volume(vessels.ledger_of([vessel]), vessel.key) / 1000


def share(job: Job, piece: str, stage: Stage) -> float:
    found = quantities.quantities(job)
    assert found
    return next(
        float(d)
        for item, d in zip(found.model.items, found.model.done, strict=True)
        if item.piece == piece and item.stage is stage
    )


def test_one_tap_ticks_draws_and_counts(lean: Job) -> None:
    cup = mixed(lean)
    acts = keys("wipe in colour", "spray colour")
    wanted = draws(lean, tuple(acts))
    assert [draw.pot for draw in wanted] == ["colour 0"]
    tell(lean, acts, "done", "one")
    assert done(lean) == set(acts)
    assert held(cup) == pytest.approx(1000 - wanted[0].millilitres, abs=0.01)
    assert share(lean, "C1", Stage.WIPED) == 1.0
    assert share(lean, "C1", Stage.COLOUR) == pytest.approx(0.5), "one coat of two"
    assert quantities.colour_gone(lean) == pytest.approx(wanted[0].millilitres, abs=0.01)
    found = quantities.quantities(lean)
    assert found
    assert found.standing.used == pytest.approx(bench.colour_gone(lean))
    assert found.model.entries == 0, "a forecast that was not read teaches nothing"


def test_told_twice_it_counts_once_and_what_is_done_draws_nothing_again(lean: Job) -> None:
    cup = mixed(lean)
    acts = keys("spray colour")
    tell(lean, acts, "done", "one")
    left = held(cup)
    assert not tell(lean, acts, "done", "one").fresh
    assert tell(lean, acts, "done", "another device").row.keys == []
    assert held(cup) == left


def test_a_reading_is_drawn_as_read_and_teaches_the_yield(lean: Job) -> None:
    cup = mixed(lean)
    forecast = draws(lean, tuple(keys("spray colour")))[0].millilitres
    before = quantities.quantities(lean)
    tell(lean, keys("spray colour"), "done", "one", amounts={"colour 0": 1.5 * forecast})
    after = quantities.quantities(lean)
    assert before
    assert after
    assert held(cup) == pytest.approx(1000 - 1.5 * forecast, abs=0.01)
    assert after.model.entries == 1
    assert after.model.expected(1) > 1.1 * before.model.expected(1), "it takes more than was thought"


def test_a_load_that_holds_too_little_gives_what_it_has_and_says_so(lean: Job) -> None:
    cup = mixed(lean)
    load = load_actions.draw_off(cup, 20)
    event = tell(
        lean, keys("spray colour"), "done", "one", amounts={"colour 0": 50.0}, sources={"colour 0": load}
    )
    assert held(load) == 0
    assert held(cup) == pytest.approx(980)
    assert "30 mL too little" in event.row.note
    assert quantities.colour_gone(lean) == pytest.approx(50), "what was sprayed was sprayed"


def test_the_crosslinked_load_comes_first_and_its_linker_is_no_colour(lean: Job) -> None:
    cup = mixed(lean)
    load = load_actions.draw_off(cup, 200)
    load_actions.crosslink(load, "Linker", 0.03, 240)
    tell(lean, keys("spray colour"), "done", "one", amounts={"colour 0": 100.0})
    assert held(load) == pytest.approx(206 - 103, abs=0.01)
    assert held(cup) == pytest.approx(800)
    assert quantities.colour_gone(lean) == pytest.approx(100, abs=0.01)


def test_clear_comes_off_the_shelf(lean: Job) -> None:
    tell(lean, keys("spray clear"), "done", "one", amounts={"clear": 80.0})
    assert sum(move.millilitres for move in StockMove.objects.all()) == pytest.approx(2000 - 80)
    assert share(lean, "C3", Stage.CLEAR) == pytest.approx(0.5), "one coat of two"
    undo(Act.objects.filter(job=lean).exclude(undo_name="").first().pk)  # type: ignore[union-attr]
    assert sum(move.millilitres for move in StockMove.objects.all()) == pytest.approx(2000)
    assert share(lean, "C3", Stage.CLEAR) == 0


def test_one_undo_takes_all_of_it_back(lean: Job) -> None:
    cup = mixed(lean)
    tell(lean, keys("spray colour"), "done", "one", amounts={"colour 0": 90.0})
    act = Act.objects.filter(job=lean).exclude(undo_name="").first()
    assert act
    assert act.text == "Spray colour on 3 pieces done: 90 mL out of Saddle, batch 1"
    undo(act.pk)
    assert done(lean) == set()
    assert held(cup) == pytest.approx(1000)
    assert quantities.colour_gone(lean) == 0
    assert share(lean, "C1", Stage.COLOUR) == 0


def test_one_piece_that_was_not_done_after_all_leaves_the_reading_with_the_others(lean: Job) -> None:
    cup = mixed(lean)
    tell(lean, keys("spray colour"), "done", "one", amounts={"colour 0": 90.0})
    tell(lean, keys("spray colour", pieces=("C3",)), "undo", "two", at=timezone.now() + timedelta(seconds=1))
    assert done(lean) == set(keys("spray colour", pieces=("C1", "C2")))
    assert held(cup) == pytest.approx(910, abs=0.01)
    assert share(lean, "C3", Stage.COLOUR) == 0
    assert [set(use.done) for use in quantities.uses(lean)] == [{"C1", "C2"}]
    assert SessionDone.objects.filter(withdrawn=None, kind="done").get().keys == keys(
        "spray colour", pieces=("C1", "C2")
    )


def test_colour_that_was_taken_back_at_the_bench_is_used_nowhere(lean: Job) -> None:
    mixed(lean)
    event = tell(lean, keys("spray colour"), "done", "one", amounts={"colour 0": 90.0})
    bench_entry = event.row.entries.get()
    take_back(bench_entry.pk)
    found = quantities.quantities(lean)
    assert found
    assert quantities.colour_gone(lean) == found.standing.used == 0
    assert share(lean, "C1", Stage.COLOUR) == pytest.approx(0.5), "the coat is on all the same"


def test_the_page_tells_the_litres_and_takes_what_was_read(visitor: Client, lean: Job) -> None:
    cup = mixed(lean)
    page = visitor.get(f"/jobs/{lean.pk}/days/2026-03-02/").content.decode()
    assert 'name="pot:colour 0"' in page
    assert "out of Saddle, batch 1" in page
    acts = keys("wipe in colour", "spray colour")
    fields = {
        "act_key": acts, "kind": "done", "token": "t", "but": ["C2"],
        "pot:colour 0": "60 mL", "forecast:colour 0": "85 mL",
    }  # fmt: skip
    answer = visitor.post(f"/jobs/{lean.pk}/days/tap/", fields, headers={"accept": "application/json"})
    assert answer.status_code == 200, answer.content
    assert done(lean) == {key for key in acts if not key.startswith("C2/")}
    assert held(cup) == pytest.approx(940, abs=0.01)
    assert len(PIECES) == 3
