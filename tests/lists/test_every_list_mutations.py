"""Five hundred seeded mutations of lists of products, people, hours, pigments, contacts, readings and drawdowns: what is taken is what the cells say, or it is a fault.

The oracle shares nothing with the code: it gives the values that a cell can mean, none where it must be a fault, and nothing where a text can be read in two ways.
"""

import random
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import pytest

from hidewright.colour.reading.readings_in import DRAWDOWNS, READINGS
from hidewright.lists.draft import draft_of
from hidewright.lists.grid import Grid, grid_of_text
from hidewright.lists.kinds import ListKind
from hidewright.planning.problem.absences import Absence
from hidewright.planning.problem.lists_in import HOURS, PEOPLE
from hidewright.takeoff.products_in import PRODUCTS
from hidewright.workshop.inspection.contact_list_actions import CONTACTS
from hidewright.workshop.pigments.list_actions import PIGMENTS
from lists.test_foreign_lists import agreed

EACH = 72
Allowed = Callable[[str, str], Iterable[Any]]
ODD = (
    "", "0", "-3", "1,234", "1.234", "56,5", "56.5", "0,450", "5 6", "1 234", "1.234,5", "1,234.5", "1e3", "½", "7 1/2", "NaN", "inf", "#REF!", "56?", "twelve", "1..2", "56,",
    "12:30", "40 %", "0.4", "140 %", "5 L", "1 gal", "12 fl oz", "250 ml", "5 ll", "8 h", "90 min", "2 h 30", "1 d", "3 kg", "45 µm", "1.8 mil", "~45", "8-12", "8-12, 13-17",
    "7:30-15", "17-9-12", "2026-03-09", "2026-02-30", "09.03.2026", "$64", "64 €", "1 250,00", "x", "Chalk",
)  # fmt: skip


def number(text: str, mark: str) -> list[float]:
    """A number with one decimal mark, a fraction, or both marks; none where it can be two."""
    sign = -1.0 if text[:1] in ("-", "−") else 1.0
    text = re.sub(r"(?<=\d)[.,]$", "", text.lstrip("-−").replace("½", " 1/2").strip())
    part = re.fullmatch(r"(?:(\d+) )?(\d+)/(\d+)", text)
    both = re.fullmatch(r"(\d{1,3})([.,])(\d{3})([.,])(\d+)", text)
    decimal = re.fullmatch(r"(\d*)([.,])(\d+)", text)
    if re.fullmatch(r"\d+", text):
        return [sign * float(text)]
    if part and int(part[3]):
        return [sign * (int(part[1] or 0) + int(part[2]) / int(part[3]))]
    if both and both[2] != both[4]:
        return [sign * float(f"{both[1]}{both[3]}.{both[5]}")]
    if decimal:
        thousands = len(decimal[3]) == 3 and 1 <= len(decimal[1]) <= 3 and not decimal[1].startswith("0")
        return [] if thousands and decimal[2] != mark else [sign * float(f"{decimal[1] or 0}.{decimal[3]}")]
    return []


def share(text: str, mark: str) -> list[float]:
    """40 %, 0.4 or 2/5."""
    if text.endswith("%"):
        return [value / 100 for value in number(text[:-1].strip(), mark)]
    return [value for value in number(text, mark) if value <= 1]


def money(text: str, mark: str) -> list[float]:
    """A number, with or without the mark of a currency, to the cent."""
    found = number(re.sub(r"^[$€£]\s*|\s*[$€£]$|,-$", "", text), mark)
    return [*found, *(round(value, 2) for value in found)]


def each_day(absences: Iterable[Absence]) -> set[date]:
    """Every day of the absences, counted here by itself."""
    return {a.first + timedelta(n) for a in absences for n in range((a.last - a.first).days + 1)}


def of(units: dict[str, float], bare: str) -> Allowed:
    """A number with one of these units, or without; a stop behind a unit is that of a short form."""

    def read(text: str, mark: str) -> list[float]:
        match = re.fullmatch(r"([\d.,/ ½-]*[\d½])\s*(.*)", text)
        unit = match[2].casefold().rstrip(".") if match else ""
        if not match or (unit and unit not in units):
            return []
        return [value * units[unit or bare] for value in number(match[1], mark)]

    return read


def minutes(text: str, mark: str) -> list[float]:
    """90 min, 8 h, 2 h 30, 2:30, 1 d."""
    parts = re.fullmatch(r"(\d+)(?: ?h ?|:)(\d{1,2})(?: ?min)?", text)
    if parts:
        return [60.0 * int(parts[1]) + int(parts[2])]
    return list(of({"min": 1, "h": 60, "d": 1440}, "min")(text, mark))


def small(text: str, mark: str) -> list[float]:
    """A number below a thousand: its one mark stands before the decimals."""
    return number(text, next((sign for sign in text if sign in ".,"), mark))


def band(text: str, mark: str) -> list[float]:
    """A share of the light, or per cent where it says so."""
    return (
        [value / 100 for value in small(text[:-1].strip(), mark)] if text.endswith("%") else small(text, mark)
    )


def stretches(text: str, mark: str) -> list[Any]:
    """Hours such as 8-12, 13-17 or 7:30-15 as minutes; an end that is not after its start is in the afternoon."""
    found = []
    for each in re.split(r"\s*[,;+]\s*", text):
        match = re.fullmatch(r"(\d{1,2})(?::(\d\d))?\s*[-–]\s*(\d{1,2})(?::(\d\d))?", each)
        if not match:
            return []
        start, end = (60 * int(match[at]) + int(match[at + 1] or 0) for at in (1, 3))
        found.append((start, end + 720 if end <= start else end))
    return [tuple(found)]


def days(text: str, mark: str) -> list[Any]:
    """Days as 2026-03-09."""
    return [frozenset(re.split(r"[,;+ ]+", text))]


def same(text: str, mark: str) -> list[str]:
    """The text itself."""
    return [" ".join(text.split())]


@dataclass(frozen=True)
class Base:
    """A list as others write it, and for each of its columns what a cell can mean and where the value has it."""

    kind: ListKind
    text: str
    columns: dict[str, tuple[Allowed, Callable[[Any], Any]]]
    must: frozenset[str] = frozenset()


LITRES = {"ml": 1.0, "l": 1000.0, "gal": 3785.411784, "fl oz": 29.5735295625, "qt": 946.352946}
FILMS = {"µm": 1.0, "mil": 25.4, "mils": 25.4}
WEIGHTS = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237}
WAVES = range(400, 701, 20)


def _spectra(*rows: tuple[str, float]) -> str:
    return "".join(
        f"{head};{';'.join(f'{base + n / 90:.4f}'.replace('.', ',') for n, _ in enumerate(WAVES))}\n"
        for head, base in rows
    )


NM = ";".join(f"R{wave} nm" for wave in WAVES)
BANDS: dict[str, tuple[Allowed, Callable[[Any], Any]]] = {
    f"R{wave} nm": (band, lambda reading, at=(wave - 400) // 10: float(reading.reflectance[at]))
    for wave in WAVES
}
BASES = {
    "products": Base(
        PRODUCTS,
        "Item;Use;Pack size;Price;Vol solids;Pot life;SG\nGrip;adhesion promoter;1 gal;$250,50;22 %;;1,02\nClear A;base;5 L;120,5;0,3;;1,1\nTop coat;finish;250 ml;64;30 %;90 min;1,05\nWash;cleaner;;8,25;;;0,9\n",
        {
            "Item": (same, lambda p: p.name),
            "Pack size": (of(LITRES, "ml"), lambda p: p.pack),
            "Price": (money, lambda p: float(p.price)),
            "Vol solids": (share, lambda p: p.solids),
            "Pot life": (minutes, lambda p: p.pot_life),
            "SG": (number, lambda p: p.density),
        },
    ),
    "people": Base(
        PEOPLE,
        "Name;Holidays;Does\nRosa Ito;2026-03-09;strip\nTeo;;clean\nAda Lund;2026-04-01;strip\nMax;2026-05-04;\n",
        {
            "Name": (same, lambda p: p.name),
            "Holidays": (days, lambda p: frozenset(day.isoformat() for day in each_day(p.absences))),
            "Does": (lambda text, mark: [frozenset(filter(None, re.split(r"[/,;+]", text)))], lambda p: p.skills),
        },
    ),
    "hours": Base(
        HOURS,
        "Wer;Tag;Arbeitszeit\nRosa;Mon;8-12, 13-17\nRosa;Tue;7:30-15\nTeo;Mon;9-17\nTeo;Wed;8-4\n;Fri;8-14\n",
        {"Wer": (same, lambda s: s.person), "Arbeitszeit": (stretches, lambda s: s.stretches)},
    ),
    "pigments": Base(
        PIGMENTS,
        "Paste;C.I.;SG;Volume solids;Price/L\nChalk white;PW 18;1,62;41 %;38,50\nCarbon;PBk7;1,15;0,3;52\nHouse mix;;1,2;0,35;40\nOchre;PY42;1,4;30 %;29,95\n",
        {
            "Paste": (same, lambda p: p.facts["name"]),
            "C.I.": (same, lambda p: p.facts["index"]),
            "SG": (number, lambda p: p.facts["density"]),
            "Volume solids": (share, lambda p: p.facts["solids"]),
            "Price/L": (money, lambda p: float(p.facts["price"])),
        },
    ),
    "contacts": Base(
        CONTACTS,
        "Company;For;Tel\nTrim & Co;upholstery;0123 456\nThe yard;key;0987\nA. Owner;agrees;x@example.org\n",
        {"Company": (same, lambda c: c.name), "For": (same, lambda c: c.does), "Tel": (same, lambda c: c.reach)},
    ),
    "readings": Base(
        READINGS,
        f"Probe;Bemerkung;{NM}\n" + _spectra(("Seat;under", 0.2), ("Back;", 0.31), ("Arm;worn", 0.45)),
        {"Probe": (same, lambda r: r.name), "Bemerkung": (same, lambda r: r.facts.get("note", "")), **BANDS},
        frozenset(BANDS),
    ),
    "drawdowns": Base(
        DRAWDOWNS,
        f"Film;Side;Pigment;Share of dry film;Dry film (µm);{NM}\n"
        + _spectra(("card;black;;;", 0.04), ("card;white;;;", 0.8), ("A;black;PW6;55 %;45", 0.5), ("A;white;PW6;55 %;45", 0.6), ("B;black;PBk7;0,1;40", 0.1), ("B;white;PBk7;0,1;40", 0.2)),
        {
            "Film": (same, lambda r: r.name),
            "Share of dry film": (share, lambda r: float(r.facts["shares"].split("=")[1]) if "shares" in r.facts else None),
            "Dry film (µm)": (of(FILMS, "µm"), lambda r: float(r.facts["microns"]) if "microns" in r.facts else None),
            **BANDS,
        },
        frozenset(BANDS),
    ),
    "weighed drawdowns": Base(
        DRAWDOWNS,
        f"Film;Side;Paste;Pigment (g);Base (g);µm wet;{NM}\n"
        + _spectra(("card;black;;;;", 0.04), ("card;white;;;;", 0.8), ("A;black;PW6;12,4;60;100", 0.5), ("A;white;PW6;12,4;60;100", 0.6), ("B;black;PBk7;1,5;48,25;4 mil", 0.1), ("B;white;PBk7;1,5;48,25;4 mil", 0.2)),
        {
            "Film": (same, lambda r: r.name),
            "Pigment (g)": (of(WEIGHTS, "g"), lambda r: _weighed(r, 0)),
            "Base (g)": (of(WEIGHTS, "g"), lambda r: _weighed(r, 1)),
            "µm wet": (of(FILMS, "µm"), lambda r: float(r.facts["film"].split()[1]) if "film" in r.facts else None),
            **BANDS,
        },
        frozenset(BANDS),
    ),
}  # fmt: skip


def _weighed(reading: Any, part: int) -> float | None:
    """Grams of a film's first or second thing; none on the bare card."""
    return float(reading.facts["mix"].split(";")[part].split()[1]) if "mix" in reading.facts else None


def _typo(text: str, dice: random.Random) -> str:
    at = dice.randrange(len(text) + 1)
    sign = dice.choice("0123456789.,; xo-/%'")
    return dice.choice(
        [text[:at] + sign + text[at:], text[:at] + text[at + 1 :], text[:at] + sign + text[at + 1 :]]
    )


def mutated(grid: Grid, dice: random.Random) -> Grid:
    """The list with up to three cells changed, and perhaps its columns shuffled or a row doubled."""
    rows = [[str(cell) for cell in row] for row in grid.rows]
    for _ in range(dice.randrange(1, 4)):
        row = rows[dice.randrange(1, len(rows))]
        at = dice.randrange(len(row))
        row[at] = dice.choice(ODD) if dice.random() < 0.6 else " ".join(_typo(row[at], dice).split())
    words = len([head for head in rows[0] if not head.startswith("R")])
    if dice.random() < 0.3:
        order = [*dice.sample(range(words), words), *range(words, grid.width)]
        rows = [[row[at] for at in order] for row in rows]
    if dice.random() < 0.2:
        rows.append(list(dice.choice(rows[1:])))
    rows = [row for row in rows if any(row)]
    return Grid(tuple(range(1, len(rows) + 1)), tuple(tuple(row) for row in rows))


def agree(value: Any, means: list[Any]) -> bool:
    """Whether a value is one of those that the cell can mean."""
    if isinstance(value, float | int):
        return any(
            isinstance(each, float | int) and abs(value - each) < 1e-6 * max(1.0, abs(each)) for each in means
        )
    return value in means


@pytest.mark.parametrize("name", BASES)
def test_nothing_is_taken_that_the_cells_do_not_say(name: str) -> None:
    base = BASES[name]
    whole, taken, refused = grid_of_text(base.text), 0, 0
    assert draft_of(base.kind, whole).ready, "unchanged it comes in as it is"
    for seed in range(EACH):
        grid = mutated(whole, random.Random(f"{name} {seed}"))
        draft = draft_of(base.kind, grid, agreed(draft_of(base.kind, grid)))
        refused += not draft.ready
        heads = list(map(str, grid.rows[0]))
        for line in draft.lines:
            row = grid.rows[grid.lines.index(line.line)]
            for value in line.values:
                taken += 1
                for head, (allowed, get) in base.columns.items():
                    cell = str(row[heads.index(head)])
                    if not cell:
                        assert head not in base.must, f"{name} {seed}: {head} is empty in line {line.line}"
                    elif (got := get(value)) is not None:
                        means = list(allowed(cell, draft.style.mark))
                        assert agree(got, means), (
                            f"{name} {seed}: line {line.line}, {head} {cell!r} became {got!r}"
                        )
    assert taken > EACH
    assert refused > EACH / 8 or name == "contacts", "and many mutations are seen"
