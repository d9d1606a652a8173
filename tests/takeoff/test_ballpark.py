"""A ballpark by hand: what is said on the telephone, and a job in several colours."""

from dataclasses import replace
from math import exp, hypot, log, sqrt
from statistics import NormalDist

import pytest

from hidewright.refusals import Refusal
from hidewright.survey import Piece, make_piece
from hidewright.takeoff.advice import advise
from hidewright.takeoff.ballpark import Figures, days_for, figures_of, sigma_of_counts
from hidewright.takeoff.coats import Assumptions
from hidewright.takeoff.enough import KNOWN, model_of, standing
from hidewright.takeoff.howmuch import COLOUR, Takeoff, take_off
from hidewright.takeoff.odds import Spread
from hidewright.takeoff.sundries import WORK, Rule, rules_with
from hidewright.takeoff.together import erring_together, shared, together
from hidewright.takeoff.yields import Use
from hidewright.units import Units

TENTH = exp(NormalDist().inv_cdf(0.9) * 0.3)
"""How far nine times in ten lies above the middle of a log-normal figure with a sigma of 0.3."""


def piece(key: str = "P", **changes: object) -> Piece:
    facts: dict[str, object] = {
        "key": key, "name": "panel", "group": "", "shape": "panel", "length": 1.0, "width": 1.0, **changes,
    }  # fmt: skip
    return make_piece(**facts)  # type: ignore[arg-type]


def test_three_figures_lie_about_the_middle_of_the_ways() -> None:
    """Arithmetic: the widest ends, and the middle between the outer middles, whatever lies between."""
    figures = figures_of([Spread(100, 0.3), Spread(300, 0.3), Spread(120, 0.0)])
    assert figures.low == pytest.approx(100 / TENTH)
    assert figures.likely == pytest.approx(200)
    assert figures.high == pytest.approx(300 * TENTH)
    with pytest.raises(Refusal, match="no way"):
        figures_of([])


def test_figures_with_odds_go_up_from_nothing() -> None:
    assert Figures(0, 0, 0).low == 0
    for bad in ((-1, 0, 1), (2, 1, 3), (1, 3, 2)):
        with pytest.raises(Refusal, match="go up"):
            Figures(*bad)


def test_the_log_narrows_the_pace_and_nothing_else() -> None:
    """By hand: three logged paces halve the variance of the pace, and what the interior hides stays."""

    def sigma(*relative: float) -> float:
        return hypot(*(sqrt(log(1 + r * r)) for r in relative))

    fresh, known = sigma_of_counts(0), sigma_of_counts(3)
    rest = fresh**2 - log(1 + 0.35**2)
    assert known**2 == pytest.approx(rest + log(1 + 0.35**2 / 2))
    assert sigma_of_counts(-5) == fresh
    assert sigma_of_counts(10**9) == pytest.approx(sqrt(rest))
    assert rest > sigma(0.20) ** 2


@pytest.mark.parametrize(
    ("hours", "nights", "days"), [(8, 0, 2), (80, 0, 15), (80, 20, 21), (1, 3, 4), (16, 0, 3), (16.1, 0, 4)]
)
def test_days_are_half_again_the_work_and_no_fewer_than_the_nights(
    hours: float, nights: int, days: int
) -> None:
    """A crew of 40 hours on 5 days works 8 a day; one and a half days for each day's work (common practice, no source)."""
    assert days_for(hours, 40, 5, nights) == days


def test_one_square_metre_of_everything_else_by_hand() -> None:
    """220 mL of stripper, 60 of cleaner, 30 of solvent a m² (starting values; common practice, no source); the primer only where it is asked for."""
    vinyl = piece("V", material="vinyl", strip=True)
    need = take_off([vinyl, piece("L", strip=False)], Assumptions(area_sd=0, prime_ml=50))
    named = {n.name: n.at(0.5) for n in need.needs}
    wanted = {"Stripper": 220, "Cleaner": 120, "Wipe-down solvent": 60, "Primer": 50}
    assert {name: named[name] for name in wanted} == pytest.approx(wanted)


def test_what_is_sat_on_is_wiped_in_where_the_shop_wipes_in() -> None:
    seat, panel = piece("S", sat_on=True), piece("P")
    front = sum(face.area for face in seat.faces if face.sat_on)
    assert take_off([seat, panel], Assumptions(wiped=True)).wiped_area == pytest.approx(front)
    assert take_off([seat, panel], Assumptions(wiped=False)).wiped_area == 0
    assert front > 0


def both() -> tuple[Takeoff, Takeoff, Takeoff]:
    first, second = [piece("A", sat_on=True)], [piece("B", length=2.0), piece("C")]
    return take_off(first), take_off(second), take_off([*first, *second])


def test_two_colours_add_up_and_the_rest_is_that_of_all_pieces() -> None:
    a, b, whole = both()
    job = together([a, b], whole)
    assert job.colour.left == a.colour.left + b.colour.left
    assert job.colour.kept == a.colour.kept + b.colour.kept
    assert job.colour.lands == pytest.approx(a.colour.lands + b.colour.lands)
    assert job.colour.lost == pytest.approx(a.colour.lost + b.colour.lost)
    assert job.per_piece == {**a.per_piece, **b.per_piece}
    assert job.sessions == a.sessions + b.sessions
    assert job.wiped_area == a.wiped_area + b.wiped_area
    assert (job.clear, job.stripper, job.area) == (whole.clear, whole.stripper, whole.area)
    assert job.colour.at(0.9) == pytest.approx(a.colour.at(0.9) + b.colour.at(0.9), rel=1e-3)
    assert job.colour.p50 == pytest.approx(a.colour.p50 + b.colour.p50, rel=0.02)


def test_one_colour_of_a_job_is_that_colour() -> None:
    a, b, whole = both()
    alone = together([b], whole)
    assert (alone.colour, alone.per_piece) == (b.colour, b.per_piece)
    assert (alone.clear, alone.sessions, alone.wiped_area) == (whole.clear, whole.sessions, whole.wiped_area)
    assert a.colour != b.colour


def test_what_errs_together_does_not_even_out() -> None:
    """Two alike that are fully correlated are one of twice the size: the same sigma, and what is fixed adds."""
    sum_of_two = erring_together([Spread(100, 0.3, 10), Spread(100, 0.3, 5)])
    assert sum_of_two.median == pytest.approx(200)
    assert sum_of_two.sigma == pytest.approx(0.3)
    assert sum_of_two.fixed == 15


def test_shares_of_a_sum_go_by_volume() -> None:
    assert shared([(0.0, {"a": 1.0}), (0.0, {"b": 1.0})]) == {"a": 0.5, "b": 0.5}
    mixed = shared([(300.0, {"a": 0.5, "b": 0.5}), (100.0, {"b": 1.0})])
    assert mixed == pytest.approx({"a": 0.375, "b": 0.625})


@pytest.mark.parametrize(
    ("unit", "per", "metric", "us"),
    [
        ("m", "edge", "m for each m of edge", "ft for each ft of edge"),
        ("m", "tight", "m for each m of tightly bent edge", "ft for each ft of tightly bent edge"),
        ("pieces", "coated", "pieces for each m² coated", "pieces for each sq ft coated"),
        ("sheets", "sprayed", "sheets for each m² sprayed, each coat", "sheets for each sq ft sprayed, each coat"),
        ("pairs", "session", "pairs for each spray session", "pairs for each spray session"),
    ],
)  # fmt: skip
def test_a_rule_is_read_in_the_shops_own_units(unit: str, per: str, metric: str, us: str) -> None:
    rule = replace(rules_with({})[0], unit=unit, per=per)
    assert (rule.words, rule.words_in("metric"), rule.words_in(Units.US)) == (metric, metric, us)
    square = 0.3048**2 if "m²" in WORK[per] else 1.0
    assert rule.scale_in(Units.US) == pytest.approx(square)
    assert rule.scale_in(Units.METRIC) == 1.0


def test_a_rule_holds_an_amount_a_pack_and_a_price() -> None:
    rule = rules_with({})[0]
    assert isinstance(rule, Rule)
    for bad in ({"amount": -0.1}, {"amount": 1000.1}, {"pack": 0}, {"price": -1}):
        with pytest.raises(Refusal):
            replace(rule, **bad)
    assert replace(rule, amount=1000).amount == 1000


def test_the_odds_of_the_rest_are_named_with_a_digit_more_only_where_that_tells() -> None:
    """97.5 % is another thing than 98 %; 62.5 % is not."""
    pieces = [piece(f"P{n}", length=0.6, width=0.5) for n in range(40)]
    areas = {p.key: p.area for p in pieces}
    model = model_of(pieces, Assumptions(keep_back=0.0))
    first = standing(model, areas, 0.0)
    odds = f"{100 * first.after:.0f} %" if first.after <= 0.9 else f"{100 * first.after:.3g} %"
    assert f"odds of enough are {odds}" in advise(first, lambda ml: f"{ml:.0f} mL").why
    half = {p.key: 1.0 for p in pieces[:20]}
    for stage in COLOUR:
        base = sum(i.base for i in model.items if i.stage is stage and i.piece in half)
        if base:
            model.see(Use(stage, half, base + 25.0))
    rest = standing(model, areas, 0.0)
    assert rest.share_done == pytest.approx(KNOWN)
    assert "for 97.5 % odds" in advise(rest, lambda ml: f"{ml:.0f} mL").why
