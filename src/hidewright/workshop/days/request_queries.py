"""What people asked of the days of a job: pieces that wait, pieces that hurry, pieces that go again."""

from datetime import date, timedelta

from django.utils import timezone

from hidewright.dates import short_day
from hidewright.planning.problem.kinds import Kind
from hidewright.planning.problem.repairs import Repair
from hidewright.workshop.days.models import Due, Hold, Redo
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered


@remembered
def holds(job: Job) -> tuple[Hold, ...]:
    """Everything that waits on this job or ever did: pieces as a whole, or some step of them."""
    return tuple(Hold.objects.filter(job=job))


def waiting(job: Job) -> tuple[Hold, ...]:
    """What waits on this job now."""
    return tuple(row for row in holds(job) if row.lifted is None)


def goes_on(row: Hold) -> date:
    """The day on which a piece that waits may go on as far as is known: never before tomorrow where a snag is not decided or a colour not agreed yet."""
    open_ended = row.snag_id or row.sheet_id
    return max(row.until, timezone.localdate() + timedelta(days=1)) if open_ended else row.until


def hold_words(row: Hold) -> str:
    """“until Fri 4 Dec: seam open”."""
    day = goes_on(row)
    return f"until {short_day(day)}" + (f": {row.why}" if row.why else "")


@remembered
def dues(job: Job) -> tuple[Due, ...]:
    """The days of their own that pieces have or had."""
    return tuple(Due.objects.filter(job=job))


def hurrying(job: Job) -> tuple[Due, ...]:
    """The pieces that have a day of their own now."""
    return tuple(row for row in dues(job) if row.lifted is None)


@remembered
def came_up(job: Job) -> tuple[Redo, ...]:
    """The work that came up on the way, in the order in which that was said: steps again, and repairs."""
    return tuple(Redo.objects.filter(job=job, withdrawn=None).order_by("made"))


def redos(job: Job) -> tuple[Redo, ...]:
    """The pieces that go again through some steps, in the order in which that was said."""
    return tuple(row for row in came_up(job) if not row.name)


def repairs(job: Job) -> tuple[Redo, ...]:
    """The pieces that are repaired, in the order in which that was said."""
    return tuple(row for row in came_up(job) if row.name)


def repair_of(row: Redo) -> Repair:
    """A repair as the planner takes it."""
    return Repair(row.pk, row.name, Kind(row.kinds[0]), row.minutes, row.dry)
