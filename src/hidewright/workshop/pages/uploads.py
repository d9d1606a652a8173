"""Files that a person brings: read as text, with the refusals shown line by line."""

from django import forms
from django.core.files.uploadedfile import UploadedFile

from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import file_text

LARGEST = 10 * 2**20
"""Bytes; no list of readings is larger."""


def text_of(upload: "UploadedFile[bytes]") -> str:
    """The text of an uploaded file, as `file_text` reads it; refuses a file over `LARGEST`."""
    if (upload.size or 0) > LARGEST:
        raise Refusal("The file is too large.", where=str(upload.name), remedy="It may hold up to 10 MB.")
    return file_text(upload.read())


class UploadForm(forms.Form):
    """One file."""

    file = forms.FileField(label="File", widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xml,.cxf"}))

    def text(self) -> str:
        """The text of the file that was brought."""
        return text_of(self.cleaned_data["file"])


def refuse(form: forms.Form, refusal: Refusal, fields: dict[str, str] | None = None) -> None:
    """Put a refusal beside the field it is about, or above the form; one line for each thing to put right."""
    items = refusal.items if isinstance(refusal, Refusals) else (refusal,)
    places = fields or {}
    if isinstance(refusal, Refusals):
        form.add_error(None, refusal.what)
    for item in items:
        field = places.get(item.where)
        if field:
            form.add_error(field, f"{item.what} {item.remedy}".strip())
        else:
            form.add_error(None, str(item))
