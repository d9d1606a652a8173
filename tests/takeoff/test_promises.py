"""What the pages on quantities and price promise, over many seeded jobs: the sums are done again here, by hand."""

import random
from dataclasses import replace
from decimal import Decimal
from math import ceil, exp, log

import numpy as np
import pytest

from hidewright.survey import Piece, make_piece
from hidewright.takeoff.advice import advise
from hidewright.takeoff.coats import Assumptions, Stage
from hidewright.takeoff.enough import Standing, Status, Why, model_of, standing
from hidewright.takeoff.howmuch import COLOUR, take_off
from hidewright.takeoff.odds import Spread
from hidewright.takeoff.price import price
from hidewright.takeoff.products import Product, Role
from hidewright.takeoff.shopping import Want, shopping_list, wants_of
from hidewright.takeoff.sundries import CURVES, RULES, sundries, work_of
from hidewright.takeoff.yields import Use, starting_belief

JOBS = range(24)


def job(seed: int) -> tuple[list[Piece], Assumptions, random.Random]:
    """A seeded job: five to thirty pieces of several shapes, and assumptions of its own."""
    rng = random.Random(f"job {seed}")
    pieces = []
    for n in range(rng.randint(5, 30)):
        shape = rng.choice(("panel", "cushion", "shell", "arm", "box", "roll"))
        pieces.append(
            make_piece(
                key=f"P{n}", name=shape, group=f"Seat {n // 4}", shape=shape, length=rng.uniform(0.3, 1.2), width=rng.uniform(0.1, 0.6),
                thickness=rng.uniform(0.03, 0.12), material=rng.choice(("leather", "leather", "vinyl")), sat_on=rng.random() < 0.5,
                turned=rng.random() < 0.4, strip=rng.random() < 0.5,
            )
        )  # fmt: skip
    assumed = Assumptions(
        colour_coats=rng.randint(1, 3), clear_coats=rng.randint(1, 2), wiped=rng.random() < 0.7, transfer=rng.uniform(0.4, 0.9),
        cup_loss=rng.choice((0.0, 25.0, 60.0)), keep_back=rng.choice((0.0, 120.0)), prime_ml=rng.choice((0.0, 40.0)),
    )  # fmt: skip
    return pieces, assumed, rng


@pytest.mark.parametrize("seed", JOBS)
def test_the_forecast_is_area_times_coats_times_build_over_solids_and_what_lands(seed: int) -> None:
    pieces, a, _ = job(seed)
    forecast = take_off(pieces, a)
    area = sum(f.area for p in pieces for f in p.faces)
    sat = sum(f.area for p in pieces for f in p.faces if f.sat_on) if a.wiped else 0.0
    sprayed = area * a.colour_coats * a.colour_um / a.solids_colour
    wiped = sat * a.wiped_um / a.solids_colour
    sessions = max(1, ceil(area / a.session_area - 1e-9))
    middle = sprayed / a.transfer + wiped / a.wiped_transfer
    colour = forecast.colour
    assert forecast.sessions == sessions
    assert (colour.left, colour.kept) == (sessions * a.cup_loss, a.keep_back)
    assert colour.p50 == pytest.approx(middle + colour.left + colour.kept, rel=0.03), (
        "a median of sums lies a little lower"
    )
    assert colour.lands + colour.lost == pytest.approx(colour.spread.median)
    assert colour.lands / colour.spread.median == pytest.approx((sprayed + wiped) / middle, rel=1e-6)
    clear = area * a.clear_coats * a.clear_um / a.solids_clear / a.transfer
    assert forecast.clear.p50 == pytest.approx(clear + sessions * a.cup_loss, rel=0.03)
    assert forecast.clear.kept == 0
    stripped = sum(p.area for p in pieces if p.strip)
    assert forecast.stripper.p50 == pytest.approx(stripped * a.strip_ml)
    assert forecast.cleaner.p50 == pytest.approx(area * a.clean_ml)
    assert forecast.solvent.p50 == pytest.approx(area * a.wipe_ml)
    assert forecast.primer.p50 == pytest.approx(
        sum(p.area for p in pieces if p.material != "leather") * a.prime_ml
    )
    assert [need.name for need in forecast.needs][-2:] == ["Mixed colour", "Clear"]
    for need in forecast.needs:
        assert need.p50 < need.p90
        assert need.odds_of(need.p90) == pytest.approx(0.9)


def product(key: str, role: Role, pack: float, cost: str, ratio: float = 0.0) -> Product:
    return Product(key, key.title(), role, pack=pack, price=Decimal(cost), ratio=ratio)


@pytest.mark.parametrize("seed", JOBS)
def test_packs_are_never_too_few_nor_one_too_many_and_money_is_to_the_cent(seed: int) -> None:
    pieces, a, rng = job(seed)
    forecast = take_off(pieces, a)
    roles = (Role.STRIPPER, Role.CLEANER, Role.SOLVENT, Role.PRIMER, Role.BASE, Role.CLEAR)
    listed = {
        r.value: product(r.value, r, rng.choice((100.0, 473.0, 1000.0, 5000.0)), f"{rng.uniform(3, 90):.2f}")
        for r in roles
    }
    listed["linker"] = product("linker", Role.CROSSLINKER, 50.0, "31.07", ratio=rng.uniform(0.02, 0.05))
    stock = {key: rng.choice((0.0, 30.0, 400.0, 20000.0)) for key in listed}
    odds = rng.choice((0.5, 0.8, 0.95))
    share = rng.uniform(0.7, 0.9)
    lines = shopping_list(forecast, listed, stock, odds=odds, base_share=share)
    assert len(lines) == 7 - (not forecast.primer.p50) - (not forecast.stripper.p50)
    for line in lines:
        assert line.product is not None
        bought = line.packs * line.product.pack
        assert line.stock + bought >= line.need - 1e-6, "it suffices with the odds asked for"
        assert line.packs == 0 or line.stock + bought - line.product.pack < line.need, "a pack less would not"
        assert line.price == line.packs * line.product.price
        assert line.short == pytest.approx(max(0.0, line.need - line.stock))
        assert line.likely <= line.need
    needs = {line.what: line.need for line in lines}
    assert needs["Clear base for the colour"] == pytest.approx(share * forecast.colour.at(odds))
    both = forecast.colour.at(0.5) + forecast.clear.at(0.5)
    linker = next(line for line in lines if line.what == "Crosslinker")
    assert linker.likely == pytest.approx(listed["linker"].ratio * both), (
        "it goes into colour and clear, beside them and not as a part of them"
    )


@pytest.mark.parametrize("seed", JOBS)
def test_a_price_is_the_sum_of_its_parts_and_better_odds_cost_more(seed: int) -> None:
    pieces, a, rng = job(seed)
    clear = product("clear", Role.CLEAR, 1000.0, "38.40")
    wants = [*wants_of(take_off(pieces, a), {"clear": clear}), Want("Gift", None, Spread(100.0, 0.1))]
    hours, hourly, extra, markup = (
        rng.uniform(5, 200),
        Decimal("61.35"),
        Decimal("73.10"),
        rng.uniform(0.0, 0.4),
    )
    found = price(hours, hourly, wants, extra, markup=markup, odds=0.8)
    likely = next(w.spread.at(0.5) for w in wants if w.product)
    assert float(found.labour) == pytest.approx(hours * 61.35, abs=0.006)
    assert float(found.materials) == pytest.approx(likely * 0.0384, abs=0.006)
    assert found.sundries == extra
    assert float(found.markup) == pytest.approx((likely * 0.0384 + 73.10) * markup, abs=0.006)
    assert found.total == found.labour + found.materials + found.sundries + found.markup + found.risk
    assert set(found.unpriced) == {w.what for w in wants if w.product is None}
    dearer = price(hours, hourly, wants, extra, markup=markup, odds=0.95)
    even = price(hours, hourly, wants, extra, markup=markup, odds=0.5)
    assert even.risk == 0 < found.risk < dearer.risk
    draws = np.random.default_rng(seed).standard_normal((2, 20000))
    labour = hours * 61.35 * np.exp(draws[0] * np.sqrt(np.log(1 + 0.15**2)))
    spread = next(w.spread for w in wants if w.product)
    material = 0.0384 * (spread.fixed + spread.median * np.exp(draws[1] * spread.sigma))
    margin = float(np.quantile(labour + material, 0.8)) - hours * 61.35 - 0.0384 * likely
    assert float(found.risk) == pytest.approx(margin, rel=0.12, abs=3.0), "against draws"


def stood(seed: int, share: float, hand: float) -> tuple[Standing, float, Assumptions]:
    """A job with some of its pieces coated, and so much of what the rest takes in hand."""
    pieces, a, rng = job(seed)
    model = model_of(pieces, a)
    done = pieces[: round(share * len(pieces))]
    if done:
        took = sum(i.base for i in model.items if i.stage in COLOUR and i.piece in {p.key for p in done})
        model.see(
            Use(
                Stage.COLOUR,
                {p.key: 1.0 for p in done},
                took * rng.uniform(0.8, 1.2) + a.cup_loss,
                a.cup_loss,
            )
        )
    areas = {p.key: p.area for p in pieces}
    first = standing(model, areas, 0.0)
    return standing(model, areas, hand * first.still.at(0.5)), first.still.at(0.5), a


@pytest.mark.parametrize("hand", [0.0, 0.3, 0.7, 1.0, 1.1, 1.3, 2.0])
@pytest.mark.parametrize("share", [0.0, 0.2, 0.45, 0.8])
@pytest.mark.parametrize("seed", range(6))
def test_what_is_advised_makes_sense_at_every_stage(seed: int, share: float, hand: float) -> None:
    """“Wait” only when the next session can be sprayed; “suffices” only with the odds; what is to be mixed brings the odds up and is never wild."""
    stand, middle, a = stood(seed, share, hand)
    words = advise(stand, lambda ml: f"{ml:.0f} mL").words
    assert stand.mix >= 0
    assert stand.mix % 10 == pytest.approx(0.0, abs=1e-9)
    assert stand.after >= stand.odds
    assert stand.short_by == pytest.approx(max(0.0, middle - stand.in_hand))
    if stand.why is Why.WAIT:
        next_session = (stand.still.at(0.5) - a.keep_back) / max(1, stand.sessions_left)
        assert stand.in_hand >= next_session, "the next session can be sprayed"
        assert stand.mix == 0
        assert "Mix nothing" in words
    if stand.why is Why.SURE:
        assert stand.odds >= 0.975
        assert stand.status is Status.ENOUGH
        assert "suffices" in words
    if stand.why in (Why.FIRST, Why.NEXT):
        assert stand.in_hand + stand.mix <= 1.12 * stand.still.at(0.5) + a.keep_back + 200 + 10
        assert stand.after >= 0.5 - 1e-9, "no less than even odds of getting there"
        assert "more" in words or stand.in_hand == 0
    if share > 0:
        assert stand.why is not Why.FIRST, "something is known of this job by now"
    if stand.why is Why.REST:
        assert stand.after >= 0.975 - 1e-9
        assert stand.in_hand + stand.mix - 10 < stand.still.at(0.975) + 1e-6
    if stand.in_hand == 0 and stand.why is not Why.DONE:
        assert stand.mix > 0
    if hand >= 2.0:
        assert stand.why is Why.SURE
    if hand <= 0.3 and share > 0:
        assert stand.status is Status.SHORT
    assert stand.whole == pytest.approx(max(0.0, stand.still.at(0.975) - stand.in_hand))


@pytest.mark.parametrize("seed", range(8))
def test_what_was_used_teaches_what_the_rest_takes(seed: int) -> None:
    """A shop that takes a third more than forecast on half of its pieces is forecast to take more on the rest, and the doubt shrinks."""
    pieces, a, _ = job(seed)
    half = pieces[: len(pieces) // 2]
    fresh, thirsty, thrifty = (model_of(pieces, a) for _ in range(3))
    base = sum(i.base for i in fresh.items if i.stage is Stage.COLOUR and i.piece in {p.key for p in half})
    for model, factor in ((thirsty, 1.33), (thrifty, 0.75), (fresh, 1.0)):
        model.see(Use(Stage.COLOUR, {p.key: 1.0 for p in half}, factor * base + a.cup_loss, a.cup_loss))
    stages = (Stage.COLOUR,)
    low, middle, high = (model.still(stages) for model in (thrifty, fresh, thirsty))
    assert low.at(0.5) < middle.at(0.5) < high.at(0.5)
    assert high.at(0.5) / middle.at(0.5) < 1.33, "one job does not turn all around"
    for n, item in enumerate(fresh.items):
        if item.stage is Stage.COLOUR:
            assert thrifty.expected(n) < fresh.expected(n) < thirsty.expected(n), "and so for each piece"
    assert high.sigma < model_of(pieces, a).still(stages).sigma
    rest = sum(i.base for i in fresh.items if i.stage is Stage.COLOUR) - base
    assert middle.at(0.5) == pytest.approx(rest, rel=0.05)


def test_log_normal_odds_by_hand() -> None:
    """Half lie below the median; at one sigma 84.13 % do; what is fixed is added to both."""
    spread = Spread(400.0, 0.25, 60.0)
    assert spread.at(0.5) == pytest.approx(460.0)
    assert spread.at(0.8413447) == pytest.approx(60 + 400 * exp(0.25), rel=1e-6)
    assert spread.odds_of(60 + 400 * exp(-0.25)) == pytest.approx(1 - 0.8413447, abs=1e-6)
    assert spread.mean == pytest.approx(60 + 400 * exp(0.25**2 / 2))
    assert log((spread.plus(40).at(0.9) - 100) / 400) == pytest.approx(log((spread.at(0.9) - 60) / 400))


@pytest.mark.parametrize("seed", range(8))
def test_sundries_cover_their_work_in_whole_packs(seed: int) -> None:
    pieces, a, _ = job(seed)
    forecast = take_off(pieces, a)
    work = work_of(pieces, forecast)
    edges = {curve: sum(f.edge for p in pieces for f in p.faces if f.curve == curve) for curve in CURVES}
    for curve in CURVES:
        assert work[curve] == pytest.approx(edges[curve])
    assert work["edge"] == pytest.approx(sum(edges.values()))
    assert work["session"] == forecast.sessions
    assert work["stripped"] == pytest.approx(forecast.stripped_area)
    for line in sundries(work):
        assert line.quantity == pytest.approx(line.rule.amount * work[line.rule.per])
        assert line.packs * line.rule.pack >= line.quantity - 1e-9
        assert (line.packs - 1) * line.rule.pack < line.quantity
        assert line.price == line.packs * line.rule.price
    assert {line.rule.key for line in sundries(work)} <= {rule.key for rule in RULES}


def test_a_new_shop_doubts_what_its_assumptions_say_it_may() -> None:
    """By hand: of the build's variance a half is common to all stages and a half each stage's own, with the transfer's; a class of piece adds its own."""
    a = Assumptions(build_sd=0.3, transfer_sd=0.12)

    def variance(relative: float) -> float:
        return log(1 + relative**2)

    found = starting_belief(a).factor(Stage.COLOUR, "panel")
    assert found.sigma**2 == pytest.approx(variance(0.3) + variance(0.12) + variance(0.06), rel=0.01)
    calm = starting_belief(Assumptions(build_sd=0.1, transfer_sd=0.0)).factor(Stage.CLEAR, "panel")
    assert calm.sigma**2 == pytest.approx(variance(0.1) + variance(0.06), rel=0.01)


def test_what_is_not_sprayed_takes_nothing_at_all() -> None:
    pieces, a, _ = job(3)
    for bare in (
        take_off(pieces, replace(a, colour_coats=0, wiped=False)).colour,
        take_off(pieces, replace(a, clear_coats=0)).clear,
    ):
        assert (bare.lands, bare.lost, bare.left, bare.kept, bare.p90) == (0, 0, 0, 0, 0)
    plain = [replace(piece, strip=False) for piece in pieces]
    stripper = take_off(plain, a).stripper
    assert (stripper.p50, stripper.p90, stripper.spread.sigma) == (0, 0, 0)
