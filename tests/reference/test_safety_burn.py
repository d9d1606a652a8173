"""Burn records beside the limits of 14 CFR 25 Appendix F Part I and 49 CFR 571.302. CHECKS.md §6."""

import pytest

from hidewright.refusals import Refusal
from hidewright.safety.burn import (
    JUDGES,
    Conditioning,
    Specimen,
    compare_horizontal,
    compare_vertical,
    horizontal_rate,
)

KEPT = Conditioning(70, 50, 24)


def test_vertical_limits_are_averages_of_three() -> None:
    """8 in (203 mm), 15 s, 5 s, each the average of at least three specimens (14 CFR 25 Appendix F Part I)."""
    at_the_limit = (Specimen(190, 10, 5), Specimen(203.2, 15, 5), Specimen(216.4, 20, 5))
    found = compare_vertical(at_the_limit, KEPT)
    assert found.all_within
    assert found.lines[0].value == pytest.approx(203.2)
    assert found.lines[0].limit == pytest.approx(203.2)
    over = compare_vertical((*at_the_limit[:2], Specimen(217.0, 20, 5)), KEPT)
    assert not over.lines[0].within
    assert over.lines[1].within


def test_a_record_with_two_specimens_or_unkept_conditioning_is_lacking() -> None:
    two = (Specimen(100, 1, 0), Specimen(100, 1, 0))
    assert not compare_vertical(two, KEPT).all_within
    three = (*two, Specimen(100, 1, 0))
    assert compare_vertical(three, KEPT).all_within
    for conditioning in (None, Conditioning(76, 50, 24), Conditioning(70, 56, 24), Conditioning(70, 50, 23)):
        assert compare_vertical(three, conditioning).lacking
    with pytest.raises(Refusal):
        compare_vertical((), KEPT)


def test_horizontal_rate_beside_its_limit() -> None:
    """B = 60·D/T ≤ 102 mm/min: D 254 mm in 150 s → 101.6, in 149 s → 102.3 (49 CFR 571.302)."""
    assert horizontal_rate(254, 150) == pytest.approx(101.6)
    assert compare_horizontal(254, 150).all_within
    assert horizontal_rate(254, 149) == pytest.approx(102.28, abs=0.01)
    assert not compare_horizontal(254, 149).all_within


def test_a_flame_that_stops_soon_is_compared_by_time_and_distance() -> None:
    """Stops within 60 s and 51 mm from the start of timing; its rate is then not asked."""
    assert compare_horizontal(51, 25, stopped=True).all_within
    assert horizontal_rate(51, 25) > 102
    assert not compare_horizontal(52, 25, stopped=True).all_within


def test_no_finding_is_given() -> None:
    found = compare_horizontal(254, 150)
    assert found.judges == JUDGES
    assert "licensed or authorised person" in found.judges
