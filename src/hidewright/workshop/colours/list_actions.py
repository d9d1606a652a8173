"""How a brought list of readings is taken: kept for the job, with the rows that its column `use` marks as the target and the old colour."""

from typing import Any

from django.utils.safestring import SafeString

from hidewright.colour.light.cie import hex_from_reflectance
from hidewright.colour.reading.readings import Reading
from hidewright.colour.reading.readings_in import READINGS
from hidewright.lists.draft import Draft
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.colours.actions import record_readings
from hidewright.workshop.lists.queries import Prospect, Taker, Way, swatch, takes
from hidewright.workshop.pieces.colour_queries import job_colours, several
from hidewright.workshop.shop.models import Act, Job


def _marked(draft: Draft, use: str) -> str:
    return next((r.name for r in draft.values if r.facts.get("use") == use), "")


def _ways(job: Job, draft: Draft) -> tuple[Way, ...]:
    words = f"Keep the {counted(len(draft.values), 'reading')}"
    if not (_marked(draft, "target") and several(job)):
        return (Way("keep", words),)
    return tuple(Way(f"keep-{c.number}", f"{words}: target of {c.label}") for c in job_colours(job))


def _take(job: Job | None, draft: Draft, how: str, name: str) -> Act:
    assert job is not None
    if how not in [way.how for way in _ways(job, draft)]:
        raise Refusal("This job has no such colour.", remedy="Choose one of its colours.")
    return record_readings(job, draft.values, number=int(how.partition("-")[2] or 0))[1]


def _prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    assert job is not None
    facts = (
        ("Target", _marked(draft, "target") or "none is marked"),
        ("Old colour", _marked(draft, "old colour") or "none is marked"),
    )
    return Prospect(_ways(job, draft), facts)


def _picture(reading: Any) -> SafeString:
    assert isinstance(reading, Reading)
    return swatch(hex_from_reflectance(reading.reflectance))


takes(
    Taker(
        READINGS,
        of_job=True,
        to="colour",
        take=_take,
        prospect=_prospect,
        picture=_picture,
        stage="colour",
    )
)
