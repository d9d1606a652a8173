"""The forms of a cup of one's own: how it begins, what is poured, a leftover thrown in."""

from typing import Any

from django import forms

from hidewright.colour.cups.own import FAMILIES
from hidewright.workshop.colours.own_queries import UNITS
from hidewright.workshop.frame.forms import NumberField, VolumeField
from hidewright.workshop.shop.words import by_units


class BeginForm(forms.Form):
    """A cup of one's own; the family is asked for only where no target is in force."""

    word = forms.ChoiceField(
        label="It is to be",
        required=False,
        choices=[("", "I just pour until I like it"), *((word, word) for word in FAMILIES)],
        help_text="A word is enough. Your eye then says how far the cup is from the piece.",
    )
    piece = forms.ChoiceField(label="Held against", required=False)
    part = VolumeField(
        label="One part is",
        help_text=by_units(
            "What your measure holds, such as 30 mL.", "What your measure holds, such as 1 fl oz."
        ),
    )
    capacity = VolumeField(label="The cup holds", help_text="To the line.")
    name = forms.CharField(label="Name of the cup", max_length=60, required=False)

    def __init__(self, *args: Any, pieces: list[str], aimed: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["piece"].choices = [("", "any piece"), *((name, name) for name in pieces)]  # type: ignore[attr-defined]
        if aimed:
            del self.fields["word"]
        if aimed or not pieces:
            del self.fields["piece"]


class OwnPourForm(forms.Form):
    """One free pour."""

    what = forms.ChoiceField(label="What went in")
    value = NumberField(label="How much", min_value=0, help_text="Such as 2, 1/2 or 3.4.")
    unit = forms.ChoiceField(label="Measured in", choices=UNITS)

    def __init__(self, *args: Any, bottles: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["what"].choices = bottles  # type: ignore[attr-defined]


class LeftoverForm(forms.Form):
    """A mixed leftover that nobody logged."""

    name = forms.CharField(
        label="What it is", max_length=60, required=False, help_text="Such as: old tan, from the can."
    )
    looks = forms.ChoiceField(label="It looks", choices=[(word, word) for word in FAMILIES])
    amount = VolumeField(label="How much went in")


class LikeForm(forms.Form):
    """The cup becomes the recipe."""

    name = forms.CharField(label="Name of the recipe", max_length=60, required=False)
