"""What looks by eye and by camera tell, summed a second time: words as rows of numbers, noise, wet against dry, and the joint estimate beside draws and dense Gaussians."""

from dataclasses import replace
from functools import cache

import colour as colour_science
import numpy as np
import pytest
from scipy.stats import norm

from hidewright.colour.cups.colours import Palette
from hidewright.colour.cups.estimate import Estimate, estimate
from hidewright.colour.cups.looks import Looks, film_offset, film_root
from hidewright.colour.cups.memory import EYE, Eye, Memory
from hidewright.colour.cups.things import (
    PIECE,
    SPREADS,
    Comparison,
    CupAt,
    Difference,
    Job,
    Swatch,
    SwatchAt,
)
from hidewright.colour.cups.words import AXES, HUES, Word, Words, axes_at, told_by
from hidewright.colour.learning.cup import Cup, Pour
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.lots import USUAL, Lot, Stock
from hidewright.colour.light.cie import delta_e00, lab, weights, white, xyz_from_lab
from hidewright.colour.light.local import metric
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.pigments.pigment import Base
from hidewright.colour.pigments.wet import WET_SURFACE, Milk, look_wet
from hidewright.refusals import Refusal
from own_films import KNOWN

KEYS = ("PW6", "PBr7", "PY42", "PBk7")
STOCK = Stock(tuple(Lot(key, KNOWN[key], 2.0) for key in KEYS), Base(), USUAL, Surface())
MEMORY = Memory.of(Knowledge.fresh(STOCK))
GRAMS = {"PW6": 20.0, "base": 60.0, "PBr7": 4.0, "PY42": 3.0, "PBk7": 0.2, "base ": 30.0}
CUP = Cup("cup", tuple(Pour(key.strip(), g, 0.05) for key, g in GRAMS.items()))
OTHER = Cup("other", (Pour("PW6", 20.0), Pour("PBk7", 1.0), Pour("base", 150.0)))
MIDDLE = MEMORY.knowledge.forecast({"PW6": 20.0, "PBr7": 4.0, "PY42": 3.0, "PBk7": 0.2, "base": 90.0}).lab()
OTHERS = MEMORY.knowledge.forecast(dict(OTHER.grams)).lab()
HERE, THERE, PIECE_AT = CupAt("cup", 6), CupAt("other", 3), SwatchAt()


def job(*looks: Comparison, spread: float = 5.0, off: tuple[float, float, float] = (0, 0, 0)) -> Job:
    """Two cups, a piece whose colour is the first cup's forecast, or off it, and before it a stick a little off it."""
    stick = Swatch.of(MIDDLE + np.array([1.0, 0.0, 0.5]), "swatch", 3.0)
    return Job(
        {"stick": stick, PIECE: Swatch.of(MIDDLE + np.array(off), "photo", spread)}, (CUP, OTHER), looks
    )


def words(*said: tuple[str, str]) -> Words:
    return Words(tuple(Word(*one) for one in said))


def device(delta: tuple[float, float, float] | np.ndarray, sd: float, how: str = "instrument") -> Difference:
    return Difference(np.array(delta), sd**2 * np.eye(3), how)


# Words.


@pytest.mark.parametrize(
    ("said", "axes", "values", "sds"),
    [
        ([], ("lightness", "red", "yellow"), [0, 0, 0], [0.4, 0.4, 0.4]),
        ([("darker", "a touch")], ("lightness", "red", "yellow"), [0.85, 0, 0], [0.35, 0.35, 0.35]),
        ([("redder", "clearly")], ("red", "lightness", "hue"), [1.9, 0, 0], [0.75, 0.665, 0.665]),
        ([("lighter", "a touch"), ("bluer", "much")], ("yellow", "lightness", "hue"), [3.7, 0.85, 0], [1.3, 0.35, 1.295]),
        ([("greener", "a touch"), ("yellower", "clearly")], ("yellow", "red", "lightness"), [1.9, 0.85, 0], [0.75, 0.35, 0.665]),
    ],
)  # fmt: skip
def test_words_are_sizes_along_their_axes_with_what_they_may_be_off_by(
    said: list[tuple[str, str]], axes: tuple[str, ...], values: list[float], sds: list[float]
) -> None:
    """From the table of words: size and sd of each, the strongest first; what was not named is nothing, give or take the larger of .35 and 35 % of the largest; .35 more of everything."""
    colour = np.array([50.0, 20.0, 30.0])
    told = told_by(words(*said), colour, metric(colour))
    assert told.axes == axes
    assert told.values == pytest.approx(values)
    assert told.sd == pytest.approx(np.hypot(sds, 0.35))
    straight = told.rows @ np.linalg.inv(metric(colour))
    np.testing.assert_allclose(straight @ straight.T, np.eye(3), atol=1e-9)
    least = {"much": (2.8, 0.7), "far off": (5.0, 1.25)}
    strong = max((strength for _, strength in said), key=["a touch", "clearly", "much", "far off"].index, default="")  # fmt: skip
    np.testing.assert_array_equal(told.least, [least.get(strong, (np.nan, np.nan))] + [(np.nan, np.nan)] * 2)
    assert words(*said).vague is bool(set(least) & {strength for _, strength in said})


@pytest.mark.parametrize("colour", [(50.0, 20.0, 30.0), (70.0, -15.0, 8.0), (30.0, 6.0, 0.0)])
@pytest.mark.parametrize("word", sorted(AXES))
def test_a_word_points_its_own_way_and_is_as_large_as_ciede2000_says(
    word: str, colour: tuple[float, float, float]
) -> None:
    """A small step the word's way, L*, its unique hue in CIELAB or the colour's own hue, measured by the word's row and by ΔE00; the other rows do not see it."""
    here = np.array(colour)
    turn = {"redder": 22, "yellower": 95, "greener": 161, "bluer": 253}.get(word)
    angle = np.arctan2(here[2], here[1]) if turn is None else np.radians(turn)
    way = np.array([1.0, 0, 0] if AXES[word][0] == "lightness" else [0.0, np.cos(angle), np.sin(angle)])
    step = 0.02 * way * (-1.0 if word in ("darker", "greyer") else 1.0)
    told = told_by(words((word, "a touch")), here, metric(here))
    size = float(delta_e00(here, here + step))
    np.testing.assert_allclose(told.rows @ step, [size, 0.0, 0.0], atol=0.02 * size)


@pytest.mark.parametrize(("word", "unique"), [("redder", 20.14), ("yellower", 90.0), ("greener", 164.25), ("bluer", 237.53)])  # fmt: skip
def test_unique_hues_are_those_of_ciecam02(word: str, unique: float) -> None:
    """Leather's colours of such a CIELAB hue have CIECAM02's unique hue angle (CIE 159:2004, as colour-science computes it), give or take 6°."""
    angle = np.radians(HUES[word])
    point = white("D65") / white("D65")[1] * 100.0
    for light in (25.0, 45.0, 65.0):
        here = np.array([light, 15.0 * np.cos(angle), 15.0 * np.sin(angle)])
        xyz = xyz_from_lab(here, white("D65")) / white("D65")[1] * 100.0
        told = colour_science.XYZ_to_CIECAM02(xyz, point, L_A=64.0, Y_b=20.0)
        assert (float(np.asarray(told.h)) - unique + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=6.0)


def test_of_two_words_of_hue_the_second_is_what_the_first_leaves() -> None:
    """Greener beside bluer at a tan: the stronger one keeps its own way, the other lies across on its side; where both say the same, what lies across is only as uncertain as the word is large."""
    tan = np.array([50.0, 20.0, 30.0])
    inverse = np.linalg.inv(metric(tan))
    one = told_by(words(("bluer", "clearly"), ("greener", "a touch")), tan, metric(tan)).rows @ inverse
    alone = told_by(words(("bluer", "clearly")), tan, metric(tan)).rows @ inverse
    green = told_by(words(("greener", "a touch")), tan, metric(tan)).rows @ inverse
    np.testing.assert_allclose(one[0], alone[0], atol=1e-12)
    assert one[1] @ green[0] > 0.3
    red = np.array([50.0, 30.0 * np.cos(np.radians(22.0)), 30.0 * np.sin(np.radians(22.0))])
    told = told_by(words(("greyer", "much"), ("redder", "clearly")), red, metric(red))
    assert told.axes == ("chroma", "red", "lightness")
    assert told.values == pytest.approx([3.7, 0.0, 0.0])
    assert told.sd[1] == pytest.approx(np.sqrt(0.75**2 + 1.9**2 + 0.35**2))
    first = told_by(words(("greyer", "clearly"), ("redder", "clearly")), red, metric(red))
    assert first.axes[0] == "red", "a hue of its own goes before the colour's where both are as strong"


@pytest.mark.parametrize("colour", [(50.0, 20.0, 30.0), (70.0, -15.0, 8.0), (30.0, 0.0, 0.0)])
def test_a_step_along_an_axis_is_as_large_as_ciede2000_says_it_is(colour: tuple[float, float, float]) -> None:
    """A small step in L*, a* and b*, measured by a device's own row and by ΔE00; a step across is not seen by it."""
    here = np.array(colour)
    axes = axes_at(metric(here))
    for number, (name, row) in enumerate(axes.items()):
        step = 0.02 * np.eye(3)[number]
        assert row @ step == pytest.approx(float(delta_e00(here, here + step)), rel=0.02), name
        np.testing.assert_array_equal(np.delete(row, number), 0.0)


@pytest.mark.parametrize(("chroma", "unsure"), [(1.0, 1.0), (3.0, 1.0), (6.0, 0.5), (30.0, 0.1)])
def test_cleaner_says_less_the_nearer_the_colour_is_to_grey(chroma: float, unsure: float) -> None:
    """Up to a chroma of 3 its direction is as uncertain as it is large; from there less and less. Lightness beside it is not."""
    colour = np.array([50.0, chroma, 0.0])
    told = told_by(words(("cleaner", "much"), ("lighter", "a touch")), colour, metric(colour))
    sd = dict(zip(told.axes, told.sd, strict=True))
    assert sd["lightness"] == pytest.approx(np.hypot(0.35, 0.35))
    more = 3.7 * unsure
    assert sd["chroma"] == pytest.approx(np.sqrt(1.3**2 + more**2 + 0.35**2))
    assert sd["hue"] == pytest.approx(np.sqrt(1.295**2 + more**2 + 0.35**2))
    assert told.least[0] == pytest.approx((2.8, np.hypot(0.7, more)))


def test_every_word_has_its_opposite() -> None:
    pairs = [("lighter", "darker"), ("redder", "greener"), ("yellower", "bluer"), ("cleaner", "greyer")]
    assert {word for pair in pairs for word in pair} == set(AXES)
    for one, two in pairs:
        assert Word(one).axis == Word(two).axis
        assert (Word(one).sign, Word(two).sign) == (1.0, -1.0)


# Swatches.


@pytest.mark.parametrize(("source", "spread"), [("instrument", 1.0), ("photo", 5.0), ("swatch", 6.0), ("guess", 15.0)])  # fmt: skip
def test_a_swatch_is_as_far_from_the_truth_as_its_source_says(source: str, spread: float) -> None:
    """Draws from a small part of its covariance: root mean square ΔE00, scaled up."""
    colour = np.array([52.0, 14.0, 28.0])
    swatch = Swatch.of(colour, source)
    rng = np.random.default_rng(4)
    some = rng.multivariate_normal(colour, swatch.covariance * (0.3 / spread) ** 2, 4000)
    assert float(np.sqrt(np.mean(delta_e00(some, colour) ** 2))) == pytest.approx(0.3, rel=0.03)
    assert SPREADS[source] == spread
    np.testing.assert_allclose(Swatch.of(colour, source, 2.0).covariance * (spread / 2) ** 2, swatch.covariance)  # fmt: skip


def test_a_swatch_has_its_limits() -> None:
    one = np.eye(3)
    for good in ((0.1, 0, 0), (99.9, 0, 0), (50, 150, -150)):
        assert Swatch(np.array(good, dtype=float), one).lab[0] > 0
    for bad in ((0, 0, 0), (100, 0, 0), (50, 150.1, 0), (50, 0, -150.1)):
        with pytest.raises(Refusal):
            Swatch(np.array(bad, dtype=float), one)
    for spread, fits in ((0.05, True), (60.0, True), (0.049, False), (60.1, False)):
        if fits:
            assert Swatch.of((50, 0, 0), "photo", spread).source == "photo"
        else:
            with pytest.raises(Refusal):
                Swatch.of((50, 0, 0), "photo", spread)


# Rows of looks.


def rows_of(*looks: Comparison, mean: np.ndarray | None = None, **more: object) -> tuple[Looks, object]:
    every = Looks(job(*looks, **more), STOCK, Milk())  # type: ignore[arg-type]
    return every, every.at(np.zeros(every.layout.size) if mean is None else mean)


def test_a_device_is_as_noisy_as_it_says_and_a_camera_more() -> None:
    """An instrument's own covariance along the axes; a photo's with .5, .7 and .6 of its own, 12 % of its largest axis, and .35 more."""
    delta, sd = (2.0, -1.0, 0.5), 0.3
    axes = axes_at(metric(MIDDLE))
    every = np.array([axes[name] for name in ("lightness", "red", "yellow")])
    _, rows = rows_of(Comparison(HERE, PIECE_AT, device(delta, sd)))
    values = every @ np.array(delta)
    assert rows.values == pytest.approx(values)  # type: ignore[attr-defined]
    plain = sd * np.linalg.norm(every, axis=1)
    np.testing.assert_allclose(np.diag(rows.noise), plain**2)  # type: ignore[attr-defined]
    _, photo = rows_of(Comparison(HERE, PIECE_AT, device(delta, sd, "photo")))
    told = np.array([0.5, 0.7, 0.6]) ** 2 + (0.12 * np.abs(values).max()) ** 2 + plain**2 + 0.35**2
    np.testing.assert_allclose(np.diag(photo.noise), told)  # type: ignore[attr-defined]


def test_a_look_repeated_shares_six_tenths_of_its_error_and_no_other_does() -> None:
    """Same two things, same kind of look: correlation .6 as far as they look along the same direction; another direction, cup, kind or state: none."""
    one = Comparison(HERE, PIECE_AT, words(("lighter", "clearly")))
    twice = Comparison(HERE, PIECE_AT, words(("lighter", "a touch"), ("redder", "a touch")))
    others = (
        replace(one, a=CupAt("cup", 5)),
        replace(one, wet=True),
        Comparison(HERE, PIECE_AT, device((1, 0, 0), 0.3, "photo")),
    )
    _, rows = rows_of(one, twice, *others)
    noise = rows.noise  # type: ignore[attr-defined]
    sd = np.sqrt(np.diag(noise))
    alike = noise / np.outer(sd, sd)
    told = [told_by(look.seen, MIDDLE, metric(MIDDLE)).rows for look in (one, twice)]  # type: ignore[arg-type]
    first, second = (rows @ np.linalg.inv(metric(MIDDLE)) for rows in told)
    np.testing.assert_allclose(alike[:3, 3:6], 0.6 * first @ second.T, atol=1e-9)
    assert np.abs(first @ second.T).max() == pytest.approx(1.0)
    np.testing.assert_allclose(alike[:3, :3], np.eye(3), atol=1e-9)
    np.testing.assert_allclose(alike[:6, 6:], 0.0)
    np.testing.assert_allclose(alike[6:, 6:], np.eye(len(noise) - 6), atol=1e-9)
    _, shots = rows_of(others[-1], others[-1])
    own = np.sqrt(np.diag(shots.noise))  # type: ignore[attr-defined]
    both = np.kron(np.array([[1.0, 0.6], [0.6, 1.0]]), np.eye(3))
    np.testing.assert_allclose(shots.noise / np.outer(own, own), both, atol=1e-9)  # type: ignore[attr-defined]


@pytest.mark.parametrize("wet", [False, True])
@pytest.mark.parametrize(
    "seen_", [device((1.5, -0.5, 0.2), 0.3), device((1.5, -0.5, 0.2), 0.3, "photo"), words(("darker", "clearly"), ("redder", "a touch"))]
)  # fmt: skip
def test_a_against_b_is_the_opposite_of_b_against_a(wet: bool, seen_: Words | Difference) -> None:
    """Forecasts and slopes turn their sign, whatever is believed (a camera's own offset apart, which does not know which is which)."""
    mean = np.random.default_rng(6).normal(0, 0.4, Looks(job(), STOCK, Milk()).layout.size)
    found = []
    for a, b in ((HERE, PIECE_AT), (PIECE_AT, HERE)):
        every = Looks(job(Comparison(a, b, seen_, wet), off=(3, 1, -2)), STOCK, Milk())
        camera = every.layout.camera
        mean[camera.start + 1 : camera.stop] = 0.0
        rows = every.at(mean)
        slopes = rows.slopes.copy()
        slopes[:, camera.start + 1 : camera.stop] = 0.0
        found.append((rows.forecasts, slopes))
    np.testing.assert_allclose(found[0][0], -found[1][0], atol=1e-9)
    np.testing.assert_allclose(found[0][1], -found[1][1], atol=1e-9)
    assert np.abs(found[0][0]).min() > 1e-3


def test_wet_looks_are_off_by_what_is_said_and_more_for_dark_colours() -> None:
    """The unknown of wet looks: .6 ΔE00 along each axis, and 1 more from white to black; cup against cup it cancels."""
    look = Comparison(HERE, PIECE_AT, device((1, 0, 0), 0.3), wet=True)
    every, rows = rows_of(look)
    axes = axes_at(metric(MIDDLE))
    straight = np.array([axes[n] for n in ("lightness", "red", "yellow")]) @ np.linalg.inv(metric(MIDDLE))
    size = 0.6 + 1.0 - MIDDLE[0] / 100.0
    np.testing.assert_allclose(rows.slopes[:, every.layout.wet], straight * size, atol=1e-9)  # type: ignore[attr-defined]
    every, rows = rows_of(replace(look, b=THERE))
    np.testing.assert_array_equal(rows.slopes[:, every.layout.wet], 0.0)  # type: ignore[attr-defined]


def millilitres(cup: Cup) -> tuple[np.ndarray, float]:
    """mL by lot, and of base."""
    volumes = dict.fromkeys((*KEYS, "base"), 0.0)
    for pour in cup.pours:
        volumes[pour.lot] += pour.grams / (Base().density if pour.lot == "base" else KNOWN[pour.lot].density)
    return np.array([volumes[key] for key in KEYS]), volumes["base"]


@pytest.mark.parametrize("cup", [CUP, OTHER], ids=["rich", "lean"])
def test_a_wet_cup_shows_through_its_milk_as_the_wet_look_of_its_contents(cup: Cup) -> None:
    """The shift against a cup of the usual share of base, by `look_wet` of both; the gain by small steps of ln K shaped like the light's weights, dry and wet."""
    amounts, base = millilitres(cup)
    gain, shift = Palette(STOCK, np.zeros(STOCK.size)).wet(amounts[None], np.array([base]), Milk())
    volumes = dict(zip(KEYS, amounts, strict=True))
    usual = Contents(volumes, 0.83 / 0.17 * amounts.sum())
    own = [KNOWN[key] for key in KEYS]
    told = lab(look_wet(Contents(volumes, base), own)) - lab(look_wet(usual, own))
    np.testing.assert_allclose(shift[0], told, atol=1e-9)
    assert (told[0] > 0) is (base / (base + amounts.sum()) > 0.83)
    k, s = (sum(v * getattr(KNOWN[key], name) for key, v in volumes.items()) / usual.total for name in "ks")
    shape = weights("D65") / white("D65")
    cloud = s + Milk().scattering(0.83)

    def looks(change: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        more = k * np.exp(shape @ change)
        return lab(seen(opaque(more, s), Surface())), lab(seen(opaque(more, cloud), WET_SURFACE))

    steps = [np.subtract(looks(e), looks(-e)) for e in 1e-4 * np.eye(3)]
    dry, wet = (np.stack([step[n] for step in steps], axis=-1) for n in (0, 1))
    np.testing.assert_allclose(gain[0], wet @ np.linalg.inv(dry), rtol=1e-3, atol=1e-3)


def test_two_wet_cups_differ_by_what_shows_of_them_and_by_their_own_milk() -> None:
    """Gain of the first on the dry difference, and the shift of each with its sign; slope by the milk where they are dry alike."""
    (a, base_a), (b, base_b) = millilitres(CUP), millilitres(OTHER)
    palette = Palette(STOCK, np.zeros(STOCK.size))
    gain, shift = palette.wet(np.array([a, b]), np.array([base_a, base_b]), Milk())
    dry = palette.labs(np.array([a, b]))
    axes = axes_at(metric(MIDDLE))
    every = np.array([axes[n] for n in ("lightness", "red", "yellow")])
    _, rows = rows_of(Comparison(HERE, THERE, device((1, 0, 0), 0.3), wet=True))
    told = every @ (gain[0] @ (dry[0] - dry[1]) + shift[0] - shift[1])
    np.testing.assert_allclose(rows.forecasts, told, atol=1e-9)  # type: ignore[attr-defined]


def test_the_slope_by_the_milk_is_that_of_a_cup_that_is_dry_alike() -> None:
    look = Comparison(HERE, PIECE_AT, device((1, 0, 0), 0.3), wet=True)
    every = Looks(job(look), STOCK, Milk())
    mean = np.zeros(every.layout.size)
    milk = every.layout.milk
    step = 1e-3 * np.eye(every.layout.size)[milk]
    numeric = (every.at(mean + step).forecasts - every.at(mean - step).forecasts) / 2e-3
    np.testing.assert_allclose(every.at(mean).slopes[:, milk], numeric, atol=0.02 * np.abs(numeric).max())
    assert milk == STOCK.size + EYE - 1


@pytest.mark.parametrize(("wide", "size"), [(1.0, 1.7), (2.0, np.sqrt(1.7 * 0.9)), (4.0, 0.9)])
def test_the_films_offset_falls_by_the_log_of_how_far_bottles_may_be_off(wide: float, size: float) -> None:
    stock = replace(STOCK, lots=tuple(replace(lot, spread=wide) for lot in STOCK.lots))
    assert film_offset(stock) == pytest.approx(size)
    root = metric(MIDDLE) @ film_root(job(), stock)
    np.testing.assert_allclose(root, size * np.eye(3), atol=1e-9)


# The estimate.


@cache
def looked() -> Estimate:
    """A job with looks of several kinds, small enough that every one counts in full."""
    return estimate(
        job(
            Comparison(HERE, PIECE_AT, device((0.8, -0.4, 0.6), 0.5)),
            Comparison(HERE, THERE, device(MIDDLE - OTHERS + np.array([0.4, 0.2, -0.3]), 0.8)),
            Comparison(CupAt("cup", 5), PIECE_AT, device((-0.5, 0.3, 0.2), 0.8, "photo")),
            Comparison(HERE, PIECE_AT, words(("lighter", "a touch"))),
            Comparison(SwatchAt("stick"), HERE, device((0.3, 0.6, -0.2), 0.7)),
        ),
        MEMORY,
    )


def prior_of(layout_size: int) -> tuple[np.ndarray, np.ndarray]:
    mean, covariance = np.zeros(layout_size), np.eye(layout_size)
    kept = STOCK.size + EYE
    mean[:kept], covariance[:kept, :kept] = MEMORY.mean, MEMORY.covariance
    return mean, covariance


def test_the_estimate_is_the_gaussian_one_written_by_information() -> None:
    """Prior information and JᵀN⁻¹J of all looks at the answer: the same covariance, and the answer is where nothing pulls any more."""
    found = looked()
    rows = Looks(found.job, STOCK, Milk()).at(found.mean)
    off = np.abs(rows.values - rows.forecasts) / np.sqrt(np.diag(rows.noise))
    assert off.max() < 2.0, "every look counts in full"
    start, prior = prior_of(found.layout.size)
    information = np.linalg.inv(prior) + rows.slopes.T @ np.linalg.solve(rows.noise, rows.slopes)
    np.testing.assert_allclose(found.covariance, np.linalg.inv(information), atol=1e-7)
    pull = np.linalg.solve(prior, start - found.mean)
    pull += rows.slopes.T @ np.linalg.solve(rows.noise, rows.values - rows.forecasts)
    assert np.abs(np.linalg.solve(information, pull)).max() < 0.02


def test_slopes_of_cup_and_target_are_those_of_small_steps_of_what_is_believed() -> None:
    """Unknowns moved by themselves in the belief: surface, bottles, the film's offset, the target, the errors of the pours."""
    found = looked()

    def at(mean: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        moved = replace(found, mean=mean, palette=Palette(STOCK, mean[: STOCK.size]))
        return moved.slopes_of(CUP, moved.amounts(CUP)[0][None])[0][0], moved.target

    colour, slopes = found.slopes_of(CUP, found.amounts(CUP)[0][None])
    np.testing.assert_allclose(colour[0], at(found.mean)[0])
    target = found.target_slopes()
    some = [0, 1, *range(2, STOCK.size, 7), *range(found.layout.film.start, found.layout.size)]
    for which in some:
        step = 1e-5 * np.eye(found.layout.size)[which]
        up, down = at(found.mean + step), at(found.mean - step)
        np.testing.assert_allclose(slopes[0][:, which], (up[0] - down[0]) / 2e-5, atol=1e-5)
        np.testing.assert_allclose(target[:, which], (up[1] - down[1]) / 2e-5, atol=1e-5)
    assert np.abs(slopes[0][:, found.layout.pour("cup")]).max() > 0.05


def test_spreads_are_those_of_draws_of_what_is_believed() -> None:
    """2,000 draws of all unknowns: root mean square of the target, and the covariance of cup less target."""
    found = looked()
    draws = np.random.default_rng(9).multivariate_normal(np.zeros(found.mean.size), found.covariance, 2000)
    target = draws @ found.target_slopes().T
    m = metric(found.target)
    rms = float(np.sqrt(np.mean(np.sum((target @ m.T) ** 2, axis=1))))
    assert found.target_spread == pytest.approx(rms, rel=0.05)
    _, slopes = found.slopes_of(CUP, found.amounts(CUP)[0][None])
    both = (draws @ slopes[0].T - target) @ m.T
    off, covariance = found.off(CUP)
    np.testing.assert_allclose(covariance, np.cov(both.T), atol=0.06 * covariance.max())
    colour = found.slopes_of(CUP, found.amounts(CUP)[0][None])[0][0]
    np.testing.assert_allclose(off, m @ (colour - found.target))


@pytest.mark.parametrize(("word", "least", "sd"), [("much", 2.8, 0.7), ("far off", 5.0, 1.25)])
def test_a_word_that_is_open_upward_says_at_least_so_much(word: str, least: float, sd: float) -> None:
    """Mean and spread of the difference in lightness beside weighted draws: the prior's, weighed by the chance that it is at least so much, and by the two axes that were not named."""
    found = estimate(job(Comparison(HERE, PIECE_AT, words(("lighter", word)))), MEMORY)
    rows = Looks(found.job, STOCK, Milk()).at(found.mean)
    start, prior = prior_of(found.layout.size)
    middle = rows.forecasts + rows.slopes @ (start - found.mean)
    draws = np.random.default_rng(10).multivariate_normal(
        middle, rows.slopes @ prior @ rows.slopes.T, 100_000
    )
    weight = norm.cdf((draws[:, 0] - least) / sd)
    for axis in (1, 2):
        weight *= norm.pdf(draws[:, axis], 0.0, np.sqrt(rows.noise[axis, axis]))
    mean = float(np.average(draws[:, 0], weights=weight))
    spread = float(np.sqrt(np.average((draws[:, 0] - mean) ** 2, weights=weight)))
    assert rows.forecasts[0] == pytest.approx(mean, rel=0.03)
    assert np.sqrt(rows.slopes[0] @ found.covariance @ rows.slopes[0]) == pytest.approx(spread, rel=0.05)


@pytest.mark.parametrize("far", [0.4, 3.0, 7.0])
def test_a_look_beyond_two_sd_pulls_no_harder_than_one_at_two(far: float) -> None:
    """A sample of known spread against a fixed grey in lightness: the answer of Huber's weights, found by trying (P. J. Huber, Ann. Math. Stat. 35 (1964) 73)."""
    grey = np.array([50.0, 0.0, 0.0])
    swatches = {PIECE: Swatch.of(grey, "photo", 0.05), "sample": Swatch.of(grey, "photo", 3.0)}
    look = Comparison(SwatchAt("sample"), PIECE_AT, device((far, 0, 0), 0.5))
    found = estimate(Job(swatches, (), (look,)), MEMORY)
    own, noise = 3.0**2 / 3 + 0.05**2 / 3, 0.5**2
    moved = 0.0
    for _ in range(500):
        weight = max((far - moved) / np.sqrt(noise) / 2.0, 1.0)
        moved += 0.1 * (far * own / (own + noise * weight) - moved)
    assert found.swatch("sample")[0] - found.target[0] == pytest.approx(moved, rel=0.04)


# Memory.


def test_memory_keeps_what_stays() -> None:
    two = replace(STOCK, lots=(*STOCK.lots, Lot("PBr7#2", KNOWN["PBr7"], 2.0)))
    memory = Memory.of(Knowledge.fresh(two))
    prior = np.eye(two.size + EYE)
    rank = two.width
    here, there = 2 + 1 * rank, 2 + 4 * rank
    for n in range(rank):
        prior[here + n, there + n] = prior[there + n, here + n] = USUAL.kin
    np.testing.assert_array_equal(memory.covariance, prior)
    narrow = memory.after(np.full(prior.shape[0], 0.3), 0.5 * prior, 3)
    assert (narrow.looks, narrow.knowledge.readings) == (3, 3)
    np.testing.assert_array_equal(narrow.knowledge.mean, np.full(two.size, 0.3))


def test_an_eye_is_its_own_and_can_be_changed_for_another() -> None:
    size = STOCK.size + EYE
    root = np.random.default_rng(1).normal(size=(size, size))
    memory = MEMORY.after(np.linspace(-1, 1, size), root @ root.T, 2)
    own = memory.own_eye
    np.testing.assert_array_equal(own.mean, memory.mean[STOCK.size : STOCK.size + 4])
    assert memory.eye == pytest.approx((np.exp(0.25 * own.mean[0]), 0.25 * np.sqrt(own.covariance[0, 0])))
    assert memory.with_eye(own) is memory
    other = Eye(np.array([0.4, 0.1, 0.0, -0.1]), 0.3 * np.eye(4))
    for eye in (other, None):
        changed = memory.with_eye(eye)
        told = eye or Eye(np.zeros(4), np.eye(4))
        np.testing.assert_array_equal(changed.own_eye.mean, told.mean)
        np.testing.assert_array_equal(changed.own_eye.covariance, told.covariance)
        rest = np.delete(np.arange(size), np.arange(STOCK.size, STOCK.size + 4))
        np.testing.assert_array_equal(changed.mean[rest], memory.mean[rest])
        np.testing.assert_array_equal(changed.covariance[np.ix_(rest, rest)], memory.covariance[np.ix_(rest, rest)])  # fmt: skip
        assert not changed.covariance[np.ix_(rest, np.arange(STOCK.size, STOCK.size + 4))].any()
