"""Curve charts: the specification says what it should, and vl-convert draws it with the shipped font."""

from xml.etree import ElementTree

import numpy as np
import pytest

from hidewright.charts.curves import Curve, reflectance_curves, wavelengths
from hidewright.charts.odds import OddsMark, litres_odds
from hidewright.charts.render import to_svg
from hidewright.refusals import Refusal

FLAT = np.full(31, 0.25)


def test_curves_are_told_apart_by_dash_as_well_as_tone() -> None:
    spec = reflectance_curves([Curve("Target", FLAT), Curve("Recipe", FLAT * 2)])
    dashes = spec["encoding"]["strokeDash"]["scale"]["range"]
    assert len({tuple(d) for d in dashes}) == 2
    assert spec["data"]["values"][0] == {"nm": 400.0, "percent": 25.0, "curve": "Target"}
    assert len(spec["data"]["values"]) == 62


@pytest.mark.parametrize("values", [np.zeros(30), np.full(31, np.nan), np.zeros((31, 1))])
def test_a_curve_that_is_none_is_refused(values: np.ndarray) -> None:
    with pytest.raises(Refusal, match="31 finite"):
        Curve("x", values)


def test_two_curves_of_one_name_are_refused() -> None:
    with pytest.raises(Refusal, match="different labels"):
        reflectance_curves([Curve("x", FLAT), Curve("x", FLAT)])


def test_odds_that_fall_are_refused() -> None:
    with pytest.raises(Refusal, match="must rise"):
        litres_odds(np.array([1.0, 2.0, 3.0]), np.array([0.1, 0.9, 0.8]))
    with pytest.raises(Refusal, match="equally many"):
        litres_odds(np.array([1.0]), np.array([0.1]))


def test_a_mark_sits_on_the_curve() -> None:
    spec = litres_odds(np.array([1.0, 2.0]), np.array([0.0, 1.0]), marks=[OddsMark(1.5, "half")])
    assert spec["layer"][1]["data"]["values"] == [{"q": 1.5, "p": 50.0, "text": "half"}]


def test_drawn_svg_is_one_element_with_words_and_no_inline_style() -> None:
    label = 'Target & "recipe" <b>'
    svg = to_svg(reflectance_curves([Curve("Target <i>", FLAT)]), label=label)
    root = ElementTree.fromstring(svg)
    assert root.attrib["aria-label"] == label
    assert "style=" not in svg
    assert any("Target <i>" in (t or "") for t in root.itertext())
    assert "Open Sans" in svg
    assert wavelengths()[0] == 400
    assert wavelengths()[-1] == 700
