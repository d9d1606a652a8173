"""Shifting a target: lighter, more neutral, toward a swatch; a new spectrum that keeps behaving like the old one under other lights.

A new colour under one light leaves the spectrum open. Taken is the one whose ln(K/S) differs from the old by the least smooth change (Gaussian process of length 80 nm): with
residual r and slopes J of Lab by that change, δ ← C Jᵀ(J C Jᵀ)⁻¹(r + Jδ), the conditional mean, repeated until Lab is met. K/S is what pigments mix in (Duncan 1940).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import LIGHTS, WAVELENGTHS, LightLike, delta_e00, lab
from hidewright.colour.light.far import off_by
from hidewright.colour.light.local import lab_slopes
from hidewright.colour.light.spectra import numbers, spectrum, within
from hidewright.colour.pigments.film import Surface, below, k_over_s, opaque, seen
from hidewright.money import show_money
from hidewright.refusals import Refusal

from .recipe import Recipe

Array = NDArray[np.float64]
LENGTH_NM = 80.0
MET = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Shifted:
    """A new target: `reflectance` (31,), `lab` under the light it was shifted under, `delta_e` ΔE00 from the original by light."""

    reflectance: Array
    lab: tuple[float, float, float]
    delta_e: Mapping[str, float]


def lighter(target: Array, by: float, light: LightLike = "D65") -> Shifted:
    """Lighter by so much L* (negative: darker), −100 to 100."""
    target = _target(target)
    within(by, -100.0, 100.0, "A shift", "lighter")
    return to_lab(target, lab(target, light) + np.array([by, 0.0, 0.0]), light)


def more_neutral(target: Array, share: float, light: LightLike = "D65") -> Shifted:
    """Chroma less by a share of 0..1; negative shares, to −0.5, make it cleaner."""
    if not -0.5 <= share <= 1.0:
        raise Refusal(
            "The share lies from -50 % to 100 %.", where="neutral", remedy="Write 0.1 for a tenth of the way."
        )
    target = _target(target)
    return to_lab(target, lab(target, light) * np.array([1.0, 1.0 - share, 1.0 - share]), light)


def toward(target: Array, swatch: Array, share: float, light: LightLike = "D65") -> Shifted:
    """So much of the way (0..1) toward a swatch (31,), in Lab under the light."""
    if not 0.0 <= share <= 1.0:
        raise Refusal(
            "The share lies from 0 to 100 %.", where="toward", remedy="Write 0.5 for half of the way."
        )
    target, swatch = _target(target), spectrum(swatch, "swatch", upper=1.3)
    start = lab(target, light)
    surface = Surface()
    one, two = (np.log(_ratio(r, surface)) for r in (target, swatch))
    between = seen(opaque(np.exp((1 - share) * one + share * two), 1.0), surface)
    return _met(target, between, start + share * (lab(swatch, light) - start), light)


def to_lab(target: Array, wanted: Array, light: LightLike = "D65") -> Shifted:
    """The target changed to a wanted Lab (3,) under the light; refuses a colour that no surface of this kind can have."""
    target = _target(target)
    return _met(target, target, numbers(wanted, (3,), "wanted colour"), light)


def _target(values: Array) -> Array:
    return spectrum(values, "target", upper=1.3)


def _ratio(reading: Array, surface: Surface) -> Array:
    return np.maximum(
        k_over_s(np.clip(below(np.maximum(reading, surface.k1 + 1e-4), surface), 1e-4, 0.9995)), 1e-7
    )


def _met(original: Array, start: Array, wanted: Array, light: LightLike) -> Shifted:
    if not 0.0 < wanted[0] < 100.0:
        raise Refusal(f"A lightness of {wanted[0]:.0f} cannot be.", where="lighter", remedy="Shift it less.")
    surface = Surface()
    ratio = _ratio(start, surface)
    gap = WAVELENGTHS[:, None] - WAVELENGTHS[None, :]
    smooth = np.exp(-0.5 * (gap / LENGTH_NM) ** 2) + 1e-6 * np.eye(WAVELENGTHS.size)
    change = np.zeros(WAVELENGTHS.size)
    reading = seen(opaque(ratio, 1.0), surface)
    for _ in range(40):
        off = wanted - lab(reading, light)
        if np.abs(off).max() < 1e-4:
            break
        step = 1e-4
        by_band = (
            seen(opaque(ratio * np.exp(np.clip(change, -12, 12) + step), 1.0), surface) - reading
        ) / step
        slopes = lab_slopes(reading, light) * by_band
        scale = min(1.0, 6.0 / float(np.abs(off).max()))
        change = (
            smooth @ slopes.T @ np.linalg.solve(slopes @ smooth @ slopes.T, scale * off + slopes @ change)
        )
        reading = seen(opaque(ratio * np.exp(np.clip(change, -12, 12)), 1.0), surface)
    here = lab(reading, light)
    if float(delta_e00(here, wanted)) > MET:
        raise Refusal("No surface of this kind can have that colour.", where="shift", remedy="Shift it less.")
    differences = {name: float(delta_e00(lab(reading, name), lab(original, name))) for name in LIGHTS}
    return Shifted(reading, (float(here[0]), float(here[1]), float(here[2])), differences)


def downstream(before: Recipe, after: Recipe) -> tuple[str, ...]:
    """What the shift changes later, in words: coats to hide, cost, and how much a drop hurts."""
    words = []
    if before.coats != after.coats:
        told = [str(r.coats) if r.coats else "more than twelve" for r in (before, after)]
        words.append(f"Coats to hide the old colour: {told[0]} before, {told[1]} now.")
    if before.cost != after.cost:
        words.append(f"Cost of a litre: {show_money(before.cost)} before, {show_money(after.cost)} now.")
    if abs(before.drop - after.drop) >= 0.1:
        words.append(f"A drop too many: {off_by(before.drop)} before, {off_by(after.drop)} now.")
    return tuple(words)
