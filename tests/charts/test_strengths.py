"""Strength by lot: every bar to one scale, where its numbers say, and told in words."""

from xml.etree import ElementTree as ET

import pytest

from hidewright.charts.strengths import Strength, strength_bars
from hidewright.refusals import Refusal

SVG = "{http://www.w3.org/2000/svg}"


def test_bars_are_to_one_scale_and_hold_their_dots() -> None:
    lots = [Strength("Before any cup", 100, 10), Strength("lot <B7>", 88, 2, 3), Strength("lot C1", 112, 6)]
    picture = ET.fromstring(strength_bars(lots))
    bars = [r for r in picture.iter(f"{SVG}rect") if r.get("fill") == "#cfe0ee"]
    dots = [float(c.get("cx", "0")) for c in picture.iter(f"{SVG}circle")]
    wide = [float(r.get("width", "0")) for r in bars]
    assert len(bars) == len(dots) == 3
    assert wide[0] / wide[1] == pytest.approx(5.0, rel=0.01), "a fifth of the spread, a fifth of the bar"
    for bar, dot, width in zip(bars, dots, wide, strict=True):
        left = float(bar.get("x", "0"))
        assert dot == pytest.approx(left + width / 2, abs=0.02)
        assert left >= 150 - 0.01
        assert left + width <= 420
    assert dots[1] < dots[0] < dots[2]
    assert "lot <B7> 88 % ± 2" in picture.get("aria-label", "")


def test_one_lot_that_is_just_as_drawn_down_is_drawn() -> None:
    assert "100 %" in strength_bars([Strength("Before any cup", 100, 0)])


@pytest.mark.parametrize("bad", [(0, 1), (-5, 1), (100, -1), (float("nan"), 1), (1e9, 1)])
def test_what_is_no_strength_is_refused(bad: tuple[float, float]) -> None:
    with pytest.raises(Refusal):
        Strength("lot", *bad)
    with pytest.raises(Refusal):
        strength_bars([])
