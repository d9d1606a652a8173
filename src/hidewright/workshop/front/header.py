"""The three answers at the top of every page of a job."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from hidewright.takeoff.enough import Status
from hidewright.workshop.days import queries as days
from hidewright.workshop.days.promise_queries import Outlook, Promise, promise_of
from hidewright.workshop.handover.queries import out_of
from hidewright.workshop.pieces.colour_queries import job_colours
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.shelf import vessel_queries as mixing
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered


@dataclass(frozen=True, slots=True)
class ColourHeader:
    """How one of the job's colours stands: mL in hand and needed (None: not known yet), and in a word whether it is enough."""

    number: int
    label: str
    in_hand: float
    needed: float | None
    needed_p90: float | None
    enough: str


@dataclass(frozen=True, slots=True)
class JobHeader:
    """What stands above every page of a job.

    `in_hand` and `needed` in mL of mixed colour (None: not known yet); `today_done` of `today_total` of the tasks of today,
    or of `other_day`; `enough` says in a word how the colour stands; `finish` the planned day and `promised` the promised one; `days_left` from today to the promised day.
    """

    in_hand: float | None
    needed: float | None
    needed_p90: float | None
    enough: str
    today_total: int | None
    today_done: int
    today_next: str
    finish: date | None
    promised: date | None
    days_left: int | None
    colours: tuple[ColourHeader, ...] = ()
    """Each colour by itself, where the job has several: `in_hand` and the rest are then their sums, and `enough` the worst of them."""
    odds: Promise | None = None
    left: bool = False
    """Every piece that came in was handed over."""
    parted: str = ""
    """Some pieces were handed over and others were not: how many, and why those that were named stay."""
    outrun: bool = False
    """The plan's last day is past, and work of it is not done."""
    left_over: int = 0
    """Steps of days before that are not done."""
    unplanned: int = 0
    """Pieces that the plan does not know, or does not know to go again."""
    other_day: date | None = None
    """The day of the plan that the tasks are of, where nobody works on the job today."""

    @property
    def stale(self) -> bool:
        """The plan's last day and its odds do not know how things stand now."""
        return self.outrun or bool(self.left_over or self.unplanned)

    @property
    def days_past(self) -> int:
        """Days since the promised day; 0 before it."""
        return max(-(self.days_left or 0), 0)

    @property
    def outlook(self) -> Outlook | None:
        """How the promised day stands: late once it is past, whether there is a plan or not; else by the odds where there are any, by the plan's last day else.

        None once everything has left, without a promised day or a plan, and where the plan does not know how things stand: it says nothing any more.
        """
        if self.promised is None or self.left:
            return None
        if (self.days_left or 0) < 0:
            return Outlook.LATE
        if self.finish is None or self.outrun:
            return None
        if self.finish > self.promised:
            return Outlook.LATE
        if self.stale:
            return None
        return (self.odds.outlook if self.odds else None) or Outlook.IN_TIME

    @property
    def late(self) -> bool | None:
        """True when the promised day will likely be missed; None while it or the plan is unknown."""
        return None if self.outlook is None else self.outlook is Outlook.LATE


WORST_FIRST = (Status.SHORT, Status.TO_MIX, Status.WATCH, Status.ENOUGH, Status.DONE)
"""How colours of one job stand, the one that matters most first."""


def worst(words: Iterable[str]) -> str:
    """The word of the colour that stands worst; empty while none is worked out."""
    found = set(words)
    return next((status.value for status in WORST_FIRST if status.value in found), "")


def _colours(job: Job, held: Mapping[int, float]) -> Iterator[ColourHeader]:
    for colour in job_colours(job):
        mL = held.get(colour.number, 0.0)
        found = quantities.quantities(job, mL, colour.number)
        still = found.standing.still if found else None
        yield ColourHeader(
            colour.number,
            colour.label,
            mL,
            still.at(0.5) if still else None,
            still.at(0.9) if still else None,
            found.standing.status.value if found else "",
        )


@remembered
def job_header(job: Job, today: date | None = None) -> JobHeader:
    """Gather the three answers for `job` as of `today`."""
    today = today or date.today()
    acts = days.today(job, today)
    done, total, following = acts if acts else (0, None, "")
    finish = days.finish_day(job)
    out = out_of(job)
    held = mixing.in_hand(job)
    colours = tuple(_colours(job, held))
    needed = [each.needed for each in colours if each.needed is not None]
    careful = [each.needed_p90 for each in colours if each.needed_p90 is not None]
    return JobHeader(
        in_hand=sum(held.values()),
        needed=sum(needed) if needed else None,
        needed_p90=sum(careful) if careful else None,
        enough=worst([each.enough for each in colours]),
        colours=colours if len(colours) > 1 else (),
        today_total=total,
        today_done=done,
        today_next=following,
        finish=finish,
        promised=job.promised,
        days_left=(job.promised - today).days if job.promised else None,
        odds=promise_of(days.plan_row(job), job.promised),
        left=0 < out.of <= out.gone,
        parted=out.words if out.gone < out.of else "",
        outrun=finish is not None and finish < today and bool(following),
        left_over=days.left_over(job, today),
        unplanned=days.unplanned(job),
        other_day=days.other_day(job, today),
    )
