"""The three answers at the top of every page of a job."""

from dataclasses import dataclass
from datetime import date

from hidewright.workshop.days import queries as days
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.shelf import vessel_queries as mixing
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered


@dataclass(frozen=True, slots=True)
class JobHeader:
    """What stands above every page of a job.

    `in_hand` and `needed` in mL of mixed colour (None: not known yet); `today_done` of `today_total` of today's
    tasks; `enough` says in a word how the colour stands; `finish` the planned day and `promised` the promised one; `days_left` from today to the promised day.
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

    @property
    def days_past(self) -> int:
        """Days since the promised day; 0 before it."""
        return max(-(self.days_left or 0), 0)

    @property
    def late(self) -> bool | None:
        """True when the plan ends after the promised day; None while either is unknown."""
        if self.finish is None or self.promised is None:
            return None
        return self.finish > self.promised


@remembered
def job_header(job: Job, today: date | None = None) -> JobHeader:
    """Gather the three answers for `job` as of `today`."""
    today = today or date.today()
    acts = days.today(job, today)
    done, total, following = acts if acts else (0, None, "")
    in_hand = mixing.colour_in_hand(job)
    found = quantities.quantities(job, in_hand)
    still = found.standing.still if found else None
    return JobHeader(
        in_hand=in_hand,
        needed=still.at(0.5) if still else None,
        needed_p90=still.at(0.9) if still else None,
        enough=found.standing.status.value if found else "",
        today_total=total,
        today_done=done,
        today_next=following,
        finish=days.finish_day(job),
        promised=job.promised,
        days_left=(job.promised - today).days if job.promised else None,
    )
