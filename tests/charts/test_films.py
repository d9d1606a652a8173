"""The picture of K and S: every value in it, its spread as a band, and refusals."""

import numpy as np
import pytest

from hidewright.charts.films import LEAST, film_curves
from hidewright.charts.render import to_svg
from hidewright.refusals import Refusal


def test_every_band_is_drawn_with_its_spread() -> None:
    k, s = np.linspace(0.3, 0.1, 31), np.zeros(31)
    spec = film_curves(k, s, np.full(31, 0.2), np.full(31, 50.0))
    rows = spec["data"]["values"]
    assert len(rows) == 62
    assert rows[0]["high"] / rows[0]["value"] == pytest.approx(np.exp(0.2))
    assert rows[-1]["value"] == LEAST, "nothing can be drawn at zero on a logarithmic axis"
    assert rows[-1]["high"] / LEAST == pytest.approx(np.exp(3.0)), "no band is wider than a factor of e³"


def test_the_key_names_both_curves() -> None:
    flat = np.full(31, 0.1)
    svg = to_svg(film_curves(flat, 2 * flat, flat, flat), label="a pigment")
    assert "K, absorbs" in svg
    assert "S, scatters" in svg


def test_a_spectrum_of_another_length_is_refused() -> None:
    with pytest.raises(Refusal, match="31 values"):
        film_curves(np.ones(30), np.ones(31), np.ones(31), np.ones(31))
