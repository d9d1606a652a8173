"""A cup on its way to full: steps, overshoots, refusals, and what parts mean."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.colour.recipes import Part
from hidewright.mixing.cup import drops, plan_cup, share_by_volume
from hidewright.mixing.ledger import Contents
from hidewright.refusals import Refusal

PARTS = (
    Part("PW6", "White", 90.0, 175.5),
    Part("PBr7", "Umber", 90.0, 130.5),
    Part("base", "Clear base", 820.0, 844.6),
)


def holding(**parts: float) -> Contents:
    return Contents(parts, linked=False)


def test_an_empty_cup_wants_the_recipe() -> None:
    cup = plan_cup(PARTS, 500, holding(), 600)
    assert [round(s.left, 3) for s in cup.steps] == [45.0, 45.0, 410.0]
    assert cup.current is cup.steps[0]
    assert cup.running_grams() == (87.8, 153.0, 575.3)


def test_an_overshoot_lifts_the_rest_in_proportion() -> None:
    cup = plan_cup(PARTS, 500, holding(PW6=54.0), 700)
    assert cup.total == pytest.approx(600.0)
    assert cup.grown == pytest.approx(100.0)
    assert cup.steps[1].left == pytest.approx(54.0)


def test_an_overshoot_beyond_the_vessel_is_refused_with_what_to_do() -> None:
    with pytest.raises(Refusal, match="vessel of at least 600 mL"):
        plan_cup(PARTS, 500, holding(PW6=54.0), 550)


def test_a_strange_part_is_refused() -> None:
    with pytest.raises(Refusal, match="PV23"):
        plan_cup(PARTS, 500, holding(PV23=1.0), 550)


@given(st.lists(st.floats(0, 300), min_size=3, max_size=3))
def test_what_is_poured_to_the_end_has_the_colour_of_the_recipe(poured: list[float]) -> None:
    inside = dict(zip(("PW6", "PBr7", "base"), poured, strict=True))
    cup = plan_cup(PARTS, 100, Contents(inside, False), 1e6)
    final = [max(s.wanted, s.poured) for s in cup.steps]
    whole = sum(final)
    for amount, part in zip(final, PARTS, strict=True):
        assert amount / whole == pytest.approx(part.volume / 1000, rel=2.5e-3)
    assert all(s.left >= 0 for s in cup.steps)


def test_parts_mean_what_the_trade_means() -> None:
    """Common practice, no source: one to five is 16-17 %, to four 20 %, to four and a half about 18 %."""
    assert 0.16 <= share_by_volume(1, 5) <= 0.17
    assert share_by_volume(1, 4) == pytest.approx(0.20)
    assert share_by_volume(1, 4.5) == pytest.approx(0.18, abs=0.005)


def test_drops_are_whole() -> None:
    assert drops(1.02) == 20
    with pytest.raises(Refusal):
        drops(1.0, 3.0)
