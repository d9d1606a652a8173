"""Films of pigment in a clear binder: Kubelka and Munk's two fluxes, layers, and the surface.

Everything is vectorised over any leading shape; the last axis is usually the 31 bands. K and S are per µm, X is in µm, reflectances
are internal (below the surface) unless said otherwise. Sources: P. Kubelka, F. Munk, Z. tech. Phys. 12 (1931) 593; P. Kubelka, J. Opt.
Soc. Am. 38 (1948) 448 (finite films, eq. 5-7) and 44 (1954) 330 (layers); J. L. Saunderson, J. Opt. Soc. Am. 32 (1942) 727.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hidewright.refusals import Refusal

Array = NDArray[np.float64]
LEAST = 1e-12
"""The least S per µm that is divided by: a film that scatters less than this is a plain absorber to every digit shown."""


@dataclass(frozen=True, slots=True)
class Surface:
    """What the surface does: `k1` reflects on the way in, `k2` reflects back inside (both 0..1, without unit).

    `specular` says whether the instrument sees the part `k1` (specular component included) or not. The defaults are for a binder of
    index 1.5 (Fresnel: k1 0.0400 for normal light, k2 0.596 for diffuse light).
    """

    k1: float = 0.04
    k2: float = 0.596
    specular: bool = True

    def __post_init__(self) -> None:
        for name, value in (("k1", self.k1), ("k2", self.k2)):
            if not 0.0 <= value < 1.0:
                raise Refusal(f"{name} is {value}; it must lie from 0 to below 1.", where="surface")


def k_over_s(opaque: ArrayLike) -> Array:
    """K/S of an opaque film from its internal reflectance (0 < R ≤ 1): (1−R)²/2R, Kubelka and Munk 1931."""
    r = np.asarray(opaque, dtype=float)
    return (1.0 - r) ** 2 / (2.0 * r)


def opaque(k: ArrayLike, s: ArrayLike) -> Array:
    """Internal reflectance of an opaque film: a − b, written so that it keeps its digits for dark films."""
    a = 1.0 + np.asarray(k, dtype=float) / np.maximum(np.asarray(s, dtype=float), LEAST)
    return 1.0 / (a + np.sqrt(a * a - 1.0))


def _parts(k: ArrayLike, s: ArrayLike, x: ArrayLike) -> tuple[Array, Array, Array]:
    scatter = np.maximum(np.asarray(s, dtype=float), LEAST)
    a = 1.0 + np.asarray(k, dtype=float) / scatter
    sx = scatter * np.asarray(x, dtype=float)
    return a, np.maximum(sx, LEAST), np.sqrt(np.maximum(a * a - 1.0, 0.0)) * np.maximum(sx, LEAST)


def film(k: ArrayLike, s: ArrayLike, x: ArrayLike, ground: ArrayLike) -> Array:
    """Internal reflectance of a film of thickness `x` over a ground of internal reflectance `ground`.

    R = (1 − Rg(a − b coth bSX)) / (a − Rg + b coth bSX). The hyperbolic cotangent never overflows, and K = 0 is the limit SX/(1+SX).
    """
    a, sx, bsx = _parts(k, s, x)
    small = bsx < 1e-5
    bcoth = np.where(small, 1.0 + bsx * bsx / 3.0, bsx / np.tanh(np.where(small, 1.0, bsx))) / sx
    rg = np.asarray(ground, dtype=float)
    return (1.0 - rg * (a - bcoth)) / (a - rg + bcoth)


def seen(internal: ArrayLike, surface: Surface) -> Array:
    """What an instrument reads from an internal reflectance: k1 + (1−k1)(1−k2)R/(1−k2R), Saunderson 1942.

    With the specular component excluded the term k1 stays out.
    """
    r = np.asarray(internal, dtype=float)
    inside = (1.0 - surface.k1) * (1.0 - surface.k2) * r / (1.0 - surface.k2 * r)
    return inside + surface.k1 if surface.specular else inside


def below(read: ArrayLike, surface: Surface) -> Array:
    """Internal reflectance from a reading; the inverse of `seen`.

    Refuses a reading darker than the surface alone: then the reading was taken without the specular component, or k1 is too large.
    """
    r = np.asarray(read, dtype=float) - (surface.k1 if surface.specular else 0.0)
    if np.any(r <= 0.0):
        raise Refusal(
            "A reading is darker than the surface alone would be.",
            where="surface",
            remedy="It was probably taken with the specular component excluded: say so, or use a smaller k1.",
        )
    return r / ((1.0 - surface.k1) * (1.0 - surface.k2) + surface.k2 * r)


def _fresnel(cosine: Array, ratio: float) -> Array:
    """Fresnel's reflectance for unpolarised light that passes into a medium of relative index `ratio` (E. Hecht, Optics, eq. 4.34-4.40)."""
    sine = np.sqrt(1.0 - cosine**2) / ratio
    inside = np.sqrt(np.maximum(1.0 - sine**2, 0.0))
    across = (cosine - ratio * inside) / (cosine + ratio * inside)
    along = (ratio * cosine - inside) / (ratio * cosine + inside)
    return np.where(sine >= 1.0, 1.0, 0.5 * (across**2 + along**2))


def surface_of_index(index: float, *, specular: bool = True) -> Surface:
    """The surface of a smooth binder of refractive index 1.2 to 2: k1 for normal light, k2 for a diffuse field inside.

    k2 = 1 − (1 − k1 diffuse)/n², which follows from reciprocity; Gauss-Legendre over the cosine.
    """
    if not 1.2 <= index <= 2.0:
        raise Refusal(f"A refractive index of {index} is not that of a binder.", where="surface")
    nodes, parts = np.polynomial.legendre.leggauss(200)
    root = 0.5 * (nodes + 1.0)
    cosine = root**2
    outside = float(np.sum(0.5 * parts * 2.0 * root * 2.0 * cosine * _fresnel(cosine, index)))
    return Surface(((index - 1.0) / (index + 1.0)) ** 2, 1.0 - (1.0 - outside) / index**2, specular)
