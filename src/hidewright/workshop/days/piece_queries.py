"""The days of one piece: what it goes through, how far it is, what it waits for, and what is drying on it now."""

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from hidewright.charts.plan import PlanShown
from hidewright.charts.sessions import kind_of
from hidewright.planning.problem.model import COATS, Kind
from hidewright.workshop.days.lists import Group, Line, grouped
from hidewright.workshop.days.models import Due, Hold
from hidewright.workshop.days.queries import lines_of
from hidewright.workshop.room.drying_queries import AFTER, DRYING_WORDS
from hidewright.workshop.shop.models import Job


@dataclass(frozen=True, slots=True)
class DryingNow:
    """What is drying on a piece: what was done last, since when, for the page Drying."""

    what: str
    words: str
    since: datetime
    minutes: int


@dataclass(frozen=True, slots=True)
class PieceDays:
    """Everything that the page of a piece shows of its days."""

    piece: str
    lines: tuple[Line, ...]
    holds: tuple[Hold, ...]
    due: Due | None
    drying: DryingNow | None

    @property
    def groups(self) -> tuple[Group, ...]:
        """Its acts in order, each by itself."""
        return tuple(grouped([line])[0] for line in self.lines)

    @property
    def done(self) -> int:
        """How many acts are done."""
        return sum(line.standing.done for line in self.lines)


def piece_days(job: Job, plan: PlanShown, piece: str) -> PieceDays:
    """The days of one piece, by the plan in force."""
    acts = sorted((act for act in plan.acts if act.piece == piece), key=lambda act: act.start)
    lines = tuple(lines_of(job, acts))
    return PieceDays(
        piece,
        lines,
        tuple(Hold.objects.filter(job=job, piece=piece, lifted=None)),
        Due.objects.filter(job=job, piece=piece, lifted=None).first(),
        _drying(lines),
    )


def _drying(lines: tuple[Line, ...]) -> DryingNow | None:
    """What was done last and dries, when nothing came after it."""
    done = [n for n, line in enumerate(lines) if line.standing.done]
    if not done:
        return None
    last = lines[done[-1]]
    pass_key, kind = _pass_and_kind(last.act.key)
    coats_to_come = any(
        _pass_and_kind(line.act.key)[0] == pass_key and _pass_and_kind(line.act.key)[1] in COATS
        for line in lines[done[-1] + 1 :]
    )
    name = "cure" if kind in COATS and not coats_to_come else AFTER.get(kind) if kind else None
    if name is None or last.standing.at is None:
        return None
    minutes = int((timezone.now() - last.standing.at).total_seconds() // 60)
    return DryingNow(name, DRYING_WORDS[name], last.standing.at, minutes)


def _pass_and_kind(key: str) -> tuple[str, Kind | None]:
    """The pass and the kind of work of an act's key (piece/pass/kind, perhaps with a number or a part)."""
    parts = key.rsplit("/", 2)
    return (parts[-2] if len(parts) > 1 else ""), kind_of(key)
