"""The forms of the bench: volumes as people write them, pours as they are read, cups, gun loads, jars."""

from typing import Any

from django import forms
from django.utils import timezone

from hidewright.mixing.grain import BALANCE_STEPS
from hidewright.mixing.jars import keep_until
from hidewright.workshop.frame.forms import NumberField, VolumeField, WeighedField
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.words import by_units


class CupForm(forms.Form):
    """A new cup."""

    aim = VolumeField(
        label="How much to mix", help_text=by_units("Like 900 mL or 1.2 L.", "Like 1 qt or 24 fl oz.")
    )
    capacity = VolumeField(
        label="The vessel holds",
        required=False,
        help_text="To the line. Empty: the smallest of the shop's vessels that takes it.",
    )
    name = forms.CharField(label="Name of the cup", max_length=60, required=False)
    measure = forms.ChoiceField(label="Measured", choices=MixVessel.Measure.choices)
    tare = WeighedField(
        label="Empty vessel, g",
        required=False,
        help_text="Empty: the balance is zeroed with the vessel on it.",
    )


class PourForm(forms.Form):
    """A pour that was not as shown."""

    value = WeighedField(label="Reading")
    lot = forms.CharField(label="Lot", max_length=60, required=False)


class MeasureForm(forms.Form):
    """How this cup is measured."""

    measure = forms.ChoiceField(label="Measured", choices=MixVessel.Measure.choices)
    tare = WeighedField(label="Empty vessel, g", required=False)
    grain = forms.TypedChoiceField(
        label="The balance shows",
        coerce=float,
        choices=[(str(step), f"steps of {step:g} g") for step in BALANCE_STEPS],
    )


class DropForm(forms.Form):
    """Calibrating a bottle's drop."""

    component = forms.ChoiceField(label="Bottle")
    drops = forms.IntegerField(label="Drops counted", min_value=10, max_value=500, initial=20)
    grams = WeighedField(label="They weigh, g")

    def __init__(self, bottles: list[tuple[str, str]], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["component"] = forms.ChoiceField(label="Bottle", choices=bottles)


class AmountForm(forms.Form):
    """An amount that goes to waste."""

    amount = VolumeField(label="How much", required=False, help_text="Empty: all of it.")
    note = forms.CharField(label="Note", max_length=120, required=False)


class KeepUntilForm(forms.Form):
    """Until when a jar is kept."""

    until = forms.DateField(
        label="Keep until", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )


class SprayForm(forms.Form):
    """What was sprayed, and on what."""

    amount = VolumeField(label="How much left the cup")
    groups = forms.MultipleChoiceField(
        label="On which groups",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="So that the shop learns what its pieces take. Single pieces are logged on the page Quantities.",
    )
    coats = forms.IntegerField(
        label="How many coats of it",
        required=False,
        min_value=1,
        max_value=12,
        help_text="Empty: all of them.",
    )
    note = forms.CharField(label="Note", max_length=120, required=False)

    def __init__(self, groups: list[str], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["groups"].choices = [(name, name) for name in groups]  # type: ignore[attr-defined]


class LoadForm(forms.Form):
    """A gun load."""

    amount = VolumeField(label="How much colour", help_text="Only what this session sprays.")
    capacity = VolumeField(label="The gun cup holds", required=False)
    name = forms.CharField(label="Name", max_length=60, required=False)


class GunForm(forms.Form):
    """The shop's gun."""

    cup = VolumeField(
        label="The gun’s cup holds",
        help_text=by_units("To the line, such as 600 mL.", "To the line, such as 20 fl oz."),
    )
    per_minute = NumberField(
        label=by_units("It lays down, mL a minute", "It lays down, fl oz a minute"),
        required=False,
        help_text="With moving and turning. Empty: from the pace of the days.",
    )


class CrosslinkForm(forms.Form):
    """Crosslinker for a gun load."""

    product = forms.CharField(label="Crosslinker", max_length=80)
    ratio = NumberField(
        label="Parts to 100 of colour, by volume", help_text="From its data sheet, such as 3."
    )
    pot_life = NumberField(label="Pot life, min", help_text="From its data sheet. Shorter when warm.")
    lot = forms.CharField(label="Lot", max_length=60, required=False)


class JarForm(forms.Form):
    """A jar for what is left."""

    amount = VolumeField(label="How much")
    name = forms.CharField(label="Name on the jar", max_length=60, required=False)
    until = forms.DateField(
        label="Keep until",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Half a year is common practice. The data sheets rule.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"until": keep_until(timezone.localdate()), **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)


class BiggerForm(forms.Form):
    """A bigger vessel to go on in."""

    capacity = VolumeField(label="The bigger vessel holds")


class OtherForm(forms.Form):
    """A product that is not in the recipe."""

    product = forms.ChoiceField(label="What")
    amount = VolumeField(label="How much")
    lot = forms.CharField(
        label="Lot", max_length=60, required=False, help_text="Empty: the lot that is open."
    )

    def __init__(self, products: list[tuple[str, str]], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["product"] = forms.ChoiceField(label="What", choices=products)


class VesselChoice(forms.Form):
    """One of the other vessels."""

    vessel = forms.ChoiceField(label="How")

    def __init__(self, vessels: list[tuple[str, str]], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["vessel"] = forms.ChoiceField(label="How", choices=vessels)


class AgainForm(forms.Form):
    """Make what is in a vessel again."""

    aim = VolumeField(label="How much to mix again", initial=by_units("60 mL", "2 fl oz"))
    job = forms.ChoiceField(label="For which job")
    as_poured = forms.BooleanField(label="In the proportions as poured, without a correction", required=False)

    def __init__(self, jobs: list[tuple[int, str]], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["job"] = forms.ChoiceField(label="For which job", choices=jobs)


class JarPourForm(forms.Form):
    """Out of a jar into a cup."""

    amount = VolumeField(label="How much")
    vessel = forms.ChoiceField(label="Into which cup")

    def __init__(self, cups: list[tuple[int, str]], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["vessel"] = forms.ChoiceField(label="Into which cup", choices=cups)
