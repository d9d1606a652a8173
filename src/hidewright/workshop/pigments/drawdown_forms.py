"""The form of one drawdown: what was weighed, how thick it was laid, and the file of its readings."""

import re
from collections.abc import Sequence
from typing import Any

from django import forms

from hidewright.colour.learning.cup import BASE
from hidewright.colour.reading.formats import read_any
from hidewright.lists.mixes import (
    GRAMS,
    MILLILITRES,
    THICK,
    Entry,
    Film,
    Laid,
    Mix,
    Of,
    Part,
    read_film,
    read_mix,
)
from hidewright.refusals import Refusal
from hidewright.units import Units, read_number
from hidewright.workshop.frame.forms import UploadForm, refuse, text_of
from hidewright.workshop.shop.words import by_units

ROWS = 4
UNITS = (
    ("g", "grams, off the balance"),
    (str(Of.WEIGHT), "% of the weight of the mix"),
    (str(Of.VOLUME), "% of the volume of the mix"),
    (str(Of.DRY), "a laboratory’s share of the dry film, such as 0.55"),
)
HOW = (
    (str(Laid.WET), "wet film, read on a gauge"),
    (str(Laid.GAP), "gap of the bar"),
    (str(Laid.WIRE), "wire-wound bar, its number"),
    (str(Laid.DRY), "dry film, measured"),
)
PLACES = {
    "mix": "amount0",
    "film": "film",
    "wet": "film",
    "gap": "film",
    "wire": "film",
    "microns": "film",
    "Readings": "file",
    "Name": "name",
}
"""Where a refusal of the steps belongs."""
_MEASURED = re.compile(
    rf".*\d\s*(?:{'|'.join(sorted({*GRAMS, *MILLILITRES}, key=len, reverse=True))})", re.IGNORECASE
)
_FILM = re.compile(rf"(.*?)\s*({'|'.join(sorted(THICK, key=len, reverse=True))})?", re.IGNORECASE | re.DOTALL)
_DIGITS = re.compile(r"\d+(?:\.\d+|,\d{1,2})?")
"""An amount that is kept digit by digit, for its last one says how fine it was read."""


def _bare(keys: str = "text", **kwargs: Any) -> forms.CharField:
    attrs = {"inputmode": keys, "autocomplete": "off"}
    return forms.CharField(max_length=20, required=False, widget=forms.TextInput(attrs=attrs), **kwargs)


class FilmForm(forms.Form):
    """What was weighed and how thick it was laid; `entry` holds it once the form is in order."""

    unit = forms.ChoiceField(
        label="Amounts in",
        choices=UNITS,
        help_text="18 % by volume of a white paste is about 29 % by weight: it matters which. In per cent the rest is base.",
    )
    how = forms.ChoiceField(label="Film", choices=HOW)
    film = _bare(label="How thick", help_text=by_units("Such as 100 µm.", "Such as 4 mil."))
    entry: Entry

    def __init__(self, *args: Any, things: Sequence[tuple[str, str]], units: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.units = units
        for n in range(ROWS):
            self.fields[f"thing{n}"] = forms.ChoiceField(
                label=f"Thing {n + 1}", required=False, choices=[("", "nothing more"), *things]
            )
            self.fields[f"amount{n}"] = _bare("decimal", label=f"How much of thing {n + 1}")

    @property
    def rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """The fields of what is in the mix, thing and amount."""
        return [(self[f"thing{n}"], self[f"amount{n}"]) for n in range(ROWS)]

    def clean(self) -> dict[str, Any]:
        """Make the entry of what was written; each refusal is put beside its field."""
        cleaned = super().clean() or {}
        parts = [part for n in range(ROWS) if (part := self._part(n, cleaned)) is not None]
        film = self._film(cleaned)
        if not self.errors and film is not None:
            try:
                self.entry = Entry(Mix(tuple(parts)), film)
            except Refusal as refusal:
                refuse(self, refusal, PLACES)
        return cleaned

    def _part(self, n: int, cleaned: dict[str, Any]) -> Part | None:
        key, text = cleaned.get(f"thing{n}", ""), cleaned.get(f"amount{n}", "")
        unit = cleaned.get("unit", "g")
        if not (key or text) or (key == BASE and not text and unit != "g"):
            return None
        if not (key and text):
            self.add_error(
                f"amount{n}" if key else f"thing{n}", "Write how much." if key else "Say what it is."
            )
            return None
        try:
            if _MEASURED.fullmatch(text):
                return read_mix(f"{key} {text}").parts[0]
            if _DIGITS.fullmatch(text):
                return Part(key, text.replace(",", "."), unit)
            if text.endswith("%") and unit == Of.DRY:
                return Part(key, f"{read_number(text[:-1]) / 100:.12g}", unit)
            return Part(key, f"{read_number(text.removesuffix('%').strip()):.12g}", unit)
        except Refusal as refusal:
            self.add_error(f"amount{n}", f"{refusal.what} {refusal.remedy}".strip())
            return None

    def _film(self, cleaned: dict[str, Any]) -> Film | None:
        text, how = cleaned.get("film", ""), cleaned.get("how", "")
        if not text:
            self.add_error("film", "Write how thick it is.")
            return None
        number, unit = _FILM.fullmatch(text.strip()).groups()  # type: ignore[union-attr]
        try:
            plain = f"{read_number(number):.12g}"
            if how == Laid.WIRE and unit and not unit.lower().startswith("mil"):
                raise Refusal("A wire-wound bar has a number.", remedy="Write it alone, such as 20.")
            unit = unit.lower() if unit else "mil" if self.units == Units.US and how != Laid.DRY else "µm"
            return read_film(f"{how} {plain}" if how == Laid.WIRE else f"{how} {plain} {unit}")
        except Refusal as refusal:
            self.add_error("film", f"{refusal.what} {refusal.remedy}".strip())
            return None


class DrawdownForm(FilmForm, UploadForm):
    """One drawdown as a whole."""

    name = forms.CharField(label="Name of the film", max_length=120, help_text="Such as: white, thin.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].label = "File of its readings"

    def clean(self) -> dict[str, Any]:
        """Read the file too."""
        cleaned = super().clean()
        if "file" in cleaned:
            try:
                cleaned["readings"] = read_any(text_of(cleaned["file"]))
            except Refusal as refusal:
                refuse(self, refusal, {refusal.where: "file"})
        return cleaned
