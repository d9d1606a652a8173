"""A draft: a list as it would be taken, with everything that is in the way of that, all of it at once."""

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import Row

from .bands import with_bands
from .cells import CellRefusal, Style, UnknownWord, folded, plain_cell, size_parts, style_of
from .grid import Cell, Grid, written
from .headings import IGNORED, MOST_ABOVE, Column, Head, columns_of, head_of, heading_key
from .kinds import ListKind, Meaning, Sort

TOTALS = ("total", "sum", "summe", "gesamt", "subtotal", "totaal", "somme", "suma")


@dataclass(frozen=True, slots=True)
class Answers:
    """What a person said about one list.

    `above`: rows above the first thing. `columns`: place → (meaning, unit). `mark`: the decimal mark. `words`: (meaning, word) → value. `cells`:
    (line, meaning) → what it is to be. `out`: lines that are left out.
    """

    above: int | None = None
    columns: Mapping[int, tuple[str, str]] = field(default_factory=dict)
    mark: str = ""
    words: Mapping[tuple[str, str], str] = field(default_factory=dict)
    cells: Mapping[tuple[int, str], str] = field(default_factory=dict)
    out: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Memory:
    """What the shop said about earlier lists of the kind: heading → “meaning|unit”, and (meaning, word) → value."""

    headings: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[tuple[str, str], str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing to put right: its line, the meaning it is about (empty: the row as a whole), what stands there, and a text that would do."""

    line: int
    meaning: str
    written: str
    what: str
    remedy: str
    proposal: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """A word of the list that must be given a value once; `likely` is the value that it probably has."""

    meaning: str
    word: str
    count: int
    likely: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """One row: its line, its cells as written and as plain texts by meaning, and the values it makes (none while something is wrong with it)."""

    line: int
    written: Mapping[str, str]
    plain: Mapping[str, str]
    values: tuple[Any, ...] = ()


@dataclass(frozen=True, slots=True)
class Draft:
    """A list as it would be taken. `skipped`: lines that hold no thing, with what they hold; `missing`: meanings that must be given and are not."""

    kind: ListKind
    head: Head
    columns: tuple[Column, ...]
    style: Style
    lines: tuple[Line, ...]
    faults: tuple[Fault, ...]
    questions: tuple[Question, ...]
    skipped: tuple[tuple[int, str], ...]
    missing: tuple[str, ...]

    @property
    def unsure(self) -> tuple[Column, ...]:
        """The columns whose meaning or unit is only guessed."""
        return tuple(column for column in self.columns if column.meaning != IGNORED and not column.sure)

    @property
    def ready(self) -> bool:
        """Whether it can be taken as it is."""
        return bool(self.lines) and not (self.faults or self.questions or self.missing or self.unsure)

    @property
    def values(self) -> tuple[Any, ...]:
        """Everything the list makes; refuses while something is in the way."""
        if not self.ready:
            raise Refusals(self.refusals())
        return tuple(value for line in self.lines for value in line.values)

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows as plain texts."""
        return tuple(Row(line.line, line.plain) for line in self.lines)

    @property
    def fingerprint(self) -> str:
        """Changes with anything that would be taken."""
        told = [(line.line, sorted(line.plain.items())) for line in self.lines]
        return hashlib.sha256(repr((self.kind.key, told)).encode()).hexdigest()[:24]

    def refusals(self) -> tuple[Refusal, ...]:
        """Everything in the way as refusals, for a command."""
        label = {meaning.key: meaning.label for meaning in self.kind.meanings}
        said = [
            Refusal(f"No column says the {label[key].lower()}.", where="columns", remedy="Name one so.")
            for key in self.missing
        ]
        said += [
            Refusal(
                f"What the column “{c.heading or c.at + 1}” holds is only guessed: {label.get(c.meaning, 'nothing known')}{c.unit and ' in '}{c.unit}.",
                where="columns",
                remedy="Say it in its heading, such as “length (cm)”.",
            )
            for c in self.unsure
        ]
        said += [
            Refusal(
                f"“{q.word}” has no meaning here ({q.count} times).",
                where=f"column {q.meaning}",
                remedy=f"Use one of {', '.join(self.kind.meaning(q.meaning).choices) or 'yes, no'}.",
            )
            for q in self.questions
        ]
        said += [
            Refusal(
                fault.what,
                where=f"line {fault.line}" + (f", column {fault.meaning}" if fault.meaning else ""),
                remedy=f"{fault.remedy}{' Such as ' + fault.proposal + '.' if fault.proposal else ''}".strip(),
            )
            for fault in self.faults
        ]
        return tuple(said) or (Refusal("The list holds no row.", remedy="Add one."),)


def tidied(kind: ListKind, grid: Grid) -> Grid:
    """The grid with a row for each thing; refuses what no answer can mend: a file that is no table, a band that is there twice."""
    tidy = kind.tidied(grid)
    with_bands(kind, tidy, MOST_ABOVE)
    return tidy


def draft_of(
    kind: ListKind,
    grid: Grid,
    answers: Answers | None = None,
    memory: Memory | None = None,
    *,
    us: bool = False,
) -> Draft:
    """The draft of a list; `us`: the shop works in inches, which counts only for guesses."""
    answers, memory = answers or Answers(), memory or Memory()
    kind = with_bands(kind, grid, MOST_ABOVE)
    head = head_of(kind, grid, memory.headings, answers.above)
    columns = columns_of(kind, grid, head, said=answers.columns, memory=memory.headings, us=us)
    numeric = tuple(
        cell
        for column in columns
        if kind.sort_of(column.meaning) not in (None, Sort.TEXT)
        for cell in grid.column(column.at)[head.above :]
    )
    style = Style(answers.mark, True) if answers.mark else style_of(numeric)
    reader = _Reader(kind, columns, style, {**memory.words, **answers.words}, answers.cells)
    skipped: list[tuple[int, str]] = []
    section = ""
    for line, row in zip(grid.lines[head.above :], grid.rows[head.above :], strict=True):
        cells = [cell for cell in row if cell != ""]
        first = folded(written(cells[0]))
        if line in answers.out:
            skipped.append((line, "left out"))
        elif (
            len(cells) == 1
            and grid.width > 2
            and isinstance(cells[0], str)
            and not reader.has(line)
            and not reader.is_enough(row)
        ) or first.split(" ")[0] in TOTALS:
            skipped.append((line, written(cells[0])))
            section = written(cells[0]) if first.split(" ")[0] not in TOTALS else section
        elif head.above and all(
            a == "" or a == b for a, b in zip(row, grid.rows[head.above - 1], strict=True)
        ):
            skipped.append((line, "the headings again"))
        else:
            reader.read(line, row, section)
    return reader.draft(head, tuple(skipped))


class _Reader:
    """Reads rows one by one and keeps what is wrong with each."""

    def __init__(
        self,
        kind: ListKind,
        columns: tuple[Column, ...],
        style: Style,
        words: Mapping[tuple[str, str], str],
        cells: Mapping[tuple[int, str], str],
    ) -> None:
        self.kind, self.columns, self.style, self.words, self.cells = kind, columns, style, words, cells
        self.at = {column.meaning: column for column in columns if column.meaning in kind.keys}
        self.lines: list[Line] = []
        self.faults: list[Fault] = []
        self.asked: dict[tuple[str, str], tuple[int, str]] = {}

    def has(self, line: int) -> bool:
        """Whether a person wrote something into this line."""
        return any(at == line for at, _ in self.cells)

    def is_enough(self, row: tuple[Cell, ...]) -> bool:
        """Whether a row with one cell is a thing of its own and not a heading: in a list without groups, where that cell is all that must be given."""
        must = [meaning.key for meaning in self.kind.meanings if meaning.must]
        filled = [column.meaning for column in self.columns if row[column.at] != ""]
        return "group" not in self.kind.keys and filled == must

    def read(self, line: int, row: tuple[Cell, ...], section: str) -> None:
        """Take in one row."""
        raw: dict[str, Cell] = {meaning: row[column.at] for meaning, column in self.at.items()}
        if section and not raw.get("group") and "group" in self.kind.keys:
            raw["group"] = section
        raw |= {key: " ".join(text.split()) for (at, key), text in self.cells.items() if at == line}
        plain: dict[str, str] = {}
        for meaning in self.kind.meanings:
            cell = raw.get(meaning.key, "")
            if meaning.sort is Sort.SIZE:
                self._size(line, meaning, cell, raw, plain)
            elif meaning.key not in plain or cell != "":
                plain[meaning.key] = self._cell(line, meaning, cell, raw)
        self.lines.append(Line(line, {key: written(cell) for key, cell in raw.items()}, plain))

    def _cell(self, line: int, meaning: Meaning, cell: Cell, raw: Mapping[str, Cell]) -> str:
        if cell == "" and meaning.fill_from:
            word = stem(written(raw.get(meaning.fill_from, "")))
            return self._filled(meaning, word) if word else ""
        column = self.at.get(meaning.key)
        try:
            return plain_cell(
                meaning, cell, unit=column.unit if column else "", style=self.style, words=self.words
            )
        except UnknownWord as unknown:
            return self._ask(meaning, unknown.word, likely(meaning, unknown.word))
        except CellRefusal as refusal:
            self.faults.append(
                Fault(line, meaning.key, written(cell), refusal.what, refusal.remedy, refusal.proposal)
            )
            return ""

    def _filled(self, meaning: Meaning, word: str) -> str:
        """The value that a word of another column stands for; asked for where the shop has not said."""
        known = self.words.get((meaning.key, word))
        return known if known is not None else self._ask(meaning, word, likely(meaning, word))

    def _ask(self, meaning: Meaning, word: str, value: str) -> str:
        count, _ = self.asked.get((meaning.key, word), (0, ""))
        self.asked[meaning.key, word] = (count + 1, value)
        return value

    def _size(
        self, line: int, meaning: Meaning, cell: Cell, raw: Mapping[str, Cell], plain: dict[str, str]
    ) -> None:
        if cell == "":
            return
        column = self.at.get(meaning.key)
        try:
            parts = size_parts(cell, len(meaning.into))
            for key, part in zip(meaning.into, parts, strict=False):
                if raw.get(key, "") == "":
                    plain[key] = plain_cell(
                        self.kind.meaning(key),
                        part,
                        unit=column.unit if column else "",
                        style=self.style,
                        words={},
                    )
        except CellRefusal as refusal:
            self.faults.append(
                Fault(line, meaning.key, written(cell), refusal.what, refusal.remedy, refusal.proposal)
            )

    def draft(self, head: Head, skipped: tuple[tuple[int, str], ...]) -> Draft:
        """What was read, its rows completed, made into values and looked at together."""
        completed = self.kind.completed(tuple(Row(line.line, line.plain) for line in self.lines))
        wrong = {fault.line for fault in self.faults}
        lines: list[Line] = []
        for line, row in zip(self.lines, completed, strict=True):
            values: tuple[Any, ...] = ()
            if line.line not in wrong and not self._open(line):
                try:
                    values = self.kind.one(row)
                except Refusal as refusal:
                    self._refused(line, row, refusal)
            lines.append(replace(line, plain=row.cells, values=values))
        made = tuple((line.line, value) for line in lines for value in line.values)
        for at, wrong_together in self.kind.together(made):
            self._refused(next(line for line in lines if line.line == at), None, wrong_together)
        given = {*self.at, *(key for m in self.kind.meanings if m.key in self.at for key in m.into)}
        given |= {key for _, key in self.cells}
        return Draft(
            kind=self.kind,
            head=head,
            columns=self.columns,
            style=self.style,
            lines=tuple(lines),
            faults=tuple(sorted(self.faults, key=lambda fault: fault.line)),
            questions=tuple(Question(m, w, count, value) for (m, w), (count, value) in self.asked.items()),
            skipped=skipped,
            missing=tuple(m.key for m in self.kind.meanings if m.must and m.key not in given),
        )

    def _open(self, line: Line) -> bool:
        """Whether a must of this row waits for an answer, so that nothing can be made of it yet."""
        return any(
            m.sort is Sort.CHOICE and m.fill_from and not line.plain.get(m.key) for m in self.kind.meanings
        )

    def _refused(self, line: Line, row: Row | None, refusal: Refusal) -> None:
        for item in refusal.items if isinstance(refusal, Refusals) else (refusal,):
            key = item.where if item.where in self.kind.keys else ""
            proposal = getattr(item, "proposal", "") or (
                self._proposal(line, row, key) if row and key else ""
            )
            self.faults.append(
                Fault(line.line, key, line.written.get(key, ""), item.what, item.remedy, proposal)
            )

    def _proposal(self, line: Line, row: Row, key: str) -> str:
        """A text for this cell with which the row is taken: its number in another unit, or what stands there in a row alike."""
        meaning = self.kind.meaning(key)
        tries = []
        number = re.match(r"\s*([\d.,/ ]*\d)", line.written.get(key, ""))
        if meaning.sort is Sort.LENGTH and number:
            tries = [f"{number[1].strip()} {unit}" for unit in ("mm", "cm", "in", "m")]
        elif not row.get(key):
            alike = [
                other for other in self.lines if stem(other.plain.get("name", "")) == stem(row.get("name"))
            ]
            tries = [other.written[key] for other in alike if other.written.get(key)]
        for attempt in tries:
            try:
                plain = plain_cell(
                    meaning,
                    attempt,
                    unit=self.at[key].unit if key in self.at else "",
                    style=self.style,
                    words=self.words,
                )
                self.kind.one(Row(row.line, {**row.cells, key: plain}))
            except Refusal:
                continue
            return attempt
        return ""


def stem(name: str) -> str:
    """A name without its numbers and its side, so that “Seat bottom 1, left” and “seat bottom 2” are one word."""
    text = re.sub(r"\b(left|right|lh|rh|l|r|links|rechts|port|starboard)\b|[#\d]+", " ", folded(name))
    return " ".join(re.sub(r"[^\w\s]", " ", text).split())


def likely(meaning: Meaning, word: str) -> str:
    """The value whose words stand in a word of the shop's; of several the one whose word stands last. Empty where none does."""
    found = [
        (place.end(), len(name), key)
        for key, names in meaning.choices.items()
        for name in (key, *names)
        for place in re.finditer(rf"\b{re.escape(name)}\b", word)
    ]
    return max(found)[2] if found else ""


def remembered(draft: Draft, answers: Answers) -> Memory:
    """What is worth keeping of what a person said, for the next list of this kind."""
    width = len(draft.columns)
    headings = {
        heading_key(draft.head.parts[at], at, width): f"{meaning or IGNORED}|{unit}"
        for at, (meaning, unit) in answers.columns.items()
        if at < width
    }
    return Memory(headings, dict(answers.words))
