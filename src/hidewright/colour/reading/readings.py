"""Readings from an instrument's CSV: one row a reading (wide) or one row a band (long).

Wide: a `name` column and columns named by wavelength in nm ("400", "R400", "400nm"). Long: columns `name`, `wavelength`, `reflectance`.
Values are 0..1 or percent (a file whose largest value is above 2 is taken as percent). Any grid that covers 400-700 nm with steps of
20 nm or less is brought to 10 nm by linear interpolation. Rows that cannot be read are refused by line and column; nothing is half-read.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS, WAVELENGTHS, LightLike, lab_from_xyz, white, xyz
from hidewright.colour.light.smooth import smoothest
from hidewright.colour.light.spectra import numbers, spectrum, spread
from hidewright.colour.pigments.drawdowns import Doubt, Drawdown
from hidewright.colour.pigments.shop_films import Things, turned
from hidewright.lists.bands import TOP_SHARE, rows_in_shares
from hidewright.lists.mixes import Entry, read_film, read_mix
from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import MOST_READINGS, Row, read_sheet

from .conditions import ColourOnly, Conditions

Array = NDArray[np.float64]
_BAND = re.compile(r"^r?\s*(\d{3})\s*(nm)?$", re.IGNORECASE)


INSTRUMENT_SD = 0.0015
"""Reflectance sd of one reading with a good instrument (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """One reading: a spectrum or a colour, with its spread and conditions.

    `reflectance` (31,) as read, 0..1.3; `facts` the other columns of its row, as written. `sd` its reflectance sd, a scalar or (31,). Where only a colour is
    known (typed Lab, a photo, an eye), `colour` holds it with its covariance, and `reflectance` is a stand-in: the smoothest spectrum of that colour. `conditions` say
    under what it was taken.
    """

    name: str
    reflectance: Array
    facts: Mapping[str, str] = field(default_factory=dict)
    sd: float | Array = INSTRUMENT_SD
    colour: ColourOnly | None = None
    conditions: Conditions = field(default_factory=Conditions)
    bands: tuple[float, ...] = ()
    """nm of the bands that its file holds, before they were brought to 31; empty where it holds no spectrum."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "reflectance", spectrum(self.reflectance, self.name, upper=1.3))
        spread(self.sd, self.name)

    @property
    def is_spectrum(self) -> bool:
        """True when a spectrum was read; False when it only stands in for a colour."""
        return self.colour is None

    def guessed(self, lights: Iterable[LightLike]) -> tuple[str, ...]:
        """The names of those lights under which its colour is a guess: none for a spectrum, all but its own for a colour without one (ten-degree observer)."""
        return self.colour.guessed(lights) if self.colour is not None else ()

    def averaged(self, *others: "Reading") -> "Reading":
        """The mean of this and other spectra of the same thing; its spread shrinks with the root of their number."""
        every = (self, *others)
        if not all(r.is_spectrum for r in every):
            raise Refusal("Only spectra can be averaged.", where=self.name)
        mean = np.mean([r.reflectance for r in every], axis=0)
        squares = sum(np.broadcast_to(np.asarray(r.sd, dtype=float) ** 2, (BANDS,)) for r in every)
        sd = np.sqrt(squares) / len(every)
        return Reading(self.name, mean, self.facts, sd, None, self.conditions, self.bands)


def colour_reading(
    name: str,
    lab_values: object,
    covariance: object,
    light: str = "D65",
    observer: str = "10",
    conditions: Conditions | None = None,
) -> Reading:
    """A reading of which only Lab (3,) is known, with its covariance (3, 3) or one sd for all three."""
    told = ColourOnly(np.array(lab_values, dtype=float), _square(covariance), light, observer)
    where = conditions or Conditions(light=light)
    return Reading(name, smoothest(told.lab, light, observer), {}, INSTRUMENT_SD, told, where)


def _square(covariance: object) -> Array:
    values = np.array(covariance, dtype=float)
    return np.diag(np.full(3, values**2)) if values.ndim == 0 else values


def lab_from_lch(lch: object) -> Array:
    """Lab (3,) from LCh (3,), h in degrees."""
    lightness, chroma, hue = numbers(lch, (3,), "LCh")
    turn = np.radians(hue)
    return np.array([lightness, chroma * np.cos(turn), chroma * np.sin(turn)])


def _number(row: Row, column: str) -> float:
    text = row.cells.get(column, "")
    try:
        value = float(text.replace(",", ".").rstrip("%"))
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        raise Refusal(
            f"“{text[:30]}” is not a number." if text else "Nothing is written here.",
            where=f"line {row.line}, column {column}",
            remedy="Write the reflectance as 0.43 or 43.",
        )
    return value


def _bands(columns: Iterable[str]) -> dict[float, str]:
    found: dict[float, str] = {}
    for column in columns:
        if m := _BAND.match(column):
            if float(m[1]) in found:
                raise Refusal(
                    f"The band {m[1]} nm is there twice.",
                    where=f"line 1, columns {found[float(m[1])]} and {column}",
                    remedy="Keep one of them.",
                )
            found[float(m[1])] = column
    return found


def resample(grid: Array, values: Array, where: str) -> Array:
    """Values (n,) on a grid in nm (n,) brought to the 31 bands by linear interpolation; refuses a grid with gaps."""
    grid = numbers(grid, (np.size(grid),), where)
    values = numbers(values, grid.shape, where)
    if grid.size < 2:
        raise Refusal("There are fewer than two bands.", where=where, remedy="Export the whole spectrum.")
    order = np.argsort(grid)
    grid, values = grid[order], values[order]
    twice = grid[1:][np.diff(grid) == 0]
    if twice.size:
        raise Refusal(f"The band {twice[0]:g} nm is there twice.", where=where, remedy="Keep one of them.")
    if grid[0] > 400 or grid[-1] < 700 or np.max(np.diff(grid)) > 20:
        raise Refusal(
            "The bands do not cover 400 to 700 nm in steps of 20 nm or less.",
            where=where,
            remedy="Export all of 400 to 700 nm from the instrument.",
        )
    return np.interp(WAVELENGTHS, grid, values)


def read_csv(text: str) -> tuple[Reading, ...]:
    """Readings from a wide or long CSV; raises `Refusals` naming every line and column that must be put right."""
    sheet = read_sheet(text, most=MOST_READINGS)
    columns, rows = sheet.columns, sheet.rows
    if "name" not in columns:
        raise Refusal(
            "There is no column called name.",
            where="line 1",
            remedy="Name each reading in a column called name.",
        )
    if {"wavelength", "reflectance"} <= set(columns):
        spectra = _long(rows)
    elif _bands(columns):
        spectra = _wide(_bands(columns), rows)
    else:
        raise Refusal(
            "There are no columns for the bands.",
            where="line 1",
            remedy="Use columns 400, 410 … 700, or wavelength and reflectance.",
        )
    scale = _scale(sheet.rows, spectra)
    faults, readings = [], []
    for line, name, values, facts, grid in spectra:
        try:
            readings.append(Reading(name, values * scale, facts, bands=grid))
        except Refusal as refusal:
            faults.append(
                Refusal(
                    refusal.what,
                    where=f"line {line}",
                    remedy="A reflectance lies from 0 to 1 (or 0 to 100 %).",
                )
            )
    if faults:
        raise Refusals(faults)
    return tuple(readings)


def _scale(rows: Sequence[Row], spectra: "Sequence[Found]") -> float:
    """What a number of the file is multiplied by: 1 for shares, 0.01 for per cent; refuses a file that does not hold to one of them."""
    low, high = rows_in_shares([values.tolist() for _, _, values, _, _ in spectra])
    signs = {
        text.endswith("%")
        for row in rows
        for column, text in row.cells.items()
        if text and (_BAND.match(column) or column == "reflectance")
    }
    slip = not high and any(float(np.max(values)) > TOP_SHARE for _, _, values, _, _ in spectra)
    if len(signs) > 1 or (low and high) or slip:
        raise Refusal(
            "Some of these numbers look like shares, others like per cent.",
            where="line 1",
            remedy="Write all of them as shares (0.43) or in per cent (43), and say which in the headings, such as 400 %.",
        )
    return 0.01 if high else 1.0


Found = tuple[int, str, Array, dict[str, str], tuple[float, ...]]
"""Line, name, values on the 31 bands, the other columns, and nm of the bands as they stand in the file."""


def _wide(bands: dict[float, str], rows: Sequence[Row]) -> list[Found]:
    faults, found = [], []
    grid = np.array(list(bands))
    for row in rows:
        values = []
        for column in bands.values():
            try:
                values.append(_number(row, column))
            except Refusal as refusal:
                faults.append(refusal)
        if len(values) == len(bands):
            facts = {c: v for c, v in row.cells.items() if c not in bands.values() and c != "name"}
            found.append(
                (
                    row.line,
                    row.cells.get("name", ""),
                    resample(grid, np.array(values), f"line {row.line}"),
                    facts,
                    tuple(sorted(bands)),
                )
            )
    if faults:
        raise Refusals(faults)
    return found


def _long(rows: Sequence[Row]) -> list[Found]:
    faults: list[Refusal] = []
    groups: dict[str, list[tuple[int, float, float]]] = {}
    for row in rows:
        try:
            point = (row.line, _number(row, "wavelength"), _number(row, "reflectance"))
        except Refusal as refusal:
            faults.append(refusal)
        else:
            groups.setdefault(row.cells.get("name", ""), []).append(point)
    if faults:
        raise Refusals(faults)
    return [
        (
            points[0][0],
            name,
            resample(np.array([p[1] for p in points]), np.array([p[2] for p in points]), name),
            {},
            tuple(sorted(p[1] for p in points)),
        )
        for name, points in groups.items()
    ]


def read_shares(text: str) -> dict[str, float]:
    """Shares from "PW6=0.55 PBk7=0.03": dispersion volume per unit volume of dry film, by pigment key."""
    shares = {}
    for part in text.split():
        key, mark, value = part.partition("=")
        try:
            shares[key] = float(value)
        except ValueError as error:
            raise Refusal(
                f"“{part[:30]}” cannot be read.", remedy="Write shares like PW6=0.55 PBk7=0.03."
            ) from error
        if not mark or not 0 < shares[key] <= 5:
            raise Refusal(f"The share of {key} cannot be right.", remedy="It lies above 0, up to 5.")
    return shares


def read_drawdowns(text: str, things: Things | None = None) -> tuple[Drawdown, ...]:
    """Drawdowns from a wide CSV with columns name, shares, microns, over, and bands.

    Rows with `over` black or white are films; rows named `card` with over black or white are the bare card. Several rows of one name and side are
    readings of the same film, and are averaged. Raises `Refusals`; at line 1 where there are other columns, which `DRAWDOWNS` reads (grams, wet films).
    """
    columns = read_sheet(text, most=MOST_READINGS).columns
    missing = [column for column in ("shares", "microns", "over") if column not in columns]
    if missing:
        raise Refusal(
            f"There is no column called {' and '.join(missing)}.",
            where="line 1",
            remedy="Say what is in each film, how thick it is, and over which side of the card it was read.",
        )
    return drawdowns_of(read_csv(text), things)


def entry_facts(entry: Entry) -> dict[str, str]:
    """A film as facts of a reading: shares and dry µm where the shop wrote it so, else its mix and film as they were written."""
    if entry.as_lab:
        return {"shares": str(entry.mix), "microns": f"{entry.film.value:.12g}"}
    return {"mix": str(entry.mix), "film": str(entry.film)}


def drawdowns_of(readings: Sequence[Reading], things: Things | None = None) -> tuple[Drawdown, ...]:
    """Drawdowns of readings whose facts say over which side, with which shares and how thick, or what was weighed and gauged; those named `card` are of the bare card.

    `things`: what the keys of a weighed mix are; usual figures without. Raises `Refusals`.
    """
    bare: dict[str, list[Array]] = {}
    for reading in readings:
        if reading.name == "card":
            bare.setdefault(reading.facts.get("over", ""), []).append(reading.reflectance)
    cards = {side: np.mean(read, axis=0) for side, read in bare.items()}
    missing = [side for side in ("black", "white") if side not in cards]
    if missing:
        raise Refusal(
            f"The bare card over {' and '.join(missing)} is missing.",
            remedy="Add a row named card for each side.",
        )
    films: dict[str, dict[str, list[Reading]]] = {}
    faults = []
    for reading in readings:
        if reading.name == "card":
            continue
        side = reading.facts.get("over", "")
        if side not in cards:
            faults.append(
                Refusal(
                    f"“{side}” is no side of the card.",
                    where=f"{reading.name}, column over",
                    remedy="Write black or white.",
                )
            )
        films.setdefault(reading.name, {}).setdefault(side, []).append(reading)
    drawdowns = []
    for name, sides in films.items():
        try:
            drawdowns.append(_drawdown(name, sides, cards, things))
        except Refusal as refusal:
            faults.append(refusal)
    if faults:
        raise Refusals(faults)
    return tuple(drawdowns)


def _drawdown(
    name: str, sides: Mapping[str, list[Reading]], cards: Mapping[str, Array], things: Things | None
) -> Drawdown:
    if set(sides) != {"black", "white"}:
        raise Refusal("A drawdown needs one row over black and one over white.", where=name)
    every = sides["black"] + sides["white"]
    for fact in ("microns", "shares", "mix", "film"):
        if len({told for reading in every if (told := reading.facts.get(fact, ""))}) > 1:
            raise Refusal(
                f"The rows of this drawdown do not agree on {fact}.",
                where=f"{name}, column {fact}",
                remedy="Give another film another name; readings of one film share all but the numbers.",
            )
    facts = sides["black"][0].facts
    shares, microns, doubts, entry = _composition(name, facts, things)
    return Drawdown(
        name,
        shares,
        microns,
        np.mean([reading.reflectance for reading in sides["black"]], axis=0),
        np.mean([reading.reflectance for reading in sides["white"]], axis=0),
        cards["black"],
        cards["white"],
        min(len(sides["black"]), len(sides["white"])),
        doubts,
        entry,
    )


Composition = tuple[Mapping[str, float], float, tuple[Doubt, ...], Entry | None]
"""Shares, dry µm, what they may be off by, and how the shop wrote them down."""


def _composition(name: str, facts: Mapping[str, str], things: Things | None) -> Composition:
    if "mix" in facts:
        try:
            entry = Entry(read_mix(facts["mix"]), read_film(facts["film"]))
            made = turned(entry, things)
        except Refusal as refusal:
            raise Refusal(refusal.what, where=name, remedy=refusal.remedy) from refusal
        return made.shares, made.microns, made.doubts, entry
    try:
        microns = float(facts.get("microns", ""))
    except ValueError as error:
        raise Refusal(
            "The dry thickness cannot be read.",
            where=f"{name}, column microns",
            remedy="Write it in µm, like 40.",
        ) from error
    return read_shares(facts.get("shares", "")), microns, (), None


def special_metamerism(
    first: Array, second: Array, light: str, reference: str = "D65", observer: str = "10"
) -> float:
    """CIE 15's special metamerism index: ΔE*ab (CIELAB 1976) under `light` of two spectra (31,) made equal under the reference light.

    Each tristimulus value of the second is scaled by first/second under the reference (multiplicative correction, from memory).
    """
    first, second = spectrum(first, "first"), spectrum(second, "second")
    if not (first.any() and second.any()):
        raise Refusal("A surface that reflects nothing has no index.", where="spectrum")
    scale = xyz(first, reference, observer) / xyz(second, reference, observer)
    point = white(light, observer)
    corrected = lab_from_xyz(xyz(second, light, observer) * scale, point)
    return float(np.linalg.norm(lab_from_xyz(xyz(first, light, observer), point) - corrected))
