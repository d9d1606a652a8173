"""The yardstick of the benches by eye (tests/bench/eye_*.py), checked against what stands outside of it."""

import numpy as np
import pytest

from bench.eye_adapter import Look, Start
from bench.eye_jobs import Result, Way, run_job, told_sd
from bench.eye_observer import Camera, Observer, din99b, guessed, off_grey_card
from bench.eye_rivals import Joint, Model, craftsperson, numbers
from bench.eye_world import BASE, CHARACTERISED, Shop, book, half_infinite, reflectance
from hidewright.colour.light.cie import delta_e00


def chandrasekhar(albedo: float, cosine: float, nodes: int = 64) -> float:
    """H of an isotropically scattering half space, by iteration of 1/H = √(1−ω) + ω/2·∫ μ'H(μ')/(μ+μ') dμ' (S. Chandrasekhar, Radiative Transfer, 1960, ch. V, eq. 16)."""
    x, w = np.polynomial.legendre.leggauss(nodes)
    x, w = 0.5 * (x + 1.0), 0.5 * w
    h = np.ones(nodes)
    for _ in range(400):
        h = 1.0 / (np.sqrt(1.0 - albedo) + albedo / 2.0 * ((x * h * w) / (x[:, None] + x)).sum(axis=1))
    return float(1.0 / (np.sqrt(1.0 - albedo) + albedo / 2.0 * ((x * h * w) / (cosine + x)).sum()))


@pytest.mark.parametrize("albedo", [0.5, 0.9, 0.99])
def test_films_without_a_surface_reflect_as_chandrasekhar_says(albedo: float) -> None:
    told = 1.0 - np.sqrt(1.0 - albedo) * chandrasekhar(albedo, 1.0)
    got = float(reflectance(np.array([1.0 - albedo]), np.array([albedo]), 1.0)[0])
    assert got == pytest.approx(told, abs=0.004)


def test_black_medium_reflects_what_fresnel_says() -> None:
    assert half_infinite(1.5)[1][0] == pytest.approx(0.04, abs=1e-3)
    assert half_infinite(1.37)[1][0] == pytest.approx((0.37 / 2.37) ** 2, abs=1e-3)


def test_difference_space_is_the_published_one() -> None:
    colour = pytest.importorskip("colour")
    labs = np.array([[60.0, 20.0, 30.0], [30.0, -10.0, 5.0], [85.0, 2.0, -40.0]])
    assert din99b(labs) == pytest.approx(colour.models.Lab_to_DIN99(labs, method="DIN99b"), abs=1e-3)


def test_mixes_dry_darker_and_more_white_is_lighter() -> None:
    shop = Shop(1)
    mix = shop.paint({"PBr6": 8.0, "PW6": 20.0, BASE: 120.0})
    more = shop.paint({"PBr6": 8.0, "PW6": 40.0, BASE: 120.0})
    assert mix.dry()[0] < mix.wet()[0]
    assert mix.dry()[0] < more.dry()[0]


def test_bottles_are_off_by_a_factor_of_two() -> None:
    known = book()
    off = [
        np.log(Shop(seed).bottles[key].scatters.mean() / bottle.scatters.mean())
        for seed in range(40)
        for key, bottle in known.items()
    ]
    assert np.std(off) == pytest.approx(np.log(2.0), rel=0.12)


def test_shop_and_its_targets_hang_on_the_seed_alone() -> None:
    assert Shop(4).unknown().dry() == pytest.approx(Shop(4).unknown().dry(), abs=0.0)
    assert float(delta_e00(Shop(4).unknown().dry(), Shop(5).unknown().dry())) > 1.0


def test_eye_says_what_is_there_and_seldom_the_opposite() -> None:
    observer = Observer(np.random.default_rng(3))
    target = np.array([55.0, 12.0, 22.0])
    said = [dict(observer.compare(target + np.array([4.0, 0.0, 0.0]), target)) for _ in range(300)]
    assert np.mean(["lighter" in words for words in said]) > 0.9
    assert np.mean(["darker" in words for words in said]) < 0.03
    alike = [observer.compare(target, target) for _ in range(300)]
    assert 0.2 < np.mean([not words for words in alike]) < 0.95


def test_eye_uses_stronger_words_for_more() -> None:
    order = ("a touch", "clearly", "much", "far off")
    target = np.array([50.0, 5.0, 20.0])
    means = []
    for size in (1.0, 2.5, 5.0, 10.0):
        ranks = []
        for seed in range(60):
            words = dict(Observer(np.random.default_rng(seed)).compare(target - [size, 0, 0], target))
            ranks.append(order.index(words["darker"]) + 1 if "darker" in words else 0)
        means.append(np.mean(ranks))
    assert means == sorted(means)
    assert means[-1] - means[0] > 1.5


def test_photos_and_guesses_are_as_far_off_as_they_say() -> None:
    rng = np.random.default_rng(5)
    aims = [Shop(seed).unknown().dry() for seed in range(120)]
    photo = np.mean([delta_e00(off_grey_card(aim, rng), aim) for aim in aims])
    guess = np.mean([delta_e00(guessed(aim, rng), aim) for aim in aims])
    assert 3.9 < photo < 4.7
    assert guess > photo


def test_stick_photo_tells_a_difference_far_better_than_a_colour() -> None:
    rng = np.random.default_rng(6)
    target = np.array([50.0, 10.0, 20.0])
    off = []
    for _ in range(200):
        camera = Camera.drawn(rng)
        off.append(camera.difference(target + np.array([3.0, -2.0, 1.0]), target, rng) - [3.0, -2.0, 1.0])
    assert np.all(np.std(off, axis=0) < 1.5)
    assert np.all(np.std(off, axis=0) > 0.3)


def test_told_sd_is_that_of_the_difference() -> None:
    rng = np.random.default_rng(7)
    colour, spread = np.array([50.0, 10.0, 20.0]), np.diag([0.5, 0.8, 0.6])
    drawn = colour + rng.normal(size=(20000, 3)) @ spread
    root = float(np.sqrt(np.mean(delta_e00(drawn, colour) ** 2)))
    assert told_sd(colour, spread @ spread) == pytest.approx(root, rel=0.05)


def test_stuck_is_given_up_while_the_eye_differs() -> None:
    def one(path: tuple[float, ...], end: str, said: int) -> Result:
        return Result(path, 0.0, 1, 0, end, said, 1.0, 1.0)

    assert one((3.0, 1.6), "stop", 1).stuck
    assert not one((3.0, 0.4), "stop", 1).stuck
    assert not one((3.0, 1.6), "done", 0).stuck
    assert not one((3.0, 1.6), "corrections", 1).stuck
    assert one((3.0, 1.6, 1.4), "stop", 1).within(2)
    assert not one((3.0, 1.6, 1.4), "stop", 1).within(1)


def test_words_pull_along_their_own_direction() -> None:
    value, covariance = numbers((("lighter", "clearly"),), np.eye(3))
    assert value[0] == pytest.approx(1.9, abs=0.3)
    assert covariance[0, 0] > covariance[1, 1]


def test_who_knows_the_bottles_comes_near() -> None:
    way = Way("dry", far=CHARACTERISED)
    shop = Shop(11, way.far)
    result = run_job(shop, craftsperson(shop), Observer(np.random.default_rng(11)), way)
    assert min(result.path) < 1.5
    assert result.path[0] > min(result.path)


def test_plain_estimate_learns_from_a_reading() -> None:
    advisor = Joint(Model.of(book()), 0.7)
    advisor.begin(Start("photo", np.array([50.0, 12.0, 22.0]), 5.0))
    before = np.trace(advisor.target()[1])
    advisor.look(Look(False, (("lighter", "much"),), photo=np.array([4.0, 0.0, 0.0])))
    assert np.trace(advisor.target()[1]) < before
