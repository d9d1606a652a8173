"""The search for recipes, summed a second time: slopes by small steps, colours from the volumes alone, shares of the shelf, and answers that no small change betters."""

from dataclasses import replace
from itertools import combinations
from math import comb

import numpy as np
import pytest

from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.light.difference import parts_e00
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.colour.recipes.leftovers import jar
from hidewright.colour.recipes.match import (
    LEAST_STEP_G,
    MatchProblem,
    _exact,
    _rounded,
    match,
    nearest,
    problem_score,
    step_per_litre,
)
from hidewright.colour.recipes.recipe import Setting, coats_to_hide, drop_error, judge
from hidewright.colour.recipes.search import HOLD, Batch, Sheet, View, polished
from own_films import KNOWN, WHITE, inside, look

LIGHTS = ("D65", "A", "FL11")
OLD = np.linspace(0.15, 0.3, 31)
ROWS = (("PW6", "PBr7", "PY42"), ("PW6", "PR101", "PBk7"))
JAR = jar("J1", "Jar", {"PBr7": 6.0, "PY42": 5.0}, 20.0, KNOWN, Base())
TARGET = look(
    sum(v * KNOWN[k].k for k, v in (("PW6", 10), ("PBr7", 3), ("PY42", 2))),
    sum(v * KNOWN[k].s for k, v in (("PW6", 10), ("PBr7", 3), ("PY42", 2))),
    0.0,
    None,
)
SHEETS = {
    "opaque": Sheet(Surface(), Base(), load=0.18),
    "coats": Sheet(Surface(), Base(), inside(OLD), 15.0, 0.18),
}
DRAWS = np.random.default_rng(3)
Z = np.log(DRAWS.uniform(0.05, 1.0, (2, 3)))


def batch_of(
    sheet: str = "opaque", rows: tuple[tuple[str, ...], ...] = ROWS, lights: tuple[str, ...] = LIGHTS
) -> Batch:
    every = {**KNOWN, "J1": JAR}
    return Batch([[every[key] for key in row] for row in rows], View.of(TARGET, lights), SHEETS[sheet])


def read(volumes: dict[str, float], coats_um: float | None = None, old: np.ndarray = OLD) -> np.ndarray:
    """What is read of a mix filled up with base to a load of 18 %: opaque, or so many µm of it, dry, over the old colour."""
    every = {**KNOWN, "J1": JAR}
    times = 0.18 / sum(v * every[k].load for k, v in volumes.items())
    part = {k: v * times for k, v in volumes.items()}
    dry = sum(v * every[k].solids for k, v in part.items()) + (1 - sum(part.values())) * Base().solids
    k, s = (sum(v / dry * getattr(every[key], name) for key, v in part.items()) for name in "ks")
    return look(k, s, 0.0, None) if coats_um is None else look(k, s, coats_um, old)


# The engine.


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize(
    "rows", [ROWS, (("PW6", "J1", "PBk7"), ("J1", "PR101", "PY42"))], ids=["pigments", "jars"]
)
def test_a_batch_reads_what_its_volumes_come_to(sheet: str, rows: tuple[tuple[str, ...], ...]) -> None:
    """Readings and ΔE00 under each light from the volumes alone, jars by what is in them."""
    batch = batch_of(sheet, rows)
    told = [
        read(dict(zip(row, np.exp(z), strict=True)), 15.0 if sheet == "coats" else None)
        for row, z in zip(rows, Z, strict=True)
    ]
    np.testing.assert_allclose(batch.reading(Z), told, atol=1e-9)
    off = [[float(delta_e00(lab(r, light), lab(TARGET, light))) for light in LIGHTS] for r in told]
    np.testing.assert_allclose(batch.differences(Z), off, atol=1e-9)


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("exact", [False, True])
def test_residuals_square_to_the_difference_and_their_slopes_are_those_of_small_steps(
    sheet: str, exact: bool
) -> None:
    """Weighted by each light's importance; near the target the local metric is CIEDE2000 too."""
    batch = batch_of(sheet)
    batch.importance = np.array([[0.5, 0.3, 0.2], [1.0, 0.0, 2.0]])
    miss, slopes = batch.linearised(Z, exact)
    if exact:
        np.testing.assert_allclose(
            np.square(miss).sum(axis=1), (batch.importance * batch.differences(Z) ** 2).sum(axis=1)
        )
    for at in range(3):
        step = 1e-5 * np.eye(3)[at]
        numeric = (batch.linearised(Z + step, exact)[0] - batch.linearised(Z - step, exact)[0]) / 2e-5
        np.testing.assert_allclose(slopes[:, :, at], numeric, atol=2e-3 * np.abs(slopes).max())
    close = np.log([[10.0, 3.0, 2.02], [10.0, 3.0, 2.0]])
    one = batch_of("opaque", (ROWS[0], ROWS[0]), ("D65",))
    near = np.sqrt(np.square(one.linearised(close, False)[0]).sum(axis=1))
    np.testing.assert_allclose(near, one.differences(close)[:, 0], rtol=0.05, atol=1e-9)


def test_parts_square_to_ciede2000() -> None:
    """Any two colours: three residuals whose squares sum to ΔE00² (Sharma 2005, eq. 22)."""
    rng = np.random.default_rng(1)
    one, two = (rng.uniform((1, -60, -60), (99, 60, 60), (200, 3)) for _ in range(2))
    np.testing.assert_allclose(
        np.square(parts_e00(one, two)).sum(axis=-1), delta_e00(one, two) ** 2, rtol=1e-9
    )


def test_what_is_too_much_is_counted_in_natural_logs_of_the_shelf() -> None:
    """Shares of the mix against what there is; past it 30 ΔE00 an e; slopes by small steps, both where base fills up and where jars are too lean for it."""
    for rows in (ROWS, (("J1", "PY42", "PBr7"), ("J1", "PR101", "PY42"))):
        batch = batch_of("opaque", rows)
        caps = np.array([[0.05, np.inf, 0.02], [0.5, 0.01, np.inf]])
        assert not batch.excess(Z).any()
        batch.caps = caps
        for z in (Z, np.log([[1.0, 0.01, 0.01], [1.0, 0.02, 0.01]])):
            over, slopes = batch.too_much(z, True)
            every, told = {**KNOWN, "J1": JAR}, []
            for row, volumes, cap in zip(rows, np.exp(z), caps, strict=True):
                whole = max(
                    sum(v * every[k].load for k, v in zip(row, volumes, strict=True)) / 0.18, volumes.sum()
                )
                told.append(np.log(volumes / whole) - np.log(cap))
            np.testing.assert_allclose(over, told)
            past = np.sqrt(np.square(np.maximum(told, 0.0)).sum(axis=1))
            np.testing.assert_allclose(batch.excess(z), 30.0 * past)
            for at in range(3):
                step = 1e-6 * np.eye(3)[at]
                with np.errstate(invalid="ignore"):
                    numeric = (batch.too_much(z + step)[0] - batch.too_much(z - step)[0]) / 2e-6
                fits = np.isfinite(numeric)
                np.testing.assert_allclose(slopes[:, :, at][fits], numeric[fits], atol=1e-6)
    assert HOLD == 30.0


def test_with_a_shelf_the_residuals_hold_to_it_and_pull_a_leftover_up() -> None:
    """What is over counts 30 an e; of a leftover that is to be used up, what is under counts .2 an e, and only of that."""
    batch = batch_of("opaque", (("J1", "PW6", "PY42"),) * 2)
    batch.caps = np.array([[0.2, 0.9, np.inf]] * 2)
    batch.leftover = np.array([[1.0, 0.0, 0.0]] * 2)
    z = np.log([[0.01, 1.0, 0.05], [1.0, 0.05, 0.05]])
    over = batch.too_much(z)[0]
    assert over[0, 0] < 0 < over[1, 0]
    miss, slopes = batch.linearised(z, True)
    np.testing.assert_allclose(miss[:, 9:], [[0.2 * over[0, 0], 0, 0], [30.0 * over[1, 0], 0, 0]], atol=1e-12)
    for at in range(3):
        step = 1e-6 * np.eye(3)[at]
        with np.errstate(invalid="ignore"):
            numeric = (batch.linearised(z + step, True)[0] - batch.linearised(z - step, True)[0]) / 2e-6
        np.testing.assert_allclose(slopes[:, 9:, at], numeric[:, 9:], atol=1e-4)


@pytest.mark.parametrize("level", [0.5, 0.03, 0.004])
def test_colours_of_readings_and_their_slopes_hold_down_to_black(level: float) -> None:
    """Under three lights at once, beside `lab`; the slope by XYZ against small steps of the reading."""
    view = View.of(TARGET, LIGHTS)
    spectrum = level * np.linspace(0.6, 1.4, 31)
    labs, slope = view.colours(spectrum[None])
    np.testing.assert_allclose(labs[0], [lab(spectrum, light) for light in LIGHTS], atol=1e-9)
    turn = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])
    for band in (3, 15, 28):
        step = 1e-6 * np.eye(31)[band]
        numeric = [(lab(spectrum + step, light) - lab(spectrum - step, light)) / 2e-6 for light in LIGHTS]
        told = (slope[0] * view.table[band]).reshape(3, 3) @ turn.T
        np.testing.assert_allclose(told, numeric, rtol=1e-4, atol=1e-3)


@pytest.mark.parametrize("sheet", SHEETS)
def test_where_the_search_ends_no_small_change_is_better(sheet: str) -> None:
    """From equal volumes: the sum of squares is that of its end, and a per cent more or less of anything does not lower it."""
    batch = batch_of(sheet)
    end, cost = batch.solve(np.zeros((2, 3)), 30, exact=True)
    told = np.square(batch.differences(end)).sum(axis=1)
    np.testing.assert_allclose(cost, told)
    for step in (*(0.01 * np.eye(3)), *(-0.01 * np.eye(3))):
        assert np.all(np.square(batch.differences(end + step)).sum(axis=1) >= cost - 1e-6)
    assert np.all(cost <= np.square(batch.differences(np.zeros((2, 3)))).sum(axis=1))


def test_of_two_starts_the_better_end_is_taken_and_its_score_with_it() -> None:
    """From a start far off and from equal volumes: the score is that of the amounts that come back, and no worse than either start led to."""
    asked = MatchProblem(TARGET, list(KNOWN.values()), most=2)
    sets = [s for s in asked.subsets() if len(s) == 2]
    view = View.of(TARGET, ["D65"])
    far = np.tile([0.0, -11.0], (len(sets), 1))

    def batch() -> Batch:
        return Batch([[KNOWN[k] for k in row] for row in sets], view, asked.sheet)

    best, score = _exact(asked, batch(), far)
    np.testing.assert_allclose(score, batch().differences(best)[:, 0])
    ends = [batch().differences(batch().solve(start, 12, exact=True)[0])[:, 0] for start in (far, 0 * far)]
    assert np.abs(ends[0] - ends[1]).max() > 1.0, "the start matters for some"
    np.testing.assert_allclose(score, np.minimum(*ends), atol=1e-6)


def test_the_worst_light_is_led_down_and_never_up() -> None:
    """Against a scan of the one free ratio of a white and an umber: the worst of three lights at its least; and one light alone needs no reweighting."""
    rows = (("PW6", "PBr7"),)
    target = read({"PW6": 10.0, "PBr7": 3.0, "PY42": 4.0})
    batch = Batch([[KNOWN[k] for k in row] for row in rows], View.of(target, LIGHTS), SHEETS["opaque"])
    start, _ = batch.solve(np.zeros((1, 2)), 10)
    worst = lambda z: float(batch.differences(z).max())  # noqa: E731
    ratios = np.stack([np.zeros(2001), np.linspace(-4, 2, 2001)], axis=-1)
    every = batch.taken(np.zeros(2001, dtype=int)).differences(ratios)
    scan = float(every.max(axis=1).min())
    led = batch.solve_worst(start)
    assert scan - 1e-6 <= worst(led) <= worst(start)
    ended = polished(batch.taken(np.array([0])), led[0])
    assert worst(ended[None]) == pytest.approx(scan, rel=2e-3)
    assert worst(ended[None]) <= worst(led)
    assert np.all(batch.importance == 1.0)
    alone = Batch([[KNOWN[k] for k in row] for row in rows], View.of(target, LIGHTS[:1]), SHEETS["opaque"])
    first = float(alone.differences(alone.solve_worst(start))[0, 0])
    assert first == pytest.approx(float(every[:, 0].min()), rel=2e-3)


def test_some_rows_of_a_batch_are_the_same_rows() -> None:
    batch = batch_of()
    batch.caps, batch.leftover = np.array([[0.1] * 3, [0.2] * 3]), np.array([[1.0, 0, 0], [0, 1.0, 0]])
    batch.importance = np.full((2, 3), 0.4)
    part = batch.taken(np.array([1, 0, 1]))
    np.testing.assert_allclose(part.reading(Z[[1, 0, 1]]), batch.reading(Z)[[1, 0, 1]])
    np.testing.assert_allclose(part.excess(Z[[1, 0, 1]]), batch.excess(Z)[[1, 0, 1]])
    np.testing.assert_array_equal(part.leftover, batch.leftover[[1, 0, 1]])
    np.testing.assert_array_equal(part.importance, np.ones((3, 3)))


# What is asked.


def problem(**more: object) -> MatchProblem:
    return MatchProblem(TARGET, [KNOWN[k] for k in ("PW6", "PBr7", "PY42", "PR101", "PBk7")], **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("most", "must", "barred"),
    [(3, (), ()), (4, ("PBr7",), ()), (2, ("PW6", "PBr7"), ()), (3, ("PW6",), ("PY42", "PR101"))],
)
def test_every_set_that_may_be_tried_is_tried_once(
    most: int, must: tuple[str, ...], barred: tuple[str, ...]
) -> None:
    found = problem(most=most, must_use=frozenset(must), must_not_use=frozenset(barred)).subsets()
    free = 5 - len(must) - len(barred)
    assert len(found) == sum(comb(free, n) for n in range(0 if must else 1, most - len(must) + 1))
    assert len({frozenset(s) for s in found}) == len(found)
    assert all(set(must) <= set(s) and not set(barred) & set(s) and len(s) <= most for s in found)


def test_what_is_left_by_less_than_a_step_is_gone() -> None:
    """.1 g in a litre is .05 g in a half: an umber of density d is there from .05/d mL on."""
    density = KNOWN["PBr7"].density
    for amount, there in ((0.0501 / density, True), (0.0499 / density, False)):
        sets = problem(shelf_ml={"PBr7": amount}, batch_ml=500.0).subsets()
        assert any("PBr7" in s for s in sets) is there
    caps = problem(shelf_ml={"PBr7": 20.0}, batch_ml=500.0).caps(("PW6", "PBr7"))
    assert caps is not None
    np.testing.assert_array_equal(caps, [np.inf, 0.04])
    assert problem(shelf_ml={"PBr7": 20.0}).caps(("PW6", "PY42")) is None


@pytest.mark.parametrize("left", [9.99, 10.0, 10.01])
def test_rounded_grams_are_cut_to_what_the_shelf_holds_for_the_batch(left: float) -> None:
    """A third of umber asked for and some 20 mL in a litre there: the last whole step below it is taken, and the base fills up the middle of the window."""
    asked = problem(shelf_ml={"PBr7": left}, batch_ml=500.0)
    made = _rounded(asked, asked.setting, View.of(TARGET, ["D65"]), ("PW6", "PBr7"), np.array([0.67, 0.33]))
    mass = {p.key: p.mass for p in made.parts}
    white = 0.67 * 180.0 * KNOWN["PW6"].density
    told = np.floor(2 * left * KNOWN["PBr7"].density / 0.1) * 0.1
    assert mass["PBr7"] / mass["PW6"] * white == pytest.approx(told, abs=0.03)
    assert made.parts[-1].key == "base"
    assert made.load == pytest.approx(0.18, abs=1e-3)
    free = _rounded(
        problem(), asked.setting, View.of(TARGET, ["D65"]), ("PW6", "PBr7"), np.array([0.67, 0.33])
    )
    umber = next(p for p in free.parts if p.key == "PBr7")
    assert umber.volume == pytest.approx(0.33 * 180.0, abs=0.2)


def test_lights_that_count_and_what_is_judged_by() -> None:
    """First light, the worst, or a weighted root mean square; a light of no weight does not count."""
    recipe = replace(
        judge({"PW6": 120.0}, 850.0, problem().setting), delta_e={"D65": 1.0, "A": 2.0, "FL11": 0.5}
    )
    assert problem().judging == ("D65",)
    assert problem_score(problem(), recipe) == 1.0
    assert problem(worst=True).judging == LIGHTS
    assert problem_score(problem(worst=True), recipe) == 2.0
    weighed = problem(importance={"D65": 3.0, "A": 1.0, "FL11": 0.0})
    assert weighed.judging == ("D65", "A")
    assert problem_score(weighed, recipe) == pytest.approx(np.sqrt((3 * 1.0 + 1 * 4.0) / 4))


def test_the_sheet_is_the_middle_of_the_window_and_so_many_coats() -> None:
    assert problem().sheet.ground is None
    assert problem(load=(0.1, 0.3), old=OLD).sheet.load == pytest.approx(0.2)
    laid = problem(load=(0.1, 0.16), old=OLD, coats=3, coat_um=8.0).sheet
    assert (laid.microns, laid.load) == (24.0, pytest.approx(0.13))
    assert laid.ground is not None
    np.testing.assert_allclose(laid.ground, inside(OLD))


@pytest.mark.parametrize(
    ("step", "batch", "told"),
    [(0.1, 250.0, 0.4), (0.1, 1000.0, 0.1), (0.01, 500.0, 0.02), (0.0001, 1e6, LEAST_STEP_G)],
)
def test_a_step_of_the_balance_is_told_a_litre(step: float, batch: float, told: float) -> None:
    assert step_per_litre(step, batch) == pytest.approx(told)
    assert LEAST_STEP_G == 1e-3


def test_importance_leads_the_search_to_the_lights_that_have_it() -> None:
    """White and umber cannot be the target under both lights: more weight on one brings that one nearer."""
    target = read({"PW6": 10.0, "PBr7": 3.0, "PY42": 4.0})
    own = [KNOWN["PW6"], KNOWN["PBr7"]]
    off = {}
    for weight in (0.1, 1.0, 10.0):
        asked = MatchProblem(
            target,
            own,
            lights=("D65", "A"),
            importance={"D65": 1.0, "A": weight},
            must_use=frozenset({"PW6", "PBr7"}),
            most=2,
        )
        score, parts = nearest(asked)
        each = [float(delta_e00(lab(read(parts), light), lab(target, light))) for light in ("D65", "A")]
        off[weight] = each
        assert score == pytest.approx(
            np.sqrt((each[0] ** 2 + weight * each[1] ** 2) / (1 + weight)), rel=1e-6
        )
    assert off[0.1][0] < off[1.0][0] < off[10.0][0]
    assert off[0.1][1] > off[1.0][1] > off[10.0][1]


# Recipes.


def dry(grams: dict[str, float], base_g: float, um: float | None, old: np.ndarray) -> np.ndarray:
    """A film of these grams, from volumes and solids."""
    volumes = {k: g / KNOWN[k].density for k, g in grams.items()}
    solid = sum(v * KNOWN[k].solids for k, v in volumes.items()) + base_g / Base().density * Base().solids
    k, s = (sum(v / solid * getattr(KNOWN[key], name) for key, v in volumes.items()) for name in "ks")
    return look(k, s, 0.0, None) if um is None else look(k, s, um, old)


@pytest.mark.parametrize(
    ("load", "old", "coat"), [(60.0, WHITE, 7.5), (200.0, WHITE, 7.5), (200.0, OLD, 4.0), (8.0, WHITE, 2.0)]
)
def test_coats_are_counted_until_half_a_unit_is_left(load: float, old: np.ndarray, coat: float) -> None:
    """Coat after coat over the old colour; none of twelve is none."""
    grams, base_g = {"PW6": load, "PBr7": 0.3 * load}, 800.0
    setting = Setting(TARGET, KNOWN, Base(), LIGHTS, old, Surface(), coat)
    end = lab(dry(grams, base_g, None, old))
    off = [float(delta_e00(lab(dry(grams, base_g, n * coat, old)), end)) for n in range(1, 13)]
    told = next((n for n, each in enumerate(off, 1) if each <= 0.5), None)
    volumes = {k: g / KNOWN[k].density for k, g in grams.items()}
    assert coats_to_hide(volumes, base_g / Base().density, setting) == told
    assert coats_to_hide(volumes, base_g / Base().density, replace(setting, old=None)) is None


def test_a_recipe_is_judged_as_laid_and_a_drop_is_a_twentieth_of_a_millilitre_in_a_cup() -> None:
    """So many coats over the old colour under each light; .05 mL more of each in 150 mL, the worst of them named."""
    grams, base_g = {"PW6": 120.0, "PBr7": 30.0, "PBk7": 1.0}, 850.0
    setting = Setting(TARGET, KNOWN, Base(), LIGHTS, OLD, Surface(), 6.0, coats=2, guessed=("A",))
    recipe = judge(grams, base_g, setting)
    np.testing.assert_allclose(recipe.reflectance, dry(grams, base_g, 12.0, OLD), atol=1e-9)
    for light in LIGHTS:
        assert recipe.labs[light] == pytest.approx(tuple(lab(recipe.reflectance, light)))
        assert recipe.delta_e[light] == pytest.approx(
            float(delta_e00(lab(recipe.reflectance, light), lab(TARGET, light)))
        )
    volumes = {k: g / KNOWN[k].density for k, g in grams.items()}
    total = sum(volumes.values()) + base_g / Base().density
    here, worst = lab(dry(grams, base_g, None, OLD)), {}
    for key, mass in grams.items():
        more = {**grams, key: mass + 0.05 * total / 150.0 * KNOWN[key].density}
        worst[key] = float(delta_e00(here, lab(dry(more, base_g, None, OLD))))
    assert (recipe.drop, recipe.drop_of) == (
        pytest.approx(max(worst.values())),
        max(worst, key=lambda k: worst[k]),
    )
    assert drop_error(volumes, base_g / Base().density, setting) == (recipe.drop, recipe.drop_of)
    assert recipe.guessed == ("A",)
    assert recipe.density == pytest.approx((sum(grams.values()) + base_g) / total)
    assert [p.key for p in recipe.parts] == ["PW6", "PBr7", "PBk7", "base"]


def test_among_recipes_of_one_colour_the_leaner_in_things_stands_first() -> None:
    """Twin whites: the target needs one of them, and a recipe that splits it over both is the same colour with one pigment more."""
    twin: Pigment = replace(KNOWN["PW6"], key="PW6b", name="Twin")
    own = [KNOWN["PW6"], twin, KNOWN["PBr7"]]
    target = read({"PW6": 10.0, "PBr7": 3.0})
    found = match(MatchProblem(target, own, most=3, keep=8)).recipes
    good = [frozenset(p.key for p in r.pigments) for r in found if r.delta_e["D65"] < 0.3]
    assert len(good[0]) == 2
    assert {len(s) for s in good} == {2, 3}
    assert len(set(combinations(sorted(good[0]), 2))) == 1
