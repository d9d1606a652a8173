"""Sundries by rules, and prices in their parts."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hidewright import demo
from hidewright.refusals import Refusal
from hidewright.survey import make_piece
from hidewright.survey.csv_in import read_pieces
from hidewright.survey.zones import Zone
from hidewright.takeoff.coats import Assumptions
from hidewright.takeoff.howmuch import take_off
from hidewright.takeoff.odds import Spread, sigma_of
from hidewright.takeoff.price import LABOUR_SD, price
from hidewright.takeoff.products import Product, Role
from hidewright.takeoff.shopping import Want
from hidewright.takeoff.sundries import RULES, rules_with, sundries, work_of

PIECES = read_pieces(demo.text("pieces.csv"))


def test_work_is_counted_from_pieces_and_take_off() -> None:
    forecast = take_off(PIECES)
    work = work_of(PIECES, forecast)
    assert work["edge"] == pytest.approx(sum(p.edge for p in PIECES))
    assert work["straight"] + work["gentle"] + work["tight"] == pytest.approx(work["edge"])
    assert work["sprayed"] == pytest.approx(4 * forecast.area)
    assert work["load"] >= work["session"]


def test_tight_edges_take_narrow_tape() -> None:
    shell = [make_piece(key="S", name="shell", group="", shape="shell", length=0.7, width=0.5)]
    panel = [make_piece(key="P", name="panel", group="", shape="panel", length=0.7, width=0.5)]
    by_shape = [{line.rule.key for line in sundries(work_of(p, take_off(p)))} for p in (shell, panel)]
    assert "tape-6" in by_shape[0]
    assert "tape-36" not in by_shape[0]
    assert "tape-36" in by_shape[1]
    assert "tape-6" not in by_shape[1]


def test_what_is_masked_for_each_zone_is_counted_and_what_is_only_turned_is_not() -> None:
    seat = make_piece(key="S", name="seat", group="", shape="panel", length=0.7, width=0.5)
    plain = work_of([seat], take_off([seat]))
    assert plain["covered"] == plain["border"] == 0
    assert not {"film", "tape-zone"} & {line.rule.key for line in sundries(plain)}
    zoned = replace(seat, zones=(Zone("sides", 0.36, "back and face"), Zone("back and face", 0.64, "sides")))
    work = work_of([zoned], take_off([zoned]))
    # By hand: 64 % of the seat is covered for the sides, 36 % for the rest; the border is three times √(36 %), twice.
    assert work["covered"] == pytest.approx(seat.area)
    assert work["border"] == pytest.approx(2 * 3 * 0.6 * seat.area**0.5)
    lines = {line.rule.key: line for line in sundries(work)}
    assert lines["film"].quantity == pytest.approx(1.2 * seat.area)
    turned = replace(seat, zones=(Zone("front", 0.5), Zone("back", 0.5, moved=True)))
    assert work_of([turned], take_off([turned]))["covered"] == 0


def test_film_for_zones_is_said_in_feet_for_each_square_foot() -> None:
    film = next(rule for rule in RULES if rule.key == "film")
    # 1.2 m a m² is 3.937 ft for 10.764 sq ft, so .3658 ft a sq ft (1 ft = .3048 m exactly).
    assert film.amount * film.scale_in("us") == pytest.approx(1.2 / 0.3048 * 0.3048**2)
    assert "sq ft" in film.words_in("us")


def test_whole_packs_cover_the_quantity() -> None:
    for line in sundries(work_of(PIECES, take_off(PIECES))):
        assert line.packs * line.rule.pack >= line.quantity > (line.packs - 1) * line.rule.pack
        assert line.price == line.packs * line.rule.price


def test_the_shops_own_amounts_are_taken_and_nonsense_refused() -> None:
    more = {
        line.rule.key: line
        for line in sundries(work_of(PIECES, take_off(PIECES)), rules_with({"gloves": 6.0}))
    }
    assert more["gloves"].quantity == pytest.approx(6 * 7)
    assert "tack" not in {
        line.rule.key for line in sundries(work_of(PIECES, take_off(PIECES)), rules_with({"tack": 0.0}))
    }
    with pytest.raises(Refusal):
        rules_with({"cats": 1.0})
    with pytest.raises(Refusal):
        rules_with({"gloves": -1.0})
    with pytest.raises(Refusal):
        replace(RULES[0], per="moon")


CLEAR = Product("c", "Clear", Role.CLEAR, pack=1000, price=Decimal("40.00"))


def test_what_has_no_price_is_named() -> None:
    free = replace(CLEAR, price=Decimal(0))
    wants = [
        Want(what, p, Spread(500, 0.2)) for what, p in (("Clear", CLEAR), ("Gift", free), ("Stripper", None))
    ]
    found = price(10, Decimal(60), wants, Decimal(0))
    assert found.unpriced == ("Gift", "Stripper")
    assert found.materials == price(10, Decimal(60), wants[:1], Decimal(0)).materials


def test_a_price_by_hand() -> None:
    """10 h at 60, 500 mL at 40 a litre, sundries 12: 600 + 20 + 12, 15 % of 32 = 4.80; at even odds no margin for risk."""
    found = price(10, Decimal(60), [Want("Clear", CLEAR, Spread(500, 0.2))], Decimal("12.00"), odds=0.5)
    assert (found.labour, found.materials, found.markup, found.risk) == (
        Decimal("600.00"), Decimal("20.00"), Decimal("4.80"), Decimal("0.00"),
    )  # fmt: skip
    assert found.total == Decimal("636.80")


def test_the_margin_is_what_better_odds_cost() -> None:
    wants = [Want("Clear", CLEAR, Spread(5000, 0.3))]
    margins = [
        price(10, Decimal(60), wants, Decimal(0), odds=odds).risk for odds in (0.5, 0.7, 0.8, 0.9, 0.99)
    ]
    assert margins == sorted(margins)
    assert margins[-1] > 100


@settings(max_examples=60)
@given(
    st.floats(0, 1000),
    st.decimals(0, 500, places=2),
    st.decimals(0, 5000, places=2),
    st.floats(0, 2),
    st.floats(0.5, 0.99),
)
def test_the_parts_always_add_up_to_the_cent(
    hours: float, hourly: Decimal, extra: Decimal, markup: float, odds: float
) -> None:
    found = price(
        hours, hourly, [Want("Clear", CLEAR, Spread(700, 0.2, 50))], extra, markup=markup, odds=odds
    )
    parts = (found.labour, found.materials, found.sundries, found.markup, found.risk)
    assert found.total == sum(parts)
    assert all(part >= 0 and part == part.quantize(Decimal("0.01")) for part in parts)


@pytest.mark.parametrize("bad", [{"hours": -1}, {"hours": float("nan")}, {"hourly": Decimal(-1)}, {"markup": 9.0}, {"odds": 1.0}, {"odds": 0.2}])  # fmt: skip
def test_what_cannot_be_is_refused(bad: dict[str, object]) -> None:
    given_: dict[str, object] = {
        "hours": 10.0,
        "hourly": Decimal(60),
        "wants": [],
        "sundries": Decimal(0),
        **bad,
    }
    with pytest.raises(Refusal):
        price(**given_)  # type: ignore[arg-type]


def test_a_full_change_takes_more_than_a_recoat() -> None:
    change = take_off([replace(p, strip=True) for p in PIECES], Assumptions(colour_coats=4))
    recoat = take_off([replace(p, strip=False) for p in PIECES], Assumptions(colour_coats=1))
    assert change.colour.p50 > 1.5 * recoat.colour.p50
    assert recoat.stripper.p50 == 0


def test_the_margin_is_that_of_a_simulation() -> None:
    """100 000 draws of hours and two materials that err each by itself (log-normal), read at nine in ten; medians add up to the price without a margin."""
    dear = Product("d", "Dear", Role.BASE, pack=500, price=Decimal("90.00"))
    wants = [Want("Clear", CLEAR, Spread(4000, 0.5)), Want("Dear", dear, Spread(1500, 0.4))]
    found = price(8, Decimal(50), wants, Decimal(0), odds=0.9)
    draws = np.random.default_rng(4).standard_normal((3, 100_000))
    sizes, sigmas = (400.0, 160.0, 270.0), (sigma_of(LABOUR_SD), 0.5, 0.4)
    whole = sum(size * np.exp(sigma * draw) for size, sigma, draw in zip(sizes, sigmas, draws, strict=True))
    assert float(found.risk) == pytest.approx(np.quantile(whole, 0.9) - sum(sizes), rel=0.03)
