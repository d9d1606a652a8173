"""Readings in: what an instrument wrote, or a colour that somebody typed; any of them can be a target."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from hidewright.colour.light.cie import hex_from_reflectance, lab
from hidewright.colour.reading.cgats import LAB_SD
from hidewright.colour.reading.formats import read_any, typed_colour
from hidewright.colour.reading.readings import Reading
from hidewright.colour.reading.readings_in import READINGS
from hidewright.refusals import Refusal
from hidewright.units import counted

from .files import Source, list_source
from .tables import html_of


def chosen_reading(readings: Sequence[Reading], name: str, use: str) -> Reading | None:
    """The reading of that name; without one the row whose column `use` says so, or for the target the first."""
    if name:
        named = [r for r in readings if r.name == name]
        if not named:
            names = ", ".join(r.name for r in readings)
            raise Refusal(f"No reading is called {name}.", where="readings", remedy=f"There are: {names}.")
        return named[0]
    marked = [r for r in readings if r.facts.get("use", "") == use]
    if marked:
        return marked[0]
    return readings[0] if use == "target" else None


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """The readings of a file, in its order: a sequence, and by name. `target`, `old` and `cup` are those that its column `use` marks.

    >>> from hidewright import api
    >>> readings = api.load_readings("name,use,l,a,b\\nold seat,old colour,40,5,9\\nswatch,target,58,10,24\\n")
    >>> readings.target.name, readings["old seat"] is readings.old, len(readings)
    ('swatch', True, 2)
    """

    all: tuple[Reading, ...]

    def __len__(self) -> int:
        return len(self.all)

    def __iter__(self) -> Iterator[Reading]:
        return iter(self.all)

    def __getitem__(self, which: int | str) -> Reading:
        if isinstance(which, int):
            return self.all[which]
        reading = chosen_reading(self.all, which, "")
        if reading is None:
            raise Refusal("A reading has a name.", where="readings")
        return reading

    @property
    def target(self) -> Reading:
        """The one marked target, else the first."""
        reading = chosen_reading(self.all, "", "target")
        assert reading is not None
        return reading

    @property
    def old(self) -> Reading | None:
        """The one marked old colour: what lies below; None where there is none."""
        return chosen_reading(self.all, "", "old colour")

    @property
    def cup(self) -> Reading | None:
        """The one marked cup; None where there is none."""
        return chosen_reading(self.all, "", "cup")

    @property
    def words(self) -> str:
        """A line for each: its L* a* b* under D65."""
        return "\n".join(
            [
                f"{counted(len(self.all), 'reading')}.",
                *(f"{r.name}: L* a* b* {_lab(r)}" for r in self.all),
            ]
        )

    def _repr_html_(self) -> str:
        rows = ((r.name, hex_from_reflectance(r.reflectance), _lab(r)) for r in self.all)
        return html_of(f"{counted(len(self.all), 'reading')}.", ("Reading", "", "L* a* b*"), rows)


def _lab(reading: Reading) -> str:
    return " ".join(f"{value:.1f}" for value in lab(reading.reflectance))


def load_readings(
    source: Source, *, columns: Mapping[str, str] | None = None, words: Mapping[str, str] | None = None
) -> Readings:
    """Readings of a table (spectra, or L* a* b*) in our columns or any others (see `load_pieces`), of a CGATS.17 or a CxF3 file. Raises `Refusals` naming every place to put right.

    >>> from hidewright import api
    >>> readings = api.load_readings(api.example("readings.csv"))
    >>> print(readings.words)
    2 readings.
    Target, under the cushion: L* a* b* 63.1 5.9 10.0
    Old coat, back of chair 3: L* a* b* 50.3 5.5 2.7
    """
    return Readings(
        list_source(source, READINGS, read_any, lambda draft: draft.values, columns=columns, words=words)
    )


def colour(
    name: str, lab_values: Sequence[float], *, sd: float = LAB_SD, light: str = "D65", observer: str = "10"
) -> Reading:
    """A target of which only L*, a*, b* are known, each with the spread `sd` (CIELAB units). Under every other light it is a guess, and results say so.

    >>> from hidewright import api
    >>> tan = api.colour("tan", (58, 14, 27))
    >>> tan.guessed(("D65", "A"))
    ('A',)
    """
    return typed_colour(name, lab_values, sd=sd, light=light, observer=observer)
