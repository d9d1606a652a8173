"""What a page does with a sent form: the act, or the refusal beside the field it is about."""

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from django import forms
from django.core.files.uploadedfile import UploadedFile

from hidewright.lists.grid import text_of_file
from hidewright.refusals import Refusal, Refusals
from hidewright.units import read_mass, read_number, read_volume

_Made = TypeVar("_Made")


def made(
    form: forms.Form, act: Callable[[dict[str, Any]], _Made], fields: Mapping[str, str] | None = None
) -> _Made | None:
    """What the act made of what the form tells; None where the form is not in order or the act refuses, which then is the form's error."""
    if not form.is_valid():
        return None
    try:
        return act(form.cleaned_data)
    except Refusal as refusal:
        refuse(form, refusal, fields)
        return None


def acted(
    form: forms.Form, act: Callable[[dict[str, Any]], object], fields: Mapping[str, str] | None = None
) -> bool:
    """Whether the form is in order and the act was done with what it tells; what the act refuses becomes the form's error."""
    return made(form, lambda told: (act(told),), fields) is not None


def refuse(form: forms.Form, refusal: Refusal, fields: Mapping[str, str] | None = None) -> None:
    """Put a refusal beside the field it is about, or above the form; one line for each thing to put right."""
    items = refusal.items if isinstance(refusal, Refusals) else (refusal,)
    if isinstance(refusal, Refusals):
        form.add_error(None, refusal.what)
    for item in items:
        field = (fields or {}).get(item.where)
        if field:
            form.add_error(field, f"{item.what} {item.remedy}".strip())
        else:
            form.add_error(None, str(item))


class NumberField(forms.FloatField):
    """A number: 12.5, 0,5 or 3/8. Where it may lie below nothing, a phone offers the keys with a minus."""

    widget = forms.TextInput

    def __init__(
        self, *, min_value: float | None = None, max_value: float | None = None, **kwargs: Any
    ) -> None:
        self.below_nothing = min_value is None or min_value < 0
        super().__init__(min_value=min_value, max_value=max_value, **kwargs)

    def to_python(self, value: Any) -> Any:
        """The number, or None where nothing was written."""
        if value in self.empty_values:
            return None
        try:
            return read_number(str(value))
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal), code="invalid") from refusal

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """The keys that a phone shows."""
        keys = {} if self.below_nothing else {"inputmode": "decimal"}
        return {**super().widget_attrs(widget), "autocomplete": "off", **keys}


class WeighedField(NumberField):
    """What was read off the balance, in g: a number, or one with its unit, such as 1 1/2 oz."""

    def to_python(self, value: Any) -> Any:
        """Grams, or None where nothing was written."""
        text = str(value).strip().lower()
        if not text.endswith(("g", "oz", "lb")):
            return super().to_python(value)
        try:
            return read_mass(text)
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal), code="invalid") from refusal


class VolumeField(forms.CharField):
    """A volume in mL from “250 mL”, “12 fl oz”, “2 x 5 L” or a bare number of mL.

    Above nothing, or nothing too where `may_be_nothing` (an empty can was counted), and up to 200 L.
    """

    LARGEST = 200_000

    def __init__(self, *, may_be_nothing: bool = False, **kwargs: Any) -> None:
        self.may_be_nothing = may_be_nothing
        super().__init__(**{"max_length": 30, **kwargs})

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """No list of what was typed before."""
        return {**super().widget_attrs(widget), "autocomplete": "off"}

    def clean(self, value: Any) -> float | None:
        """mL, or None where nothing was written and nothing must be."""
        text = super().clean(value)
        if not text:
            return None
        try:
            millilitres = read_volume(text, "mL")
        except Refusal as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if millilitres < 0 or millilitres > self.LARGEST or not (millilitres or self.may_be_nothing):
            raise forms.ValidationError("Write a volume above nothing and up to 200 L.")
        return millilitres


LARGEST = 10 * 2**20
"""Bytes; no list of readings is larger."""


def text_of(upload: "UploadedFile[bytes]") -> str:
    """The text of an uploaded file, or of the list in a spreadsheet; refuses a file over `LARGEST`."""
    if (upload.size or 0) > LARGEST:
        raise Refusal("The file is too large.", where=str(upload.name), remedy="It may hold up to 10 MB.")
    return text_of_file(upload.read())


class UploadForm(forms.Form):
    """One file."""

    file = forms.FileField(
        label="File",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx,.xlsm,.xlsb,.xls,.ods,.xml,.cxf"}),
    )

    def text(self) -> str:
        """The text of the file that was brought."""
        return text_of(self.cleaned_data["file"])

    @property
    def brought(self) -> bytes:
        """The bytes of the file that was brought; none where there is no file, or one over `LARGEST`."""
        upload = self.cleaned_data.get("file") if hasattr(self, "cleaned_data") else None
        if upload is None or (upload.size or 0) > LARGEST:
            return b""
        upload.seek(0)
        return bytes(upload.read())

    @property
    def brought_name(self) -> str:
        """The name of that file."""
        return str(self.cleaned_data["file"].name)
