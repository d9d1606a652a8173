"""What the colour pages promise, on seeded worlds: each sum is done again here from the pigments alone, without the code that is judged."""

from dataclasses import replace
from functools import cache
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from hidewright.colour.cups.adjust import Addition, AdjustProblem, Advice, adjust, as_if
from hidewright.colour.cups.estimate import estimate
from hidewright.colour.cups.memory import Memory
from hidewright.colour.cups.things import PIECE, Comparison, CupAt, Job, Swatch, SwatchAt
from hidewright.colour.cups.words import AXES, STRENGTHS, Word, Words
from hidewright.colour.learning.cup import Cup, Pour
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.lots import stock_of
from hidewright.colour.light.cie import delta_e00, lab, white, xyz_from_lab
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.pigment import Base
from hidewright.colour.reading.photo import KnownPatch, Patch, read_photo
from hidewright.colour.recipes.match import MatchProblem, match
from hidewright.colour.recipes.shift import lighter, more_neutral, toward
from hidewright.demo.make_colours import pigments as invented
from hidewright.refusals import Refusal

KNOWN = invented()
TINTS = sorted(key for key in KNOWN if key != "PW6")
K1, K2 = 0.04, 0.596
WORLDS = range(6)


def reading_of(volumes: dict[str, float]) -> np.ndarray:
    """What an instrument reads of an opaque mix: Kubelka and Munk 1931, Saunderson 1942, written out."""
    k = sum(v * KNOWN[key].k for key, v in volumes.items())
    s = sum(v * KNOWN[key].s for key, v in volumes.items())
    a = 1 + k / s
    inside = a - np.sqrt(a * a - 1)
    return np.asarray(K1 + (1 - K1) * (1 - K2) * inside / (1 - K2 * inside))


def off(volumes: dict[str, float], target: np.ndarray, light: str = "D65") -> float:
    """ΔE00 of a mix from a target."""
    return float(delta_e00(lab(reading_of(volumes), light), lab(target, light)))


class World:
    """A seeded cup, a little off its target, in a vessel that is nearly full or roomy."""

    def __init__(self, seed: int) -> None:
        rng = np.random.default_rng(1000 + seed)
        chosen = [str(key) for key in rng.choice(TINTS, 3, replace=False)]
        self.held = {"PW6": float(rng.uniform(6, 14)), **{k: float(rng.uniform(0.3, 4.0)) for k in chosen}}
        goal = {key: v * float(rng.uniform(0.75, 1.6)) for key, v in self.held.items()}
        self.target = reading_of(goal)
        pigment = sum(self.held.values())
        self.contents = Contents(self.held, pigment / float(rng.uniform(0.165, 0.199)) - pigment)
        self.vessel = self.contents.total * float(rng.choice([1.02, 1.1, 1.6]))
        self.balance = float(rng.choice([0.05, 0.1]))
        drops = np.random.default_rng(2000 + seed).uniform(0.03, 0.07, len(KNOWN) + 1)
        dropped = seed % 3 == 0
        density = {**{key: p.density for key, p in KNOWN.items()}, "base": Base().density}
        self.steps = (
            {key: float(drop) * density[key] for key, drop in zip(density, drops, strict=True)}
            if dropped
            else {}
        )
        doubt = {key: float(rng.uniform(0.02, 0.4)) for key in [*KNOWN, "base"]}

        def spread(grams: dict[str, float]) -> float:
            return 0.2 + sum(doubt[key] * mass for key, mass in grams.items())

        self.spread = spread
        self.problem = AdjustProblem(
            self.contents, self.target, list(KNOWN.values()), vessel_ml=self.vessel, step_g=self.balance, steps=self.steps, spread_of=spread,
        )  # fmt: skip

    def step(self, key: str) -> float:
        """g of a step of the balance, or of a drop of that bottle."""
        return self.steps.get(key, self.balance)

    def volumes(self, grams: dict[str, float]) -> dict[str, float]:
        """mL of each pigment after an addition."""
        found = dict(self.held)
        for key, mass in grams.items():
            if key != "base":
                found[key] = found.get(key, 0.0) + mass / KNOWN[key].density
        return found

    def total(self, addition: Addition) -> float:
        """mL in the vessel after an addition, base included."""
        density = {"base": Base().density, **{key: p.density for key, p in KNOWN.items()}}
        return self.contents.total + sum(mass / density[key] for key, mass in addition.grams.items())


@cache
def advised(seed: int) -> tuple[World, Advice]:
    """A world and what is advised in it."""
    world = World(seed)
    return world, adjust(world.problem)


def careful(addition: Addition) -> float:
    """ΔE00 to expect: what is left and half of half a step of a slip, and the forecast's own doubt at right angles to it."""
    return float(np.hypot(addition.delta_e + addition.drop / 4, addition.spread))


def test_the_worlds_ask_for_something() -> None:
    """Otherwise the promises below would hold of nothing."""
    assert sum(len(advised(seed)[1].additions) for seed in WORLDS) >= len(WORLDS)
    assert any("base" in a.grams for seed in WORLDS for a in advised(seed)[1].additions)


@pytest.mark.parametrize("seed", WORLDS)
def test_no_addition_runs_over_its_vessel_and_its_growth_is_what_is_poured(seed: int) -> None:
    world, advice = advised(seed)
    for addition in advice.additions:
        assert world.total(addition) <= world.vessel + 1e-6
        assert addition.growth == pytest.approx(world.total(addition) / world.contents.total - 1, abs=1e-5)


@pytest.mark.parametrize("seed", WORLDS)
def test_each_addition_does_what_it_says(seed: int) -> None:
    """Colour now and after every pour, what a step too many does and the pigment's share, summed again from what is poured."""
    world, advice = advised(seed)
    assert advice.now == pytest.approx(off(world.held, world.target), abs=1e-6)
    for addition in advice.additions:
        grams: dict[str, float] = {}
        for (key, mass), then in zip(addition.grams.items(), addition.path, strict=True):
            grams[key] = mass
            assert then == pytest.approx(off(world.volumes(grams), world.target), abs=2e-3)
        ended = world.volumes(addition.grams)
        assert addition.delta_e == addition.path[-1] < advice.now
        np.testing.assert_allclose(addition.reflectance, reading_of(ended), atol=2e-5)
        slips = [
            {**ended, key: ended[key] + world.step(key) / KNOWN[key].density}
            for key in addition.grams
            if key != "base"
        ]
        worst = max(float(delta_e00(lab(reading_of(slip)), lab(reading_of(ended)))) for slip in slips)
        assert addition.drop == pytest.approx(worst, abs=2e-3)
        assert addition.load == pytest.approx(sum(ended.values()) / world.total(addition), abs=1e-5)
        assert addition.spread == pytest.approx(world.spread(dict(addition.grams)))
        for key, mass in addition.grams.items():
            assert mass / world.step(key) == pytest.approx(max(1, round(mass / world.step(key))), abs=4e-3), (
                f"{key} on the balance's grid"
            )


@pytest.mark.parametrize("seed", WORLDS)
def test_base_is_poured_only_to_the_upper_end_of_the_window_and_no_further(seed: int) -> None:
    world, advice = advised(seed)
    upper = max(0.20, sum(world.held.values()) / world.contents.total)
    for addition in advice.additions:
        assert addition.load <= upper + 1e-9
        if "base" in addition.grams:
            a_step_less = world.total(addition) - world.step("base") / Base().density
            assert sum(world.volumes(dict(addition.grams)).values()) / a_step_less > upper - 1e-6, (
                "not a step too much"
            )


@pytest.mark.parametrize("seed", WORLDS)
def test_the_safest_is_never_riskier_and_the_fewest_never_more(seed: int) -> None:
    _, advice = advised(seed)
    named = {why: a for a in advice.additions for why in a.why.split(", ")}
    if not advice.additions:
        pytest.skip("nothing is to be added here")
    assert set(named) == {"least volume", "fewest pourings", "safest"}
    assert careful(named["safest"]) <= min(careful(a) for a in advice.additions) + 1e-9
    assert named["fewest pourings"].pourings <= min(
        a.pourings for a in advice.additions if careful(a) <= careful(named["least volume"]) + 1e-9
    )


@pytest.mark.parametrize("seed", WORLDS)
def test_the_strongest_pigment_is_poured_last(seed: int) -> None:
    """What is added least of is added last of the pigments: with it one drop hurts most, and the eye is on it."""
    _, advice = advised(seed)
    for addition in advice.additions:
        volumes = [mass / KNOWN[key].density for key, mass in addition.grams.items() if key != "base"]
        assert volumes == sorted(volumes, reverse=True)


def test_what_must_not_be_used_is_not_and_a_known_offset_is_steered_against() -> None:
    world, advice = advised(0)
    barred = frozenset(key for a in advice.additions for key in a.grams if key != "base")
    other = adjust(replace(world.problem, must_not_use=barred))
    assert not barred & {key for a in other.additions for key in a.grams}
    shifted = lab(world.target) - lab(reading_of(world.held))
    settled = adjust(replace(world.problem, offset=shifted))
    assert settled.stop, "read as on target already, though its forecast is not"
    assert settled.now == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_an_unknown_cup_is_taken_for_a_cup_of_its_colour_volume_and_load(seed: int) -> None:
    world = World(seed)
    read = reading_of(world.held)
    taken = as_if(read, 120.0, list(KNOWN.values()), load=0.18)
    assert taken.total == pytest.approx(120.0)
    assert sum(taken.volumes.values()) == pytest.approx(0.18 * 120.0)
    for light in ("D65", "A", "FL11"):
        assert off(dict(taken.volumes), read, light) < 0.1
    with pytest.raises(Refusal):
        as_if(read, 0.0, list(KNOWN.values()))


# What an eye says.

GRAMS = {"PW6": 20.0, "PBr7": 6.0, "PY42": 5.0, "PR101": 1.0, "base": 118.0}


@cache
def known() -> Knowledge:
    return Knowledge.fresh(stock_of(list(KNOWN.values())))


def along(colour: np.ndarray, word: str) -> float:
    """How far a colour lies in the direction that a word means: L*, a*, b*, or chroma."""
    measure = {"lighter": 0, "darker": 0, "redder": 1, "greener": 1, "yellower": 2, "bluer": 2}
    value = colour[measure[word]] if word in measure else float(np.hypot(colour[1], colour[2]))
    return float(value) * (-1.0 if word in ("darker", "greener", "bluer", "greyer") else 1.0)


@pytest.mark.parametrize("word", sorted(AXES))
def test_every_word_of_the_eye_moves_the_cup_its_own_way_of_the_target(word: str) -> None:
    """Said of the cup against a target that is taken for just its forecast: the cup is then believed to lie that way of it, further the stronger the word, at any strength."""
    cup = Cup("one", tuple(Pour(key, g) for key, g in GRAMS.items()))
    middle = known().forecast(GRAMS).lab()
    job = Job({PIECE: Swatch.of(middle, "photo")}, (cup,))
    steps = []
    for strength in STRENGTHS:
        look = Comparison(CupAt("one", len(cup.pours)), SwatchAt(), Words((Word(word, strength),)))
        now = estimate(job.seen(look), Memory.of(known()))
        here = now.slopes_of(cup, now.amounts(cup)[0][None])[0][0]
        steps.append(along(here, word) - along(now.target, word))
    assert min(steps) > 0.1
    assert steps == sorted(steps)
    same = Comparison(CupAt("one", len(cup.pours)), SwatchAt(), Words())
    now = estimate(job.seen(same), Memory.of(known()))
    np.testing.assert_allclose(now.slopes_of(cup, now.amounts(cup)[0][None])[0][0], now.target, atol=0.05)


# Shifts of a target.


@pytest.mark.parametrize("seed", WORLDS)
def test_a_shift_goes_where_it_says_and_no_other_way(seed: int) -> None:
    target, swatch = World(seed).target, World(seed + 50).target
    up, down = lighter(target, 3.0), lighter(target, -3.0)
    np.testing.assert_allclose(up.lab - lab(target), (3, 0, 0), atol=0.02)
    np.testing.assert_allclose(down.lab - lab(target), (-3, 0, 0), atol=0.02)
    grey = more_neutral(target, 0.25)
    np.testing.assert_allclose(grey.lab, lab(target) * (1, 0.75, 0.75), atol=0.03)
    half = toward(target, swatch, 0.5)
    np.testing.assert_allclose(half.lab, (lab(target) + lab(swatch)) / 2, atol=0.03)
    for shifted in (up, down, grey, half):
        assert np.all((shifted.reflectance > 0) & (shifted.reflectance < 1))
        for light, difference in shifted.delta_e.items():
            assert difference == pytest.approx(
                float(delta_e00(lab(shifted.reflectance, light), lab(target, light)))
            )
        assert max(shifted.delta_e.values()) < 3 * shifted.delta_e["D65"] + 1, (
            "it behaves alike under other lights"
        )


# Recipes.


def test_of_two_equal_recipes_the_one_that_minds_a_drop_less_stands_first() -> None:
    """A concentrate: thrice the K, S and price a mL of an ordinary dispersion, so the same colour at the same cost, but a drop of it does three times as much."""
    fair = KNOWN["PBr7"]
    strong = replace(
        fair, key="PBr7x3", name="Umber concentrate", k=3 * fair.k, s=3 * fair.s, price=3 * fair.price
    )
    target = reading_of({"PW6": 10, "PBr7": 3.0, "PY42": 2.0})
    found = match(
        MatchProblem(
            target,
            [KNOWN["PW6"], KNOWN["PY42"], fair, strong],
            step_g=0.001,
            must_use=frozenset({"PW6", "PY42"}),
            most=3,
            keep=8,
        )
    ).recipes
    rank = {frozenset(p.key for p in r.pigments): n for n, r in enumerate(found)}
    plain, keen = rank[frozenset({"PW6", "PY42", "PBr7"})], rank[frozenset({"PW6", "PY42", "PBr7x3"})]
    assert found[keen].delta_e["D65"] == pytest.approx(found[plain].delta_e["D65"], abs=0.02)
    assert found[keen].drop > 1.5 * found[plain].drop
    assert plain < keen


@pytest.mark.parametrize("seed", range(3))
def test_a_recipe_is_what_its_grams_come_to(seed: int) -> None:
    """Volumes, load, colour under each light, cost and what a drop does, summed again from the grams."""
    world = World(seed)
    for recipe in match(MatchProblem(world.target, list(KNOWN.values()), most=3, keep=3)).recipes:
        assert recipe.parts[-1].key == "base"
        assert sum(p.volume for p in recipe.parts) == pytest.approx(1000.0)
        volumes = {p.key: p.mass / KNOWN[p.key].density for p in recipe.pigments}
        assert recipe.load == pytest.approx(sum(volumes.values()) / 1000.0)
        assert 0.16 - 2e-3 <= recipe.load <= 0.20 + 2e-3
        for light, difference in recipe.delta_e.items():
            assert difference == pytest.approx(off(volumes, world.target, light), abs=1e-6)
        cost = (
            sum(float(KNOWN[key].price) * v for key, v in volumes.items())
            + float(Base().price) * recipe.parts[-1].volume
        )
        assert float(recipe.cost) == pytest.approx(cost, abs=0.02)
        drops = {
            key: float(
                delta_e00(lab(reading_of({**volumes, key: v + 0.05 * 1000 / 150})), lab(reading_of(volumes)))
            )
            for key, v in volumes.items()
        }
        assert recipe.drop == pytest.approx(max(drops.values()), abs=1e-6)
        assert drops[recipe.drop_of] == max(drops.values())
        masses = [p.mass for p in recipe.pigments]
        assert masses == sorted(masses, reverse=True)
        batch = recipe.scaled(250.0)
        assert sum(p.volume for p in batch) == pytest.approx(250.0, rel=5e-3)
        assert all(round(p.mass, 1) == p.mass for p in batch)


@pytest.mark.parametrize(
    ("axis", "sign", "word"),
    [
        (0, 1, "lighter"),
        (0, -1, "darker"),
        (1, 1, "redder"),
        (1, -1, "greener"),
        (2, 1, "yellower"),
        (2, -1, "bluer"),
    ],
)
def test_out_of_reach_is_said_the_right_way_round(axis: int, sign: int, word: str) -> None:
    """Two pigments reach one line of colours only: a target moved off it in one direction is said to lie that way."""
    known = [KNOWN["PW6"], KNOWN["PBr7"]]
    step = np.zeros(3)
    step[axis] = 9.0 * sign
    from hidewright.colour.recipes.shift import to_lab

    reached = reading_of({"PW6": 10, "PBr7": 8})
    target = to_lab(reached, lab(reached) + step).reflectance
    result = match(MatchProblem(target, known, most=2, keep=2))
    left = lab(target) - np.array(min(result.recipes, key=lambda r: r.delta_e["D65"]).labs["D65"])
    assert result.reachable == (min(r.delta_e["D65"] for r in result.recipes) <= 1.0)
    if result.reachable:
        assert result.outside == ""
    if not result.reachable and sign * left[axis] > 0.5:
        assert word in result.outside
    opposite = {"lighter": "darker", "redder": "greener", "yellower": "bluer"}
    opposite |= {b: a for a, b in opposite.items()}
    assert not (sign * left[axis] > 0.5 and opposite[word] in result.outside)


# Photos.

CARD = [
    (96, 0, 1),
    (66, 0, 0),
    (35, 0, 0),
    (42, 52, 28),
    (56, -38, 32),
    (30, 16, -44),
    (80, 4, 78),
    (52, 48, -14),
]
GREY = [(66, 0, 0)]


def photo(
    colours: list[tuple[float, float, float]], gain: float = 0.8, shade: float = 0.0, turn: int = 1
) -> bytes:
    """A PNG of patches side by side as an even camera sees them; `shade` darkens it from left to right by that share, `turn` is how EXIF says it must be turned."""
    rgb = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) * 100
    light = xyz_from_lab(np.array(colours, dtype=float), white("D65", "2")) @ np.linalg.inv(rgb).T * gain
    strip = np.repeat(np.clip(light, 0, 1), 60, axis=0)[None].repeat(90, axis=0)
    strip = strip * np.linspace(1, 1 - shade, strip.shape[1])[None, :, None]
    coded = np.where(strip <= 0.0031308, 12.92 * strip, 1.055 * strip ** (1 / 2.4) - 0.055)
    picture = Image.fromarray((coded * 255).round().astype(np.uint8))
    back = {
        3: Image.Transpose.ROTATE_180,
        6: Image.Transpose.ROTATE_90,
        8: Image.Transpose.ROTATE_270,
        2: Image.Transpose.FLIP_LEFT_RIGHT,
    }
    if turn in back:
        picture = picture.transpose(back[turn])
    facts = Image.Exif()
    facts[0x0112] = turn
    out = BytesIO()
    picture.save(out, "PNG", exif=facts)
    return out.getvalue()


def places(count: int) -> list[Patch]:
    part = 1 / count
    return [Patch((n + 0.2) * part, 0.1, (n + 0.8) * part, 0.9) for n in range(count)]


@pytest.mark.parametrize("turn", [1, 2, 3, 6, 8])
def test_a_turned_photo_is_read_upright(turn: int) -> None:
    """However the phone was held, the same patches give the same colour."""
    leather = (48.0, 12.0, 20.0)
    at = places(len(CARD) + 1)
    known_patches = [KnownPatch(p, np.array(c)) for p, c in zip(at, CARD, strict=False)]
    found = read_photo(photo([*CARD, leather], turn=turn), at[-1], known_patches)
    assert found.reading.colour is not None
    assert float(delta_e00(found.reading.colour.lab, np.array(leather))) < 1.0
    assert found.residual < 1.0
    assert str(len(CARD)) in found.method


@pytest.mark.parametrize("gain", [0.5, 0.7, 0.85])
def test_a_grey_card_alone_sets_the_light_whatever_the_exposure(gain: float) -> None:
    leather = (40.0, 9.0, 14.0)
    at = places(2)
    found = read_photo(photo([*GREY, leather], gain=gain), at[1], [KnownPatch(at[0], np.array(GREY[0]))])
    assert found.reading.colour is not None
    assert float(delta_e00(found.reading.colour.lab, np.array(leather))) < 1.0
    card = read_photo(
        photo([*CARD, leather], gain=gain),
        places(9)[-1],
        [KnownPatch(p, np.array(c)) for p, c in zip(places(9), CARD, strict=False)],
    )
    assert card.reading.colour is not None
    assert np.trace(card.reading.colour.covariance) < np.trace(found.reading.colour.covariance), (
        "a card of patches is surer"
    )
    assert np.sqrt(np.trace(card.reading.colour.covariance) / 3) > 1.0, "and still a phone"


def test_uneven_light_and_what_is_no_card_are_refused_with_the_reason() -> None:
    leather = (48.0, 12.0, 20.0)
    greys = [(66, 0, 0), leather, (66, 0, 0)]
    at = places(3)
    cards = [KnownPatch(at[0], np.array(greys[0])), KnownPatch(at[2], np.array(greys[2]))]
    read_photo(photo(greys), at[1], cards)
    with pytest.raises(Refusal, match="differs across"):
        read_photo(photo(greys, shade=0.4), at[1], cards)
    wide = Patch(0.0, 0.1, 1.0, 0.9)
    with pytest.raises(Refusal, match="unevenly lit"):
        read_photo(photo([(66, 0, 0)] * 3, shade=0.4), wide, cards[:1])
    with pytest.raises(Refusal, match="grey card"):
        read_photo(photo(greys), at[1], [])
    with pytest.raises(Refusal, match="neutral grey"):
        read_photo(photo([leather] * 3), at[1], [KnownPatch(at[0], np.array(leather))])
    with pytest.raises(Refusal, match="clipped"):
        read_photo(photo(greys, gain=3.0), at[1], cards)
    swapped = [KnownPatch(p, np.array(c)) for p, c in zip(places(9), [*CARD[::-1]], strict=False)]
    with pytest.raises(Refusal, match=r"differs across|wrong"):
        read_photo(photo([*CARD, leather]), places(9)[-1], swapped)
