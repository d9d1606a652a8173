"""A colour from a photo: a neutral grey card in the picture and, better, a card of known patches beside the leather.

Pixel values are made linear (IEC 61966-2-1), patches are averaged, and a map from linear RGB to XYZ is fitted: with a grey card only, one gain a channel on top of sRGB's
own matrix; with five or more known patches, a full 3 × 3 matrix, drawn toward sRGB's by a ridge. The residual of the known patches, and what a phone's camera does to colours that are on no card, make
the spread: it is large, and said to be. Photos that are clipped or unevenly lit are refused, with the reason.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import delta_e00, lab_from_xyz, white, xyz_from_lab
from hidewright.colour.light.far import off_with_figure
from hidewright.colour.light.spectra import numbers
from hidewright.pictures import decoded
from hidewright.refusals import Refusal

from .conditions import Conditions
from .readings import Reading, colour_reading

Array = NDArray[np.float64]
SRGB_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) * 100.0
CLIPPED = 0.01
"""Share of a patch's pixels at the end of the scale above which it is refused."""
UNEVEN = 0.12
"""Relative difference in light across a patch, or between two views of the grey card, above which the photo is refused."""
LONGEST = 2400
"""Pixels of the longer side that are looked at."""
PHONE_SD = 2.5
GREY_ONLY_SD = 5.0
"""ΔE-like sd of a colour read off a phone's photo with a card of patches, and with a grey card only (from memory; wide on purpose)."""
ONE_GREY = "One grey tells the light, not what this camera does to colours: a card of known patches halves the doubt."
FALLS = 0.05
"""Relative fall of the light from the card to the piece, as the patches' own slopes tell it, that is worth a word."""


@dataclass(frozen=True, slots=True)
class Patch:
    """A rectangle on the picture, as shares of its width and height (0..1)."""

    left: float
    top: float
    right: float
    bottom: float

    def __post_init__(self) -> None:
        fits = 0.0 <= self.left < self.right <= 1.0 and 0.0 <= self.top < self.bottom <= 1.0
        if not fits:
            raise Refusal("A patch must lie inside the picture.", where="patch", remedy="Draw it again.")


@dataclass(frozen=True, slots=True, eq=False)
class KnownPatch:
    """A patch whose Lab (D65, 2°, as cards are told) is known."""

    patch: Patch
    lab: Array

    def __post_init__(self) -> None:
        object.__setattr__(self, "lab", numbers(self.lab, (3,), "Lab of a known patch"))
        if not 0 <= self.lab[0] <= 100:
            raise Refusal("A known patch needs its Lab.", where="reference card")


@dataclass(frozen=True, slots=True, eq=False)
class PhotoColour:
    """What a photo gives: the reading, the residual of the known patches (root mean square ΔE00), and what makes it doubtful, in words."""

    reading: Reading
    residual: float
    method: str
    doubts: tuple[str, ...] = ()


def linear(coded: Array) -> Array:
    """Linear light of sRGB-coded values 0..1."""
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def read_photo(data: bytes, sample: Patch, known: Sequence[KnownPatch], name: str = "Photo") -> PhotoColour:
    """The colour of the `sample` patch on a JPEG or PNG, by the known patches (at least one neutral grey)."""
    pixels = pixels_of(data)
    if not known:
        raise Refusal(
            "The photo needs a grey card in it.", where="reference card", remedy="Lay one beside the leather."
        )
    seen = np.array([_mean(pixels, k.patch, "a known patch") for k in known])
    told = np.array([k.lab for k in known])
    here = _mean(pixels, sample, "the sample")
    _evenly_lit(seen, told)
    aims = xyz_from_lab(told, white("D65", "2"))
    if len(known) >= 5:
        matrix, method = _matrix(seen, aims), f"{len(known)} known patches"
    else:
        matrix, method = _gains(seen, told, aims), "grey card only"
    got = lab_from_xyz(seen @ matrix.T, white("D65", "2"))
    off = delta_e00(got, told)
    residual = float(np.sqrt(np.mean(off**2)))
    if residual > 6.0:
        raise Refusal(
            f"The known patches come out wrong by {off_with_figure(residual)}.",
            where="reference card",
            remedy="Check which patch is which, and that the light is daylight or a good lamp, with no flash.",
        )
    fall = _fall(pixels, sample, [k.patch for k in known])
    if fall > UNEVEN:
        raise Refusal(
            f"The light differs by {fall:.0%} between the card and the piece.",
            where="photo",
            remedy="Lay the card flat on the piece, both in the same light.",
        )
    doubts = [ONE_GREY] if len(known) < 5 else []
    if fall > FALLS:
        doubts.append(f"The light seems to differ by {fall:.0%} between card and piece.")
    spread = float(np.hypot(PHONE_SD if len(known) >= 5 else GREY_ONLY_SD, residual))
    # a third of a per cent more light is a tenth of L*: L* goes as the cube root
    spread = float(np.hypot(spread, 38.0 * fall))
    value = lab_from_xyz(matrix @ here, white("D65", "2"))
    value[0] = np.clip(value[0], 0.5, 99.5)
    conditions = Conditions(light="D65", instrument="photo")
    return PhotoColour(
        colour_reading(name, value, spread, "D65", "2", conditions), residual, method, tuple(doubts)
    )


def pixels_of(data: bytes) -> Array:
    """The picture upright, at most `LONGEST` pixels a side: (height, width, 3), sRGB-coded 0..1. Refuses what is no picture."""
    return np.asarray(decoded(data, LONGEST, where="photo"), dtype=float) / 255.0


def _cut(pixels: Array, patch: Patch, what: str) -> Array:
    high, wide = pixels.shape[:2]
    part = pixels[
        round(patch.top * high) : round(patch.bottom * high),
        round(patch.left * wide) : round(patch.right * wide),
    ]
    if part.shape[0] < 8 or part.shape[1] < 8:
        raise Refusal(
            f"The patch on {what} is too small.", where="patch", remedy="Draw it larger, or go nearer."
        )
    return part


def _mean(pixels: Array, patch: Patch, what: str) -> Array:
    """Mean linear RGB (3,) of a patch; refuses one that is clipped or unevenly lit."""
    part = _cut(pixels, patch, what)
    clipped = float(np.mean(np.any(part >= 0.995, axis=-1)))
    drowned = float(np.mean(np.all(part <= 0.004, axis=-1)))
    if clipped > CLIPPED or drowned > 0.5:
        words = "too bright: it is clipped" if clipped > CLIPPED else "black: it holds no colour"
        raise Refusal(
            f"{what.capitalize()} is {words}.",
            where="photo",
            remedy="Expose for the card, and take it again.",
        )
    light = linear(part)
    high, wide = light.shape[0] // 2, light.shape[1] // 2
    quarters = [light[:high, :wide], light[:high, wide:], light[high:, :wide], light[high:, wide:]]
    levels = np.array([q.mean() for q in quarters])
    if (levels.max() - levels.min()) / levels.mean() > UNEVEN:
        raise Refusal(
            f"{what.capitalize()} is unevenly lit ({(levels.max() - levels.min()) / levels.mean():.0%} across it).",
            where="photo",
            remedy="Turn it to the window so that no shadow or shine falls on it.",
        )
    return np.asarray(light.reshape(-1, 3).mean(axis=0))


def _fall(pixels: Array, sample: Patch, cards: Sequence[Patch]) -> float:
    """Relative fall of the light from the nearest card to the sample, as the slopes inside both patches tell it; 0 where they disagree on the way."""
    high, wide = pixels.shape[:2]

    def middle(patch: Patch) -> Array:
        return np.array([(patch.left + patch.right) / 2 * wide, (patch.top + patch.bottom) / 2 * high])

    card = min(cards, key=lambda one: float(np.linalg.norm(middle(one) - middle(sample))))
    way = middle(sample) - middle(card)
    falls = [float(_slope(_cut(pixels, patch, "a patch")) @ way) for patch in (card, sample)]
    return min(abs(falls[0]), abs(falls[1])) if falls[0] * falls[1] > 0 else 0.0


def _slope(part: Array) -> Array:
    """Relative slope of the light a pixel along x and y, (2,)."""
    level = linear(part).mean(axis=-1)
    rows, columns = np.indices(level.shape)
    design = np.column_stack([np.ones(level.size), columns.ravel(), rows.ravel()])
    plane = np.linalg.lstsq(design, level.ravel(), rcond=None)[0]
    return np.asarray(plane[1:] / max(float(level.mean()), 1e-6))


def _evenly_lit(seen: Array, told: Array) -> None:
    """Greys of like lightness at different places must look alike."""
    grey = np.hypot(told[:, 1], told[:, 2]) < 4
    level = seen[grey].mean(axis=1) / np.maximum(xyz_from_lab(told[grey], white("D65", "2"))[:, 1], 1e-6)
    bright = told[grey][:, 0] > 30
    if np.count_nonzero(bright) >= 2 and level[bright].max() / level[bright].min() > (1 + UNEVEN) ** 2:
        raise Refusal(
            "The light differs across the card.",
            where="photo",
            remedy="Lay card and leather side by side, in even light.",
        )


def _gains(seen: Array, told: Array, aims: Array) -> Array:
    grey = np.flatnonzero(np.hypot(told[:, 1], told[:, 2]) < 4)
    if not grey.size:
        raise Refusal(
            "None of the known patches is a neutral grey.",
            where="reference card",
            remedy="Mark the grey card.",
        )
    wanted = aims[grey] @ np.linalg.inv(SRGB_XYZ).T
    gain = (wanted * seen[grey]).sum(axis=0) / (seen[grey] ** 2).sum(axis=0)
    return SRGB_XYZ * gain


def _matrix(seen: Array, aims: Array) -> Array:
    """Weighted ridge toward sRGB with one common gain; weights even out dark and bright patches."""
    level = aims[:, 1] / np.maximum((seen @ SRGB_XYZ.T)[:, 1], 1e-9)
    start = SRGB_XYZ * float(np.median(level))
    weight = 1.0 / (aims[:, 1] + 5.0)
    a, b = seen * weight[:, None], (aims - seen @ start.T) * weight[:, None]
    ridge = 0.003 * float(np.trace(a.T @ a)) / 3
    return np.asarray(start + np.linalg.solve(a.T @ a + ridge * np.eye(3), a.T @ b).T)
