"""What cups teach, summed a second time: errors, spreads by draws, the update by information, the likelihood of a prior, milk from pairs, and the light under it all."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from hidewright.colour.cups.colours import lab_and_slopes
from hidewright.colour.learning.cup import Cup, Pour, Sight
from hidewright.colour.learning.cup_rows import milk_told
from hidewright.colour.learning.cupmodel import CupModel, noise_of, stacked
from hidewright.colour.learning.learn import Knowledge, learn, settle, with_pours
from hidewright.colour.learning.lots import USUAL, Lot, Prior, Stock
from hidewright.colour.learning.stray import SET_ASIDE, evidence, stray_words
from hidewright.colour.light.cie import (
    WAVELENGTHS,
    Light,
    lab,
    light_from_spectrum,
    weights,
    xyz,
    xyz_from_lab,
)
from hidewright.colour.light.lamps import read_lamp
from hidewright.colour.light.local import lab_slopes, metric
from hidewright.colour.light.spectra import amounts, smooth_basis, within
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.pigment import Base
from hidewright.colour.pigments.wet import Milk, Pair, learn_milk, look_dry, look_wet, wet_from_dry
from hidewright.refusals import Refusal, Refusals
from own_films import KNOWN

STOCK = Stock((Lot("PW6", KNOWN["PW6"]), Lot("PBr7", KNOWN["PBr7"], 2.0), Lot("PY42", KNOWN["PY42"])), Base(), USUAL, Surface())  # fmt: skip
FRESH = Knowledge.fresh(STOCK)
GRAMS = {"PW6": 20.0, "PBr7": 4.0, "PY42": 2.0, "base": 60.0}
CUP = Cup("one", tuple(Pour(key, g, 0.05) for key, g in GRAMS.items()))
LOOK = FRESH.open(CUP).forecast()


def test_a_pour_is_off_by_its_weighing_and_by_a_uniform_step() -> None:
    """Half a per cent, and a step of the balance over √12 (a rounded figure is uniform within its step), relative to what was poured."""
    errors = CupModel(STOCK, CUP.pours).error
    np.testing.assert_allclose(
        errors, [np.hypot(0.005, 0.05 / np.sqrt(12) / g) for g in GRAMS.values()], rtol=5e-3
    )


def test_readings_in_a_row_have_their_own_noise_by_their_weights() -> None:
    """A spectrum's own sd with .0004 that nothing explains; a colour's covariance as it is; both over their weight."""
    colour = Sight(4, np.array([50.0, 5, 9]), np.diag([0.1, 0.2, 0.3]))
    spectrum = Sight(4, LOOK.reflectance, np.linspace(0.001, 0.002, 31))
    noise = noise_of(STOCK, [spectrum, colour], [0.5, 0.25])
    told = [*((np.linspace(0.001, 0.002, 31) ** 2 + 0.0004**2) / 0.5), *(np.array([0.1, 0.2, 0.3]) / 0.25)]
    np.testing.assert_allclose(noise, np.diag(told))


def test_a_forecasts_spread_is_that_of_draws_of_all_that_is_not_known() -> None:
    """700 draws of surface, lots and pours, each looked at by the model: reflectance, Lab, and the ninety of a hundred that lie in the interval."""
    model = CupModel(STOCK, CUP.pours)
    mean, covariance = with_pours(FRESH, 4)
    small = 0.3
    draws = np.random.default_rng(2).multivariate_normal(mean, small**2 * covariance, 700)
    looks = np.array([model.at(one, 4)[0] for one in draws])
    spread = small**2 * (LOOK.covariance - USUAL.floor**2 * np.eye(31))
    np.testing.assert_allclose(np.cov(looks.T), spread, atol=0.13 * spread.max())
    labs = lab(looks)
    np.testing.assert_allclose(np.cov(labs.T), small**2 * LOOK.lab_covariance(), atol=0.13 * small**2 * LOOK.lab_covariance().max())  # fmt: skip
    low, high = LOOK.interval90()
    middle = (low + high) / 2
    np.testing.assert_allclose(middle, LOOK.lab())
    held = np.abs(labs - middle) < small * (high - low) / 2
    assert held.mean(axis=0) == pytest.approx([0.9] * 3, abs=0.035)
    m = metric(LOOK.lab())
    assert LOOK.spread() == pytest.approx(float(np.sqrt(np.trace(m @ LOOK.lab_covariance() @ m.T))))


def read(size: float) -> Cup:
    """The cup, read off its forecast in a way of its own, by so much."""
    way = np.sin(WAVELENGTHS / 40.0) * 0.01
    return CUP.seen(LOOK.reflectance + size * way)


def missed(cup: Cup) -> float:
    """How many times its expected square a reading misses, a number."""
    model = CupModel(STOCK, cup.pours)
    mean, covariance = with_pours(FRESH, 4)
    told, slopes = stacked(model, mean, list(cup.sights), mean.size)
    off = cup.sights[0].values - told
    whole = slopes @ covariance @ slopes.T + (0.0015**2 + 0.0004**2) * np.eye(31)
    return float(off @ np.linalg.inv(whole) @ off) / 31


@pytest.mark.parametrize(("times", "noted", "aside"), [(2.4, False, False), (2.6, True, False), (9.8, True, False), (10.2, True, True)])  # fmt: skip
def test_a_reading_counts_less_from_two_and_a_half_times_and_is_set_aside_from_ten(times: float, noted: bool, aside: bool) -> None:  # fmt: skip
    """Its weight is the square of 2.5 over how many times it missed by; the update is the Gaussian one by information at its end."""
    cup = read(np.sqrt(times / missed(read(1.0))))
    assert missed(cup) == pytest.approx(times)
    opened = FRESH.open(cup)
    assert [(o.sight, o.aside) for o in opened.odd] == ([(0, aside)] if noted else [])
    assert opened.used == int(not aside)
    if noted:
        assert opened.odd[0].times == pytest.approx(times)
    if aside:
        np.testing.assert_array_equal(opened.mean[: STOCK.size], FRESH.mean)
        return
    weight = (2.5 / times) ** 2 if noted else 1.0
    model = CupModel(STOCK, cup.pours)
    told, slopes = stacked(model, opened.mean, list(cup.sights), opened.mean.size)
    noise = (0.0015**2 + 0.0004**2) / weight
    start, prior = with_pours(FRESH, 4)
    information = np.linalg.inv(prior) + slopes.T @ slopes / noise
    np.testing.assert_allclose(opened.covariance, np.linalg.inv(information), atol=1e-6)
    pull = np.linalg.solve(prior, start - opened.mean) + slopes.T @ (cup.sights[0].values - told) / noise
    assert np.abs(np.linalg.solve(information, pull)).max() < 5e-3, "it has come to rest"


def test_one_cup_settled_is_one_cup_taken_in() -> None:
    """Both solve for the same likeliest bottles, one with the pours beside them and one with the pours summed out."""
    cup = read(0.3)
    one = FRESH.after(cup)
    both = settle(one, [cup], rounds=6)
    np.testing.assert_allclose(both.mean, one.mean, atol=0.02)
    np.testing.assert_allclose(both.covariance, one.covariance, atol=0.01)
    struck = settle(one, [cup.struck(0)])
    np.testing.assert_allclose(struck.mean, 0.0, atol=1e-12)


def test_how_far_colours_missed_is_counted_by_their_own_spread_and_makes_knowledge_less_sure() -> None:
    cup = read(0.5)
    model, (mean, covariance) = CupModel(STOCK, cup.pours), with_pours(FRESH, 4)
    told, slopes = stacked(model, mean, list(cup.sights), mean.size)
    turn = lab_slopes(told)
    whole = turn @ (slopes @ covariance @ slopes.T + (0.0015**2 + 0.0004**2) * np.eye(31)) @ turn.T
    off = turn @ (cup.sights[0].values - told)
    assert FRESH.missed_colour(cup) == pytest.approx([off @ np.linalg.inv(whole) @ off / 3])
    assert FRESH.missed_colour(cup.struck(0)) == []
    assert FRESH.missed_colour(CUP.seen(LOOK.lab(), np.eye(3))) == []
    for late, times in (((3.0, 4.0), (3 + 4 + 2) / 4), ((9.0, 1.0), (5 + 1 + 2) / 4), ((0.1, 0.2), 1.0)):
        wider = FRESH.doubted([0.0, 50.0, *late])
        np.testing.assert_allclose(wider.covariance, times * FRESH.covariance)
    assert learn(STOCK, [cup]).readings == 1


def test_strength_is_the_mean_over_the_bands_of_what_k_and_s_went_up_by() -> None:
    """At any θ: the mean of ln k and ln s over the bands against the pigment's own, and its spread by draws."""
    rng = np.random.default_rng(4)
    known = replace(FRESH, mean=rng.normal(0, 1, STOCK.size))
    k, s = STOCK.curves_at(known.mean, 1)
    told = np.mean([np.log(k / KNOWN["PBr7"].k), np.log(s / KNOWN["PBr7"].s)])
    strength, sd = known.strength("PBr7")
    assert strength == pytest.approx(np.exp(told))
    draws = rng.normal(size=(3000, STOCK.width))
    basis = smooth_basis(USUAL.length)
    rank = basis.shape[1]
    by_draw = 0.10 * 2.0**1.4 * draws[:, 0] + 0.04 * 2.0 * (draws[:, 1 : 1 + rank] + draws[:, 1 + rank :]) @ basis.mean(axis=0) / 2  # fmt: skip
    assert sd == pytest.approx(by_draw.std(), rel=0.05)
    assert STOCK.spread_of(1) == pytest.approx((0.10 * 2.0**1.4, 0.08))


def test_the_surface_stays_one() -> None:
    """Its constants move by .003 and .013 an sd, and stop where no surface is."""
    theta = np.zeros(STOCK.size)
    theta[:2] = 2.0, -3.0
    assert (STOCK.surface_at(theta).k1, STOCK.surface_at(theta).k2) == pytest.approx((0.046, 0.557))
    for far, told in ((1e4, (0.2, 0.9)), (-1e4, (0.0, 0.0))):
        theta[:2] = far
        assert (STOCK.surface_at(theta).k1, STOCK.surface_at(theta).k2) == told


def test_the_likelihood_of_a_prior_is_that_of_each_reading_before_it_was_taken_in() -> None:
    """Two cups by scipy's normal density, the second on top of the first; one that had to be set aside takes off a thousand."""
    first, second = read(0.3), Cup("two", (Pour("PW6", 20.0), Pour("PY42", 5.0)))
    second = second.seen(FRESH.open(second).forecast().reflectance * 1.01)

    def density(known: Knowledge, cup: Cup) -> float:
        mean, covariance = with_pours(known, len(cup.pours))
        told, slopes = stacked(CupModel(STOCK, cup.pours), mean, list(cup.sights), mean.size)
        whole = slopes @ covariance @ slopes.T + (0.0015**2 + 0.0004**2) * np.eye(31)
        return float(multivariate_normal(told, whole).logpdf(cup.sights[0].values))

    told = density(FRESH, first) + density(FRESH.after(first), second)
    assert evidence(STOCK, [first, second]) == pytest.approx(told, rel=1e-6)
    assert evidence(STOCK, [first, CUP, read(8.0)]) == pytest.approx(density(FRESH, first) - SET_ASIDE)


@pytest.mark.parametrize(("times", "words"), [(0.35, "less than"), (0.37, "as usual"), (2.8, "as usual"), (3.0, "more than")])  # fmt: skip
def test_bottles_stray_as_usual_within_six_tenths_and_seventeen(times: float, words: str) -> None:
    """The geometric mean of strength and shape against the usual ones."""
    assert words in stray_words(Prior(strength=0.10 * times, shape=0.04))
    assert stray_words(USUAL) == "by 10% in strength and 4% in shade, as usual"


# Milk.

OWN = [KNOWN[key] for key in ("PW6", "PBr7", "PY42")]
HELD = Contents({"PW6": 2.0, "PBr7": 6.0, "PY42": 1.0}, 80.0)


def test_milk_is_learned_with_the_spread_that_its_readings_leave() -> None:
    """Two pairs: the covariance of ln A and p by information, from slopes by differences; one without base tells nothing."""
    truth = Milk(0.03, 1.6)
    pairs = [Pair(c, look_wet(c, OWN, truth), look_dry(c, OWN)) for c in (HELD, replace(HELD, base_ml=30.0))]
    found = learn_milk(pairs, OWN, noise=0.01)
    assert found.pairs == 2

    def both(ln_a: float, p: float) -> np.ndarray:
        return np.concatenate(
            [wet_from_dry(pair.dry, pair.contents, OWN, Milk(np.exp(ln_a), p)) for pair in pairs]
        )

    at, e = (np.log(found.amplitude), found.power), 1e-4
    slopes = np.stack([both(at[0] + e, at[1]) - both(at[0] - e, at[1]), both(at[0], at[1] + e) - both(at[0], at[1] - e)], -1) / (2 * e)  # fmt: skip
    information = slopes.T @ slopes / 0.01**2 + np.eye(2) / 0.8**2
    sd = np.sqrt(np.diag(np.linalg.inv(information)))
    assert (found.amplitude_sd, found.power_sd) == pytest.approx(sd, rel=1e-2)
    pull = slopes.T @ (np.concatenate([p.wet for p in pairs]) - both(*at)) / 0.01**2
    pull += (np.log(0.02) - at[0], 2.0 - at[1]) / np.square(0.8)
    assert np.abs(np.linalg.solve(information, pull)).max() < 1e-3
    bare = Contents({"PW6": 2.0, "PBr7": 6.0}, 0.0)
    silent = learn_milk([Pair(bare, look_wet(bare, OWN, truth), look_dry(bare, OWN))], OWN)
    assert (silent.amplitude, silent.power, silent.amplitude_sd) == pytest.approx((0.02, 2.0, 0.8), rel=1e-3)


@pytest.mark.parametrize("taught", [False, True])
def test_straying_bottles_make_milk_less_sure_and_learned_ones_less_so(taught: bool) -> None:
    """.9 of the spread of strength on ln A and 4.5 of that of shape on p; six tenths of that once the cups were learned from."""
    pairs = [Pair(HELD, look_wet(HELD, OWN, Milk(0.03, 1.6)), look_dry(HELD, OWN))]
    plain = learn_milk(pairs, OWN)
    told = milk_told(pairs, STOCK, FRESH if taught else None)
    left = 0.6 if taught else 1.0
    assert told.amplitude_sd == pytest.approx(np.hypot(plain.amplitude_sd, left * 0.9 * 0.10), rel=1e-3)
    assert told.power_sd == pytest.approx(np.hypot(plain.power_sd, left * 4.5 * 0.04), rel=1e-3)
    assert (told.amplitude, told.power, told.pairs) == pytest.approx((plain.amplitude, plain.power, 1))
    assert milk_told([], STOCK) == Milk()


def test_milk_scatters_by_the_power_of_the_wavelength_and_by_the_share_of_base() -> None:
    np.testing.assert_allclose(
        Milk(0.03, 1.6).scattering(0.5), [0.5 * 0.03 * (550.0 / nm) ** 1.6 for nm in WAVELENGTHS]
    )
    assert Milk(0.03).times(0.5).amplitude == pytest.approx(0.03 * np.exp(0.5))
    assert Milk(0.03).times(20.0).amplitude == 9.9
    for amplitude, power, fits in ((9.99, 5.0, True), (1e-9, 0.0, True), (10.0, 1.0, False), (0.0, 1.0, False), (1.0, 5.01, False), (1.0, -0.01, False)):  # fmt: skip
        if fits:
            assert Milk(amplitude, power).pairs == 0
        else:
            with pytest.raises(Refusal):
                Milk(amplitude, power)


# Light.


@pytest.mark.parametrize("level", [0.5, 0.03, 0.004])
@pytest.mark.parametrize("light", ["D65", "A"])
def test_slopes_of_lab_are_those_of_small_steps_down_to_black(level: float, light: str) -> None:
    """Both ways to them, bright and on the straight part of the curve."""
    spectrum = level * np.linspace(0.6, 1.4, 31)
    labs, slopes = lab_and_slopes(spectrum[None], light)
    np.testing.assert_allclose(labs[0], lab(spectrum, light), atol=1e-9)
    step = 1e-5 * level
    numeric = np.stack([(lab(spectrum + step * e, light) - lab(spectrum - step * e, light)) / (2 * step) for e in np.eye(31)], -1)  # fmt: skip
    np.testing.assert_allclose(slopes[0], numeric, rtol=1e-4, atol=1e-4 * np.abs(numeric).max())
    np.testing.assert_allclose(
        lab_slopes(spectrum, light), numeric, rtol=1e-3, atol=1e-3 * np.abs(numeric).max()
    )


def test_lab_and_xyz_go_there_and_back_down_to_black() -> None:
    labs = np.array([[l_, a, b] for l_ in (0.5, 7.0, 9.0, 60.0) for a in (-3, 0, 20) for b in (-20, 0, 3)], dtype=float)  # fmt: skip
    point = weights("A").sum(axis=0)
    from hidewright.colour.light.cie import lab_from_xyz

    keep = labs[(labs[:, 0] > 10) | (np.abs(labs[:, 1:]).max(axis=1) <= 3)]
    np.testing.assert_allclose(lab_from_xyz(xyz_from_lab(keep, point), point), keep, atol=1e-9)


def test_a_smooth_basis_keeps_a_thousandth_less_than_all_and_no_vector_too_many() -> None:
    for length in (20.0, 60.0, 300.0):
        gap = WAVELENGTHS[:, None] - WAVELENGTHS[None, :]
        values = np.sort(np.linalg.eigvalsh(np.exp(-0.5 * (gap / length) ** 2)))[::-1]
        basis = smooth_basis(length)
        share = np.cumsum(values) / 31.0
        assert basis.shape[1] == int(np.count_nonzero(share < 0.999)) + 1
        np.testing.assert_allclose(np.square(basis).sum(), values[: basis.shape[1]].sum())
        np.testing.assert_allclose(np.linalg.norm(basis, axis=0) ** 2, values[: basis.shape[1]], rtol=1e-6)


@pytest.mark.parametrize(("first", "last", "step", "fits"), [(380, 730, 10, True), (381, 731, 10, False), (380, 729, 1, False), (370, 740, 11, False), (360, 780, 5, True)])  # fmt: skip
def test_a_lamp_covers_the_eye_in_steps_of_ten_at_most(first: int, last: int, step: int, fits: bool) -> None:
    """Between its figures the light is a straight line and beyond them level: the same lamp told in finer steps, or further out, is the same light."""
    nm = np.arange(float(first), last + 1, step)

    def power(at: np.ndarray) -> np.ndarray:
        return np.interp(at, [380.0, 500.0, 730.0], [0.3, 1.0, 0.6])

    if not fits:
        with pytest.raises(Refusal, match="380 to 730"):
            light_from_spectrum("lamp", nm, power(nm))
        return
    fine = np.arange(300.0, 831.0)
    one, two = (
        light_from_spectrum("lamp", nm, power(nm)),
        light_from_spectrum("lamp", fine, 7.0 * power(fine)),
    )
    np.testing.assert_allclose(one.table, two.table, atol=1e-9)
    assert float(xyz(np.ones(31), one)[1]) == pytest.approx(100.0)
    for wrong in (-power(nm), 0 * nm, power(nm) * np.nan):
        with pytest.raises(Refusal):
            light_from_spectrum("lamp", nm, wrong)


def test_a_light_gives_a_white_of_a_hundred() -> None:
    table = weights("D65")
    assert Light("good", table * (1 + 5e-9)).name == "good"
    for wrong in (table * (1 + 2e-8), table[:30], table * np.nan):
        with pytest.raises(Refusal):
            Light("bad", wrong)


def test_a_lamp_file_is_read_rising_and_within_its_limits() -> None:
    nm, power = read_lamp("wavelength;power\n500;2,5\n400;0\n3000;1e12\n100;1\n")
    np.testing.assert_array_equal(nm, [100.0, 400.0, 500.0, 3000.0])
    np.testing.assert_array_equal(power, [1.0, 0.0, 2.5, 1e12])
    for line in ("99.9,1", "3000.1,1", "500,-0.1", "500,1.1e12", "500,", "x,1"):
        with pytest.raises((Refusal, Refusals)):
            read_lamp(f"wavelength,power\n{line}\n")


def test_amounts_and_numbers_are_taken_up_to_their_ends() -> None:
    amounts({"a": 0.0, "b": 1e9}, "cup")
    amounts({"a": 2.0, "b": 3.0}, "cup", low=2.0, high=3.0)
    within(2.0, 2.0, 3.0, "A", "a")
    within(3.0, 2.0, 3.0, "A", "a")
    for low, high in ((1.99, 3.0), (2.0, 3.01)):
        with pytest.raises(Refusal):
            amounts({"a": low, "b": high}, "cup", low=2.0, high=3.0)
    for value in (1.99, 3.01):
        with pytest.raises(Refusal):
            within(value, 2.0, 3.0, "A", "a")
    for value in (-1e-9, 1.1e9):
        with pytest.raises(Refusal):
            amounts({"a": value}, "cup")
