"""Grey scale for change in colour. Source: EN 20105-A02:1994, table of grades in CIELAB units, with tolerances."""

import pytest

from hidewright.colour.light.grey_scale import STEPS, grade
from hidewright.refusals import Refusal

EN_20105_A02 = {
    "5": 0.0,
    "4-5": 0.8,
    "4": 1.7,
    "3-4": 2.5,
    "3": 3.4,
    "2-3": 4.8,
    "2": 6.8,
    "1-2": 9.6,
    "1": 13.6,
}


@pytest.mark.parametrize(("step", "difference"), EN_20105_A02.items())
def test_each_step_and_its_tolerance_give_its_grade(step: str, difference: float) -> None:
    tolerance = next(t for name, _, t in STEPS if name == step)
    for off in (-tolerance, 0.0, tolerance):
        assert grade(max(difference + off, 0.0)) == step


def test_beyond_the_scale_and_nonsense() -> None:
    assert grade(50.0) == "1"
    with pytest.raises(Refusal):
        grade(-1.0)
