"""Handing over as values: each piece that came in, packed, gone, named as staying, or still open; the touch-up kit."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Exists, IntegerField, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from hidewright.dates import show_day
from hidewright.workshop.bench.touch_up_queries import kept_jars
from hidewright.workshop.handover.models import HandOver, PackedPiece
from hidewright.workshop.intake.models import Arrival
from hidewright.workshop.intake.queries import arrivals
from hidewright.workshop.pieces.colour_queries import job_colours
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pieces.queries import rows
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered
from hidewright.workshop.shop.units import shown_volume


@dataclass(frozen=True, slots=True)
class PieceOut:
    """A piece that came in, and its line in the newest hand-over that has one (None: nothing is said of it yet)."""

    row: Piece
    line: PackedPiece | None

    @property
    def gone(self) -> bool:
        """It left with a hand-over that was signed."""
        return self.line is not None and not self.line.stays and self.line.hand_over.signed is not None

    @property
    def open(self) -> bool:
        """It neither left nor is it packed or named in the hand-over that is being packed."""
        if self.line is None:
            return True
        return self.line.hand_over.signed is not None and bool(self.line.stays)

    @property
    def words(self) -> str:
        """How it stands."""
        if self.line is None:
            return "open"
        if self.line.stays:
            return f"stays: {self.line.stays}"
        day = self.line.hand_over.day if self.gone else None
        return f"gone on {show_day(day)}" if day else "packed"


@dataclass(frozen=True, slots=True)
class GroupOut:
    """Pieces that belong together."""

    name: str
    pieces: tuple[PieceOut, ...]

    @property
    def open(self) -> tuple[PieceOut, ...]:
        """Those of which nothing is said yet."""
        return tuple(p for p in self.pieces if p.open)

    @property
    def said(self) -> tuple[PieceOut, ...]:
        """Those that are packed or named and have not left."""
        return tuple(p for p in self.pieces if not p.open and not p.gone)


@dataclass(frozen=True, slots=True)
class Packing:
    """All that came in, by group, and the hand-over that is being packed."""

    groups: tuple[GroupOut, ...]
    current: HandOver | None
    from_list: bool

    @property
    def pieces(self) -> tuple[PieceOut, ...]:
        """All of them."""
        return tuple(piece for group in self.groups for piece in group.pieces)

    @property
    def open(self) -> tuple[PieceOut, ...]:
        """Those of which nothing is said yet."""
        return tuple(p for p in self.pieces if p.open)

    @property
    def packed(self) -> tuple[PieceOut, ...]:
        """Those in the hand-over that is being packed, going out."""
        return tuple(p for p in self.pieces if p.line and not p.line.stays and not p.gone)

    @property
    def gone(self) -> tuple[PieceOut, ...]:
        """Those that left."""
        return tuple(p for p in self.pieces if p.gone)


def packing(job: Job) -> Packing:
    """How the hand-over stands; where no delivery was written down, all pieces of the list that are coated here count as come in."""
    came = arrivals(job)
    lines: dict[int, PackedPiece] = {}
    told = PackedPiece.objects.filter(hand_over__job=job, hand_over__withdrawn=None, withdrawn=None)
    for line in told.select_related("hand_over").order_by("id"):
        lines[line.piece_id] = line
    found: dict[str, list[PieceOut]] = {}
    listed = Piece.objects.filter(pk__in=came) if came else rows(job).filter(by_us=True)
    for row in listed.order_by("order", "id"):
        found.setdefault(row.group, []).append(PieceOut(row, lines.get(row.pk)))
    return Packing(
        tuple(GroupOut(name, tuple(pieces)) for name, pieces in found.items()), current(job), not came
    )


def current(job: Job) -> HandOver | None:
    """The hand-over that is being packed."""
    return HandOver.objects.filter(job=job, signed=None, withdrawn=None).first()


def signed(job: Job) -> list[HandOver]:
    """The hand-overs that were signed, the newest first."""
    found = HandOver.objects.filter(job=job, withdrawn=None).exclude(signed=None)
    return list(found.select_related("person").order_by("-number"))


def kit(job: Job) -> list[str]:
    """What may go along for touching up, in words: the jars that were kept, of every colour."""
    found = []
    for colour in job_colours(job):
        for jar in kept_jars(job, colour.number):
            day = jar.row.keep_until
            until = f", keep until {show_day(day)}" if day else ""
            found.append(f"{jar.row.name}, {shown_volume(jar.state.volume)}{until}")
    return [*found, "Touch-up sheet", "Care sheet"]


@dataclass(frozen=True, slots=True)
class Out:
    """How many pieces left, of how many that came in; how many were named as staying when others left, and the reason of the first of them."""

    gone: int
    of: int
    stays: int
    why: str

    @property
    def words(self) -> str:
        """In a sentence; empty while nothing left."""
        if not self.gone:
            return ""
        stays = f"; {self.stays} stay{'s' if self.stays == 1 else ''}: {self.why}" if self.stays else ""
        return f"{self.gone} of {self.of} handed over{stays}"


def counted_out(job: Job) -> tuple[int, int]:
    """How many pieces left, of how many that came in (or are on the list, where no delivery was written down)."""
    found = out_of(job)
    return found.gone, found.of


@remembered
def out_of(job: Job) -> Out:
    """What left and what stays: one question to the database, since every page of a job asks it."""
    left = PackedPiece.objects.filter(
        hand_over__job=OuterRef("pk"), hand_over__withdrawn=None, hand_over__signed__isnull=False, withdrawn=None, stays=""
    )  # fmt: skip
    came = Arrival.objects.filter(piece__job=OuterRef("pk"), withdrawn=None)
    listed = Piece.objects.filter(job=OuterRef("pk"), removed=None, by_us=True)
    later = PackedPiece.objects.filter(
        piece=OuterRef("piece"), pk__gt=OuterRef("pk"), withdrawn=None, hand_over__withdrawn=None, hand_over__signed__isnull=False
    )  # fmt: skip
    stays = (
        PackedPiece.objects.filter(
            hand_over__job=OuterRef("pk"),
            hand_over__withdrawn=None,
            hand_over__signed__isnull=False,
            withdrawn=None,
        )
        .exclude(stays="")
        .exclude(Exists(later))
    )
    found = Job.objects.filter(pk=job.pk).annotate(
        left=_count(left),
        came=_count(came),
        listed=_count(listed),
        staying=_count(stays),
        why=Subquery(stays.order_by("id").values("stays")[:1]),
    )
    gone, arrived, ours, staying, why = found.values_list("left", "came", "listed", "staying", "why").get()
    return Out(gone, arrived or ours, staying, why or "")


def _count(rows: QuerySet[Any]) -> Coalesce:
    counted = rows.order_by().annotate(one=Value(1)).values("one").annotate(many=Count("pk")).values("many")
    return Coalesce(Subquery(counted, output_field=IntegerField()), 0)
