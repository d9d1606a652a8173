"""The odds that a quantity of mixed colour is enough, as a Vega-Lite specification."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hidewright.charts import ink
from hidewright.charts.curves import house_config
from hidewright.refusals import Refusal


@dataclass(frozen=True)
class OddsMark:
    """A quantity worth naming on the curve, in the unit of the axis."""

    quantity: float
    text: str


def litres_odds(
    quantity: NDArray[np.float64],
    odds: NDArray[np.float64],
    *,
    marks: Sequence[OddsMark] = (),
    unit: str = "L",
    width: int = 330,
    height: int = 180,
) -> dict[str, Any]:
    """Specification of the odds that a quantity will not come short.

    `quantity` in `unit` and `odds` 0..1, both of shape (n,). Odds that fall as the quantity grows are
    refused, since they cannot be a distribution.
    """
    amounts, chances = np.asarray(quantity, np.float64), np.asarray(odds, np.float64)
    if amounts.ndim != 1 or amounts.shape != chances.shape or amounts.size < 2:
        raise Refusal("Odds and quantities must be equally many, and at least two.", where="odds of litres")
    if (
        np.any(np.diff(amounts) <= 0)
        or np.any(np.diff(chances) < -1e-9)
        or chances.min() < 0
        or chances.max() > 1
    ):
        raise Refusal(
            "The odds must rise from 0 to 1 with the quantity.",
            where="odds of litres",
            remedy="Sort by quantity and give the odds of not coming short.",
        )
    curve = [{"q": float(q), "p": float(100 * p)} for q, p in zip(amounts, chances, strict=True)]
    named = [
        {"q": mark.quantity, "p": float(100 * np.interp(mark.quantity, amounts, chances)), "text": mark.text}
        for mark in marks
    ]
    x = {
        "field": "q",
        "type": "quantitative",
        "axis": {"title": f"Mixed colour, {unit}"},
        "scale": {"zero": False},
    }
    y = {
        "field": "p",
        "type": "quantitative",
        "axis": {"title": "Odds of having enough, %"},
        "scale": {"domain": [0, 100]},
    }
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "width": width,
        "height": height,
        "config": house_config(),
        "layer": [
            {
                "data": {"values": curve},
                "mark": {"type": "line", "color": "#1d5a8c", "strokeWidth": 2},
                "encoding": {"x": x, "y": y},
            },
            {
                "data": {"values": named},
                "mark": {"type": "rule", "color": ink.QUIET, "strokeDash": [3, 3]},
                "encoding": {"x": {"field": "q", "type": "quantitative"}},
            },
            {
                "data": {"values": named},
                "mark": {"type": "point", "filled": True, "color": "#b3541e", "size": 70},
                "encoding": {"x": x, "y": y},
            },
            {
                "data": {"values": named},
                "mark": {
                    "type": "text",
                    "align": "right",
                    "dx": -7,
                    "dy": -7,
                    "fontSize": 11,
                    "fontWeight": 600,
                },
                "encoding": {"x": x, "y": y, "text": {"field": "text"}},
            },
        ],
    }
