"""The sums under the fit of drawdowns, done a second time: slopes by differences, covariances entry by entry, spreads by draws. Nothing here calls the formula that it judges."""

from dataclasses import replace
from functools import cache
from statistics import median

import numpy as np
import pytest

from hidewright.colour.light.cie import WAVELENGTHS, delta_e00, lab
from hidewright.colour.pigments.characterise import characterise
from hidewright.colour.pigments.drawdowns import Doubt, Drawdown
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.films import Films
from hidewright.colour.pigments.joint import Joint
from hidewright.colour.pigments.levels import levelled, open_levels, quiet
from hidewright.colour.pigments.misfit import BEGIN, CLEAN, MOST, SOURCES, Scales, spread_of
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.pigments.proposals import propose
from own_films import BLACK, K1, K2, KEYS, KNOWN, WHITE, drawn, joint_of, look, mix, true_theta


def one_side(name: str, shares: dict[str, float], um: float = 25.0) -> Drawdown:
    """A film over a white card alone."""
    read = look(*mix(shares), um, WHITE)
    return Drawdown(name, shares, um, read, read, WHITE, WHITE)


DOUBTS = (Doubt("bar", 0.1, {"PR101": 1.0, "PW6": 1.0}), Doubt("", 0.07, {"PR101": 0.5, "PBk7": 1.0}))
"""What a film's thickness, and the density of one thing in it, may be off by."""


@cache
def films() -> tuple[tuple[Drawdown, ...], Films]:
    made = (
        drawn("white", {"PW6": 0.3}, 20.0),
        drawn("tint", {"PR101": 0.1, "PW6": 0.4}, 30.0, readings=4, doubts=DOUBTS),
        one_side("shade", {"PR101": 0.2, "PBk7": 0.05}),
    )
    return made, Films(KEYS, made, Surface())


def off_truth(seed: int = 3) -> np.ndarray:
    return true_theta() + np.random.default_rng(seed).normal(0, 0.1, (3, 2, 31))


# Films and what they differ from readings by.


def test_films_look_as_the_formula_says_and_their_slopes_are_those_of_small_steps() -> None:
    """Every film's slopes, laid where `places` says, against central differences in ln k and ln s of three bands of every pigment."""
    made, every = films()
    theta = off_truth()
    looks = every.at(theta)
    for d, one in enumerate(made):
        cards = [WHITE] if one.one_ground else [BLACK, WHITE]
        sides = [look(*mix(dict(one.shares), theta), one.microns, card) for card in cards]
        np.testing.assert_allclose(looks.read[every.sides[d], d], sides, atol=1e-12)
        np.testing.assert_allclose(
            every.missed(looks, d),
            np.concatenate(
                [r - s for r, s in zip([one.over_black, one.over_white][-len(sides) :], sides, strict=True)]
            ),
            atol=1e-12,
        )
        part = every.slopes(theta, looks, d)
        wide = np.zeros((len(sides), theta.size, 31))
        for row, place in enumerate(every.places(d)):
            wide[:, place, row % 31] = part[:, row // 31, row % 31]
        for at in np.ravel_multi_index(
            np.array([(p, c, b) for p in range(3) for c in (0, 1) for b in (2, 17, 30)]).T, theta.shape
        ):
            up, down = theta.copy(), theta.copy()
            up.flat[at] += 1e-5
            down.flat[at] -= 1e-5
            numeric = [
                (
                    look(*mix(dict(one.shares), up), one.microns, card)
                    - look(*mix(dict(one.shares), down), one.microns, card)
                )
                / 2e-5
                for card in cards
            ]
            np.testing.assert_allclose(wide[:, at], numeric, atol=2e-6)


@pytest.mark.parametrize("d", range(3))
def test_a_films_residual_has_the_covariance_that_is_written_down(d: int) -> None:
    """Entry by entry from the five sources: a band's noise (less for an average), each amount, K and S of the film (both grounds alike), and the reading (each ground for itself); and from the doubts that the film was entered with."""
    made, every = films()
    theta, scales = off_truth(), Scales(0.002, 0.03, 0.02, 0.05, 0.004)
    looks = every.at(theta)
    one, cards = made[d], ([WHITE] if made[d].one_ground else [BLACK, WHITE])

    def read(k_times: float = 1.0, s_times: float = 1.0, key: str = "", times: float = 1.0) -> np.ndarray:
        shares = {name: share * (times if name == key else 1.0) for name, share in one.shares.items()}
        k, s = mix(shares, theta)
        return np.concatenate([look(k * k_times, s * s_times, one.microns, card) for card in cards])

    e = 1e-5
    by_k, by_s = ((read(**{n: 1 + e}) - read(**{n: 1 - e})) / (2 * e) for n in ("k_times", "s_times"))
    by_amount = [(read(key=n, times=1 + e) - read(key=n, times=1 - e)) / (2 * e) for n in one.shares]
    alike = np.exp(-np.abs(WAVELENGTHS[:, None] - WAVELENGTHS[None, :]) / 30.0)
    both, each = np.tile(alike, (len(cards), len(cards))), np.kron(np.eye(len(cards)), alike)

    def whole(times: float) -> np.ndarray:
        found = np.eye(31 * len(cards)) * 0.002**2 / one.readings
        found += sum(0.03**2 * np.outer(slope, slope) for slope in by_amount)
        for doubt in one.doubts:
            moved = sum(
                doubt.moves.get(n, 0.0) * slope for n, slope in zip(one.shares, by_amount, strict=True)
            )
            found += doubt.sd**2 * np.outer(moved, moved)
        found += times * 0.02**2 * both * np.outer(by_k, by_k)
        found += times * 0.05**2 * both * np.outer(by_s, by_s)
        return found + times * 0.004**2 * each

    spread = spread_of(every, looks, every.slopes(theta, looks, d), d, scales, 2.5)
    same = np.eye(31 * len(cards))
    np.testing.assert_allclose(spread.inverse @ whole(1.0), same, atol=2e-3)
    np.testing.assert_allclose(spread.counting @ whole(2.5), same, atol=2e-3)
    assert spread.logdet == pytest.approx(np.linalg.slogdet(whole(1.0))[1], abs=1e-3)
    assert spread.per_band == pytest.approx(1.0 / one.readings)
    if not one.doubts:
        weighed = (spread.factors * scales.variances[spread.source]) @ spread.factors.T
        np.testing.assert_allclose(weighed + same * 0.002**2 / one.readings, whole(1.0), rtol=1e-3, atol=1e-9)


def test_scales_stay_where_the_readings_agree_and_go_half_way_back_where_none_tells() -> None:
    """A step of the restricted likelihood: as much as expected moves nothing; nothing at all moves the variance to the geometric mean of its own and a clean film's; plenty of it moves the variance by the root of its excess."""
    clean = Scales()
    np.testing.assert_allclose([getattr(clean, name) for name in SOURCES], CLEAN)
    fair = np.array([3.0, 7.0, 2.0, 40.0, 1.0])
    np.testing.assert_allclose(clean.stepped(fair, fair).variances, clean.variances)
    wide = Scales(*BEGIN)
    silent = wide.stepped(np.zeros(5), np.zeros(5)).variances
    np.testing.assert_allclose(silent, np.sqrt(wide.variances * clean.variances))
    plenty = np.full(5, 1e15) / clean.variances
    more = clean.stepped(4.0 * plenty, plenty).variances / clean.variances
    np.testing.assert_allclose(np.delete(more, 1), 2.0, rtol=1e-3)
    assert more[1] == pytest.approx(2.0, rel=0.01)


@pytest.mark.parametrize(("source", "numbers"), [(0, 60.0), (2, 10.0), (3, 10.0), (4, 10.0)])
def test_what_clean_films_have_counts_as_many_squared_numbers_as_is_said(source: int, numbers: float) -> None:
    """Three times that many numbers' worth of squares and none expected doubles the variance; the balance's error does not move at all."""
    clean = Scales().variances
    quadratic = np.zeros(5)
    quadratic[source] = 3 * numbers / clean[source]
    grown = Scales().stepped(quadratic, np.zeros(5)).variances / clean
    assert grown[source] == pytest.approx(2.0)
    assert grown[1] == pytest.approx(1.0, abs=1e-6)


def test_relative_errors_are_capped_and_those_of_the_reading_are_not() -> None:
    huge = Scales().stepped(np.full(5, 1e30), np.ones(5))
    assert (huge.amounts, huge.absorption, huge.scattering) == (MOST, MOST, MOST)
    assert min(huge.noise, huge.reading) > MOST
    assert "15.00%" in replace(Scales(), noise=0.15).words


# Levels.


def test_a_running_median_of_seven_leaves_out_a_lone_spike() -> None:
    curve = np.random.default_rng(1).normal(size=(2, 31))
    for row, found in zip(curve, quiet(curve), strict=True):
        wide = [row[0]] * 3 + list(row) + [row[-1]] * 3
        assert found == pytest.approx([median(wide[n : n + 7]) for n in range(31)])


@pytest.mark.parametrize("lift", [-3.0, -0.75, 1.0, 2.25])
def test_a_level_that_is_wrong_by_a_power_of_e_is_put_right_and_a_right_one_is_left(lift: float) -> None:
    _, every = films()
    right = true_theta()
    np.testing.assert_array_equal(levelled(every, right), right)
    wrong = right.copy()
    wrong[1] += lift
    wrong[0, 1] -= 1.0
    before = wrong.copy()

    def misfit(theta: np.ndarray) -> float:
        return float(np.square((every.read - every.at(theta).read) / every.sd[:, None]).sum())

    found = levelled(every, wrong)
    assert misfit(found) < 0.05 * misfit(wrong)
    assert misfit(found) < 200.0 or lift % 1, "steps of whole powers are found to the last"
    np.testing.assert_allclose(
        found[0], right[0], atol=0.01, err_msg="the white stands alone in a film, and its level is plain"
    )
    np.testing.assert_array_equal(wrong, before, err_msg="the start itself is not written into")


def test_a_level_that_no_film_tells_is_open_by_half_of_the_furthest_step_that_none_notices() -> None:
    """An opaque black: e⁶ times as much of both looks the same, so that its level has an sd of 3; pigments in tints are told, and stay as they were."""
    thick = [drawn("white", {"PW6": 0.3}, 20.0), drawn("tint", {"PR101": 0.1, "PW6": 0.4}, 30.0)]
    every = Films(KEYS, [*thick, drawn("black", {"PBk7": 0.6}, 400.0)], Surface())
    added = open_levels(every, true_theta()).reshape(3, 62, 3, 62)
    np.testing.assert_allclose(added[2, :, 2], 9.0)
    added[2, :, 2] = 0.0
    assert not added.any()


# What all films tell together.


def test_the_spread_of_a_mix_is_that_of_draws_of_its_curves() -> None:
    """400 draws of all curves from the covariance: root mean square ΔE00 of the opaque colour from the middle one."""
    joint, shares = joint_of(0.02), {"PW6": 0.4, "PR101": 0.1, "PBk7": 0.02}
    rng = np.random.default_rng(8)
    drawn_ = rng.multivariate_normal(joint.theta.ravel(), joint.covariance, 400, method="svd")
    colours = lab(np.array([look(*mix(shares, one.reshape(3, 2, 31)), 0.0, None) for one in drawn_]))
    middle = lab(look(*mix(shares), 0.0, None))
    assert joint.spread_of(shares) == pytest.approx(
        float(np.sqrt(np.mean(delta_e00(colours, middle) ** 2))), rel=0.12
    )
    k, s = joint.curves(shares)
    np.testing.assert_allclose((k, s), mix(shares))


def test_a_fit_is_cut_out_of_the_joint_answer_and_names_what_contradicts() -> None:
    joint = joint_of(0.05)
    made = [
        drawn("good", {"PW6": 0.3}),
        drawn("just", {"PR101": 0.1, "PW6": 0.1}),
        drawn("odd", {"PR101": 0.2}),
    ]
    found = joint.fits(made)
    assert (found["PW6"].contradicts, found["PR101"].contradicts) == ((), ("odd",))
    assert set(found["PW6"].misfit) == {"good", "just"}
    sd = np.sqrt(np.diag(joint.covariance)).reshape(3, 2, 31)
    for n, key in enumerate(KEYS):
        np.testing.assert_allclose(found[key].k, KNOWN[key].k)
        np.testing.assert_allclose(found[key].s, KNOWN[key].s)
        np.testing.assert_allclose((found[key].k_sd, found[key].s_sd), sd[n])


def test_the_one_offer_for_one_pigment_narrows_as_a_gaussian_does() -> None:
    """With one pigment every probe is its masstone, and so is the offer: the spread before and after, by conditioning written out on slopes by differences."""
    theta = true_theta()[:1]
    root = np.random.default_rng(2).normal(0, 0.02, (62, 62)) / 8
    covariance = root @ root.T + 1e-4 * np.eye(62)
    joint = Joint(("PW6",), theta, covariance, {}, {}, Surface())
    (offer,) = propose(joint, dry_share=0.3, microns=20.0, mixes=3)
    assert offer.before == pytest.approx(joint.spread_of({"PW6": 1.0}))

    def both(at: np.ndarray) -> np.ndarray:
        k, s = 0.3 * np.exp(at.reshape(2, 31))
        return np.concatenate([look(k, s, 20.0, np.full(31, r)) for r in outside])

    outside = [K1 + (1 - K1) * (1 - K2) * r / (1 - K2 * r) for r in (0.02, 0.9)]
    flat = theta.ravel()
    slopes = np.stack([(both(flat + e) - both(flat - e)) / 2e-5 for e in 1e-5 * np.eye(62)], axis=-1)
    told = np.linalg.inv(np.linalg.inv(covariance) + slopes.T @ slopes / 0.0015**2)
    after = replace(joint, covariance=told).spread_of({"PW6": 1.0})
    assert offer.after == pytest.approx(after, rel=1e-3)
    assert 0 < offer.after < offer.before
    assert (
        offer.words
        == f"masstone of PW6: mixes would be forecast to ΔE00 {after:.2f} instead of {offer.before:.2f}."
    )


def test_offers_are_masstones_tints_and_shades_of_what_is_known_best_first() -> None:
    offers = propose(joint_of(0.05), mixes=4)
    assert {o.name: dict(o.parts) for o in offers} == {
        "masstone of PW6": {"PW6": 1.0},
        "masstone of PR101": {"PR101": 1.0},
        "masstone of PBk7": {"PBk7": 1.0},
        "PR101 let down with white": {"PR101": 0.2, "PW6": 1.0},
        "PBk7 let down with white": {"PBk7": 0.2, "PW6": 1.0},
        "PW6 with 5 % black": {"PW6": 1.0, "PBk7": 0.05},
        "PR101 with 5 % black": {"PR101": 1.0, "PBk7": 0.05},
    }
    assert [o.after for o in offers] == sorted(o.after for o in offers)
    assert len({o.before for o in offers}) == 1


# One pigment by itself.


@pytest.mark.parametrize(
    ("readings", "doubts", "off"), [(1, (), 0.005), (4, DOUBTS, float(np.hypot(0.005, 0.1)))]
)
def test_the_spread_of_one_film_is_what_its_two_readings_leave(
    readings: int, doubts: tuple[Doubt, ...], off: float
) -> None:
    """One film of one pigment has as many readings as unknowns a band: the covariance is that of two equations, with the instrument's .0015, and in each reading half a per cent of weighing and what it was entered with."""
    fit = characterise("PW6", [drawn("white", {"PW6": 0.3}, 15.0, readings=readings, doubts=doubts)], {})
    np.testing.assert_allclose(fit.k, KNOWN["PW6"].k, rtol=2e-3)
    np.testing.assert_allclose(fit.s, KNOWN["PW6"].s, rtol=2e-3)

    def both(k: float, s: float, times: float = 1.0) -> np.ndarray:
        return np.array(
            [look(times * 0.3 * k * fit.k, times * 0.3 * s * fit.s, 15.0, c) for c in (BLACK, WHITE)]
        )

    e = 1e-5
    jac = np.stack([(both(1 + e, 1) - both(1 - e, 1)), (both(1, 1 + e) - both(1, 1 - e))], -1) / (2 * e)
    noise = 0.0015**2 / readings + (both(1, 1, 1 + off) - both(1, 1)) ** 2
    for band in range(31):
        back = np.linalg.inv(jac[:, band])
        sd = np.sqrt(np.diag(back @ np.diag(noise[:, band]) @ back.T))
        assert (fit.k_sd[band], fit.s_sd[band]) == pytest.approx(sd, rel=0.02)
    assert max(max(pair) for pair in fit.misfit.values()) < 1e-3


@pytest.mark.parametrize(("strength", "clear"), [(0.003, 0.3), (0.1, 0.3), (3.0, 0.3), (0.1, 0.002)])
def test_a_pigment_is_found_whatever_its_strength(strength: float, clear: float) -> None:
    """Strong and weak, hiding and clear: k and s of a film without noise are found again, wherever the search begins."""
    bend = 1 + 0.5 * np.sin(WAVELENGTHS / 60.0)
    k, s = strength * bend, clear / bend
    sides = [look(0.2 * k, 0.2 * s, 10.0, card) for card in (BLACK, WHITE)]
    fit = characterise("X", [Drawdown("x", {"X": 0.2}, 10.0, sides[0], sides[1], BLACK, WHITE)], {})
    told = fit.k_sd < 0.1
    np.testing.assert_allclose(fit.k[told], k[told], rtol=0.02)
    assert told.mean() > 0.5 or fit.undetermined
    np.testing.assert_allclose(look(0.2 * fit.k, 0.2 * fit.s, 10.0, WHITE), sides[1], atol=2e-4)


def test_the_misfit_is_how_far_each_film_reads_from_its_fit_over_black_then_white() -> None:
    """Two films that cannot both be right: ΔE00 of each side from the fit, worked out again from k and s."""
    good = drawn("good", {"PW6": 0.3}, 15.0)
    bad = replace(drawn("bad", {"PW6": 0.3}, 15.0), over_white=good.over_white * 0.97)
    fit = characterise("PW6", [good, bad], {})
    for one in (good, bad):
        here = [look(0.3 * fit.k, 0.3 * fit.s, 15.0, card) for card in (BLACK, WHITE)]
        off = [float(delta_e00(lab(h), lab(r))) for h, r in zip(here, (one.over_black, one.over_white), strict=True)]  # fmt: skip
        assert fit.misfit[one.name] == pytest.approx(off, abs=1e-9)
    assert fit.misfit["bad"][1] > 0.2


def test_pigments_here_have_no_load_of_their_own() -> None:
    """What the sums above take for granted."""
    assert all(isinstance(KNOWN[key], Pigment) and KNOWN[key].load == 1.0 for key in KEYS)
