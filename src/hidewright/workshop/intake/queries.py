"""What came in as values: pieces by group with how they arrived, what is missing, pictures, labels and the receipt's content."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import Count, Q, QuerySet

from hidewright.workshop.intake.models import Arrival, Delivery, Picture, PictureState
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pieces.queries import rows
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

SHOWN = 60
"""Pictures on one page."""


@dataclass(frozen=True, slots=True)
class PieceIn:
    """A piece of the list with its arrival (None while it is missing) and how many pictures it has."""

    row: Piece
    arrival: Arrival | None
    pictures: int

    @property
    def words(self) -> str:
        """How it stands in a word."""
        if not self.row.by_us:
            return "not by us"
        return "in" if self.arrival else "missing"


@dataclass(frozen=True, slots=True)
class GroupIn:
    """Pieces that belong together; `name` may be empty."""

    name: str
    pieces: tuple[PieceIn, ...]

    @property
    def came(self) -> int:
        """How many are in."""
        return sum(p.arrival is not None for p in self.pieces)

    @property
    def missing(self) -> tuple[PieceIn, ...]:
        """Those that should be here and are not."""
        return tuple(p for p in self.pieces if p.arrival is None and p.row.by_us)


@dataclass(frozen=True, slots=True)
class Intake:
    """All that came in, and what did not."""

    groups: tuple[GroupIn, ...] = field(default=())

    @property
    def pieces(self) -> tuple[PieceIn, ...]:
        """All pieces of the list."""
        return tuple(piece for group in self.groups for piece in group.pieces)

    @property
    def ours(self) -> int:
        """How many are to be coated here."""
        return sum(p.row.by_us for p in self.pieces)

    @property
    def came(self) -> int:
        """How many of ours are in."""
        return sum(p.arrival is not None and p.row.by_us for p in self.pieces)

    @property
    def missing(self) -> tuple[PieceIn, ...]:
        """Ours that did not come in."""
        return tuple(p for p in self.pieces if p.arrival is None and p.row.by_us)

    @property
    def others(self) -> tuple[PieceIn, ...]:
        """Listed, and somebody else coats them."""
        return tuple(p for p in self.pieces if not p.row.by_us)


def arrivals(job: Job) -> dict[int, Arrival]:
    """Key of a piece → its arrival."""
    found = Arrival.objects.filter(piece__job=job, withdrawn=None).select_related("delivery")
    return {row.piece_id: row for row in found}


def intake(job: Job) -> Intake:
    """The job's list with what came in: three questions to the database, however many pieces."""
    came = arrivals(job)
    seen = dict(
        Picture.objects.filter(job=job, withdrawn=None)
        .exclude(piece=None)
        .order_by()
        .values_list("piece")
        .annotate(Count("id"))
    )
    found: dict[str, list[PieceIn]] = {}
    for row in rows(job):
        found.setdefault(row.group, []).append(PieceIn(row, came.get(row.pk), seen.get(row.pk, 0)))
    return Intake(tuple(GroupIn(name, tuple(pieces)) for name, pieces in found.items()))


@dataclass(frozen=True, slots=True)
class CountedIn:
    """How many pieces are to be coated here, and how many of them came in."""

    came: int
    ours: int


@remembered
def counted_in(job: Job) -> CountedIn:
    """The same in two numbers, with two questions to the database."""
    ours = rows(job).filter(by_us=True)
    came = Arrival.objects.filter(piece__in=ours, withdrawn=None).count()
    return CountedIn(came, ours.count())


def deliveries(job: Job) -> list[Delivery]:
    """The deliveries, the newest first, each with how many pieces came (`came`)."""
    live = Q(arrivals__withdrawn=None)
    return list(
        Delivery.objects.filter(job=job, withdrawn=None)
        .annotate(came=Count("arrivals", filter=live))
        .order_by("-number")
    )


@dataclass(frozen=True, slots=True)
class Unkept:
    """Pictures that are not there to look at: how many wait to be made smaller, and those that could not be read."""

    waiting: int
    broken: tuple[Picture, ...]


def unkept_pictures(job: Job, piece: Piece | None = None) -> Unkept:
    """Those of a job, or of one of its pieces."""
    found = _pictures(job, piece)
    broken = found.filter(state=PictureState.BROKEN).order_by("id")[:SHOWN]
    return Unkept(found.filter(state=PictureState.WAITING).count(), tuple(broken))


def kept_pictures(job: Job, piece: Piece | None = None) -> QuerySet[Picture]:
    """The pictures of a job, or of one of its pieces, the newest first."""
    kept = _pictures(job, piece).filter(state=PictureState.KEPT)
    return kept.select_related("piece").order_by("-id")


def _pictures(job: Job, piece: Piece | None) -> QuerySet[Picture]:
    found = Picture.objects.filter(job=job, withdrawn=None)
    return found if piece is None else found.filter(piece=piece)


def waiting(job: Job) -> list[Picture]:
    """Pictures that wait to be made smaller, the oldest first."""
    return list(Picture.objects.filter(job=job, withdrawn=None, state=PictureState.WAITING))


def tagged(job: Job, marks: Iterable[str] = ()) -> list[Piece]:
    """The pieces that get a label: those of these marks, or all that are to be coated here."""
    wanted = set(marks)
    return [row for row in rows(job) if (row.key in wanted if wanted else row.by_us)]
