"""Files that a person brings, read as text."""

from django import forms
from django.core.files.uploadedfile import UploadedFile

from hidewright.refusals import Refusal
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
