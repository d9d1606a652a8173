"""Limits lie where the refusals say, files come back as they went, and jars, lights and shelf count as promised; each checked without the code that is judged."""

import json
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from itertools import combinations

import numpy as np
import pytest

from hidewright.colour.cups.adjust import AdjustProblem, adjust
from hidewright.colour.cups.memory import EYE, Memory
from hidewright.colour.cups.things import PIECE, Comparison, CupAt, Job, Swatch, SwatchAt
from hidewright.colour.cups.words import Words
from hidewright.colour.learning.cup import Cup, Pour, Sight
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.library import Library, read_library, write_csv, write_json
from hidewright.colour.learning.lots import STRENGTH_MORE, Lot, Prior, Stock, stock_of
from hidewright.colour.light.cie import WAVELENGTHS, delta_e00, lab, weights
from hidewright.colour.light.smooth import smoothest
from hidewright.colour.pigments.characterise import characterise
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.drawdowns import Doubt, Drawdown
from hidewright.colour.pigments.film import Surface, film, opaque, seen, surface_of_index
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.colour.reading.conditions import ColourOnly, Conditions, unlike
from hidewright.colour.reading.photo import KnownPatch, Patch
from hidewright.colour.reading.readings import Reading
from hidewright.colour.recipes.leftovers import leftover, read_jars, unpacked
from hidewright.colour.recipes.match import MatchProblem, match, nearest
from hidewright.demo.make_colours import pigments as invented
from hidewright.refusals import Refusal

KNOWN = invented()
WHITE = KNOWN["PW6"]
FLAT = np.full(31, 0.4)
HELD = Contents({"PW6": 10.0}, 40.0)
Make = Callable[[float], object]

LIMITS: list[tuple[str, Make, list[float], list[float]]] = [
    ("density of a pigment", lambda v: replace(WHITE, density=v), [0.5, 6.0], [0.49, 6.01]),
    ("solids of a pigment", lambda v: replace(WHITE, solids=v), [0.01, 1.0], [0.009, 1.01]),
    ("load of a pigment", lambda v: replace(WHITE, load=v), [0.001, 1.0], [0.0, 1.001]),
    ("density of a base", lambda v: Base(density=v), [0.5, 2.0], [0.49, 2.01]),
    ("solids of a base", lambda v: Base(solids=v), [0.05, 1.0], [0.049, 1.01]),
    ("base in a cup", lambda v: Contents({"PW6": 1.0}, v), [0.0, 5.0], [-0.01]),
    ("pigment in a cup", lambda v: Contents({"PW6": v}, 1.0), [0.001, 5.0], [-0.01, 0.0]),
    ("k1", lambda v: Surface(k1=v), [0.0, 0.999], [-0.01, 1.0]),
    ("k2", lambda v: Surface(k2=v), [0.0, 0.999], [-0.01, 1.0]),
    ("index of a binder", surface_of_index, [1.2, 2.0], [1.19, 2.01]),  # type: ignore[list-item]
    ("a pour", lambda v: Pour("PW6", v), [0.001, 999_999.0], [0.0, -1.0, 1e6]),
    ("share of base", lambda v: Conditions(base_share=v), [0.0, 1.0], [-0.01, 1.01]),
    ("spread of a colour", lambda v: ColourOnly(np.array([50.0, 0, 0]), v * np.eye(3)), [0.001, 9.0], [0.0, -1.0, float("nan")]),
    ("spread of a lot", lambda v: Lot("a", WHITE, v), [0.1, 20.0], [0.0, 20.1]),
    ("smoothness", lambda v: Prior(length=v), [20.0, 300.0], [19.9, 300.1]),
    ("kinship", lambda v: Prior(kin=v), [0.0, 0.999], [-0.01, 1.0]),
    ("strength's spread", lambda v: Prior(strength=v), [0.001, 1.99], [0.0, 2.0]),
    ("low end of the window", lambda v: MatchProblem(FLAT, [WHITE], load=(v, 0.2)), [0.005, 0.2], [0.0049, 0.21]),
    ("high end of the window", lambda v: MatchProblem(FLAT, [WHITE], load=(0.16, v)), [0.16, 0.9], [0.159, 0.91]),
    ("pigments of a recipe", lambda v: MatchProblem(FLAT, [WHITE], most=int(v)), [1, 5], [0, 6]),
    ("a batch", lambda v: MatchProblem(FLAT, [WHITE], batch_ml=v), [1.0, 1e6], [0.99, 1.01e6]),
    ("coats", lambda v: MatchProblem(FLAT, [WHITE], old=FLAT, coats=int(v)), [1, 12], [0, 13]),
    ("a coat", lambda v: MatchProblem(FLAT, [WHITE], coat_um=v), [0.1, 1000.0], [0.09, 1001.0]),
    ("recipes", lambda v: MatchProblem(FLAT, [WHITE], keep=int(v)), [1, 1000], [0, 1001]),
    ("a step of a recipe", lambda v: MatchProblem(FLAT, [WHITE], step_g=v), [1e-4, 1e4], [0.9e-4, 1.1e4]),
    ("a light's weight", lambda v: MatchProblem(FLAT, [WHITE], importance={"D65": 1.0, "A": v}), [0.0, 9.0], [-0.1]),
    ("all lights' weight", lambda v: MatchProblem(FLAT, [WHITE], importance={"D65": v}), [0.1], [0.0]),
    ("a vessel", lambda v: AdjustProblem(HELD, FLAT, [WHITE], vessel_ml=v), [50.0, 1e6], [49.9]),
    ("a tolerance", lambda v: AdjustProblem(HELD, FLAT, [WHITE], tolerance=v), [0.01, 100.0], [0.009, 101.0]),
    ("additions", lambda v: AdjustProblem(HELD, FLAT, [WHITE], most=int(v)), [1, 4], [0, 5]),
    ("low end for a cup", lambda v: AdjustProblem(HELD, FLAT, [WHITE], load=(v, 0.2)), [1e-6, 0.2], [0.0, 0.21]),
    ("high end for a cup", lambda v: AdjustProblem(HELD, FLAT, [WHITE], load=(0.1, v)), [0.1, 0.999], [0.099, 1.0]),
    ("a drop", lambda v: AdjustProblem(HELD, FLAT, [WHITE], steps={"PW6": v}), [1e-4, 1e4], [0.9e-4, 1.1e4]),
    ("lightness of a card's patch", lambda v: KnownPatch(Patch(0, 0, 1, 1), np.array([v, 0, 0])), [0.0, 100.0], [-0.1, 100.1]),
    ("left of a patch", lambda v: Patch(v, 0, 1, 1), [0.0, 0.99], [-0.01, 1.0]),
    ("top of a patch", lambda v: Patch(0, v, 1, 0.5), [0.0, 0.49], [-0.01, 0.5]),
    ("right of a patch", lambda v: Patch(0.5, 0, v, 1), [0.51, 1.0], [0.5, 1.01]),
    ("bottom of a patch", lambda v: Patch(0, 0.5, 1, v), [0.51, 1.0], [0.5, 1.01]),
    ("a step of a pour", lambda v: Pour("PW6", 1.0, v), [0.0, 999_999.0], [-0.01, 1e6]),
    ("a doubt", lambda v: Doubt("", v, {}), [0.0, 2.0], [-0.01, 2.01]),
    ("pours before a reading", lambda v: Cup("c", (Pour("a", 1.0), Pour("b", 1.0)), (Sight(int(v), FLAT),)), [1, 2], [0, 3]),
    ("noise of a reading", lambda v: Reading("a", FLAT, sd=v), [1e-9, 1.0], [0.0, -1.0]),
    ("noise of a band", lambda v: Sight(1, FLAT, np.append(np.full(30, 0.1), v)), [1e-9, 1.0], [0.0, -1.0]),
    ("reflectance", lambda v: Reading("a", np.full(31, v)), [0.0, 1.3], [-0.01, 1.31]),
    ("spread of k and s", lambda v: replace(WHITE, covariance=np.full((2, 31), v)), [0.0, 1.0], [-0.01]),
    *((name, lambda v, name=name: Prior(**{name: v}), [1e-6, 1.99], [0.0, 2.0]) for name in ("shape", "surface_k1", "surface_k2", "weighing", "floor")),
]  # fmt: skip


@pytest.mark.parametrize(("name", "make", "good", "bad"), LIMITS, ids=[row[0] for row in LIMITS])
def test_limits_hold_what_they_say_and_nothing_beyond(
    name: str, make: Make, good: list[float], bad: list[float]
) -> None:
    for value in good:
        assert make(value) is not None
    for value in bad:
        with pytest.raises(Refusal) as refused:
            make(value)
        assert str(refused.value), name


def test_what_does_not_fit_together_is_refused() -> None:
    """Bottles and memory, lights and their weights, what must be used and what there is, a leftover without an amount."""
    known = Knowledge.fresh(stock_of([WHITE]))
    size = known.stock.size + EYE
    assert Memory(known, np.zeros(size), np.eye(size)).looks == 0
    umber = KNOWN["PBr7"]
    for make in (
        lambda: Memory(known, np.zeros(size - 1), np.eye(size)),
        lambda: Memory(known, np.zeros(size), np.eye(size - 1)),
        lambda: ColourOnly(np.zeros(2), np.eye(3)),
        lambda: ColourOnly(np.array([50.0, 0, 0]), np.eye(2)),
        lambda: ColourOnly(np.array([50.0, np.nan, 0]), np.eye(3)),
        lambda: Conditions(made="by hand"),
        lambda: MatchProblem(FLAT, [WHITE], importance={"FL2": 1.0}),
        lambda: MatchProblem(FLAT, [WHITE, umber], must_use=frozenset({"PW6", "PBr7"}), most=1),
        lambda: MatchProblem(FLAT, [WHITE], must_not_use=frozenset({"PW6"})),
        lambda: MatchProblem(FLAT, [WHITE, umber], use_up=frozenset({"PBr7"})),
        lambda: MatchProblem(FLAT, [WHITE, umber], must_use=frozenset({"PBr7"}), shelf_ml={"PBr7": 1e-6}),
        lambda: AdjustProblem(Contents({"PX": 1.0}, 1.0), FLAT, [WHITE]),
        lambda: AdjustProblem(HELD, FLAT, [WHITE], must_not_use=frozenset({"PW6"})) and adjust(AdjustProblem(HELD, FLAT, [WHITE], must_not_use=frozenset({"PW6"}))),
        lambda: Library((), Surface()),
        lambda: Library((WHITE, WHITE), Surface()),
    ):  # fmt: skip
        with pytest.raises(Refusal):
            make()


ONE = Conditions("wet", "raw pigment", 0.80, "D65", "first", True, "white card")
OTHER = Conditions("dry", "mixed with base", 0.90, "A", "second", False, "black card")
FIELDS = {
    "state": "wet", "made": "raw pigment", "base_share": "shares of base", "light": "different lights", "instrument": "instruments",
    "specular": "specular", "over": "grounds",
}  # fmt: skip


@pytest.mark.parametrize("count", [0, 1, 2, 7])
def test_what_differs_is_warned_of_once_each_and_what_is_unknown_is_not(count: int) -> None:
    for names in combinations(FIELDS, count):
        here = replace(ONE, **{name: getattr(OTHER, name) for name in names})
        words = unlike(ONE, here)
        assert len(words) == count == len(unlike(here, ONE))
        for name in names:
            assert any(FIELDS[name] in word for word in words), name
        empty = replace(here, **{name: getattr(Conditions(), name) for name in names})
        assert unlike(ONE, empty) == unlike(empty, ONE) == ()
    assert unlike(ONE, replace(ONE, base_share=0.829)) == ()


def spreads(pigment: Pigment, seed: int) -> Pigment:
    return replace(
        pigment,
        covariance=np.random.default_rng(seed).uniform(0.01, 0.2, (2, 31)),
        illustrative=seed % 2 == 0,
    )


def test_a_library_comes_back_as_it_went() -> None:
    """JSON and CSV, with spreads and without, prices to the last figure, whatever the surface."""
    priced = [replace(p, price=Decimal(n) / 64) for n, p in enumerate(KNOWN.values())]
    kept = [spreads(p, n) if n % 3 else p for n, p in enumerate(priced)]
    for surface in (Surface(), Surface(0.05, 0.61, specular=False)):
        for write in (write_json, write_csv):
            back = read_library(write(Library(tuple(kept), surface)))
            assert (back.surface.k1, back.surface.k2, back.surface.specular) == (
                surface.k1,
                surface.k2,
                surface.specular,
            )
            assert back.learned is None
            for one, two in zip(kept, back.pigments, strict=True):
                for name in ("key", "name", "index", "density", "solids", "illustrative"):
                    assert getattr(one, name) == getattr(two, name)
                assert one.price == pytest.approx(two.price)
                np.testing.assert_allclose(two.k, one.k, rtol=1e-6)
                np.testing.assert_allclose(two.s, one.s, rtol=1e-6)
                assert (one.covariance is None) == (two.covariance is None)
                if one.covariance is not None and two.covariance is not None:
                    np.testing.assert_allclose(two.covariance, one.covariance, rtol=1e-6)


def test_half_of_a_spread_in_a_file_is_no_spread_and_does_not_break_it() -> None:
    text = write_csv(Library((spreads(WHITE, 1),), Surface()))
    half = "\n".join(line for line in text.splitlines() if ",s_sd," not in line)
    assert read_library(half).pigments[0].covariance is None


def test_what_was_learned_comes_back_with_its_doubts() -> None:
    stock = Stock(
        (Lot("PW6", WHITE), Lot("PBr7", KNOWN["PBr7"], 2.0), Lot("PY42", KNOWN["PY42"])),
        Base(),
        Prior(),
        Surface(),
    )
    cup = Cup("one", (Pour("PW6", 20.0), Pour("PBr7", 6.0), Pour("base", 90.0)))
    read = Knowledge.fresh(stock).forecast(cup.grams).reflectance * 1.03
    known = Knowledge.fresh(stock).after(cup.seen(read))
    back = read_library(write_json(Library.of(known))).learned
    assert back is not None
    for grams in (dict(cup.grams), {"PW6": 10.0, "PY42": 3.0}):
        one, two = known.forecast(grams), back.forecast(grams)
        np.testing.assert_allclose(two.reflectance, one.reflectance, atol=1e-6)
        assert two.spread() == pytest.approx(one.spread(), rel=1e-4)
    assert back.readings == known.readings == 1
    # a file of version 0.1.0 counts in the units of its own prior, in which strength strayed no more than shape
    data = json.loads(write_json(Library.of(known)))
    older, at = data["learned"], stock.where(1).start
    del older["strength_more"]
    scale = np.ones(stock.size)
    scale[at] = 2.0 ** (STRENGTH_MORE - 1.0)
    older["mean"] = (known.mean * scale).tolist()
    older["covariance"] = (known.covariance * np.outer(scale, scale))[np.tril_indices(stock.size)].tolist()
    old = read_library(json.dumps(data)).learned
    assert old is not None
    np.testing.assert_allclose(old.mean, known.mean, atol=1e-9)
    assert old.forecast(cup.grams).spread() == pytest.approx(known.forecast(cup.grams).spread(), rel=1e-4)


@pytest.mark.parametrize("colour", [(50, 10, 20), (30, -5, -8), (80, 2, 15), (65, 0, 0)])
@pytest.mark.parametrize(("light", "observer"), [("D65", "10"), ("A", "10"), ("D65", "2")])
def test_a_stand_in_has_the_colour_and_no_smoother_one_has(
    colour: tuple[float, float, float], light: str, observer: str
) -> None:
    """Burns 2020: least sum of squared steps of artanh(2R − 1). At a minimum its slope is a sum of the slopes of the three conditions (Lagrange)."""
    found = smoothest(colour, light, observer)
    np.testing.assert_allclose(lab(found, light, observer), colour, atol=0.01)
    z = np.arctanh(2 * found - 1)
    slope = -2 * (np.diff(z, append=z[-1]) - np.diff(z, prepend=z[0]))
    conditions = weights(light, observer) * (0.5 / np.cosh(z) ** 2)[:, None]
    rest = slope - conditions @ np.linalg.lstsq(conditions, slope, rcond=None)[0]
    assert np.abs(rest).max() < 1e-6 + 1e-4 * np.abs(slope).max()
    for wrong in ((0, 0, 0), (100, 0, 0), (50, float("nan"), 0), (50, 120, 120)):
        with pytest.raises(Refusal):
            smoothest(wrong, light, observer)


def reading_of(volumes: dict[str, float], known: dict[str, Pigment] = KNOWN) -> np.ndarray:
    k = sum(v * known[key].k for key, v in volumes.items())
    s = sum(v * known[key].s for key, v in volumes.items())
    return np.asarray(seen(opaque(k, s), Surface()))


def test_a_light_that_alone_counts_is_the_one_that_is_matched() -> None:
    """A target that the pigments meet under one light only: weight on A gives the nearer match under A, weight on D65 under D65."""
    target = reading_of({"PW6": 10, "PV23": 0.25, "PY154": 2.0, "PG7": 0.05})
    rest = [p for key, p in KNOWN.items() if key in ("PW6", "PBr7", "PY42", "PR101", "PBk7")]
    lights = ("D65", "A")

    def off(importance: dict[str, float] | None) -> dict[str, float]:
        _, parts = nearest(MatchProblem(target, rest, lights=lights, importance=importance))
        read = reading_of(parts)
        return {light: float(delta_e00(lab(read, light), lab(target, light))) for light in lights}

    by_a, by_d, both, plain = off({"A": 1.0}), off({"D65": 1.0}), off({"A": 1.0, "D65": 1.0}), off(None)
    assert by_a["A"] < by_d["A"] - 0.02
    assert by_d["D65"] < by_a["D65"] - 0.02
    assert plain["D65"] == pytest.approx(by_d["D65"], abs=0.01)
    for light in lights:
        assert both[light] < max(by_a[light], by_d[light]) + 1e-6
    square = (both["A"] ** 2 + both["D65"] ** 2) / 2
    assert square <= min((one["A"] ** 2 + one["D65"] ** 2) / 2 for one in (by_a, by_d)) + 1e-6


@pytest.mark.parametrize("seed", range(4))
def test_no_recipe_takes_more_than_the_shelf_holds_and_what_just_suffices_is_found(seed: int) -> None:
    rng = np.random.default_rng(70 + seed)
    goal = {
        "PW6": float(rng.uniform(4, 10)),
        "PBr7": float(rng.uniform(1, 4)),
        "PY42": float(rng.uniform(1, 4)),
    }
    target = reading_of(goal)
    batch = float(rng.uniform(200, 1500))
    pigment = 0.18 * batch
    shelf = {key: 1.1 * pigment * v / sum(goal.values()) for key, v in goal.items()}
    rest = [KNOWN[key] for key in (*goal, "PR101", "PBk7")]
    result = match(MatchProblem(target, rest, shelf_ml=shelf, batch_ml=batch, most=4, keep=5))
    assert min(r.delta_e["D65"] for r in result.recipes) < 0.1
    for recipe in result.recipes:
        for part in recipe.pigments:
            assert part.volume * batch / 1000 <= shelf.get(part.key, np.inf) + 1e-9
    scarce = {**shelf, "PBr7": 0.3 * shelf["PBr7"]}
    for recipe in match(MatchProblem(target, rest, shelf_ml=scarce, batch_ml=batch, most=4, keep=5)).recipes:
        assert sum(p.volume for p in recipe.parts if p.key == "PBr7") * batch / 1000 <= scarce["PBr7"] + 1e-9


def test_a_recipe_with_a_jar_is_the_same_mix_once_the_jar_is_unpacked() -> None:
    held, clear = {"PW6": 12.0, "PBr7": 3.0}, 70.0
    jar = leftover("J1", "Jar 1", 200.0, held, clear, KNOWN, Base())
    assert sum(p.volume for p in jar.parts) == pytest.approx(1000.0)
    assert jar.parts[-1].key == "base"
    assert jar.pigment.load == pytest.approx(15 / 85)
    grams = sum(v * KNOWN[key].density for key, v in held.items()) + clear * Base().density
    assert jar.pigment.density == pytest.approx(grams / 85)
    dry = sum(v * KNOWN[key].solids for key, v in held.items()) + clear * Base().solids
    assert jar.pigment.solids == pytest.approx(dry / 85)
    target = reading_of({"PW6": 12.0, "PBr7": 3.2, "PY42": 0.6})
    result = match(
        MatchProblem(
            target,
            [*KNOWN.values(), jar.pigment],
            must_use=frozenset({"J1"}),
            shelf_ml={"J1": 200.0},
            batch_ml=300.0,
            keep=3,
        )
    )
    for recipe in result.recipes:
        parts = unpacked(recipe.parts, [jar])
        assert "J1" not in {p.key for p in parts}
        assert sum(p.volume for p in parts) == pytest.approx(sum(p.volume for p in recipe.parts))
        assert sum(p.mass for p in parts) == pytest.approx(sum(p.mass for p in recipe.parts))
        assert parts[-1].key == "base"
        volumes = {p.key: p.volume for p in parts[:-1]}
        assert list(volumes.values()) == sorted(volumes.values(), reverse=True)
        np.testing.assert_allclose(reading_of(volumes), recipe.reflectance, atol=1e-9)
    text = "name,millilitres,holds\nJar 1,200,PW6=12 PBr7=3 base=70\n"
    assert read_jars(text, KNOWN, Base())[0].pigment.load == jar.pigment.load
    for bad in ("PW6=12 PX9=1", "base=70", "PW6", "PW6=-1", "PW6=0 base=5", "PW6=x"):
        with pytest.raises(Refusal):
            read_jars(f"name,millilitres,holds\nJar 1,200,{bad}\n", KNOWN, Base())


def drawn(shares: dict[str, float], noise: float, rng: np.random.Generator, readings: int = 1) -> Drawdown:
    """A drawdown of these dry shares over black and white, as a noisy instrument reads it."""
    k = sum(c * KNOWN[key].k for key, c in shares.items())
    s = sum(c * KNOWN[key].s for key, c in shares.items())
    grounds = {"black": np.full(31, 0.045), "white": np.full(31, 0.85)}
    over = {}
    for name, ground in grounds.items():
        inside = (ground - 0.04) / ((1 - 0.04) * (1 - 0.596) + 0.596 * (ground - 0.04))
        over[name] = seen(film(k, s, 6.0, inside), Surface()) + rng.normal(0, noise, 31)
    return Drawdown(
        "one",
        shares,
        6.0,
        over_black=over["black"],
        over_white=over["white"],
        black=grounds["black"],
        white=grounds["white"],
        readings=readings,
    )


def test_ninety_of_a_hundred_bands_lie_within_the_spread_that_is_given() -> None:
    """Films with noise and no other error: ln k and ln s lie within 1.645 of their sd about nine times in ten (73 to 99 % of all bands here, for seeds and neighbours)."""
    inside = whole = 0
    for seed in range(6):
        rng = np.random.default_rng(seed)
        key = ("PBr7", "PY42", "PR101")[seed % 3]
        fit = characterise(key, [drawn({key: 1.0, "PW6": 0.5}, 0.0015, rng)], {"PW6": KNOWN["PW6"]})
        for found, sd, true in ((fit.k, fit.k_sd, KNOWN[key].k), (fit.s, fit.s_sd, KNOWN[key].s)):
            inside += int(np.sum(np.abs(np.log(found / true)) <= 1.645 * sd))
            whole += WAVELENGTHS.size
    assert 0.73 < inside / whole <= 0.995


def test_fewer_readings_leave_wider_spreads_and_no_spread_is_imaginary() -> None:
    sds = []
    for readings in (100, 9, 1):
        fit = characterise(
            "PBr7",
            [drawn({"PBr7": 1.0, "PW6": 0.5}, 0.0, np.random.default_rng(0), readings)],
            {"PW6": WHITE},
        )
        assert np.all(np.isfinite(fit.k_sd) & np.isfinite(fit.s_sd) & (fit.k_sd > 0))
        np.testing.assert_allclose(fit.k, KNOWN["PBr7"].k, rtol=0.02)
        sds.append(float(np.median(fit.k_sd)))
    assert sds[0] < sds[1] < sds[2]


def test_a_cup_teaches_its_own_pigments_and_lots_of_a_kind_are_kin() -> None:
    """A cup that reads as if its umber were stronger: the forecast of umber moves that way, its other lot a part of the way, a pigment that was not in it not at all."""
    umber = KNOWN["PBr7"]
    stock = Stock(
        (Lot("PW6", WHITE), Lot("u1", umber), Lot("u2", umber), Lot("PY42", KNOWN["PY42"])),
        Base(),
        Prior(),
        Surface(),
    )
    known = Knowledge.fresh(stock)
    cup = Cup("one", (Pour("PW6", 20.0), Pour("u1", 6.0)))
    stronger = {"PW6": 20.0 / WHITE.density, "PBr7": 1.15 * 6.0 / umber.density}
    after = known.after(cup.seen(reading_of(stronger)))
    first, second = after.strength("u1")[0], after.strength("u2")[0]
    base = known.strength("u1")[0]
    assert first > second > base
    assert after.strength("PY42")[0] == pytest.approx(known.strength("PY42")[0], abs=1e-6)
    assert after.strength("u1")[1] < after.strength("u2")[1] < known.strength("u1")[1]
    assert stock_of([WHITE]).number("PW6") == 0
    with pytest.raises(Refusal, match="shelf"):
        stock.number("none")
    with pytest.raises(Refusal, match="same key"):
        Stock((Lot("a", WHITE), Lot("a", umber)), Base(), Prior(), Surface())
    assert WHITE.price >= Decimal(0)


def test_only_what_is_there_can_be_compared() -> None:
    """A cup that nobody poured, one after more pours than it had, a swatch nobody named: each is refused, and the last pour is not."""
    piece = {PIECE: Swatch.of([50.0, 5.0, 9.0], "photo")}
    cup = Cup("cup", (Pour("PW6", 20.0), Pour("PBr7", 2.0)))

    def job(one: CupAt | SwatchAt, two: CupAt | SwatchAt) -> Job:
        return Job(piece, (cup,), (Comparison(one, two, Words()),))

    for after in (1, 2):
        assert job(CupAt("cup", after), SwatchAt()).cup("cup") is cup
        assert job(SwatchAt(), CupAt("cup", after)).comparisons
    for wrong in (CupAt("cup", 3), CupAt("no cup", 1), SwatchAt("no swatch")):
        with pytest.raises(Refusal):
            job(wrong, SwatchAt())
        with pytest.raises(Refusal):
            job(CupAt("cup", 1), wrong)
    with pytest.raises(Refusal, match="with itself"):
        job(SwatchAt(), SwatchAt())
    with pytest.raises(Refusal):
        CupAt("cup", 0)
