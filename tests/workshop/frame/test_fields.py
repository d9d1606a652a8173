"""Figures as people write them, and the keys a phone shows for them."""

import pytest
from django import forms

from hidewright.workshop.colours.forms import TypedColourForm
from hidewright.workshop.frame.forms import NumberField, VolumeField, WeighedField
from hidewright.workshop.frame.pages import whole


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
    with pytest.raises(forms.ValidationError, match="At most 90"):
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


def typed(**told: str) -> TypedColourForm:
    return TypedColourForm({"l": "50", "a": "20", "b": "30", "light": "D65", "observer": "10", **told})


def test_a_colour_may_be_stated_by_chroma_and_hue() -> None:
    form = typed(space="lch", a="20", b="90")
    assert form.is_valid(), form.errors
    assert form.cleaned_data["lab"] == pytest.approx((50, 0, 20))
    form = typed(space="lch", a="20,5", b="315")
    assert form.is_valid(), form.errors
    assert form.cleaned_data["lab"] == pytest.approx((50, 14.4957, -14.4957), abs=1e-4)
    for plain in (typed(), typed(space="lab")):
        assert plain.is_valid()
        assert plain.cleaned_data["lab"] == (50, 20, 30)


@pytest.mark.parametrize(
    "told",
    [
        {"space": "lch", "a": "-3"},
        {"space": "lch", "b": "-10"},
        {"space": "lch", "b": "361"},
        {"b": "200"},
        {"a": "-151"},
        {"space": "hsv"},
    ],
)
def test_what_no_colour_can_be_is_refused(told: dict[str, str]) -> None:
    assert not typed(**told).is_valid()


def test_what_the_framework_says_of_a_field_tells_what_to_do() -> None:
    """Every form of the house, and each kind of field: no bare “required”."""

    class Told(forms.Form):
        name = forms.CharField()
        day = forms.DateField()
        count = forms.IntegerField()
        kind = forms.ChoiceField(choices=[("a", "A")])
        sheet = forms.FileField()

    form = Told({"day": "last year", "count": "many"})
    assert {name: errors[0] for name, errors in form.errors.items()} == {
        "name": "Fill this in.",
        "day": "This is no day. Write it like 2026-03-02, or pick it from the calendar.",
        "kind": "Choose one.",
        "count": "Write a whole number, such as 4.",
        "sheet": "Choose a file first.",
    }


@pytest.mark.parametrize(
    ("text", "number"),
    [("12", 12), ("0", 0), *((odd, -1) for odd in ("", "-1", "1.5", "²", "٣", "<script>", "9" * 40, " 7"))],
)
def test_a_hidden_number_is_whole_or_none(text: str, number: int) -> None:
    assert whole(text, -1) == number
