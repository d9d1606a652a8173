"""The three answers at the top of every page of a job."""

from dataclasses import dataclass
from datetime import date

from ..models.jobs import Job
from . import days, mixing, quantities


@dataclass(frozen=True, slots=True)
class JobHeader:
    """What stands above every page of a job.

    `in_hand` and `needed` in mL of mixed colour (None: not known yet); `today_done` of `today_total` of today's
    tasks; `finish` the planned day and `promised` the promised one; `days_left` from today to the promised day.
    """

    in_hand: float | None
    needed: float | None
    needed_p90: float | None
    today_total: int | None
    today_done: int
    today_next: str
    finish: date | None
    promised: date | None
    days_left: int | None

    @property
    def short(self) -> bool | None:
        """True when the colour in hand will probably not do; None while either is unknown."""
        if self.in_hand is None or self.needed_p90 is None:
            return None
        return self.in_hand < self.needed_p90

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


def job_header(job: Job, today: date | None = None) -> JobHeader:
    """Gather the three answers for `job` as of `today`."""
    today = today or date.today()
    acts = days.today(job, today)
    done, total, following = acts if acts else (0, None, "")
    needed = quantities.colour_needed(job)
    return JobHeader(
        in_hand=mixing.colour_in_hand(job),
        needed=needed[0] if needed else None,
        needed_p90=needed[1] if needed else None,
        today_total=total,
        today_done=done,
        today_next=following,
        finish=days.finish_day(job),
        promised=job.promised,
        days_left=(job.promised - today).days if job.promised else None,
    )
