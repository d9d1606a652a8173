"""Reflectance against wavelength, as a Vega-Lite specification."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from hidewright.charts import ink
from hidewright.refusals import Refusal

BANDS: Final = 31
DASHES: Final[tuple[tuple[int, ...], ...]] = ((1, 0), (6, 3), (2, 2), (8, 2, 2, 2), (12, 4), (4, 4))
TONES: Final = ("#1f2328", "#b3541e", "#1d5a8c", "#3c6e3a", "#6b4a7a", "#8c6d1f")


@dataclass(frozen=True)
class Curve:
    """One named curve: `reflectance` has shape (31,), 400–700 nm by 10 nm, 0 ≤ R ≤ 1."""

    label: str
    reflectance: NDArray[np.float64] = field(repr=False)

    def __post_init__(self) -> None:
        values = np.asarray(self.reflectance, dtype=np.float64)
        if values.shape != (BANDS,) or not np.all(np.isfinite(values)):
            raise Refusal(
                "A curve needs 31 finite values.",
                where=self.label,
                remedy="Give the reflectance from 400 to 700 nm in steps of 10 nm.",
            )
        object.__setattr__(self, "reflectance", values)


def wavelengths() -> NDArray[np.float64]:
    """The 31 bands in nm, shape (31,)."""
    return np.arange(400.0, 701.0, 10.0)


def reflectance_curves(curves: Sequence[Curve], *, width: int = 330, height: int = 200) -> dict[str, Any]:
    """Specification of the curves, each with its own dash and tone, per cent against nanometres.

    Labels must differ, since a label is what tells one curve from another.
    """
    labels = [curve.label for curve in curves]
    if not labels or len(set(labels)) != len(labels):
        raise Refusal("The curves need different labels.", remedy="Name each curve once.")
    rows = [
        {"nm": float(nm), "percent": round(100 * float(r), 3), "curve": curve.label}
        for curve in curves
        for nm, r in zip(wavelengths(), curve.reflectance, strict=True)
    ]
    order = {"sort": labels, "legend": {"title": None, "orient": "bottom", "columns": 2, "symbolSize": 900}}
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "width": width,
        "height": height,
        "config": house_config(),
        "data": {"values": rows},
        "mark": {"type": "line", "strokeWidth": 2},
        "encoding": {
            "x": {
                "field": "nm",
                "type": "quantitative",
                "scale": {"domain": [400, 700]},
                "axis": {"title": "Wavelength, nm", "tickCount": 6},
            },
            "y": {
                "field": "percent",
                "type": "quantitative",
                "scale": {"domainMin": 0},
                "axis": {"title": "Reflectance, %", "tickCount": 5},
            },
            "color": {"field": "curve", "type": "nominal", "scale": _range(labels, TONES), **order},
            "strokeDash": {"field": "curve", "type": "nominal", "scale": _range(labels, DASHES), **order},
        },
    }


def house_config() -> dict[str, Any]:
    """The look shared by all specifications: the shipped font, quiet grid, no background."""
    words = {"labelFont": ink.FONT, "titleFont": ink.FONT, "labelColor": ink.INK, "titleColor": ink.INK}
    return {
        "font": ink.FONT,
        "background": "transparent",
        "axis": {
            **words,
            "labelFontSize": 11,
            "titleFontSize": 11,
            "titleFontWeight": 600,
            "gridColor": "#e3e6ea",
        },
        "legend": {**words, "labelFontSize": 11, "labelLimit": 220},
        "view": {"stroke": ink.LINE},
    }


def _range(labels: Sequence[str], values: Sequence[Any]) -> dict[str, Any]:
    return {"domain": list(labels), "range": [values[i % len(values)] for i in range(len(labels))]}
