"""The difference of two colours side by side on one stick or card, from one picture.

No card of known patches is needed: both colours are in the same light, and what is measured is only how far the first is from the second. The second one's colour is taken to be `near` (the present
estimate of what is matched): three gains, one a channel, bring it there (J. von Kries, 1902, as a diagonal map of linear sRGB, IEC 61966-2-1), and the first one's Lab follows. The camera's own
gain and offset stay in it: they are unknowns of the job (`cups.looks`), and steady from picture to picture.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import lab_from_xyz, white, xyz_from_lab
from hidewright.refusals import Refusal

from .photo import SRGB_XYZ, linear, pixels_of

Array = NDArray[np.float64]
REACH = 0.03
"""Half of a patch's side, as a share of the picture's shorter side."""
LEAST = 6
"""Half of a patch's side in pixels, below which it is too small."""
CLIPPED = 0.02
"""Share of pixels at the end of the scale above which a patch is refused."""
SHINE, SHINY = 1.35, 0.12
"""A pixel so many times as bright as the patch's median shines; a patch with more than this share of them is refused."""
EDGE = 0.18
"""Relative step of light across a patch above which an edge or a shadow runs through it."""
FALL = 0.15
"""Relative fall of the light from one patch to the other, as their own slopes tell it, above which the picture is refused."""
FLOOR = 0.15
"""Least sd of ΔLab along each axis: steps of an 8-bit picture, and what a JPEG does."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A point on the picture, as shares of its width and height from the upper left (0..1)."""

    x: float
    y: float

    def __post_init__(self) -> None:
        if not (0.0 <= self.x <= 1.0 and 0.0 <= self.y <= 1.0):
            raise Refusal("A mark must lie on the picture.", where="mark", remedy="Tap on the stick again.")


@dataclass(frozen=True, slots=True, eq=False)
class StickDifference:
    """`delta` (3,) Lab of the first mark minus the second; `covariance` (3, 3) of it without the camera's own gain and offset; `doubts` in words."""

    delta: Array
    covariance: Array
    doubts: tuple[str, ...]

    @property
    def sd(self) -> Array:
        """sd (3,) along L*, a*, b*."""
        return np.sqrt(np.diag(self.covariance))


@dataclass(frozen=True, slots=True, eq=False)
class _Spot:
    """A patch: mean linear RGB (3,), its relative variance of the mean (3,), relative slope of the light by pixel along x and y (2,), and the share that shines."""

    rgb: Array
    variance: Array
    slope: Array
    shine: float


def difference_on_stick(data: bytes, first: Mark, second: Mark, near: Array) -> StickDifference:
    """How far the colour at `first` is from that at `second`, whose colour is about `near` (Lab, D65).

    Refuses, with the reason: clipped, a shadow or an edge in a patch, shine, too small, marks that overlap, light that falls off between the two.
    """
    middle = np.array(near, dtype=float)
    if middle.shape != (3,) or not np.all(np.isfinite(middle)) or not 1.0 <= middle[0] <= 99.0:
        raise Refusal("The second colour needs to be known roughly.", where="Lab", remedy="Give L*, a*, b*.")
    pixels = pixels_of(data)
    reach = round(REACH * min(pixels.shape[:2]))
    if reach < LEAST:
        raise Refusal("The picture is too small.", where="photo", remedy="Take it from nearer, or larger.")
    places = [(m.x * (pixels.shape[1] - 1), m.y * (pixels.shape[0] - 1)) for m in (first, second)]
    apart = np.subtract(places[0], places[1])
    if max(abs(apart)) < 2 * reach + 1:
        raise Refusal("The two marks overlap.", where="mark", remedy="Tap once on each colour, or go nearer.")
    one, two = (
        _spot(pixels, x, y, reach, name) for (x, y), name in zip(places, ("first", "second"), strict=True)
    )
    fall = float(0.5 * (one.slope + two.slope) @ apart)
    if abs(fall) > FALL:
        raise Refusal(
            f"The light falls off by {abs(fall):.0%} from one colour to the other.",
            where="photo",
            remedy="Turn the stick so that both lie in the same light, and bring the colours close together.",
        )
    return _difference(one, two, fall, middle)


def _difference(one: _Spot, two: _Spot, fall: float, near: Array) -> StickDifference:
    point = white("D65", "2")
    back = np.linalg.inv(SRGB_XYZ)
    gains = np.maximum(back @ xyz_from_lab(near, point), 1e-3) / two.rgb

    def colour(rgb: Array) -> Array:
        return lab_from_xyz(SRGB_XYZ @ (gains * rgb), point)

    delta = colour(one.rgb) - colour(two.rgb)
    step = 1e-4
    slopes = np.stack(
        [(colour(one.rgb * (1 + step * e)) - colour(one.rgb)) / step for e in np.eye(3)], axis=-1
    )
    light = slopes @ np.ones(3) * fall
    covariance = slopes @ np.diag(one.variance + two.variance) @ slopes.T + np.outer(light, light)
    doubts = []
    if abs(fall) > FALL / 3:
        doubts.append(f"The light falls off by {abs(fall):.0%} between the two: lightness is less sure.")
    if max(one.shine, two.shine) > SHINY / 4:
        doubts.append("Some of it shines: what shines was left out. Tilt the stick next time.")
    return StickDifference(delta, covariance + FLOOR**2 * np.eye(3), tuple(doubts))


def _spot(pixels: Array, x: float, y: float, reach: int, name: str) -> _Spot:
    high, wide = pixels.shape[:2]
    across, down = round(x), round(y)
    if not (reach <= across < wide - reach and reach <= down < high - reach):
        raise Refusal(
            f"The {name} mark is too near the edge.", where="mark", remedy="Leave some room round the stick."
        )
    part = pixels[down - reach : down + reach + 1, across - reach : across + reach + 1]
    if float(np.mean(np.any(part >= 0.995, axis=-1))) > CLIPPED:
        raise Refusal(
            f"The {name} colour is too bright: it is clipped.",
            where="photo",
            remedy="Expose darker, without flash.",
        )
    if float(np.mean(np.all(part <= 0.004, axis=-1))) > CLIPPED:
        raise Refusal(
            f"The {name} colour is black: it holds nothing.", where="photo", remedy="Take it in more light."
        )
    light = linear(part)
    level = light.mean(axis=-1)
    shines = level > SHINE * np.median(level)
    share = float(shines.mean())
    if share > SHINY:
        raise Refusal(
            f"The {name} colour shines.", where="photo", remedy="Tilt the stick until the shine is gone."
        )
    grid = np.arange(-reach, reach + 1.0)
    rows, columns = np.meshgrid(grid, grid, indexing="ij")
    kept = ~shines
    design = np.column_stack([np.ones(int(kept.sum())), columns[kept], rows[kept]])
    plane = np.linalg.lstsq(design, level[kept], rcond=None)[0]
    slope = plane[1:] / plane[0]
    if max(_step(level, kept, axis) for axis in (0, 1)) > EDGE:
        raise Refusal(
            f"An edge or a shadow runs through the {name} colour.",
            where="mark",
            remedy="Tap in the middle of the colour, and keep shadows off.",
        )
    own = light[kept]
    mean = own.mean(axis=0)
    # neighbouring pixels of a picture are alike: one in sixteen counts as a measurement of its own
    variance = own.var(axis=0) / mean**2 / max(own.shape[0] / 16.0, 1.0)
    return _Spot(mean, variance, slope, share)


def _step(level: Array, kept: NDArray[np.bool_], axis: int) -> float:
    """Relative difference in light between the outer thirds of a patch along an axis."""
    third = level.shape[axis] // 3
    ends = [
        np.take(level, range(third), axis),
        np.take(level, range(level.shape[axis] - third, level.shape[axis]), axis),
    ]
    masks = [
        np.take(kept, range(third), axis),
        np.take(kept, range(level.shape[axis] - third, level.shape[axis]), axis),
    ]
    means = [float(e[m].mean()) if m.any() else float(e.mean()) for e, m in zip(ends, masks, strict=True)]
    return abs(means[0] - means[1]) / float(np.mean(means))


def marks_found(data: bytes) -> tuple[Mark, Mark]:
    """The two colours of a stick that fills the middle of the picture, found by themselves: the straight cut that parts the middle best.

    Refuses where no cut parts two even colours: then a person marks them.
    """
    light = linear(pixels_of(data))
    high, wide = light.shape[:2]
    box = light[round(0.3 * high) : round(0.7 * high), round(0.3 * wide) : round(0.7 * wide)]
    best: tuple[float, int, float] = (0.0, 0, 0.5)
    for axis in (0, 1):
        profile = np.log(np.maximum(np.median(box, axis=1 - axis), 1e-5))
        count = len(profile)
        for cut in range(count // 4, count - count // 4):
            gap = max(2, count // 20)
            sides = profile[: cut - gap], profile[cut + gap :]
            apart = float(np.linalg.norm(sides[0].mean(axis=0) - sides[1].mean(axis=0)))
            within = float(np.sqrt(sum(side.var(axis=0).sum() for side in sides) / 2.0))
            score = apart / (within + 0.02)
            if apart > 0.04 and score > best[0]:
                best = (score, axis, 0.3 + 0.4 * cut / count)
    if best[0] < 2.0:
        raise Refusal(
            "The two colours are not found by themselves.",
            where="photo",
            remedy="Tap once on each of the two.",
        )
    _, axis, place = best
    lower, upper = 0.5 * (0.3 + place), 0.5 * (place + 0.7)
    return (Mark(0.5, lower), Mark(0.5, upper)) if axis == 0 else (Mark(lower, 0.5), Mark(upper, 0.5))
