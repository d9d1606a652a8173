"""Figures as people write them, and the keys a phone shows for them."""

import pytest
from django import forms

from hidewright.workshop.pages.fields import NumberField, VolumeField, WeighedField


@pytest.mark.parametrize(
    ("written", "read"), [("14,5", 14.5), ("3/8", 0.375), ("1 1/2", 1.5), ("-7", -7.0), (" 1,234.5 ", 1234.5)]
)
def test_a_number_is_read_as_it_is_written(written: str, read: float) -> None:
    assert NumberField().clean(written) == read


@pytest.mark.parametrize("written", ["", "twelve", "nan", "inf", "1e400", "1/0", "12 mm"])
def test_what_is_no_number_is_refused(written: str) -> None:
    with pytest.raises(forms.ValidationError):
        NumberField().clean(written)


def test_limits_hold_for_a_comma_too() -> None:
    field = NumberField(min_value=0.5, max_value=90)
    assert field.clean("0,5") == 0.5
    with pytest.raises(forms.ValidationError, match="less than or equal to 90"):
        field.clean("90,1")


def test_a_phone_offers_a_minus_where_a_figure_may_lie_below_nothing() -> None:
    class Figures(forms.Form):
        a = NumberField(min_value=-150, max_value=150)
        load = NumberField(min_value=0.5)

    form = Figures()
    assert "inputmode" not in str(form["a"])
    assert 'inputmode="decimal"' in str(form["load"])


def test_a_weight_may_carry_its_unit() -> None:
    assert WeighedField().clean("1 1/2 oz") == pytest.approx(42.5242, abs=1e-4)
    assert WeighedField().clean("12,5 g") == 12.5
    assert WeighedField().clean("12,5") == 12.5


def test_nothing_is_a_volume_only_where_a_can_was_counted() -> None:
    assert VolumeField(may_be_nothing=True).clean("0 L") == 0
    for written in ("0", "-3 L", "900 L"):
        with pytest.raises(forms.ValidationError, match=r"above nothing|cannot be read"):
            VolumeField().clean(written)
