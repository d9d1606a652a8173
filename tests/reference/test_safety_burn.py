"""Burn records beside the limits of 14 CFR 25 Appendix F Part I and 49 CFR 571.302."""

import pytest

from hidewright.refusals import Refusal
from hidewright.safety.burn import (
    JUDGES,
    Comparison,
    Conditioning,
    Specimen,
    compare_horizontal,
    compare_vertical,
    horizontal_rate,
)

KEPT = Conditioning(70, 50, 24)


def all_within(found: Comparison) -> bool:
    """Every figure at or under its limit and nothing lacking in the record."""
    return all(line.within for line in found.lines) and not found.lacking


def test_vertical_limits_are_averages_of_three() -> None:
    """8 in (203 mm), 15 s, 5 s, each the average of at least three specimens (14 CFR 25 Appendix F Part I)."""
    at_the_limit = (Specimen(190, 10, 5), Specimen(203.2, 15, 5), Specimen(216.4, 20, 5))
    found = compare_vertical(at_the_limit, KEPT)
    assert all_within(found)
    assert found.lines[0].value == pytest.approx(203.2)
    assert found.lines[0].limit == pytest.approx(203.2)
    over = compare_vertical((*at_the_limit[:2], Specimen(217.0, 20, 5)), KEPT)
    assert not over.lines[0].within
    assert over.lines[1].within
    for length, after, drip, column in ((203.3, 15, 5, 0), (203.2, 15.1, 5, 1), (203.2, 15, 5.1, 2)):
        lines = compare_vertical((Specimen(length, after, drip),) * 3, KEPT).lines
        assert [line.within for line in lines] == [n != column for n in range(3)]


def test_a_record_with_two_specimens_or_unkept_conditioning_is_lacking() -> None:
    two = (Specimen(100, 1, 0), Specimen(100, 1, 0))
    assert not all_within(compare_vertical(two, KEPT))
    three = (*two, Specimen(100, 1, 0))
    assert all_within(compare_vertical(three, KEPT))
    for fahrenheit, humidity in ((76, 50), (64, 50), (70, 56), (70, 44)):
        for hours in (24, None):
            assert compare_vertical(three, Conditioning(fahrenheit, humidity, hours)).lacking
    assert compare_vertical(three, None).lacking
    with pytest.raises(Refusal):
        compare_vertical((), KEPT)


def test_specimens_are_kept_until_equilibrium_or_for_a_day() -> None:
    """14 CFR 25 Appendix F Part I (b)(1): at 70 ± 5 °F and 50 ± 5 % until moisture equilibrium is reached or for 24 h."""
    three = (Specimen(100, 1, 0),) * 3
    for kept in (KEPT, Conditioning(65, 45, None), Conditioning(75, 55, 24), Conditioning(70, 50, 100)):
        assert not compare_vertical(three, kept).lacking
    assert compare_vertical(three, Conditioning(70, 50, 23)).lacking


def test_horizontal_rate_beside_its_limit() -> None:
    """B = 60·D/T ≤ 102 mm/min: D 254 mm in 150 s → 101.6, in 149 s → 102.3 (49 CFR 571.302)."""
    assert horizontal_rate(254, 150) == pytest.approx(101.6)
    assert all_within(compare_horizontal(254, 150))
    assert horizontal_rate(254, 149) == pytest.approx(102.28, abs=0.01)
    assert not all_within(compare_horizontal(254, 149))


def test_a_flame_that_stops_soon_is_compared_by_time_and_distance() -> None:
    """49 CFR 571.302 S4.3: stops before 60 s and within 51 mm from the start of timing; its rate then does not matter."""
    assert all_within(compare_horizontal(51, 25, stopped=True))
    assert horizontal_rate(51, 25) > 102
    assert not all_within(compare_horizontal(52, 25, stopped=True))
    assert not all_within(compare_horizontal(51, 25))
    assert {line.what for line in compare_horizontal(51, 59.9, stopped=True).lines} == {
        "Stopped before",
        "Stopped within",
    }
    assert [line.what for line in compare_horizontal(51, 60, stopped=True).lines] == ["Burn rate"]


def test_no_finding_is_given() -> None:
    found = compare_horizontal(254, 150)
    assert found.judges == JUDGES
    assert "licensed or authorised person" in found.judges
