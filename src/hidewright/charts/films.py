"""What a pigment absorbs and scatters against wavelength, with its spread, as a Vega-Lite specification."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from hidewright.charts.curves import BANDS, DASHES, TONES, house_config, wavelengths
from hidewright.refusals import Refusal

Array = NDArray[np.float64]
LABELS = ("K, absorbs", "S, scatters")
LEAST = 1e-6
"""Per µm; smaller values are drawn here, since the axis is logarithmic."""
WIDEST = 3.0
"""No spread is drawn wider than a factor of e³: it then only says “not known”."""


def film_curves(
    k: Array, s: Array, k_sd: Array, s_sd: Array, *, width: int = 330, height: int = 200
) -> dict[str, Any]:
    """Specification of K and S, shape (31,), per µm, on a logarithmic axis; `k_sd`, `s_sd` relative standard deviations, drawn as bands."""
    rows = []
    for label, tone, values, spread in ((LABELS[0], TONES[0], k, k_sd), (LABELS[1], TONES[1], s, s_sd)):
        if np.shape(values) != (BANDS,) or np.shape(spread) != (BANDS,):
            raise Refusal("K and S have 31 values each, and so have their spreads.", where=label)
        widths = np.exp(np.minimum(np.asarray(spread, dtype=float), WIDEST))
        shown = np.maximum(np.asarray(values, dtype=float), LEAST)
        rows += [
            {
                "nm": float(nm),
                "value": float(v),
                "low": float(max(v / w, LEAST)),
                "high": float(v * w),
                "curve": label,
                "tone": tone,
            }
            for nm, v, w in zip(wavelengths(), shown, widths, strict=True)
        ]
    colour = {
        "field": "curve",
        "type": "nominal",
        "scale": {"domain": list(LABELS), "range": list(TONES[:2])},
        "legend": {"title": None, "orient": "bottom", "columns": 2, "symbolSize": 900},
    }
    dash = {**colour, "scale": {"domain": list(LABELS), "range": list(DASHES[:2])}}
    x = {
        "field": "nm",
        "type": "quantitative",
        "scale": {"domain": [400, 700]},
        "axis": {"title": "Wavelength, nm", "tickCount": 6},
    }
    scale = {"type": "log", "nice": True}
    axis = {"title": "per µm of dry film", "format": ".1~g", "tickCount": 5}
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "width": width,
        "height": height,
        "config": house_config(),
        "data": {"values": rows},
        "layer": [
            {
                "mark": {"type": "area", "fillOpacity": 0.18, "strokeWidth": 0},
                "encoding": {
                    "x": x,
                    "y": {"field": "low", "type": "quantitative", "scale": scale, "axis": axis},
                    "y2": {"field": "high"},
                    "fill": {"field": "tone", "type": "nominal", "scale": None},
                },
            },
            {
                "mark": {"type": "line", "strokeWidth": 2},
                "encoding": {
                    "x": x,
                    "y": {"field": "value", "type": "quantitative", "scale": scale, "axis": axis},
                    "color": colour,
                    "strokeDash": dash,
                },
            },
        ],
    }
