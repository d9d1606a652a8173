"""Survey rows as values: the pieces of a job, and how its list is shown."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils.safestring import SafeString, mark_safe

from hidewright import survey
from hidewright.charts.shapes import shape_copy, shape_drawings, shape_picture
from hidewright.units import show_length
from hidewright.workshop.pieces.colour_queries import names, words_of
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pieces.zone_queries import zones_of
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered


def rows(job: Job) -> QuerySet[Piece]:
    """The pieces that are on the list, in order."""
    return Piece.objects.filter(job=job, removed=None)


def value(row: Piece, colours: Mapping[int, str] | None = None) -> survey.Piece:
    """One piece as the stages take it; `colours` the names of the job's colours by number."""
    return survey.make_piece(
        key=row.key,
        name=row.name,
        group=row.group,
        shape=row.shape,
        length=row.length,
        width=row.width,
        thickness=row.thickness,
        material=row.material,
        condition=row.condition,
        sat_on=row.sat_on,
        turned=row.turned,
        strip=row.strip,
        notes=row.notes,
        measured=row.measured,
        colour=words_of(row, colours or {}),
        zones=zones_of(row.zones),
    )


@remembered
def piece_names(job: Job) -> dict[str, str]:
    """What each piece is called, by its mark."""
    return {key: name for key, name, _, _ in _words(job)}


def named(job: Job, mark: str) -> str:
    """A mark with the name of its piece, “S10-4 Armrest”, or of the piece that it is a part of; the mark alone where no piece is called so."""
    piece, slash, part = mark.partition(" / ")
    name = piece_names(job).get(piece, "")
    return f"{piece} {name}{slash}{part}" if name else mark


@remembered
def _words(job: Job) -> tuple[tuple[str, str, str, str], ...]:
    """Mark, name, group and material of each piece."""
    return tuple(rows(job).values_list("key", "name", "group", "material"))


@remembered
def piece_texts(job: Job) -> dict[str, str]:
    """Mark → the mark, name, group and material of each piece as one text, for what goes by words."""
    return {words[0]: " ".join(words) for words in _words(job)}


@remembered
def listed(job: Job) -> tuple[survey.Piece, ...]:
    """All pieces on a job's list, in order, those that somebody else coats too."""
    known = names(job)
    return tuple(value(row, known) for row in rows(job))


@remembered
def pieces(job: Job, number: int | None = None) -> tuple[survey.Piece, ...]:
    """The pieces that are coated here, in order; those of one of the job's colours where its `number` is given."""
    found = tuple(piece for piece in listed(job) if piece.by_us)
    if number is None:
        return found
    name = names(job).get(number, "")
    return tuple(piece for piece in found if piece.colour == name)


@dataclass(frozen=True, slots=True)
class Line:
    """One piece of the list: its row, its value, and its size in words."""

    row: Piece
    piece: survey.Piece
    size: str
    picture: SafeString

    @property
    def spread(self) -> float:
        """Relative sd of its area, in per cent."""
        return 100 * self.piece.area_sd / self.piece.area


@dataclass(frozen=True, slots=True)
class Group:
    """Pieces that belong together, such as those of one chair; area in m²."""

    name: str
    lines: tuple[Line, ...]

    @property
    def area(self) -> float:
        """Coated area in m²."""
        return sum(line.piece.area for line in self.lines)

    @property
    def marks(self) -> tuple[str, ...]:
        """What is out of the ordinary, counted: “2 both sides”, “1 damaged”, “2 vinyl”."""
        pieces = [line.piece for line in self.lines]
        words = Counter("both sides" for p in pieces if p.turned)
        words.update("in zones" for p in pieces if p.zones)
        words.update("to strip" for p in pieces if p.strip)
        words.update(str(p.condition) for p in pieces if p.condition is survey.Condition.DAMAGED)
        words.update(str(p.material) for p in pieces if p.material is not survey.Material.LEATHER)
        words.update(p.colour for p in pieces if p.colour)
        return tuple(f"{count} {word}" for word, count in words.items())


@dataclass(frozen=True, slots=True)
class Totals:
    """The whole list in figures: areas in m²; `sd` of the area when every shape errs by itself."""

    count: int
    area: float
    sd: float
    stripped: float
    turned: int
    sat_on: int
    damaged: int


def picture(piece: survey.Piece) -> SafeString:
    """The small picture of a piece's shape."""
    words = survey.SHAPES[piece.shape].words
    svg = shape_picture(piece.shape, sat_on=piece.sat_on, turned=piece.turned, label=words)
    return mark_safe(svg)  # noqa: S308 - our own SVG, text escaped


def copied(piece: survey.Piece) -> SafeString:
    """The same for a list with `drawings` on its page: a copy of the drawing, which stands on the page once."""
    words = survey.SHAPES[piece.shape].words
    svg = shape_copy(piece.shape, sat_on=piece.sat_on, turned=piece.turned, label=words)
    return mark_safe(svg)  # noqa: S308 - our own SVG, text escaped


def drawings(pieces: Iterable[survey.Piece]) -> SafeString:
    """The drawings that the pictures of the pieces are copies of."""
    return mark_safe(shape_drawings((p.shape, p.sat_on, p.turned) for p in pieces))  # noqa: S308 - our own SVG


def size_words(piece: survey.Piece, units: str) -> str:
    """“560 mm × 540 mm × 130 mm”."""
    return " × ".join(show_length(v, units) for v in (piece.length, piece.width, piece.thickness) if v)


def groups(job: Job, units: str, find: str = "") -> tuple[Group, ...]:
    """The list in groups, in the order in which each group first stands there; `find` looks in mark, name, group and notes."""
    found: dict[str, list[Line]] = {}
    wanted = Q()
    for word in find.split()[:6]:
        wanted &= (
            Q(key__icontains=word)
            | Q(name__icontains=word)
            | Q(group__icontains=word)
            | Q(notes__icontains=word)
        )
    known = names(job)
    for row in rows(job).filter(wanted):
        piece = value(row, known)
        found.setdefault(row.group, []).append(Line(row, piece, size_words(piece, units), copied(piece)))
    return tuple(Group(name, tuple(lines)) for name, lines in found.items())


def totals(listed: Sequence[survey.Piece]) -> Totals:
    """The list in figures."""
    return Totals(
        len(listed),
        sum(p.area for p in listed),
        sum(p.area_sd**2 for p in listed) ** 0.5,
        sum(p.area for p in listed if p.strip),
        sum(p.turned for p in listed),
        sum(p.sat_on for p in listed),
        sum(p.condition is survey.Condition.DAMAGED for p in listed),
    )


@dataclass(frozen=True, slots=True)
class Comparison:
    """What taking a file would do to the list: marks that are new, that stand there already, and that only the list has."""

    new: tuple[str, ...]
    known: tuple[str, ...]
    missing: tuple[str, ...]


def compare(job: Job, brought: Sequence[survey.Piece]) -> Comparison:
    """A file's pieces against the list."""
    have = set(rows(job).values_list("key", flat=True))
    keys = [p.key for p in brought]
    return Comparison(
        tuple(k for k in keys if k not in have),
        tuple(k for k in keys if k in have),
        tuple(sorted(have - set(keys))),
    )
