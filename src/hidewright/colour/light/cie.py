"""From spectra to colours under a light; the only door to colour-science.

Spectra are reflectances on 31 bands, 400 to 700 nm by 10 nm. Tristimulus weights follow ASTM E308/E2022: made from 1 nm tables over
360-780 nm at 10 nm, with what lies outside 400-700 nm folded into the end rows, so that white points are the integrals over the whole range. Plain
integration over 400-700 nm would not (it gives 94.94/100/108.71 for D65 and 2°).
"""

import json
import os
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hidewright.refusals import Refusal

from .difference import delta_e00 as delta_e00

Array = NDArray[np.float64]
BANDS = 31
WAVELENGTHS = np.arange(400.0, 701.0, 10.0)
"""Band centres in nm, shape (31,)."""
LIGHTS = ("D65", "A", "FL11", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5")
"""CIE's names of the lights that are known: daylight, incandescent, a three-band fluorescent tube, phosphor LEDs."""
OBSERVERS = {"2": "CIE 1931 2 Degree Standard Observer", "10": "CIE 1964 10 Degree Standard Observer"}
_KAPPA, _EPSILON = 24389 / 27, 216 / 24389


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """A light that somebody measured or imported: `table` are its tristimulus weights, shape (31, 3), a perfect white giving Y = 100."""

    name: str
    table: Array

    def __post_init__(self) -> None:
        table = np.array(self.table, dtype=float)
        if table.shape != (BANDS, 3) or not np.all(np.isfinite(table)):
            raise Refusal("A light's weights have 31 rows of three.", where=self.name)
        if abs(table[:, 1].sum() - 100.0) > 1e-6:
            raise Refusal("A light's weights must give Y = 100 for white.", where=self.name)
        object.__setattr__(self, "table", table)

    def __str__(self) -> str:
        return self.name


LightLike = str | Light
"""The name of a known light, or an imported one."""


def _science() -> Any:
    """colour-science (slow to load). Its word about Matplotlib is kept quiet while it loads; environment and numpy's way of printing are left as they were."""
    name = "COLOUR_SCIENCE__FILTER_USAGE_WARNINGS"
    before = os.environ.get(name)
    os.environ.setdefault(name, "True")
    try:
        with np.printoptions():
            import colour
    finally:
        if before is None:
            del os.environ[name]
    return colour


def compute_weights(light: str, observer: str = "10") -> Array:
    """Tristimulus weights, shape (31, 3), worked out from CIE's 1 nm tables in colour-science (slow; see `weights`)."""
    return _weights_of(_science().SDS_ILLUMINANTS[light], observer)


def light_from_spectrum(name: str, nm: ArrayLike, power: ArrayLike, observer: str = "10") -> Light:
    """A light from its relative power `power` (n,) at wavelengths `nm` (n,), which must cover 380-730 nm in steps of 10 nm or less.

    Interpolated linearly to 1 nm, held at its end values outside; then weighted as the known lights are. Slow the first time.
    """
    grid, values = np.asarray(nm, dtype=float), np.asarray(power, dtype=float)
    fits = grid.ndim == 1 and grid.shape == values.shape and grid.size > 2 and bool(np.all(np.diff(grid) > 0))
    if not fits or grid[0] > 380 or grid[-1] < 730 or np.diff(grid).max() > 10:
        raise Refusal(
            "The light's spectrum does not cover 380 to 730 nm in rising steps of 10 nm or less.",
            where=name,
            remedy="Export the whole spectrum of the lamp.",
        )
    if not np.all(np.isfinite(values)) or values.min() < 0 or values.max() <= 0:
        raise Refusal("The light's power must be numbers from 0 up.", where=name)
    colour = _science()

    fine = np.arange(360.0, 781.0)
    source = colour.SpectralDistribution(dict(zip(fine, np.interp(fine, grid, values), strict=True)))
    return Light(name, _weights_of(source, observer))


def _weights_of(light: Any, observer: str) -> Array:
    import colour
    from colour.colorimetry import tristimulus_weighting_factors_ASTME2022

    fine = colour.SpectralShape(360, 780, 1)
    cmfs = colour.MSDS_CMFS[OBSERVERS[observer]].copy().align(fine)
    source = light.copy().align(fine)
    table = tristimulus_weighting_factors_ASTME2022(cmfs, source, colour.SpectralShape(360, 780, 10))
    at = np.arange(360, 781, 10)
    folded = np.array(table[(at >= 400) & (at <= 700)])
    folded[0] += table[at < 400].sum(axis=0)
    folded[-1] += table[at > 700].sum(axis=0)
    return np.asarray(folded, dtype=float)


@lru_cache
def _shipped() -> dict[str, Array]:
    text = files(__package__).joinpath("weights.json").read_text(encoding="utf-8")
    return {name: np.array(rows) for name, rows in json.loads(text).items()}


def weights(light: LightLike = "D65", observer: str = "10") -> Array:
    """Tristimulus weights of a light, shape (31, 3); a perfect white gives Y = 100. Refuses an unknown light or observer.

    An imported light keeps the observer that it was made with.
    """
    if isinstance(light, Light):
        return light.table
    if light not in LIGHTS or observer not in OBSERVERS:
        raise Refusal(
            f"The light {light} with the {observer}° observer is not known.",
            where="light",
            remedy=f"Use one of {', '.join(LIGHTS)} and the observer 2 or 10.",
        )
    return _shipped()[f"{light}/{observer}"]


def white(light: LightLike = "D65", observer: str = "10") -> Array:
    """XYZ of a perfect white under the light, shape (3,)."""
    return np.asarray(weights(light, observer).sum(axis=0))


def xyz(reflectance: ArrayLike, light: LightLike = "D65", observer: str = "10") -> Array:
    """XYZ of reflectances of shape (..., 31); returns (..., 3)."""
    return np.asarray(np.asarray(reflectance, dtype=float) @ weights(light, observer))


def lab_from_xyz(values: ArrayLike, white_point: ArrayLike) -> Array:
    """CIELAB from XYZ, shape (..., 3) (CIE 15, ISO/CIE 11664-4)."""
    t = np.asarray(values, dtype=float) / np.asarray(white_point, dtype=float)
    f = np.where(t > _EPSILON, np.cbrt(np.maximum(t, 0.0)), (_KAPPA * t + 16) / 116)
    return np.stack(
        [116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1
    )


def xyz_from_lab(values: ArrayLike, white_point: ArrayLike) -> Array:
    """XYZ from CIELAB, shape (..., 3)."""
    l, a, b = np.moveaxis(np.asarray(values, dtype=float), -1, 0)  # noqa: E741
    fy = (l + 16) / 116
    f = np.stack([fy + a / 500, fy, fy - b / 200], axis=-1)
    t = np.where(f**3 > _EPSILON, f**3, (116 * f - 16) / _KAPPA)
    return np.asarray(t * np.asarray(white_point, dtype=float))


def lab(reflectance: ArrayLike, light: LightLike = "D65", observer: str = "10") -> Array:
    """CIELAB of reflectances of shape (..., 31) under the light; returns (..., 3)."""
    return lab_from_xyz(xyz(reflectance, light, observer), white(light, observer))


_TO_SRGB = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])
_D65_2 = np.array([95.047, 100.0, 108.883])


def hex_from_lab(values: ArrayLike) -> str:
    """A screen colour "#rrggbb" for one Lab colour: for the eye on a screen only, no colour standard (IEC 61966-2-1, clipped)."""
    linear = _TO_SRGB @ (xyz_from_lab(values, _D65_2) / 100.0)
    clipped = np.clip(linear, 0.0, 1.0)
    coded = np.where(clipped <= 0.0031308, 12.92 * clipped, 1.055 * clipped ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{round(255 * float(c)):02x}" for c in coded)


def hex_from_reflectance(reflectance: ArrayLike, light: LightLike = "D65") -> str:
    """A screen colour for one spectrum, as an eye adapted to the light would see it (Lab kept, white taken as the screen's)."""
    return hex_from_lab(lab(reflectance, light))
