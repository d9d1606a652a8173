"""What is asked when pieces come in."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from hidewright.workshop.intake.models import PictureKind


class DeliveryForm(forms.Form):
    """Who brought it, and when; the pieces are ticked beside it."""

    brought_by = forms.CharField(label="Who brought it?", max_length=120)
    day = forms.DateField(
        label="Day",
        initial=timezone.localdate,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )
    note = forms.CharField(
        label="Note", max_length=400, required=False, help_text="What was said, what is damaged."
    )


class ConditionForm(forms.Form):
    """How a piece looked when it came."""

    condition = forms.CharField(
        label="How did it look?", max_length=240, required=False, help_text="Such as seam open, two burns."
    )


class SeveralFiles(forms.ClearableFileInput):
    """A file field that takes several."""

    allow_multiple_selected = True


class PicturesField(forms.FileField):
    """One picture or several."""

    widget = SeveralFiles

    def clean(self, data: Any, initial: Any = None) -> "list[UploadedFile[bytes]]":
        """The files as a list; each is looked at later."""
        files = data if isinstance(data, (list, tuple)) else [data]
        return [super(PicturesField, self).clean(each, initial) for each in files]


class PicturesForm(forms.Form):
    """Pictures, and what they are for."""

    pictures = PicturesField(
        label="Pictures", max_length=400, widget=SeveralFiles(attrs={"accept": "image/*", "multiple": True})
    )
    kind = forms.ChoiceField(label="They show it", choices=PictureKind.choices)
