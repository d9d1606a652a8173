"""Credentials as pages and papers take them: how each stands today, and what a job's rules want that is not there."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from hidewright.safety.rule_sets import PaperKind, RuleSet, Want, days_left, reminder, rule_set
from hidewright.units import counted
from hidewright.workshop.credentials.models import Credential, JobRules
from hidewright.workshop.inspection.models import BurnRecord
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered


@dataclass(frozen=True, slots=True)
class CredentialValue:
    """A credential and how it stands today."""

    row: Credential
    today: date

    @property
    def left(self) -> int | None:
        """Days until it ends; below 0 when it is over."""
        return days_left(self.row.expires, self.today)

    @property
    def over(self) -> bool:
        """True once its last day is past."""
        return reminder(self.row.expires, self.today) == -1

    @property
    def soon(self) -> bool:
        """True when the shop is to be reminded, and it is not over."""
        return reminder(self.row.expires, self.today) not in (None, -1)

    @property
    def words(self) -> str:
        """How it stands in words; empty while there is nothing to say."""
        left = self.left
        if left is None or not (self.over or self.soon):
            return ""
        if left < 0:
            return f"expired {counted(-left, 'day')} ago"
        return "ends today" if left == 0 else f"ends in {counted(left, 'day')}"

    @property
    def holder(self) -> str:
        """Whose it is: a person, this job, or the shop."""
        if self.row.person is not None:
            return self.row.person.name
        return "this job" if self.row.job_id else "the shop"

    @property
    def name(self) -> str:
        """“Solvent course of Ana”."""
        return f"{self.row.title} of {self.holder}" if self.row.person is not None else self.row.title


@remembered
def credentials(job: Job | None = None, today: date | None = None) -> tuple[CredentialValue, ...]:
    """What the shop and its people hold, and (with a job) what belongs to that job."""
    day = today or date.today()
    mine = Q(job=None) | Q(job=job) if job is not None else Q(job=None)
    rows = Credential.objects.filter(mine, struck=None).select_related("person")
    return tuple(CredentialValue(row, day) for row in rows if row.person is None or row.person.active)


@remembered
def rules_of(job: Job) -> RuleSet:
    """The set of rules that a job goes by; none where nobody said."""
    row = JobRules.objects.filter(job=job).first()
    return rule_set(row.rule_set if row else "none")


@dataclass(frozen=True, slots=True)
class WantValue:
    """A paper that the rules want, and what there is of it: names of those that hold, and of those that are over."""

    want: Want
    holding: tuple[str, ...]
    over: tuple[str, ...]

    @property
    def missing(self) -> bool:
        """True when nothing of it is on record."""
        return not self.holding and not self.over

    @property
    def state(self) -> str:
        """“on record”, “expired” or “missing”."""
        return "on record" if self.holding else "expired" if self.over else "missing"


def wants(job: Job, today: date | None = None) -> tuple[WantValue, ...]:
    """What the job's rules want, each with what is on record of it."""
    rules = rules_of(job)
    if not rules.wants:
        return ()
    held = credentials(job, today)
    burns = list(BurnRecord.objects.filter(job=job, strikes=None, struck_by=None))
    return tuple(_want(want, held, burns, job) for want in rules.wants)


def _want(want: Want, held: tuple[CredentialValue, ...], burns: list[BurnRecord], job: Job) -> WantValue:
    """A burn report counts for the job it was made for, everything else for the shop too."""
    fits = [one for one in held if one.row.kind == want.kind and (not want.test or one.row.job_id == job.pk)]
    records = [row.certificate for row in burns if want.kind is PaperKind.BURN and row.test == want.test]
    return WantValue(
        want,
        (*records, *(one.name for one in fits if not one.over)),
        tuple(one.name for one in fits if one.over),
    )


@dataclass(frozen=True, slots=True)
class PaperReminders:
    """What a job's header says of papers: missing, over, ending soon; each in words."""

    missing: tuple[str, ...]
    over: tuple[str, ...]
    soon: tuple[str, ...]

    @property
    def any(self) -> bool:
        """Whether there is anything to say."""
        return bool(self.missing or self.over or self.soon)


@remembered
def paper_reminders(job: Job, today: date | None = None) -> PaperReminders:
    """What is missing by the job's rules, and what is over or ends soon of what the shop, its people and the job hold."""
    held = credentials(job, today)
    return PaperReminders(
        tuple(one.want.words for one in wants(job, today) if one.missing),
        tuple(f"{one.name}: {one.words}" for one in held if one.over),
        tuple(f"{one.name}: {one.words}" for one in held if one.soon),
    )
