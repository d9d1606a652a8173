"""Wet and dry, shifted targets, what an eye says, and like with like."""

import numpy as np
import pytest

from hidewright.colour.light.cie import lab
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.pigments.wet import (
    Milk,
    Pair,
    dry_from_wet,
    learn_milk,
    look_dry,
    look_wet,
    wet_from_dry,
)
from hidewright.colour.reading.conditions import Conditions, unlike
from hidewright.colour.reading.readings import Reading, colour_reading, lab_from_lch
from hidewright.colour.recipes.shift import lighter, more_neutral, toward
from hidewright.refusals import Refusal

CUP = Contents({"PW6": 6.0, "PBr7": 8.0, "PR101": 3.0}, 83.0)
TAN = np.interp(np.arange(400, 701, 10), [400, 500, 600, 700], [0.22, 0.27, 0.38, 0.42])


def test_a_mix_dries_darker(pigments: dict[str, Pigment]) -> None:
    wet, dry = look_wet(CUP, list(pigments.values())), look_dry(CUP, list(pigments.values()))
    assert lab(wet)[0] > lab(dry)[0] + 0.5


def test_there_and_back(pigments: dict[str, Pigment]) -> None:
    known = list(pigments.values())
    wet, dry = look_wet(CUP, known), look_dry(CUP, known)
    np.testing.assert_allclose(dry_from_wet(wet, CUP, known), dry, atol=1e-9)
    np.testing.assert_allclose(wet_from_dry(dry, CUP, known), wet, atol=1e-9)


def test_milk_is_learned_from_pairs(pigments: dict[str, Pigment]) -> None:
    known = list(pigments.values())
    truth = Milk(0.05, 1.3)
    rng = np.random.default_rng(2)
    cups = [Contents({"PBr7": 10.0, "PBk7": 2.0, "PW6": w}, 85.0) for w in (0.5, 2.0, 5.0, 8.0)]
    pairs = [
        Pair(
            c,
            look_wet(c, known, truth) + rng.normal(0, 0.002, 31),
            look_dry(c, known) + rng.normal(0, 0.001, 31),
        )
        for c in cups
    ]
    found = learn_milk(pairs, known)
    assert found.pairs == 4
    assert found.amplitude == pytest.approx(0.05, rel=0.1)
    assert found.power == pytest.approx(1.3, abs=0.35)
    assert found.amplitude_sd < Milk().amplitude_sd
    assert learn_milk([], known) == Milk()


def test_lighter_by_two_is_lighter_by_two() -> None:
    new = lighter(TAN, 2.0)
    np.testing.assert_allclose(new.lab, lab(TAN) + np.array([2.0, 0.0, 0.0]), atol=2e-3)
    # it keeps behaving like the old: under every light about the same step
    assert max(new.delta_e.values()) - min(new.delta_e.values()) < 0.15


def test_more_neutral_and_cleaner() -> None:
    half = more_neutral(TAN, 0.5)
    assert np.hypot(*half.lab[1:]) == pytest.approx(0.5 * np.hypot(*lab(TAN)[1:]), abs=5e-3)
    assert np.hypot(*more_neutral(TAN, -0.2).lab[1:]) > np.hypot(*lab(TAN)[1:])
    grey = more_neutral(TAN, 1.0).reflectance
    assert grey.max() - grey.min() < TAN.max() - TAN.min()


def test_toward_a_swatch_ends_at_the_swatch() -> None:
    other = TAN * 0.7
    np.testing.assert_allclose(toward(TAN, other, 1.0).reflectance, other, atol=1e-5)
    np.testing.assert_allclose(toward(TAN, other, 0.0).reflectance, TAN, atol=1e-5)
    half = toward(TAN, other, 0.5)
    np.testing.assert_allclose(half.lab, (lab(TAN) + lab(other)) / 2, atol=2e-3)


def test_shifts_that_cannot_be_are_refused() -> None:
    for shift in (lambda: lighter(TAN, 60.0), lambda: toward(TAN, TAN, 2.0), lambda: more_neutral(TAN, 3.0)):
        with pytest.raises(Refusal):
            shift()


def test_like_with_like() -> None:
    wet = Conditions(state="wet", made="mixed with base", base_share=0.82, light="D65")
    dry = Conditions(state="dry", made="raw pigment", base_share=0.7, light="A")
    assert len(unlike(wet, dry)) == 4
    assert unlike(wet, wet) == ()
    assert unlike(Conditions(), dry) == ()
    with pytest.raises(Refusal):
        Conditions(state="damp")


def test_readings_average_and_colours_stand_in() -> None:
    one = Reading("a", TAN)
    three = one.averaged(Reading("b", TAN * 1.02), Reading("c", TAN * 0.98))
    np.testing.assert_allclose(three.reflectance, TAN)
    np.testing.assert_allclose(three.sd, one.sd / np.sqrt(3))
    typed = colour_reading("typed", lab_from_lch([50, 20, 60]), 0.5)
    assert not typed.is_spectrum
    np.testing.assert_allclose(lab(typed.reflectance), [50, 10, 17.3205], atol=0.02)
    with pytest.raises(Refusal):
        one.averaged(typed)
