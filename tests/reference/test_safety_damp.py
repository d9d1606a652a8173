"""Damp and drying against published figures and against psychrolib (ASHRAE formulas) as a witness."""

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.refusals import Refusal
from hidewright.safety.damp import (
    Air,
    dew_point,
    drying_factor,
    evaporation_ratio,
    humidity_ratio,
    judge_damp,
    margin,
    saturation_pressure,
)

psychrolib.SetUnitSystem(psychrolib.SI)

# Magnus 17.62, 243.12 by arithmetic; the second figure by PyPI psychrolib 2.5.
DEW_POINTS = [(20, 0.50, 9.255, 9.272), (25, 0.60, 16.693, 16.701), (30, 0.80, 26.169, 26.169)]


@pytest.mark.parametrize(("celsius", "humidity", "magnus", "ashrae"), DEW_POINTS)
def test_dew_points(celsius: float, humidity: float, magnus: float, ashrae: float) -> None:
    assert dew_point(celsius, humidity) == pytest.approx(magnus, abs=5e-4)
    assert psychrolib.GetTDewPointFromRelHum(celsius, humidity) == pytest.approx(ashrae, abs=1e-3)
    assert dew_point(celsius, humidity) == pytest.approx(ashrae, abs=0.05)


@given(st.floats(0, 45), st.floats(0.1, 1.0))
def test_dew_points_agree_with_the_library(celsius: float, humidity: float) -> None:
    """Tolerance .05 K within the range of a workshop where the dew point is above freezing (psychrolib turns to ice below 0 °C, Magnus over water does not)."""
    ours = dew_point(celsius, humidity)
    if ours > 0.5:
        assert ours == pytest.approx(psychrolib.GetTDewPointFromRelHum(celsius, humidity), abs=0.05)


@given(st.floats(5, 45), st.floats(0.05, 1.0), st.floats(70000, 105000))
def test_humidity_ratio_agrees_with_the_library(celsius: float, humidity: float, pressure: float) -> None:
    ours = humidity_ratio(celsius, humidity, pressure)
    assert ours == pytest.approx(psychrolib.GetHumRatioFromRelHum(celsius, humidity, pressure), rel=5e-3)


def test_saturation_pressure_agrees_with_the_library() -> None:
    for celsius in range(1, 46):
        assert saturation_pressure(celsius) == pytest.approx(psychrolib.GetSatVapPres(celsius), rel=4e-3)


def test_three_kelvin_above_the_dew_point() -> None:
    """Practice attributed to ISO 8502-4 (steel); for leather an analogy."""
    assert margin(12.3, 20, 0.5) == pytest.approx(12.3 - 9.255, abs=1e-3)
    assert not judge_damp(12.3, 20, 0.5).close
    assert judge_damp(12.2, 20, 0.5).close
    assert "condenses" in judge_damp(9.0, 20, 0.5).words


# Bare-water evaporation E = (25+19v)(xs−x): ratios and monotonicity only.


def test_evaporation_against_the_library_as_a_ratio() -> None:
    def witness(celsius: float, humidity: float, speed: float) -> float:
        wet = psychrolib.GetHumRatioFromRelHum(celsius, 1.0, 101325.0)
        return (25 + 19 * speed) * (wet - psychrolib.GetHumRatioFromRelHum(celsius, humidity, 101325.0))

    for air in (Air(30, 0.3, 1.0), Air(10, 0.8, 0.0), Air(25, 0.6, 0.3)):
        expected = witness(air.celsius, air.humidity, air.speed) / witness(20, 0.5, 0)
        assert evaporation_ratio(air) == pytest.approx(expected, rel=5e-3)


@given(st.floats(5, 40), st.floats(0.05, 0.9), st.floats(0, 3))
def test_water_dries_faster_in_warmer_drier_and_faster_air(
    celsius: float, humidity: float, speed: float
) -> None:
    here = evaporation_ratio(Air(celsius, humidity, speed))
    assert evaporation_ratio(Air(celsius + 1, humidity, speed)) > here
    assert evaporation_ratio(Air(celsius, humidity + 0.05, speed)) < here
    assert evaporation_ratio(Air(celsius, humidity, speed + 0.1)) > here


def test_the_reference_air_changes_nothing_and_saturated_air_is_refused() -> None:
    assert drying_factor(Air()) == pytest.approx(1.0)
    with pytest.raises(Refusal, match="does not dry"):
        drying_factor(Air(20, 0.99))
    with pytest.raises(Refusal):
        dew_point(20, 0)
    with pytest.raises(Refusal):
        dew_point(99, 0.5)
