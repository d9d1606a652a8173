"""How each piece of work stands, from the taps."""

from dataclasses import dataclass
from datetime import datetime

from hidewright.workshop.days.models import Tap, TapKind
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered


@dataclass(frozen=True, slots=True)
class Standing:
    """How one piece of work stands: done or not, since when and by whom; `snag` is what was reported, or empty."""

    done: bool = False
    at: datetime | None = None
    by: str = ""
    minutes: float | None = None
    snag: str = ""


NOT_STARTED = Standing()


@remembered
def standings(job: Job, *, until: datetime | None = None) -> dict[str, Standing]:
    """Act key → how it stands (or stood at `until`); acts that nobody tapped are missing.

    Taps count in the order in which fingers touched, not in which a bad connection delivered them.
    """
    stands: dict[str, Standing] = {}
    taps = Tap.objects.filter(job=job).select_related("person").order_by("at", "id")
    if until is not None:
        taps = taps.filter(at__lte=until)
    for tap in taps:
        before = stands.get(tap.act_key, NOT_STARTED)
        stands[tap.act_key] = _after(before, tap)
    return stands


def _after(before: Standing, tap: Tap) -> Standing:
    who = tap.person.name if tap.person else ""
    if tap.kind == TapKind.DONE:
        return Standing(True, tap.at, who, tap.minutes, before.snag)
    if tap.kind == TapKind.UNDO:
        return Standing(False, None, "", None, before.snag)
    return Standing(before.done, before.at, before.by, before.minutes, tap.note)


@dataclass(frozen=True, slots=True)
class SnagTold:
    """A snag reported with a tap: on which piece of work, what, when, by whom."""

    act_key: str
    note: str
    at: datetime
    by: str


def snags_told(job: Job) -> list[SnagTold]:
    """Every snag that was tapped, newest first."""
    taps = Tap.objects.filter(job=job, kind=TapKind.SNAG).select_related("person").order_by("-at")
    return [SnagTold(t.act_key, t.note, t.at, t.person.name if t.person else "") for t in taps]
