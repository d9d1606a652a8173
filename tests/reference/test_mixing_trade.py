"""What the trade says of parts and cups. Common practice, no source, except the sizes of the units (exact)."""

import pytest

from hidewright.mixing.recipe import recipe_by_parts
from hidewright.units import US_FL_OZ_ML, US_QUART_ML


@pytest.mark.parametrize(("clear", "low", "high"), [(5, 0.16, 0.17), (4, 0.20, 0.20), (4.5, 0.175, 0.185)])
def test_one_part_of_pigment_to_so_many_of_clear(clear: float, low: float, high: float) -> None:
    """Common practice, no source: one to five is 16-17 %, to four 20 %, to four and a half about 18 %."""
    recipe = recipe_by_parts("Parts", [("clear", "Clear", clear, 1.03), ("pigment", "Pigment", 1, 1.3)])
    assert low - 1e-12 <= recipe.part("pigment").share <= high + 1e-12


def test_six_five_ounce_cups_come_just_short_of_a_quart() -> None:
    """Common practice, no source; fluid ounce and quart by definition: 30 of 32 fl oz."""
    assert 0.9 * US_QUART_ML < 6 * 5 * US_FL_OZ_ML < US_QUART_ML
