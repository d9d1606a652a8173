"""What a job must not forget: snags before a piece's last coat and before packing, and answers that are late."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from hidewright.charts.plan import ActShown
from hidewright.dates import short_day
from hidewright.planning.problem.kinds import COATS
from hidewright.workshop.days.progress_queries import standings
from hidewright.workshop.days.queries import plan_in_force
from hidewright.workshop.inspection.models import Snag, Stage, Weight
from hidewright.workshop.inspection.snag_queries import blocking, open_rows
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

AHEAD = timedelta(days=2)
"""How long before a last coat, or before packing, a reminder begins (a convention of this tool)."""
_COATS = tuple(f"/{kind}" for kind in COATS)


@dataclass(frozen=True, slots=True)
class Reminder:
    """One thing not to forget: the snag it is about, and in words."""

    snag: Snag
    words: str


@remembered
def last_coats(job: Job) -> Mapping[str, ActShown]:
    """Piece → the last coat that the plan gives it."""
    plan = plan_in_force(job)
    found: dict[str, ActShown] = {}
    for act in sorted(plan.acts, key=lambda act: act.start) if plan else ():
        if any(mark in act.key for mark in _COATS):
            found[act.piece] = act
    return found


@remembered
def before_last_coat(job: Job) -> Mapping[str, tuple[Snag, ...]]:
    """Key of a piece's last coat → the open blocking snags of that piece: shown at that session."""
    rows = [row for row in blocking(job) if row.piece]
    if not rows:
        return {}
    coats = last_coats(job)
    found: dict[str, tuple[Snag, ...]] = {}
    for row in rows:
        if row.piece in coats:
            key = coats[row.piece].key
            found[key] = (*found.get(key, ()), row)
    return found


@remembered
def reminders(job: Job, today: date | None = None) -> tuple[Reminder, ...]:
    """Snags that must not be forgotten now, each once: before its last coat, before packing, or because an answer is late."""
    day = today or date.today()
    rows = open_rows(job)
    if not rows:
        return ()
    plan = plan_in_force(job)
    coats = last_coats(job)
    done = {key for key, one in standings(job).items() if one.done} if plan else set()
    packing = min((d for d in (plan.finish.date() if plan else None, job.promised) if d), default=None)
    found = []
    for row in rows:
        words = (
            _coat_words(row, coats.get(row.piece), done, day)
            or _late(row, day)
            or _packing(row, packing, day)
        )
        if words:
            found.append(Reminder(row, words))
    return tuple(found)


def _coat_words(row: Snag, coat: ActShown | None, done: set[str], today: date) -> str:
    """Only while the coat is still to come, and near."""
    if row.weight != Weight.BLOCKS or coat is None or coat.key in done:
        return ""
    near = coat.start.date() - today <= AHEAD
    return f"before the last coat of {row.piece} on {short_day(coat.start.date())}" if near else ""


def _late(row: Snag, today: date) -> str:
    if row.expected is None or row.expected >= today or row.stage == Stage.ARRIVED:
        return ""
    who = row.acts.name if row.acts else "nobody"
    return f"{row.get_stage_display()}, expected on {short_day(row.expected)} from {who}, not there yet"


def _packing(row: Snag, packing: date | None, today: date) -> str:
    return f"before packing on {short_day(packing)}" if packing and packing - today <= AHEAD else ""
