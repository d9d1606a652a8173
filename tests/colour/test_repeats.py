"""How far one reading may be off, how many bring that down, and readings of one thing as one."""

import numpy as np
import pytest

from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.pigments.drawdowns import READING_SD, Drawdown
from hidewright.colour.reading.readings import Reading, colour_reading
from hidewright.colour.reading.repeats import (
    MOST_READINGS,
    PROMISE,
    alike_as_one,
    lab_sd,
    repeats,
    repeats_of,
    spread_of,
)

BAND = np.linspace(0.0, 1.0, 31)
BROWN = 0.05 + 0.1 * BAND
"""An invented brown, L* about 37."""


def flat(level: float) -> np.ndarray:
    return np.full(31, level)


@pytest.mark.parametrize("read", [flat(0.5), BROWN, flat(0.06)], ids=["light", "brown", "dark"])
@pytest.mark.parametrize("count", [1, 4])
def test_the_spread_is_what_noise_does_and_falls_with_the_root_of_the_readings(
    read: np.ndarray, count: int
) -> None:
    """Against 4,000 simulated means; the spread is linearised, hence 6 %."""
    noise = np.random.default_rng(7).normal(0.0, READING_SD, (4000, count, 31)).mean(axis=1)
    seen = delta_e00(lab(read + noise), lab(read))
    assert repeats(read).after(count) == pytest.approx(float(np.sqrt((seen**2).mean())), rel=0.06)


def test_dark_films_want_more_readings_than_light_ones() -> None:
    assert repeats(flat(0.5)).count == 1
    assert repeats(flat(0.5)).reached == PROMISE
    assert 3 <= repeats(flat(0.045)).count <= 5
    assert repeats(flat(0.5), flat(0.045)) == repeats(flat(0.045)), "the darker side counts"


def test_the_advised_readings_keep_the_promise_or_say_what_they_leave() -> None:
    for level in np.geomspace(0.004, 0.8, 30):
        found = repeats(flat(level))
        if found.count < MOST_READINGS:
            assert found.after(found.count) <= PROMISE
            assert found.count == 1 or found.after(found.count - 1) > PROMISE, "no reading too many"
        else:
            assert found.reached == max(PROMISE, found.one / 3)
    assert repeats(flat(0.004)).reached > PROMISE


def test_a_drawdown_is_as_dark_as_its_darker_side() -> None:
    film = Drawdown("film", {"P": 0.5}, 40.0, flat(0.05), flat(0.5), flat(0.05), flat(0.8))
    assert repeats_of(film) == repeats(flat(0.05))


def test_a_colour_without_a_spectrum_spreads_as_it_was_told() -> None:
    near = spread_of(colour_reading("typed", (50.0, 0.0, 0.0), 0.5))
    assert spread_of(colour_reading("typed", (50.0, 0.0, 0.0), 1.0)) == pytest.approx(2 * near)


def test_readings_of_one_name_become_their_mean_and_keep_what_was_told() -> None:
    step = flat(0.002)
    rows = [
        Reading("Seat", BROWN + step, {"use": ""}),
        Reading("Back", flat(0.4)),
        Reading("Seat", BROWN - step, {"use": "target"}),
    ]
    seat, back = alike_as_one(rows)
    np.testing.assert_allclose(seat.reflectance, BROWN)
    assert (seat.name, seat.facts, back.name) == ("Seat", {"use": "target"}, "Back")
    assert spread_of(seat) == pytest.approx(repeats(BROWN).after(2))
    assert lab_sd(BROWN, seat.sd) == pytest.approx(lab_sd(BROWN) / np.sqrt(2))


def test_different_things_of_one_name_are_told_apart_and_wet_is_not_mixed_with_dry() -> None:
    apart = alike_as_one([Reading("Sample", flat(0.2)), Reading("Sample", flat(0.5))])
    assert [each.name for each in apart] == ["Sample (1)", "Sample (2)"]
    wet = [Reading("Seat", BROWN, {"state": state}) for state in ("wet", "dry")]
    assert len(alike_as_one(wet)) == 2
    typed = [colour_reading("Seat", (40.0, 5.0, 9.0), 0.5)] * 2
    assert len(alike_as_one(typed)) == 2
