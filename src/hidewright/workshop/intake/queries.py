"""What came in as values: pieces by group with how they arrived, what is missing, pictures, labels and the receipt's content."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import Count, Q

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
class Pictures:
    """Pictures as a page shows them: those kept (some of `total`), how many wait, and those that could not be read."""

    kept: tuple[Picture, ...]
    total: int
    waiting: int
    broken: tuple[Picture, ...]
    page: int = 1

    @property
    def newer(self) -> int | None:
        """The page with newer ones; None where these are the newest."""
        return self.page - 1 if self.page > 1 else None

    @property
    def older(self) -> int | None:
        """The page with older ones; None where these are the oldest."""
        return self.page + 1 if self.page * SHOWN < self.total else None

    @property
    def words(self) -> str:
        """Which of them these are, the newest first: “61 to 120 of 500”."""
        first = (self.page - 1) * SHOWN + 1
        return f"{first} to {first + len(self.kept) - 1} of {self.total}"


def pictures(job: Job, piece: Piece | None = None, *, page: int = 1) -> Pictures:
    """The pictures of a job, or of one of its pieces, the newest first."""
    found = Picture.objects.filter(job=job, withdrawn=None)
    if piece is not None:
        found = found.filter(piece=piece)
    states = dict(found.order_by().values_list("state").annotate(Count("id")))
    total = states.get("kept", 0)
    page = min(max(page, 1), max(1, -(-total // SHOWN)))
    first = (page - 1) * SHOWN
    kept = (
        found.filter(state=PictureState.KEPT).select_related("piece").order_by("-id")[first : first + SHOWN]
    )
    broken = found.filter(state=PictureState.BROKEN).order_by("id")[:SHOWN] if states.get("broken") else ()
    return Pictures(tuple(kept), total, states.get("waiting", 0), tuple(broken), page)


def waiting(job: Job) -> list[Picture]:
    """Pictures that wait to be made smaller, the oldest first."""
    return list(Picture.objects.filter(job=job, withdrawn=None, state=PictureState.WAITING))


def tagged(job: Job, marks: Iterable[str] = ()) -> list[Piece]:
    """The pieces that get a label: those of these marks, or all that are to be coated here."""
    wanted = set(marks)
    return [row for row in rows(job) if (row.key in wanted if wanted else row.by_us)]
