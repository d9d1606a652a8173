"""Litres: what makes the forecast larger, and that it balances."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hidewright import demo
from hidewright.refusals import Refusal
from hidewright.survey import Piece, make_piece
from hidewright.survey.csv_in import read_pieces
from hidewright.survey.zones import Zone
from hidewright.takeoff.coats import LIMITS, Assumptions, Stage, coats_of
from hidewright.takeoff.howmuch import take_off


@pytest.fixture(scope="module")
def pieces() -> tuple[Piece, ...]:
    return read_pieces(demo.text("pieces.csv"))


def panel(key: str = "P", **changes: object) -> Piece:
    facts: dict[str, object] = {
        "key": key, "name": "panel", "group": "", "shape": "panel", "length": 1.0, "width": 1.0, **changes,
    }  # fmt: skip
    return make_piece(**facts)  # type: ignore[arg-type]


def test_one_square_metre_by_hand() -> None:
    """1 m² × 2 coats × 7.5 µm ÷ (0.277 × 0.65) = 83.3 mL, and one session's loss; no spread, nothing kept back."""
    sure = Assumptions(cup_loss=25, keep_back=0, area_sd=0, build_sd=0, transfer_sd=0, piece_sd=0)
    need = take_off([panel()], sure).colour
    assert need.p50 == pytest.approx(2 * 7.5 / (0.277 * 0.65) + 25)
    assert need.lands == pytest.approx(2 * 7.5 / 0.277)


def test_what_is_needed_is_what_lands_is_lost_is_left_and_is_kept(pieces: tuple[Piece, ...]) -> None:
    for need in take_off(pieces).needs:
        assert need.lands + need.lost + need.left + need.kept == pytest.approx(need.p50)
        assert need.p50 < need.p90 < need.at(0.95)


def test_the_share_of_the_pieces_adds_up(pieces: tuple[Piece, ...]) -> None:
    forecast = take_off(pieces)
    together = sum(forecast.per_piece.values())
    assert together < forecast.colour.p50 - forecast.colour.left - forecast.colour.kept < 1.08 * together


def test_coats_go_on_where_they_should() -> None:
    seat = panel(sat_on=True)
    assert [c.stage for c in coats_of(seat, Assumptions())] == [Stage.WIPED, Stage.COLOUR, Stage.CLEAR]
    assert [c.stage for c in coats_of(panel(), Assumptions())] == [Stage.COLOUR, Stage.CLEAR]
    assert [c.stage for c in coats_of(seat, Assumptions(wiped=False, clear_coats=0))] == [Stage.COLOUR]


@pytest.mark.parametrize(
    ("change", "grows"),
    [
        ({"colour_coats": 4}, True),
        ({"colour_um": 15.0}, True),
        ({"transfer": 0.5}, True),
        ({"solids_colour": 0.2}, True),
        ({"keep_back": 500.0}, True),
        ({"wiped": False}, False),
        ({"transfer": 0.9}, False),
    ],
)
def test_the_forecast_follows_its_assumptions(
    pieces: tuple[Piece, ...], change: dict[str, float], grows: bool
) -> None:
    before, after = take_off(pieces).colour.p50, take_off(pieces, Assumptions(**change)).colour.p50  # type: ignore[arg-type]
    assert (after > before) is grows


def test_errors_that_are_shared_do_not_average_out() -> None:
    few, many = [panel(str(n)) for n in range(4)], [panel(str(n)) for n in range(100)]
    own = Assumptions(area_sd=0, build_sd=0, transfer_sd=0)
    shared = Assumptions(piece_sd=0, build_sd=0.2)
    assert take_off(many, own).colour.spread.sigma < 0.8 * take_off(few, own).colour.spread.sigma
    assert take_off(many, shared).colour.spread.sigma > 0.19


def test_only_stripped_pieces_take_stripper() -> None:
    assert take_off([panel()]).stripper.p50 == 0
    assert take_off([panel(strip=True)]).stripper.p50 == pytest.approx(220)


def test_primer_goes_on_what_is_not_leather() -> None:
    assumed = Assumptions(prime_ml=50)
    assert take_off([panel()], assumed).primer.p50 == 0
    assert take_off([panel(material="metal")], assumed).primer.p50 == pytest.approx(50)


def test_no_coats_take_no_colour() -> None:
    need = take_off([panel()], Assumptions(colour_coats=0)).colour
    assert need.p50 == 0


def test_an_empty_survey_is_refused() -> None:
    with pytest.raises(Refusal):
        take_off([])


@pytest.mark.parametrize("name", list(LIMITS))
def test_every_figure_has_its_limits(name: str) -> None:
    low, high = LIMITS[name]
    for value in (low - 0.001 if low else -1, high + 1, float("nan")):
        with pytest.raises(Refusal) as refused:
            Assumptions(**{name: value})
        assert refused.value.where == name


@settings(max_examples=15)
@given(st.integers(1, 12), st.floats(0.3, 0.95))
def test_simulation_says_the_same(coats: int, transfer: float) -> None:
    """The closed form against draws of the model it stands for: 30 pieces, medians within 2 %."""
    rng = np.random.default_rng(coats)
    assumed = Assumptions(colour_coats=coats, transfer=transfer, keep_back=0, cup_loss=0)
    pieces = [panel(str(n)) for n in range(30)]
    found = take_off(pieces, assumed).colour
    each = coats * 7.5 / (0.277 * transfer)
    shared = np.exp(rng.normal(0, found.spread.sigma, (4000, 1)))
    own = np.exp(rng.normal(0, 0.15, (4000, 30)))
    assert np.median((each * shared * own).sum(axis=1)) == pytest.approx(found.p50, rel=0.02)


def test_of_a_zone_that_is_not_sat_on_nothing_is_wiped_in() -> None:
    def seat(*zones: Zone) -> Piece:
        return make_piece(key="S", name="seat", group="", shape="panel", length=1.0, width=0.5, sat_on=True, zones=zones)  # fmt: skip

    whole = take_off([seat()], Assumptions())
    back = Zone("back and face", 0.55)
    part = take_off([seat(Zone("sides", 0.45, sat_on=False), back)], Assumptions())
    assert part.wiped_area == pytest.approx(0.55 * whole.wiped_area)
    assert part.area == whole.area
    coats = {
        z: list(coats_of(seat(*z), Assumptions())) for z in ((), (Zone("sides", 0.45, sat_on=False), back))
    }
    by_stage = [
        {stage: sum(c.millilitres(Assumptions()) for c in each if c.stage is stage) for stage in Stage}
        for each in coats.values()
    ]
    assert by_stage[1][Stage.WIPED] == pytest.approx(0.55 * by_stage[0][Stage.WIPED])
    assert by_stage[1][Stage.COLOUR] == by_stage[0][Stage.COLOUR]
    none = seat(Zone("sides", 0.45, sat_on=False), Zone("back and face", 0.55, sat_on=False))
    assert none.wiped_faces == ()
