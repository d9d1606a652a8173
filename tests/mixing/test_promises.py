"""What the bench promises, on seeded worlds: gun loads that fit, top-ups with the least seam, steps that balance. Counted again here by hand."""

import random
from datetime import UTC, date, datetime, timedelta

import pytest

from hidewright.mixing import Ledger, MixPart, MixRecipe, Vessel, VesselKind, acts
from hidewright.mixing.amounts import microlitres, microlitres_of_mass
from hidewright.mixing.grain import balance_grains
from hidewright.mixing.guide import mass_in, steps
from hidewright.mixing.jars import jar_state, keep_until
from hidewright.mixing.ledger import volume
from hidewright.mixing.needed import still_needed
from hidewright.mixing.portions import Clock, PotLife, Session, crosslink_now, crosslinker_for, gun_loads
from hidewright.mixing.recipe import pouring_order, recipe_of
from hidewright.mixing.topup import Part, plan_top_up, runs_short
from hidewright.refusals import Refusal

WORLDS = range(40)


@pytest.mark.parametrize("seed", WORLDS)
def test_a_gun_load_fits_the_cup_with_its_crosslinker_and_is_sprayed_before_the_warning(seed: int) -> None:
    """Crosslinker takes room in the gun's cup, and is no colour: the colour of all loads is what the session sprays."""
    rng = random.Random(f"loads {seed}")
    wanted, cup, pace = rng.uniform(20, 3000), rng.uniform(100, 900), rng.uniform(4, 60)
    ratio, life = rng.choice((0.0, 0.02, 0.05, 0.3)), rng.choice((None, 20.0, 60.0, 480.0))
    loads = gun_loads(wanted, gun_cup=cup, ml_per_minute=pace, ratio=ratio, pot_life=life)
    assert sum(load.colour for load in loads) == pytest.approx(wanted)
    for load in loads:
        assert load.colour + load.crosslinker <= cup + 1e-6
        assert load.crosslinker == pytest.approx(ratio * load.colour)
        assert load.minutes == pytest.approx(load.colour / pace)
        assert life is None or load.minutes <= 0.75 * life + 1e-6
    fewer = len(loads) - 1
    if fewer:
        each = wanted / fewer
        assert each * (1 + ratio) > cup - 1e-6 or (life is not None and each / pace > 0.75 * life - 1e-6), (
            "one load less does not fit"
        )
    with pytest.raises(Refusal):
        gun_loads(wanted, gun_cup=cup, ml_per_minute=0.01, ratio=ratio, pot_life=10.0)


def test_crosslinker_is_measured_by_the_colour_and_only_for_what_is_sprayed() -> None:
    assert crosslinker_for(500_000, 0.03) == 15_000
    for ratio in (0.0, -0.1, 1.01):
        with pytest.raises(Refusal):
            crosslinker_for(1000, ratio)
    day = [Session("Front", 300.0), Session("Back", 250.0)]
    assert crosslink_now(day, 0, 450.0, keep_back=120.0) == 300.0
    assert crosslink_now(day, 1, 370.0, keep_back=120.0) == 250.0
    with pytest.raises(Refusal, match="1 mL short"):
        crosslink_now(day, 1, 369.0, keep_back=120.0)


@pytest.mark.parametrize("minutes", [12.0, 30.0, 60.0, 480.0])
def test_the_clock_warns_in_the_last_quarter_and_ten_minutes_ahead_at_least(minutes: float) -> None:
    began = datetime(2026, 3, 2, 9, tzinfo=UTC)
    life = PotLife(began, minutes)
    ahead = max(10.0, minutes / 4)
    moments = [0.0, minutes - ahead - 0.1, minutes - ahead + 0.1, minutes - 0.1, minutes + 0.1]
    seen = [life.clock(began + timedelta(minutes=m)) for m in moments]
    assert seen == [Clock.RUNNING, Clock.RUNNING, Clock.ENDING, Clock.ENDING, Clock.OVER]
    assert life.left(began + timedelta(minutes=minutes - 3)) == timedelta(minutes=3)
    assert life.left(began + timedelta(days=9)) == timedelta(0)


BATCH = MixRecipe("Batch", (MixPart("base", "Base", 0.82, 1.03), MixPart("white", "White", 0.18, 1.95)))


@pytest.mark.parametrize("seed", WORLDS)
def test_a_top_up_shows_the_least_seam_and_brings_enough(seed: int) -> None:
    """Every place where boxing could happen is tried here: unseen between groups if there is one, as late as that goes; else unseen; else the smallest step, and it is said."""
    rng = random.Random(f"top-up {seed}")
    parts = [
        Part(f"p{n}", f"Piece {n}", f"Seat {n // rng.choice((2, 3))}", rng.uniform(10, 90))
        for n in range(rng.randint(2, 14))
    ]
    takes = [part.colour * rng.uniform(0.7, 1.0) for part in parts]
    whole = sum(part.colour for part in parts)
    hand, reserve, apart, begun = (
        rng.uniform(0.02, 1.3) * whole,
        rng.choice((0.0, 0.1, 0.3)),
        rng.choice((0.6, 1.0, 2.5)),
        rng.random() < 0.7,
    )
    made = plan_top_up(BATCH, parts, hand, reserve=reserve, remix_de=apart, likely=takes, begun=begun)
    lacking = whole * (1 + reserve) - hand
    if lacking <= 0:
        assert made is None
        return
    assert made is not None
    assert made.mix == pytest.approx(lacking)
    places = []
    old = hand
    for index in range(len(parts)):
        step = 0.0 if index == 0 and not begun else apart * lacking / (lacking + old)
        places.append((index, old, step, index == 0 or parts[index].group != parts[index - 1].group))
        old -= takes[index]
        if old < 0:
            break
    unseen = [place for place in places if place[2] <= 0.5]
    between = [place for place in unseen if place[3]]
    if between or unseen:
        best = (between or unseen)[-1]
        assert made.seam == ""
        assert made.step_de <= 0.5
    else:
        best = min(places, key=lambda place: place[2])
        assert made.seam
        assert made.step_de == pytest.approx(min(place[2] for place in places))
    assert (made.before.key, made.at_group) == (parts[best[0]].key, best[3])
    assert made.box_with == pytest.approx(best[1])
    assert made.step_de == pytest.approx(best[2])
    assert made.boxed == pytest.approx(made.mix + made.box_with)
    given = plan_top_up(BATCH, parts, hand, mix=123.0, likely=takes)
    assert given is not None
    assert given.mix == 123.0
    short = runs_short(parts, hand)
    if hand < whole - 1e-6:
        assert short is not None
        assert short.missing == pytest.approx(whole - hand)
        assert (
            sum(p.colour for p in parts[: short.index])
            <= hand
            < sum(p.colour for p in parts[: short.index + 1])
        )
    else:
        assert short is None


def test_the_seam_names_the_two_that_may_show_it() -> None:
    parts = [
        Part("a", "Arm", "Seat 1", 50.0),
        Part("b", "Back", "Seat 1", 50.0),
        Part("c", "Cushion", "Seat 2", 50.0),
    ]
    inside = plan_top_up(BATCH, parts[:2], 51.0, remix_de=9.0, unseen_de=0.01, likely=[50.0, 50.0])
    assert inside is not None
    assert "coated before" in inside.seam
    across = plan_top_up(BATCH, parts, 110.0, remix_de=0.9, unseen_de=0.5, likely=[20.0, 20.0, 50.0])
    assert across is not None
    assert (across.before.name, across.seam) == ("Cushion", "")
    for wrong in ({"reserve": 1.1}, {"reserve": -0.1}, {"remix_de": -1.0}, {"unseen_de": 0.0}):
        with pytest.raises(Refusal):
            plan_top_up(BATCH, parts, 10.0, **wrong)  # type: ignore[arg-type]
    with pytest.raises(Refusal):
        plan_top_up(BATCH, parts, -1.0)
    with pytest.raises(Refusal):
        Part("a", "A", "", -1.0)


def recipe(rng: random.Random) -> MixRecipe:
    counts = [rng.uniform(0.2, 9) for _ in range(rng.randint(2, 5))]
    return MixRecipe(
        "R",
        tuple(
            MixPart(f"k{n}", f"K {n}", c / sum(counts), rng.uniform(0.9, 4.0)) for n, c in enumerate(counts)
        ),
    )


@pytest.mark.parametrize("seed", WORLDS)
def test_what_is_poured_and_what_is_to_pour_end_in_the_recipes_proportion(seed: int) -> None:
    """A cup poured into by chance, with strange things in it and one pour too many: what is told to pour ends in the proportion, in the vessel, and the balance shows it."""
    rng = random.Random(f"needed {seed}")
    mix = recipe(rng)
    aim = rng.randint(50_000, 900_000)
    have = {
        part.key: round(part.share * aim * rng.uniform(0, 0.9)) for part in mix.parts if rng.random() < 0.7
    }
    over = rng.choice([None, *[part.key for part in mix.parts]])
    if over:
        have[over] = round(mix.part(over).share * aim * rng.uniform(1.1, 1.6))
    need = still_needed(mix, aim, have)
    total = max([aim, *(round(have.get(p.key, 0) / p.share) for p in mix.parts)])
    assert need.total == pytest.approx(total, abs=len(mix.parts) + 1)
    ends = {part.key: part.have + part.need for part in need.parts}
    for part in mix.parts:
        assert ends[part.key] == pytest.approx(part.share * need.total, abs=2 + len(mix.parts))
    assert need.left == sum(part.need for part in need.parts)
    assert all(part.need >= 0 for part in need.parts)
    with pytest.raises(Refusal):
        still_needed(mix, aim, have, capacity=need.total - 10)
    assert still_needed(mix, aim, have, capacity=need.total + 10).total == need.total
    tare, others = rng.uniform(0, 300), rng.uniform(0, 40)
    told = steps(need, tare=tare, others=others, drops={mix.parts[0].key: 0.05})
    shown = tare + mass_in(need, others)
    assert mass_in(need, others) == pytest.approx(
        others + sum(p.have / 1000 * mix.part(p.key).density for p in need.parts)
    )
    for step, part in zip(told, need.parts, strict=True):
        shown += step.grams
        assert step.shows == pytest.approx(shown)
        assert step.grams == pytest.approx(part.need / 1000 * mix.part(part.key).density)
        assert step.volume == pytest.approx(part.need / 1000)
        assert step.done == (part.need == 0)
        assert step.poured_grams == pytest.approx(part.have / 1000 * mix.part(part.key).density)
    assert told[0].drops == round(told[0].volume / 0.05)
    assert all(step.drops is None for step in told[1:])


@pytest.mark.parametrize("seed", range(10))
def test_the_base_is_poured_first_and_the_least_last(seed: int) -> None:
    rng = random.Random(f"order {seed}")
    volumes = {f"k{n}": rng.uniform(1, 90) for n in range(5)} | {"base": rng.uniform(1, 900)}
    order = pouring_order(volumes, "base")
    assert order[0] == "base"
    rest = [volumes[key] for key in order[1:]]
    assert rest == sorted(rest, reverse=True)
    assert sorted(order) == sorted(volumes)

    class Poured:
        def __init__(self, key: str, volume: float) -> None:
            self.key, self.name, self.volume, self.density = key, key, volume, 1.2
            self.mass = volume * 1.2

    made = recipe_of("R", [Poured(key, v) for key, v in volumes.items()] + [Poured("none", 0.0)], base="base")  # type: ignore[list-item]
    assert [part.key for part in made.parts] == order
    assert sum(part.share for part in made.parts) == pytest.approx(1.0)
    assert microlitres(volumes["base"]) == round(volumes["base"] * 1000)


@pytest.mark.parametrize("seed", WORLDS)
def test_advice_in_whole_steps_is_the_nearest_and_what_it_cannot_tell_is_half_a_step(seed: int) -> None:
    rng = random.Random(f"grains {seed}")
    mix = recipe(rng)
    step = rng.choice((0.01, 0.05, 0.1, 0.5))
    aim = rng.randint(30_000, 600_000)
    grains = balance_grains(mix, step)
    exact = still_needed(mix, aim, {})
    for told, part in zip(steps(exact, grains=grains), exact.parts, strict=True):
        grain = grains[part.key]
        assert grain.volume == pytest.approx(1000 * step / mix.part(part.key).density)
        assert told.grams / step == pytest.approx(round(told.grams / step), abs=0.01 + 0.004 / step), (
            "whole steps of the balance"
        )
        assert abs(told.volume * 1000 - part.need) <= grain.volume / 2 + 1
        assert grain.volume / 2 <= grain.slack < grain.volume / 2 + 1


def test_what_is_in_a_jar_adds_up_to_the_whole() -> None:
    """Poured 300, 90 and 10 mL: shares of 75, 22.5 and 2.5 %, the largest first, with the lots they came from."""
    ledger = Ledger({"jar": Vessel("jar", "Jar 7", VesselKind.JAR, 500_000)})
    for key, lot, amount in (
        ("white", "W1", 90_000),
        ("base", "", 300_000),
        ("red", "R1", 4_000),
        ("red", "R2", 6_000),
    ):
        ledger = ledger.added(acts.pour(ledger, "jar", key, amount, lot=lot))
    state = jar_state(ledger, "jar", {"white": "White"})
    assert (state.name, state.volume) == ("Jar 7", 400.0)
    assert [(line.key, line.percent, line.volume) for line in state.lines] == [
        ("base", 75.0, 300.0),
        ("white", 22.5, 90.0),
        ("red", 2.5, 10.0),
    ]
    assert state.lines[1].name == "White"
    assert set(state.lines[2].lots) == {"R1", "R2"}
    assert sum(line.share for line in state.lines) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("name", "good", "bad"), [("share", [0.001, 1.0], [0.0, 1.001]), ("density", [0.3, 10.0], [0.29, 10.1])]
)
def test_limits_of_a_part_hold_what_they_say(name: str, good: list[float], bad: list[float]) -> None:
    for value in good:
        assert MixPart(**{"key": "k", "name": "K", "share": 0.5, "density": 1.0, name: value})  # type: ignore[arg-type]
    for value in bad:
        with pytest.raises(Refusal):
            MixPart(**{"key": "k", "name": "K", "share": 0.5, "density": 1.0, name: value})  # type: ignore[arg-type]


def test_a_jar_is_kept_half_a_year_or_as_long_as_the_shop_says() -> None:
    """The usual half year is 180 to 184 days; a day and ten years are the ends of what can be said."""
    day = date(2026, 3, 2)
    assert 180 <= (keep_until(day) - day).days <= 184
    assert keep_until(day, 1) == date(2026, 3, 3)
    assert keep_until(day, 3650) == day + timedelta(days=3650)
    for wrong in (0, -1, 3651):
        with pytest.raises(Refusal):
            keep_until(day, wrong)


def test_what_cannot_be_weighed_or_measured_is_refused() -> None:
    for wrong in (float("nan"), float("inf"), -0.1):
        with pytest.raises(Refusal):
            microlitres_of_mass(wrong, 1.0)
        with pytest.raises(Refusal):
            microlitres(wrong)
    for density in (0.29, 10.1, float("nan")):
        with pytest.raises(Refusal):
            microlitres_of_mass(1.0, density)
    assert microlitres_of_mass(10.0, 1.25) == 8000


@pytest.mark.parametrize("slack", [0, 40, 400])
def test_a_shortfall_below_what_can_be_told_is_none_and_a_larger_one_is_asked_for(slack: int) -> None:
    recipe_ = MixRecipe("R", (MixPart("a", "A", 0.5, 1.0), MixPart("b", "B", 0.5, 1.0)))
    for short in (0, 1, 39, 40, 41, 399, 400, 401, 5000):
        need = still_needed(recipe_, 100_000, {"a": 50_000, "b": 50_000 - short}, slack=slack)
        asked = next(part.need for part in need.parts if part.key == "b")
        assert asked == (0 if short <= slack else short)
        assert next(part.need for part in need.parts if part.key == "a") == 0


def test_an_entry_can_be_taken_back_once_what_was_drawn_off_came_back() -> None:
    """Poured, drawn off, drawing struck out: then the pour can be struck out too; with the drawing still there it cannot."""
    ledger = Ledger({key: Vessel(key, key, VesselKind.CUP, 900_000) for key in ("cup", "other")})
    ledger = ledger.added(acts.pour(ledger, "cup", "base", 100_000))
    ledger = ledger.added(acts.split(ledger, "cup", "other", 60_000))
    with pytest.raises(Refusal):
        acts.counter(ledger, ledger.entries[0].number)
    back = ledger.added(acts.counter(ledger, ledger.entries[1].number))
    empty = back.added(acts.counter(back, ledger.entries[0].number))
    assert (volume(empty, "cup"), volume(empty, "other")) == (0, 0)
