"""First cups, next pours and what to do now: every figure summed a second time, and every choice beside the rule that is written down for it."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from hidewright.colour.cups.advice import advise, looks_at
from hidewright.colour.cups.estimate import Estimate, estimate
from hidewright.colour.cups.fresh import FreshCup, fresh_cup
from hidewright.colour.cups.looks import Looks
from hidewright.colour.cups.memory import Memory
from hidewright.colour.cups.own import FAMILIES, family, leftover_lot, mix_of
from hidewright.colour.cups.pours import Allowed, NextPour, Pourer, Table
from hidewright.colour.cups.things import PIECE, Comparison, CupAt, Difference, Job, Swatch, SwatchAt
from hidewright.colour.cups.words import Word, Words, axes_at
from hidewright.colour.learning.cup import Cup, Pour
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.lots import USUAL, Lot, Stock
from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.light.local import metric
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.generic import generic_set
from hidewright.colour.pigments.pigment import Base
from hidewright.colour.pigments.wet import Milk
from hidewright.refusals import Refusal
from own_films import KNOWN

KEYS = ("PW6", "PBr7", "PY42", "PBk7")
JAR = replace(KNOWN["PBr7"], key="J1", name="Jar", k=0.2 * KNOWN["PBr7"].k, s=0.2 * KNOWN["PBr7"].s, load=0.2)
STOCK = Stock((*(Lot(key, KNOWN[key], 2.0) for key in KEYS), Lot("J1", JAR)), Base(), USUAL, Surface())
MEMORY = Memory.of(Knowledge.fresh(STOCK))
DENSITY = np.array([lot.pigment.density for lot in STOCK.lots])
LOADS = np.array([1.0, 1.0, 1.0, 1.0, 0.2])
CUP = Cup("cup", (Pour("PW6", 20.0), Pour("PBr7", 3.0), Pour("PY42", 2.0), Pour("base", 62.0)))
AIM = MEMORY.knowledge.forecast({"PW6": 20.0, "PBr7": 5.0, "PY42": 2.0, "PBk7": 0.1, "base": 70.0}).lab()
HERE = CupAt("cup", 4)


def job(*looks: Comparison, cups: tuple[Cup, ...] = (CUP,), spread: float = 2.0) -> Job:
    return Job({PIECE: Swatch.of(AIM, "photo", spread)}, cups, looks)


def say(*words: tuple[str, str], wet: bool = False, at: CupAt = HERE) -> Comparison:
    return Comparison(at, SwatchAt(), Words(tuple(Word(*w) for w in words)), wet)


@cache
def found() -> Estimate:
    return estimate(job(say(("lighter", "clearly"))), MEMORY)


@cache
def pourer() -> Pourer:
    return Pourer(found(), CUP, Table(steps={"PBk7": 0.02, "base": 0.5}, vessel_ml=130.0))


def own_trace(labs: np.ndarray, slopes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Squared ΔE00 of the expected colour, and of (cup − target) about it, one mix after the other."""
    means, traces = [], []
    m = metric(found().target)
    for colour, slope in zip(labs, slopes, strict=True):
        means.append(float(delta_e00(colour, found().target)))
        turn = m @ (slope - found().target_slopes())
        traces.append(float(np.trace(turn @ found().covariance @ turn.T)))
    return np.array(means), np.array(traces)


AMOUNTS = np.array(
    [[0, 0, 0, 0, 0], [0, 1.5, 0, 0, 0], [0, 1.5, 0, 0.05, 0], [4.0, 0, 0, 0, 6.0]], dtype=float
)


def test_base_is_added_up_to_the_windows_upper_end_and_counts_as_growth() -> None:
    """Pigment by the share that counts as such (a jar's fifth), over a fifth of the whole; a cup above its window is only kept from rising."""
    here = pourer()
    held = np.array([20.0, 3.0, 2.0, 0.0, 0.0]) / DENSITY * np.exp(0)
    np.testing.assert_allclose(here.held, held, rtol=0.05)
    pigment, base = here.held @ LOADS, here.base_ml
    assert here.total == pytest.approx(here.held.sum() + base)
    upper = max(0.20, pigment / here.total)
    told = [max((pigment + a @ LOADS) / upper - here.total - a.sum(), 0.0) for a in AMOUNTS]
    np.testing.assert_allclose(here.base_for(AMOUNTS), told, atol=1e-12)
    np.testing.assert_allclose(here.growth(AMOUNTS), (AMOUNTS.sum(axis=1) + told) / here.total, atol=1e-12)
    assert told[0] == 0.0 < told[1]
    narrow = Pourer(found(), CUP, Table(load=(0.05, 0.1)))
    more = narrow.base_for(AMOUNTS)[1]
    assert (pigment + 1.5) / (narrow.total + 1.5 + more) == pytest.approx(max(0.1, pigment / narrow.total))


def test_the_score_is_the_sum_that_is_written_down() -> None:
    """(mean ΔE00)² + .6 × trace + 2 × growth + .05 a bottle and .05 more for one that is not in the cup yet."""
    here = pourer()
    mean, trace, score = here.judged(AMOUNTS)
    labs, slopes = found().slopes_of(CUP, here.held + AMOUNTS)
    own_mean, own = own_trace(labs, slopes)
    np.testing.assert_allclose(mean, own_mean)
    np.testing.assert_allclose(trace, own)
    bottles = np.array([0.0, 0.05, 0.05 + 0.1, 0.05 + 0.1])
    np.testing.assert_allclose(score, own_mean**2 + 0.6 * own + 2.0 * here.growth(AMOUNTS) + bottles)
    thrifty = Pourer(found(), CUP, here.table, 0.2)
    np.testing.assert_allclose(thrifty.judged(AMOUNTS)[2], own_mean**2 + 0.6 * own + 0.2 * (2.0 * here.growth(AMOUNTS) + bottles))  # fmt: skip
    now = here.now()
    assert (now.mean, now.spread, now.score) == pytest.approx((mean[0], np.sqrt(trace[0]), score[0]))
    assert (now.growth, dict(now.grams)) == (0.0, {})
    assert now.load == pytest.approx(here.held @ LOADS / here.total)
    assert now.expected == pytest.approx(np.hypot(mean[0], np.sqrt(trace[0])))


@pytest.mark.parametrize("pull", [0.5, 2.0])
def test_amounts_are_solved_to_where_no_small_change_is_better(pull: float) -> None:
    """Squared distance through the local metric and the price of volume: 2 % more or less of either bottle does not lower it."""
    here = pourer()
    sets = np.array([[0, 1], [1, 3], [1, 2]])
    own = here.solved(sets, pull, rounds=30)

    def cost(amounts: np.ndarray) -> np.ndarray:
        wide = np.zeros((3, 5))
        np.put_along_axis(wide, sets, amounts, axis=1)
        off = (found().palette.labs(here.held + wide) - here.plain) @ metric(here.aim).T
        return np.asarray(np.square(off).sum(axis=1) + pull * amounts.sum(axis=1) / here.total)

    least = cost(own)
    assert np.all(least <= cost(np.full((3, 2), 1e-6)))
    for times in ([1.02, 1], [0.98, 1], [1, 1.02], [1, 0.98]):
        assert np.all(cost(own * times) >= least - 1e-5)


@pytest.mark.parametrize("most", [1, 2, 3])
def test_as_many_bottles_are_tried_together_as_may_be_poured(most: int) -> None:
    amounts, dose = Pourer(found(), CUP, Table(most=most)).candidates()
    assert set((amounts > 0).sum(axis=1).tolist()) == set(range(1, most + 1))
    assert set(np.unique(dose)) == {0.4, 0.55, 0.7, 0.85, 1.0}


def test_a_cups_own_reading_is_one_of_a_jobs_looks() -> None:
    """Read by an instrument, the cup is believed to look as it reads, and more surely than before; a reading struck out tells nothing."""
    read = MEMORY.knowledge.forecast(dict(CUP.grams)).reflectance * 0.97
    plain = estimate(job(), MEMORY)
    for cup, near in ((CUP.seen(read), True), (CUP.seen(read).struck(0), False)):
        told = estimate(job(cups=(cup,)), MEMORY)
        colour, slopes = told.slopes_of(cup, told.amounts(cup)[0][None])
        dry = float(delta_e00(colour[0] - told.film, lab(read)))
        assert (dry < 0.1) is near
        assert bool(np.trace(told.covariance) < np.trace(plain.covariance) - 1.0) is near
        assert slopes.shape == (1, 3, told.layout.size)


def test_what_is_offered_is_the_best_of_its_kind_and_says_what_it_comes_to() -> None:
    """Sorted by score, every set of bottles once; whole steps, base rounded up onto its own; growth, load, mean and spread summed again from the grams."""
    here = pourer()
    offers = here.options(4)
    assert len(offers) == 4
    assert [o.score for o in offers] == sorted(o.score for o in offers)
    assert len({frozenset(set(o.grams) - {"base"}) for o in offers}) == 4
    for offer in offers:
        amounts = np.array([offer.grams.get(key, 0.0) for key in (*KEYS, "J1")]) / DENSITY
        mean, trace, score = (float(v[0]) for v in here.judged(amounts[None]))
        assert (offer.mean, offer.spread, offer.score) == pytest.approx(
            (mean, np.sqrt(trace), score), rel=1e-3
        )
        base = float(here.base_for(amounts[None])[0]) * 1.03
        poured = offer.grams.get("base", 0.0)
        assert poured / 0.5 == pytest.approx(np.ceil(base / 0.5 - 1e-3))
        added = amounts.sum() + poured / 1.03
        assert offer.growth == pytest.approx(added / here.total, abs=1e-5)
        assert offer.load == pytest.approx((here.held + amounts) @ LOADS / (here.total + added), abs=1e-5)
        for key, grams in offer.grams.items():
            step = {"PBk7": 0.02, "base": 0.5}.get(key, 0.05)
            assert grams / step == pytest.approx(round(grams / step), abs=1e-6)
        order = [grams / KNOWN[key].density for key, grams in offer.grams.items() if key in KNOWN]
        assert order == sorted(order, reverse=True)
        assert here.total * (1 + offer.growth) <= 130.0 + 0.5
    single = here.options(9, lambda used, whole: bool(used.sum() == 1))  # type: ignore[arg-type]
    assert {len(set(o.grams) - {"base"}) for o in single} == {1}
    grid = here.candidates()[0]
    for offer in single:
        which = next(n for n, key in enumerate((*KEYS, "J1")) if key in offer.grams)
        alone = grid[(grid > 0).sum(axis=1) == 1]
        mine = alone[alone[:, which] > 0]
        assert offer.score == pytest.approx(here.judged(mine)[2].min())


@pytest.mark.parametrize("aim", [(28.0, 1.2, -1.7), (35.0, 10.0, 8.0)])
def test_a_held_back_dose_of_bottles_hardly_known_is_found(aim: tuple[float, float, float]) -> None:
    """A dark cup of generic bottles that looks clearly darker than its piece: what is offered is as good as the best of all amounts on the grid, judged one and all, and is poured."""
    lots = tuple(Lot(one.pigment.key, one.pigment, 4.0) for one in generic_set())
    cup = Cup("cup", (Pour("PV23", 9.8), Pour("PBk11", 0.4), Pour("base", 139.5)))
    look = say(("darker", "clearly"), at=CupAt("cup", 3))
    dark = Job({PIECE: Swatch.of(aim, "photo")}, (cup,), (look, look))
    now = estimate(dark, Memory.of(Knowledge.fresh(Stock(lots, Base(), USUAL, Surface()))))
    here = Pourer(now, cup, Table())
    best = float(here.judged(here.candidates()[0])[2].min())
    assert here.options(1)[0].score == pytest.approx(best, rel=0.02)
    assert best < here.now().score - 0.05
    assert advise(now, cup).act == "pour"


@pytest.mark.parametrize(("vague", "whole", "new", "fits"), [(True, True, 3, False), (True, True, 2, True), (True, False, 3, True), (False, True, 3, True)])  # fmt: skip
def test_a_whole_dose_of_three_new_bottles_wants_more_than_vague_words(vague: bool, whole: bool, new: int, fits: bool) -> None:  # fmt: skip
    held = np.array([5.0, 0.0, 0.0, 0.0])
    used = np.array([True, new >= 1, new >= 2, new >= 3])
    assert Allowed(held, vague=vague)(used, whole) is fits


@pytest.mark.parametrize(
    ("field", "good", "bad"),
    [("step_g", [1e-4, 1000.0], [0.9e-4, 1001.0]), ("vessel_ml", [0.1, 1e9], [0.09, 1.1e9]), ("most", [1, 3], [0, 4]), ("load", [(0.01, 0.99), (0.2, 0.2)], [(0.0, 0.2), (0.3, 0.2), (0.2, 1.0)])],
)  # fmt: skip
def test_a_table_has_its_limits(field: str, good: list[object], bad: list[object]) -> None:
    for value in good:
        assert getattr(Table(**{field: value}), field) == value  # type: ignore[arg-type]
    for value in bad:
        with pytest.raises(Refusal):
            Table(**{field: value})  # type: ignore[arg-type]
    with pytest.raises(Refusal):
        Table(steps={"PW6": 0.0})
    with pytest.raises(Refusal, match="Nothing may be added"):
        Pourer(found(), CUP, Table(must_not_use=frozenset({*KEYS, "J1"})))


# A first cup.


@cache
def first(wet: bool = False, barred: frozenset[str] = frozenset()) -> FreshCup:
    table = Table(steps={"PBk7": 0.01, "base": 0.2}, wet=wet, must_not_use=barred)
    return fresh_cup(estimate(job(cups=()), MEMORY), 200.0, table)


@pytest.mark.parametrize(("wet", "share"), [(False, 0.4), (True, 0.6)])
def test_a_first_cup_is_lean_on_the_grid_and_weighs_what_is_asked(wet: bool, share: float) -> None:
    """Four tenths of the window's least load, six where looks are made wet; whole steps; the base makes up the rest."""
    cup = first(wet)
    assert cup.load == pytest.approx(share * 0.16, rel=0.01)
    assert sum(cup.grams.values()) == pytest.approx(200.0, abs=0.1)
    assert list(cup.grams)[-1] == "base"
    amounts = {key: g / (1.03 if key == "base" else dict(zip((*KEYS, "J1"), DENSITY, strict=True))[key]) for key, g in cup.grams.items()}  # fmt: skip
    pigment = sum(v * (0.2 if key == "J1" else 1.0) for key, v in amounts.items() if key != "base")
    assert cup.load == pytest.approx(pigment / sum(amounts.values()))
    for key, grams in cup.grams.items():
        step = {"PBk7": 0.01, "base": 0.2}.get(key, 0.05)
        assert grams / step == pytest.approx(round(grams / step), abs=1e-6)
    volumes = [v for key, v in amounts.items() if key != "base"]
    assert volumes == sorted(volumes, reverse=True)


def test_what_a_first_cup_and_its_target_share_cancels() -> None:
    """After an instrument has held another cup of the same bottles against the piece, target and bottles are known together: the spread of their difference, not of either."""
    seen = Comparison(HERE, SwatchAt(), Difference(np.array([2.0, 0, 0]), 0.01 * np.eye(3), "instrument"))
    believed = estimate(job(seen, spread=6.0), MEMORY)
    cup = fresh_cup(believed, 200.0)
    amounts = np.array([[cup.grams.get(key, 0.0) for key in (*KEYS, "J1")]]) / DENSITY
    _, slopes = believed.slopes_of(None, amounts)
    turn = metric(believed.target) @ (slopes[0] - believed.target_slopes())
    assert cup.spread == pytest.approx(np.sqrt(np.trace(turn @ believed.covariance @ turn.T)))
    apart = estimate(job(cups=(), spread=6.0), MEMORY)
    assert cup.spread < 0.8 * fresh_cup(apart, 200.0).spread


def test_a_first_cup_says_what_is_expected_of_it_and_leaves_bottles_alone() -> None:
    """Mean and spread again from what is believed; a bottle that must not be used is not."""
    believed = estimate(job(cups=()), MEMORY)
    cup = first()
    amounts = np.array([[cup.grams.get(key, 0.0) for key in (*KEYS, "J1")]]) / DENSITY
    labs, slopes = believed.slopes_of(None, amounts)
    turn = metric(believed.target) @ (slopes[0] - believed.target_slopes())
    assert cup.mean == pytest.approx(float(delta_e00(labs[0], believed.target)), abs=1e-6)
    assert cup.spread == pytest.approx(np.sqrt(np.trace(turn @ believed.covariance @ turn.T)))
    assert cup.expected == pytest.approx(np.hypot(cup.mean, cup.spread))
    without = first(barred=frozenset({"PBr7"}))
    assert "PBr7" not in without.grams
    # fewer bottles are better than more where they come as near: what is chosen is not beaten by leaving one out
    score = cup.mean**2 + 0.6 * cup.spread**2 + 0.1 * np.count_nonzero(amounts)
    for barred in set(cup.grams) - {"base"}:
        other = first(barred=frozenset({barred}))
        count = len(other.grams) - 1
        assert score <= other.mean**2 + 0.6 * other.spread**2 + 0.1 * count + 1e-6


@pytest.mark.parametrize(("grams", "fits"), [(0.5, True), (1e6, True), (0.49, False), (1.1e6, False)])
def test_a_first_cup_is_from_half_a_gram_to_a_tonne(grams: float, fits: bool) -> None:
    believed = estimate(job(cups=()), MEMORY)
    table = Table(must_not_use=frozenset({"PY42", "PBk7", "J1"}), step_g=0.001)
    if fits:
        assert sum(fresh_cup(believed, grams, table).grams.values()) == pytest.approx(grams, abs=0.01)
    else:
        with pytest.raises(Refusal, match="cannot be"):
            fresh_cup(believed, grams, table)
    with pytest.raises(Refusal, match="No bottle"):
        fresh_cup(believed, 100.0, Table(must_not_use=frozenset({*KEYS, "J1"})))


# What to do now.


def act(*looks: Comparison, cup: Cup = CUP, spread: float = 2.0, table: Table | None = None) -> str:
    return advise(estimate(job(*looks, cups=(cup,), spread=spread), MEMORY), cup, table).act


def device(size: float, wet: bool = False) -> Comparison:
    return Comparison(HERE, SwatchAt(), Difference(np.array([size, 0.0, 0.0]), 0.04 * np.eye(3)), wet)


def test_a_device_calls_it_the_same_below_seven_tenths() -> None:
    """Two dry looks end it where they call it the same, and do not where one still differs."""
    near = Cup("cup", (Pour("PW6", 20.0), Pour("PBr7", 5.0), Pour("PY42", 2.0), Pour("PBk7", 0.1)))
    assert act(device(0.69), device(0.69), cup=near) == "done"
    assert act(device(0.69), device(0.71), cup=near) != "done"
    assert act(device(0.71), device(0.69), cup=near) in ("done", "look again")


def test_only_looks_at_this_cup_as_it_is_against_the_target_count() -> None:
    """An earlier state, another thing, and a look struck out are not what is seen now; either side may be named first."""
    same = say()
    turned = replace(same, a=same.b, b=same.a)
    others = (say(at=CupAt("cup", 3)), replace(same, struck=True))
    believed = estimate(job(same, *others, turned), MEMORY)
    assert looks_at(believed, CUP) == [same, turned]
    assert act(*others) == "look"
    assert act(same, turned) == "done"


def test_the_same_wet_is_looked_at_dry_and_three_dry_looks_are_enough() -> None:
    assert act(say(wet=True)) == "look dry"
    everything = Table(vessel_ml=10.0)  # no pour fits
    differs = say(("redder", "a touch"))
    assert act(differs, table=everything) == "look again"
    assert act(differs, differs, table=everything) == "look again"
    assert act(differs, differs, differs, table=everything) == "done"
    wet = say(("redder", "a touch"), wet=True)
    assert act(differs, differs, wet, table=everything) == "look dry"


def test_a_pour_is_advised_where_it_takes_a_twentieth_off_and_what_is_said_is_what_is_believed() -> None:
    """Every pour advised scores a twentieth better than the cup as it is; the words of an end say within how much."""
    believed = estimate(job(say(("lighter", "clearly")), say(("lighter", "clearly"))), MEMORY)
    told = advise(believed, CUP)
    now = Pourer(believed, CUP, Table()).now()
    assert told.act == "pour"
    assert all(pour.score < now.score - 0.05 for pour in told.pours)
    assert (told.within, told.now) == pytest.approx((now.expected, now.mean))
    near = Cup("cup", (Pour("PW6", 20.0), Pour("PBr7", 5.0), Pour("PY42", 2.0), Pour("PBk7", 0.1)))
    end = advise(estimate(job(say(), say(), cups=(near,)), MEMORY), near)
    assert (end.act, f"±{end.within:.1f}" in end.words) == ("done", True)


def test_a_cup_that_would_double_is_begun_afresh() -> None:
    """A black cup for a tan piece: what would bring it there is more than a cup, so that a fresh one is advised, and shown."""
    black = Cup("cup", (Pour("PW6", 2.0), Pour("PBk7", 3.0), Pour("PY42", 0.5), Pour("base", 20.0)))
    told = advise(estimate(job(say(("darker", "far off")), cups=(black,), spread=1.0), MEMORY), black)
    assert told.act == "afresh"
    assert told.fresh is not None
    assert told.pours[0].growth > 1.0
    assert f"{told.pours[0].growth:.0%}" in told.words
    assert sum(told.fresh.grams.values()) == pytest.approx(black.mass, abs=0.1)


def test_wet_looks_are_seen_through_the_milk_that_is_given() -> None:
    """A wet difference that is just what a milkier base makes of a cup tells nothing new by that base, and moves the belief by the usual one."""
    milky, lean = Milk(0.06, 1.5), CUP.poured([Pour("base", 80.0)])
    at, piece = CupAt("cup", 5), {PIECE: Swatch.of(AIM, "photo", 2.0)}
    wet = Comparison(at, SwatchAt(), Difference(np.zeros(3), 0.04 * np.eye(3), "instrument"), wet=True)
    every = Looks(Job(piece, (lean,), (wet,)), STOCK, milky)
    axes = axes_at(metric(AIM))
    rows = np.array([axes[name] for name in ("lightness", "red", "yellow")])
    delta = np.linalg.solve(rows, every.at(np.zeros(every.layout.size)).forecasts)
    told = Job(piece, (lean,), (replace(wet, seen=replace(wet.seen, delta=delta)),))  # type: ignore[type-var]
    assert np.abs(estimate(told, MEMORY, milky).mean).max() < 1e-6
    assert np.abs(estimate(told, MEMORY).mean).max() > 0.05


# A cup of one's own.


def test_a_family_is_its_middle_give_or_take_its_sd() -> None:
    for word, (middle, sd) in FAMILIES.items():
        one = family(word)
        np.testing.assert_allclose(one.lab, middle)
        np.testing.assert_allclose(one.covariance, np.diag(np.square(sd)))
        assert one.source == f"{word}, a guess"
        assert middle[0] - 2 * sd[0] > 0
        assert middle[0] + 2 * sd[0] <= 100


def test_a_cup_of_ones_own_is_counted_by_what_is_pigment_in_it() -> None:
    """A jar counts by its share; base, paint and pigment to add follow from the window's two ends."""
    cup = Cup("own", (Pour("PW6", 12.0), Pour("J1", 24.0), Pour("base", 20.6)))
    mix = mix_of(MEMORY.knowledge, cup, Table(step_g=0.001))
    white, jar = 12.0 / KNOWN["PW6"].density, 24.0 / KNOWN["PBr7"].density
    pigment, total = white + 0.2 * jar, white + jar + 20.0
    assert (mix.load, mix.millilitres) == pytest.approx((pigment / total, total))
    assert mix.makes_ml == pytest.approx((pigment / 0.20, pigment / 0.16))
    base = [max(pigment / share - total, 0.0) * 1.03 for share in (0.20, 0.16)]
    assert mix.base_g == pytest.approx(tuple(base))
    assert mix.inside is (0.16 <= pigment / total <= 0.20)
    lean = mix_of(MEMORY.knowledge, cup.poured([Pour("base", 60.0)]), Table(step_g=0.001))
    assert lean.base_g == (0.0, 0.0)
    more = {key: g / (12.0 if key == "PW6" else 24.0) for key, g in lean.pigment_g.items()}
    assert more["PW6"] == pytest.approx(more["J1"], rel=1e-3)
    f, whole = more["PW6"], total + 60.0 / 1.03
    assert pigment * (1 + f) / (whole + f * (white + jar)) == pytest.approx(0.16, rel=1e-3)
    rich = mix_of(MEMORY.knowledge, Cup("own", (Pour("PW6", 12.0),)))
    assert (rich.load, rich.inside, dict(rich.pigment_g)) == (1.0, False, {})
    thin = Cup("own", (Pour("J1", 10.0), Pour("base", 50.0)))
    wants = mix_of(MEMORY.knowledge, thin, Table(load=(0.25, 0.3)))
    assert dict(wants.pigment_g) == {}, "no amount of a jar of a fifth lifts a cup to a quarter"
    with pytest.raises(Refusal, match="no pigment"):
        mix_of(MEMORY.knowledge, Cup("own", (Pour("base", 5.0),)))


def test_a_leftover_looks_like_what_it_looked_whatever_its_strength() -> None:
    """Its K and S give its own colour, it scatters as said, and it is five times as doubtful as a drawn-down pigment."""
    lot = leftover_lot("left", [45.0, 10.0, 20.0], load=0.3, density=1.3)
    pigment = lot.pigment
    assert (lot.spread, pigment.load, pigment.density, pigment.key) == (5.0, 0.3, 1.3, "left")
    np.testing.assert_allclose(pigment.s, 0.3)
    a = 1 + pigment.k / pigment.s
    r = a - np.sqrt(a * a - 1)
    read = 0.04 + 0.96 * 0.404 * r / (1 - 0.596 * r)
    np.testing.assert_allclose(lab(read), [45.0, 10.0, 20.0], atol=0.05)


def test_a_pour_expects_what_its_parts_come_to() -> None:
    assert NextPour({}, 0.3, 0.4, 0.0, 0.2, 0.0).expected == pytest.approx(0.5)
    assert FreshCup({}, 0.6, 0.8, 0.2).expected == pytest.approx(1.0)
