"""The interior as a picture: each group of pieces as a shape that fills as it is done, with how many of its pieces are where."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from django.utils.safestring import SafeString, mark_safe

from hidewright import survey
from hidewright.charts.shapes import shape_filled
from hidewright.workshop.days.progress_queries import standings
from hidewright.workshop.days.queries import plan_in_force
from hidewright.workshop.handover.models import PackedPiece
from hidewright.workshop.handover.queries import counted_out
from hidewright.workshop.intake.models import Arrival
from hidewright.workshop.intake.queries import counted_in
from hidewright.workshop.pieces import queries as pieces
from hidewright.workshop.shop.models import Job


class Where(StrEnum):
    """Where a piece is, the last first; the value is what the page says."""

    GONE = "handed over"
    DONE = "done"
    IN_WORK = "in work"
    WAITING = "waiting"
    AWAY = "not here yet"


@dataclass(frozen=True, slots=True)
class PieceStanding:
    """A piece, where it is, and the share of its steps that are done, 0 to 1."""

    piece: survey.Piece
    where: Where
    share: float


@dataclass(frozen=True, slots=True)
class GroupStanding:
    """A group's pieces and how they stand."""

    name: str
    pieces: tuple[PieceStanding, ...]

    @property
    def done(self) -> int:
        """How many pieces are done, those that left included."""
        return sum(one.where in (Where.DONE, Where.GONE) for one in self.pieces)

    @property
    def share(self) -> float:
        """The share of the group's work that is done, 0 to 1: its pieces' shares, each by its area."""
        area = sum(one.piece.area for one in self.pieces)
        return sum(one.share * one.piece.area for one in self.pieces) / area if area else 0.0

    @property
    def percent(self) -> int:
        """The share in per cent; 100 only when all is done."""
        return int(100 * self.share + 1e-9)

    @property
    def words(self) -> str:
        """How many are where, such as “2 in work, 5 waiting”."""
        return in_words(self.pieces)

    @property
    def picture(self) -> SafeString:
        """The group as the shape of its largest piece, filled from below by what is done."""
        largest = max(self.pieces, key=lambda one: one.piece.area).piece
        return mark_safe(shape_filled(largest.shape, self.share))  # noqa: S308 - our own SVG, text escaped


def in_words(standings: Iterable[PieceStanding]) -> str:
    """How many pieces are where, the furthest first; places without any are left out."""
    counts = Counter(one.where for one in standings)
    return ", ".join(f"{counts[where]} {where}" for where in Where if counts[where])


def interior(job: Job) -> tuple[GroupStanding, ...]:
    """The groups of the list in its order: a handful of questions to the database, however many pieces.

    Where a shop notes no arrivals, no piece is called away; without a plan nothing is in work.
    """
    came = _came(job) if counted_in(job).came else set()
    gone = _gone(job) if counted_out(job)[0] else set()
    shares = _shares(job)
    groups: dict[str, list[PieceStanding]] = {}
    for piece in pieces.pieces(job):
        share = 1.0 if piece.key in gone else shares.get(piece.key, 0.0)
        where = _where(share, piece.key in gone, away=bool(came) and piece.key not in came)
        groups.setdefault(piece.group, []).append(PieceStanding(piece, where, share))
    return tuple(GroupStanding(name, tuple(found)) for name, found in groups.items())


def _came(job: Job) -> set[str]:
    """The pieces that came in."""
    here = Arrival.objects.filter(piece__job=job, piece__removed=None, withdrawn=None)
    return set(here.values_list("piece__key", flat=True))


def _gone(job: Job) -> set[str]:
    """The pieces that left with a hand-over that was signed."""
    left = PackedPiece.objects.filter(
        hand_over__job=job, hand_over__withdrawn=None, hand_over__signed__isnull=False, withdrawn=None
    )
    return set(left.filter(piece__removed=None, stays="").values_list("piece__key", flat=True))


def _where(share: float, gone: bool, *, away: bool) -> Where:
    if gone:
        return Where.GONE
    if share >= 1:
        return Where.DONE
    if share > 0:
        return Where.IN_WORK
    return Where.AWAY if away else Where.WAITING


def _shares(job: Job) -> Mapping[str, float]:
    """Piece → the share of its planned steps that were tapped."""
    plan = plan_in_force(job)
    if plan is None:
        return {}
    stands = standings(job)
    steps = Counter(act.piece for act in plan.acts)
    tapped = Counter(act.piece for act in plan.acts if (found := stands.get(act.key)) and found.done)
    return {piece: tapped[piece] / count for piece, count in steps.items()}
