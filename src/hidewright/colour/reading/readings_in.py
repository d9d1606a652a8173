"""What lists of readings and of drawdowns can hold, in the words that instruments and shops write (common practice, no source), and how their rows become values."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.pigments.shop_films import turned
from hidewright.lists.bands import wide
from hidewright.lists.cells import CellRefusal, folded
from hidewright.lists.grid import Grid
from hidewright.lists.kinds import ListKind, Meaning, Sort
from hidewright.lists.mixes import Entry, Film, Laid, Mix, read_mix
from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import Row

from .cgats import LAB_SD
from .formats import conditions_of, typed_colour
from .readings import Reading, entry_facts, resample
from .sides import CARD, CARDS, SIDES
from .weighed_columns import one_mix

TOP = 1.3
"""Largest reflectance that is taken: a bright, fluorescing cloth reads above 1."""
_FACTS = ("use", "state", "made", "base_share", "light", "instrument", "specular", "over", "note")
_TARGETS = ("target", "aim", "standard", "ziel", "soll", "vorlage")
_OLDS = ("old colour", "old color", "old", "old coat", "alt", "altfarbe")
_STATES = {"dry": ("trocken", "cured", "sec"), "wet": ("nass", "feucht", "mouille")}


def _spectrum(row: Row) -> tuple[NDArray[np.float64], tuple[float, ...]] | None:
    """The row's spectrum on the 31 bands, and nm of the bands it holds; None where it has none. Refuses each band that is empty or out of range."""
    cells = {key: text for key, text in row.cells.items() if key.isdigit()}
    if not any(cells.values()):
        return None
    faults: list[Refusal] = []
    for band, text in cells.items():
        if not text:
            faults.append(Refusal("Nothing is written here.", where=band, remedy="Write what was read."))
        elif not 0.0 <= float(text) <= TOP:
            share = float(text) / 100
            faults.append(
                CellRefusal(
                    "A reflectance lies from 0 to 1, or 0 to 100 %.",
                    where=band,
                    remedy="Write it with its per cent sign, or as a share.",
                    proposal=f"{share:.6g}" if 0.0 < share <= TOP else "",
                )
            )
    if faults:
        raise Refusals(faults)
    grid = tuple(sorted(float(band) for band in cells))
    try:
        return resample(np.array(grid), np.array([float(cells[f"{nm:.0f}"]) for nm in grid]), ""), grid
    except Refusal as refusal:
        raise Refusal(refusal.what, remedy=refusal.remedy) from refusal


def _use(text: str) -> str:
    word = folded(text)
    return "target" if word in _TARGETS else "old colour" if word in _OLDS else text


def _reading(row: Row) -> tuple[Reading, ...]:
    facts = {key: row.get(key) for key in _FACTS if row.get(key)}
    if "use" in facts:
        facts["use"] = _use(facts["use"])
    found, name = _spectrum(row), row.get("name")
    if not name:
        raise Refusal("The reading has no name.", where="name", remedy="Say what was read, and where.")
    if found is not None:
        return (Reading(name, found[0], facts, conditions=conditions_of(facts), bands=found[1]),)
    axes = ("l", "c", "h") if row.get("c") else ("l", "a", "b")
    missing = [axis for axis in axes if not row.get(axis)]
    if missing:
        raise Refusal(
            "This row holds no spectrum and no whole colour.",
            where=missing[0] if len(missing) < 3 else "",
            remedy="Give bands from 400 to 700 nm, or L*, a* and b*.",
        )
    try:
        typed = typed_colour(
            name,
            [float(row.get(axis)) for axis in axes],
            lch=axes[1] == "c",
            sd=float(row.get("sd") or LAB_SD),
            light=row.get("light") or "D65",
            observer=row.get("observer").rstrip("°") or "10",
            conditions=conditions_of(facts),
        )
    except Refusal as refusal:
        raise Refusal(refusal.what, where="l", remedy=refusal.remedy) from refusal
    return (replace(typed, facts=facts),)


def tidied(grid: Grid) -> Grid:
    """A list of readings with a row for each; refuses an instrument's own kind of file, which is no table."""
    first = next((str(cell) for cell in grid.rows[0] if cell != ""), "")
    if first.startswith("<") or any(row[0] in ("BEGIN_DATA", "BEGIN_DATA_FORMAT") for row in grid.rows[:400]):
        raise Refusal(
            "This is an instrument’s file, not a table.",
            remedy="Bring it under “Bring readings” on the Colour page, where it is read as it is.",
        )
    return wide(grid)


READINGS = ListKind(
    "readings",
    "readings",
    "reading",
    (
        Meaning("name", "What was read", words=("name", "sample", "reading", "label", "id", "piece", "where", "probe", "bezeichnung", "sample name"), must=True),
        Meaning("use", "Target or old colour", words=("use", "purpose", "role", "type", "zweck", "kind")),
        Meaning("l", "L*", Sort.SMALL, ("l", "lightness", "lab l", "cie l", "l* d65")),
        Meaning("a", "a*", Sort.SMALL, ("a", "lab a", "cie a")),
        Meaning("b", "b*", Sort.SMALL, ("b", "lab b", "cie b")),
        Meaning("c", "C*", Sort.SMALL, ("c", "chroma", "lch c", "cie c")),
        Meaning("h", "h, degrees", Sort.SMALL, ("h", "hue", "lch h", "cie h", "h°")),
        Meaning("sd", "How far it may be off", Sort.SMALL, ("sd", "spread", "uncertainty", "std dev")),
        Meaning("state", "Wet or dry", Sort.CHOICE, ("state", "zustand"), choices=_STATES),
        Meaning("made", "Raw or mixed with base", words=("made",)),
        Meaning("base_share", "Share of base", Sort.SMALL, ("base share",)),
        Meaning("light", "Light", words=("illuminant", "light source", "lichtart")),
        Meaning("observer", "Observer", words=("obs", "angle", "beobachter")),
        Meaning("instrument", "Instrument", words=("device", "spectrophotometer", "gerät")),
        Meaning("specular", "Shine in or out", words=("specular", "sci", "sce", "gloss mode")),
        Meaning("over", "Read over", words=("over", "ground", "backing", "background", "untergrund")),
        Meaning("note", "Note", words=("notes", "remark", "comment", "bemerkung")),
    ),
    one=_reading,
    tidied=tidied,
    of_spectra=True,
)  # fmt: skip
"""The list of readings."""


def _mix(row: Row) -> Mix:
    """What is in a film: from all of it in one cell, or from the columns pigment and its share or weight, and the weight of the base."""
    text, key = row.get("shares"), row.get("pigment")
    if not text and key and row.get("share"):
        text = f"{key} {row.get('share')}"
    if not text and key and row.get("grams"):
        if not row.get("base"):
            raise Refusal(
                "Nothing says how much base is in it.",
                where="base",
                remedy="Write its weight; 0.01 g where there is none.",
            )
        text = f"{key} {row.get('grams')}; base {row.get('base')}"
    if not text:
        raise Refusal(
            "Nothing says what is in this film.",
            where="shares",
            remedy="Write it like PW6 12.4 g; base 60 g, or PW6 18 % by weight.",
        )
    try:
        mix = read_mix(text)
        turned(Entry(mix, Film(Laid.WET, 100.0)))
    except Refusal as refusal:
        raise Refusal(refusal.what, where="shares", remedy=refusal.remedy) from refusal
    return mix


def _film(row: Row) -> Film:
    """How thick a film is: from the first of its columns that says it."""
    for key, laid in (("wet", Laid.WET), ("gap", Laid.GAP), ("wire", Laid.WIRE), ("microns", Laid.DRY)):
        if text := row.get(key):
            try:
                return Film(laid, float(text.removesuffix(" µm")))
            except Refusal as refusal:
                raise Refusal(refusal.what, where=key, remedy=refusal.remedy) from refusal
    raise Refusal(
        "Nothing says how thick this film is.",
        where="wet",
        remedy="Write the wet film like 100 µm or 4 mil, the gap of the bar, or the dry film.",
    )


def _drawn(row: Row) -> tuple[Reading, ...]:
    """One row of a drawdown: a reading whose facts are its side, and its mix and film as the shop wrote them, or shares and dry µm; that of the bare card is named so."""
    found, name = _spectrum(row), row.get("name")
    if not name:
        raise Refusal("The film has no name.", where="name", remedy="Give each film its own.")
    if found is None:
        raise Refusal("This row holds no spectrum.", remedy="Give bands from 400 to 700 nm.")
    if not row.get("over"):
        raise Refusal(
            "Nothing says over which side it was read.", where="over", remedy="Write black or white."
        )
    if folded(name) in CARDS:
        return (Reading(CARD, found[0], {"over": row.get("over")}, bands=found[1]),)
    entry = Entry(_mix(row), _film(row))
    facts = {"over": row.get("over"), **entry_facts(entry)}
    return (Reading(name, found[0], facts, bands=found[1]),)


def _films(made: tuple[tuple[int, Reading], ...]) -> tuple[tuple[int, Refusal], ...]:
    """What is wrong with the films as wholes, at the first row of each."""
    if not made:
        return ()
    faults: list[tuple[int, Refusal]] = []
    films: dict[str, list[tuple[int, Reading]]] = {}
    for line, reading in made:
        films.setdefault(reading.name, []).append((line, reading))
    for side in ("black", "white"):
        if side not in {reading.facts["over"] for _, reading in films.get(CARD, ())}:
            faults.append(
                (
                    made[0][0],
                    Refusal(
                        f"The bare card over {side} is missing.", remedy="Add a row named card for each side."
                    ),
                )
            )
    for name, rows in films.items():
        faults += [(rows[0][0], fault) for fault in (_film_faults(rows) if name != CARD else ())]
    return tuple(faults)


DISAGREE = (
    ("microns", "their thickness", "microns"),
    ("film", "their thickness", "wet"),
    ("shares", "their shares", "shares"),
    ("mix", "what is in it", "shares"),
)
"""Facts that all rows of one film share, in words, and the column to look at."""


def _film_faults(rows: Sequence[tuple[int, Reading]]) -> list[Refusal]:
    faults = []
    if {reading.facts["over"] for _, reading in rows} != {"black", "white"}:
        faults.append(
            Refusal(
                "A drawdown needs one row over black and one over white.",
                where="over",
                remedy="Add the other side.",
            )
        )
    for fact, words, where in DISAGREE:
        if len({reading.facts.get(fact) for _, reading in rows}) > 1:
            faults.append(
                Refusal(
                    f"The rows of this film do not agree on {words}.",
                    where=where,
                    remedy="Give another film another name; readings of one film share all but the numbers.",
                )
            )
    return faults


DRAWDOWNS = ListKind(
    "drawdowns",
    "drawdowns",
    "film reading",
    (
        Meaning("name", "Film", words=("name", "sample", "drawdown", "film", "label", "id", "probe", "bezeichnung"), must=True),
        Meaning("over", "Over black or white", Sort.CHOICE, ("over", "side", "ground", "backing", "background", "card side", "untergrund"), choices=SIDES, must=True),
        Meaning("shares", "What is in it", Sort.MIX, ("shares", "recipe", "contents", "mix", "composition", "formula", "in it", "weighed", "rezept")),
        Meaning("pigment", "Its one pigment", words=("pigment", "paste", "colourant", "colorant", "farbe")),
        Meaning("share", "Share of that pigment", Sort.PART, ("share", "load", "loading", "concentration", "anteil")),
        Meaning("grams", "Weight of that pigment", Sort.MASS, ("pigment", "paste", "colourant", "colorant", "tint", "pigment weight", "paste weight", "farbpaste")),
        Meaning("base", "Weight of the base", Sort.MASS, ("base", "clear base", "binder", "base weight", "medium", "bindemittel")),
        Meaning("wet", "Wet film", Sort.FILM, ("wet", "wft", "wet film", "wet thickness", "gauge", "comb", "nassfilm")),
        Meaning("gap", "Gap of the bar", Sort.FILM, ("gap", "bar", "bar gap", "block", "blade", "applicator", "spalt", "rakel")),
        Meaning("wire", "Number of the wire-wound bar", Sort.SMALL, ("wire", "bar number", "bar no", "rod", "rod number", "wire-wound bar")),
        Meaning("microns", "Dry film", Sort.FILM, ("dry film", "dft", "dry thickness", "dry", "trockenfilm")),
    ),
    one=_drawn,
    together=_films,
    tidied=lambda grid: one_mix(tidied(grid)),
    of_spectra=True,
)  # fmt: skip
"""The list of drawdowns: films over a black-and-white card, and the bare card itself."""
