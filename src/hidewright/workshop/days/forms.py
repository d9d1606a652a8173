"""The forms of the page Days: planning, planning again, a piece that goes again or has to wait."""

from collections.abc import Mapping
from typing import Any

from django import forms

from hidewright.planning.problem.model import Kind

THINKING = ((10, "10 seconds"), (30, "half a minute"), (60, "a minute"), (180, "three minutes"))

AGAIN = tuple(kind for kind in Kind if kind not in (Kind.TURN, Kind.UNMASK, Kind.INSPECT))
"""The steps that a piece can go through again; unmasking and inspecting follow by themselves."""


class PlanForm(forms.Form):
    """How long the planner may think."""

    seconds = forms.TypedChoiceField(
        label="Think for", choices=THINKING, coerce=int, initial=30, help_text="You can stop it at any time."
    )


class ReplanForm(forms.Form):
    """Planning again while the work goes on."""

    how = forms.ChoiceField(
        label="How",
        choices=[
            ("keep", "Go on from where the work is; move as little as can be"),
            ("rest", "Plan what is left from scratch, from now; what is done stays"),
            ("anew", "Plan everything from scratch, as if nothing were done"),
        ],
        initial="keep",
        widget=forms.RadioSelect,
    )
    because = forms.CharField(label="Why", max_length=160, required=False, help_text="For the record.")
    seconds = forms.TypedChoiceField(
        label="Think for", choices=THINKING, coerce=int, initial=10, help_text="You can stop it at any time."
    )


class AllForm(forms.Form):
    """Planning all open jobs anew."""

    seconds = forms.TypedChoiceField(
        label="Think for",
        choices=THINKING[1:],
        coerce=int,
        initial=60,
        help_text="For all jobs together. You can stop it at any time.",
    )


class RoomForm(forms.Form):
    """A copy of a job that is fitted into the room that is left."""

    job = forms.TypedChoiceField(label="Another interior like", coerce=int)
    start = forms.DateField(
        label="Not before", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )

    def __init__(self, *args: Any, jobs: list[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["job"]
        assert isinstance(choice, forms.ChoiceField)
        choice.choices = jobs


class AgainForm(forms.Form):
    """A piece that has to go through some steps again."""

    piece = forms.ChoiceField(label="Which piece")
    kinds = forms.MultipleChoiceField(
        label="Which steps again",
        choices=[(str(kind), str(kind).capitalize()) for kind in AGAIN],
        initial=[str(kind) for kind in (Kind.SAND, Kind.TACK, Kind.SECOND, Kind.CLEAR)],
        widget=forms.CheckboxSelectMultiple,
    )
    why = forms.CharField(label="Why", max_length=240, required=False)

    def __init__(self, *args: Any, pieces: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["piece"]
        assert isinstance(choice, forms.ChoiceField)
        choice.choices = list(pieces.items())


class HoldForm(forms.Form):
    """A piece that has to wait."""

    piece = forms.ChoiceField(label="Which piece")
    before = forms.ChoiceField(
        label="Before which step", choices=[(str(kind), str(kind).capitalize()) for kind in Kind]
    )
    until = forms.DateField(label="Until", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
    why = forms.CharField(
        label="What for", max_length=240, required=False, help_text="An approval, a missing part …"
    )

    def __init__(self, *args: Any, pieces: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["piece"]
        assert isinstance(choice, forms.ChoiceField)
        choice.choices = list(pieces.items())


class DueForm(forms.Form):
    """A piece that must be done before the rest."""

    piece = forms.ChoiceField(label="Which piece")
    day = forms.DateField(
        label="Done by the end of", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )
    why = forms.CharField(label="What for", max_length=240, required=False)

    def __init__(self, *args: Any, pieces: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["piece"]
        assert isinstance(choice, forms.ChoiceField)
        choice.choices = list(pieces.items())
