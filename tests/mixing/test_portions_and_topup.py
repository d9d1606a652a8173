"""Gun loads and their clock; when colour runs short, and the top-up that nobody can tell apart."""

from datetime import UTC, datetime, timedelta

import pytest

from hidewright.mixing import MixPart, MixRecipe
from hidewright.mixing.portions import Clock, PotLife, Session, crosslink_now, crosslinker_for, gun_loads
from hidewright.mixing.topup import Part, plan_top_up, runs_short
from hidewright.refusals import Refusal

NINE = datetime(2026, 3, 2, 9, tzinfo=UTC)
BATCH = MixRecipe("Batch", (MixPart("base", "Base", 0.82, 1.03), MixPart("white", "White", 0.18, 1.95)))


def chairs(count: int, each: float = 50.0, pieces: int = 2) -> list[Part]:
    return [
        Part(f"c{n}p{p}", f"Chair {n}, piece {p}", f"Chair {n}", each / pieces)
        for n in range(1, count + 1)
        for p in range(1, pieces + 1)
    ]


def test_the_clock_runs_warns_and_ends() -> None:
    life = PotLife(NINE, 120)
    assert life.clock(NINE) is Clock.RUNNING
    assert life.clock(NINE + timedelta(minutes=89)) is Clock.RUNNING
    assert life.clock(NINE + timedelta(minutes=90)) is Clock.ENDING
    assert life.clock(NINE + timedelta(minutes=120)) is Clock.OVER
    assert life.left(NINE + timedelta(minutes=150)) == timedelta(0)
    assert PotLife(NINE, 20).warns == NINE + timedelta(minutes=10)
    assert PotLife(NINE, 5).warns == NINE


def test_loads_fit_the_gun_and_the_pot_life() -> None:
    loads = gun_loads(700, gun_cup=250, ml_per_minute=10, ratio=0.05)
    assert len(loads) == 3
    assert sum(load.colour for load in loads) == pytest.approx(700)
    assert all(load.colour + load.crosslinker <= 250 + 1e-9 for load in loads)
    slow = gun_loads(700, gun_cup=1000, ml_per_minute=5, pot_life=60)
    assert all(load.minutes <= 45 + 1e-9 for load in slow)
    with pytest.raises(Refusal):
        gun_loads(700, gun_cup=250, ml_per_minute=0.01, pot_life=60)


def test_crosslinker_by_ratio() -> None:
    assert crosslinker_for(250_000, 0.03) == 7_500
    with pytest.raises(Refusal):
        crosslinker_for(250_000, 3.0)


def test_only_what_the_session_sprays_is_crosslinked_and_touch_up_is_kept_back() -> None:
    sessions = [Session("Monday", 300), Session("Tuesday", 400)]
    assert crosslink_now(sessions, 0, 800, keep_back=60) == 300
    with pytest.raises(Refusal, match="60 mL short"):
        crosslink_now(sessions, 1, 400, keep_back=60)


def test_it_runs_short_at_the_seventh_chair() -> None:
    short = runs_short(chairs(10), 320)
    assert short is not None
    assert short.part.group == "Chair 7"
    assert short.missing == pytest.approx(180)
    assert runs_short(chairs(6), 320) is None


def test_a_top_up_is_the_batch_sized_with_reserve_and_boxed_at_the_start_of_a_group() -> None:
    plan = plan_top_up(BATCH, chairs(10), 320, reserve=0.1)
    assert plan is not None
    assert plan.recipe is BATCH
    assert plan.mix == pytest.approx(550 - 320)
    assert plan.at_group
    assert plan.step_de <= 0.5
    assert plan.boxed >= sum(p.colour for p in chairs(10)[chairs(10).index(plan.before) :])
    assert not plan.seam


def test_the_latest_place_that_passes_unseen_is_taken() -> None:
    """Old colour left o must be at least the mix for a step of half of ΔE 1: 230 mL, which is the start of chair 2 (270 left), not of chair 3 (220)."""
    plan = plan_top_up(BATCH, chairs(10), 320, reserve=0.1)
    assert plan is not None
    assert plan.before.group == "Chair 2"
    assert plan.box_with == pytest.approx(270)


def test_too_little_old_colour_warns_of_a_seam() -> None:
    parts = chairs(10)
    plan = plan_top_up(BATCH, parts, 20, reserve=0.1)
    assert plan is not None
    assert plan.before is parts[0]
    assert plan.step_de > 0.5
    assert "coated before" in plan.seam
    mixed = plan_top_up(BATCH, parts, 0, reserve=0.1)
    assert mixed is not None
    assert mixed.step_de == pytest.approx(1.0)


def test_before_anything_was_coated_boxing_makes_no_step() -> None:
    plan = plan_top_up(BATCH, chairs(10), 20, reserve=0.1, begun=False)
    assert plan is not None
    assert plan.before.key == "c1p1"
    assert plan.step_de == 0
    assert not plan.seam


def test_no_top_up_when_there_is_enough_or_nothing_left_to_coat() -> None:
    assert plan_top_up(BATCH, chairs(4), 500) is None
    assert plan_top_up(BATCH, [], 0) is None
