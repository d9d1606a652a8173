"""The closing file as a paper: all of a job in the order of the work."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from hidewright.colour.light.far import off_with_figure
from hidewright.dates import show_day
from hidewright.papers.record import Record, RecordPart, RecordPicture, RecordTable
from hidewright.units import show_area, show_volume
from hidewright.workshop.account.paper_queries import after_parts
from hidewright.workshop.closing.customer_queries import agreements, came_in, first_call, handed_over
from hidewright.workshop.closing.picture_queries import job_pictures
from hidewright.workshop.colours.batch_queries import batches
from hidewright.workshop.colours.models import Target
from hidewright.workshop.credentials.queries import credentials, rules_of
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.progress_queries import standings
from hidewright.workshop.days.queries import plan_in_force
from hidewright.workshop.frame.prints import paper_size, printed
from hidewright.workshop.inspection.paper_queries import NO_RELEASE, inspection_parts
from hidewright.workshop.pieces.colour_queries import colour_numbered
from hidewright.workshop.pieces.queries import named, pieces
from hidewright.workshop.quantities.models import Use
from hidewright.workshop.shelf.models import MixEntry, MixVessel
from hidewright.workshop.shelf.vessel_queries import components
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

MOST_PICTURES = 60
"""Pictures on the paper; all of them are in the zip."""


def closing_record(
    job: Job,
    *,
    made_on: date,
    sums: Mapping[str, str],
    seal: str,
    gone: Sequence[str] = (),
    page_url: str = "",
) -> Record:
    """All of a job as one record; `sums` are the hashes of what the zip holds, `gone` the pictures that were not there any more."""
    facts = [
        word
        for word in (
            job.client and f"For {job.client}",
            job.kind,
            job.registration and f"Registration {job.registration}",
            f"{the_shop().name}, {show_day(made_on)}",
        )
        if word
    ]
    return Record(
        title="Closing file",
        job=job.name,
        headline=job.name,
        made_on=made_on,
        lines=tuple(facts),
        parts=tuple(_parts(job, sums, seal, gone)),
        cautions=(NO_RELEASE,),
        to_sign=("For the shop, name and day", "Received by, name and day"),
        paper=paper_size(),
        page_url=page_url,
    )


def _parts(job: Job, sums: Mapping[str, str], seal: str, gone: Sequence[str]) -> Iterator[RecordPart]:
    if (called := first_call(job)) is not None:
        yield called
    yield _survey(job)
    for part in (
        came_in(job),
        _colours(job),
        agreements(job),
        _poured(job),
        _readings(job),
        _used(job),
        _plan(job),
    ):
        if part is not None:
            yield part
    yield from inspection_parts(job)
    for part in (handed_over(job), *after_parts(job), _papers(job), _pictures(job)):
        if part is not None:
            yield part
    yield _hashes(sums, seal, gone)


def _survey(job: Job) -> RecordPart:
    units = the_shop().units
    rows = tuple(
        (
            piece.key,
            piece.name,
            piece.group,
            str(piece.material),
            str(piece.condition),
            show_area(piece.area, units),
        )
        for piece in pieces(job)
    )
    head = ("Piece", "Name", "Belongs to", "Material", "Condition", "To coat")
    return RecordPart(
        "Survey",
        () if rows else ("No piece is listed.",),
        RecordTable(head, rows, (1.4, 2.4, 1.8, 1.1, 1.1, 1)) if rows else None,
    )


def _colours(job: Job) -> RecordPart | None:
    rows = tuple(
        (
            colour_numbered(job, row.colour_number).label
            if not row.withdrawn
            else f"Colour {row.colour_number + 1}",
            str(row.reading),
            str(row.version or ""),
            off_with_figure(row.tolerance),
            show_day(timezone.localdate(row.made)),
            "withdrawn" if row.withdrawn else "",
        )
        for row in Target.objects.filter(job=job).select_related("reading", "version__colour").order_by("id")
    )
    head = ("Colour", "Reading", "Version", "To within", "Since", "")
    return (
        RecordPart("Colours aimed at", table=RecordTable(head, rows, (1.2, 2, 2, 1, 1, 0.8)))
        if rows
        else None
    )


def _poured(job: Job) -> RecordPart | None:
    known, units = components(), the_shop().units
    lines, rows = [], []
    for batch in batches().filter(job=job).order_by("id"):
        lines.append(f"{batch}.")
        for component, lot, amount in batch.formula:
            name = known[component].name if component in known else component
            rows.append((batch.vessel.name, name, str(lot), show_volume(amount / 1000, units)))
    for vessel in MixVessel.objects.filter(job=job, kind=MixVessel.Kind.JAR).order_by("id"):
        lines.append(
            f"{vessel.name} was kept" + (f" until {vessel.keep_until}." if vessel.keep_until else ".")
        )
    lines.append(f"{MixEntry.objects.filter(job=job).count()} entries in the book of pours.")
    table = RecordTable(("Batch", "What", "Lot", "How much"), tuple(rows)) if rows else None
    return RecordPart("Recipes as poured", tuple(lines), table) if rows or len(lines) > 1 else None


def _readings(job: Job) -> RecordPart | None:
    rows = tuple(
        (
            row.name,
            row.source,
            row.state,
            show_day(timezone.localdate(row.made)),
            "struck out" if row.struck else row.note,
        )
        for row in job.readings.all()
    )
    head = ("Reading", "From", "State", "Day", "Note")
    return RecordPart("Readings", table=RecordTable(head, rows, (2, 1, 0.7, 1, 2.4))) if rows else None


def _used(job: Job) -> RecordPart | None:
    units = the_shop().units
    rows = tuple(
        (
            row.stage,
            str(len(row.done)),
            show_volume(row.millilitres, units),
            show_day(timezone.localdate(row.made)),
            row.note,
        )
        for row in Use.objects.filter(job=job, struck=None)
    )
    head = ("Stage", "Pieces", "Used", "Day", "Note")
    return RecordPart("What was used", table=RecordTable(head, rows)) if rows else None


def _plan(job: Job) -> RecordPart | None:
    plan = plan_in_force(job)
    if plan is None:
        return None
    stands = standings(job)
    planned: dict[str, tuple[int, int]] = {}
    for act in plan.acts:
        done, of = planned.get(act.piece, (0, 0))
        planned[act.piece] = (done + bool(act.key in stands and stands[act.key].done), of + 1)
    made = Plan.objects.filter(job=job).count()
    last = max((one.at for one in stands.values() if one.done and one.at), default=None)
    lines = [f"{made} plan{'s' if made > 1 else ''} made; the one in force ends on {show_day(plan.finish)}."]
    if job.promised:
        lines.append(f"Promised: {show_day(job.promised)}.")
    lines.append(f"Last work noted: {show_day(last)}." if last else "No work is noted as done.")
    rows = tuple((named(job, piece), f"{done} of {of}") for piece, (done, of) in sorted(planned.items()))
    return RecordPart("Plan and what was done", tuple(lines), RecordTable(("Piece", "Steps done"), rows))


def _papers(job: Job) -> RecordPart | None:
    rows = tuple(
        (
            one.row.title,
            one.row.kind,
            one.holder,
            one.row.number,
            show_day(one.row.issued) if one.row.issued else "",
            show_day(one.row.expires) if one.row.expires else "",
        )
        for one in credentials(job)
        if one.row.job_id == job.pk
    )
    head = ("Paper", "Kind", "Whose", "Number", "Day", "Good until")
    lines = (f"By the rules of: {rules_of(job).name}. A list to look through, no finding.",)
    return RecordPart("Certificates and papers", lines, RecordTable(head, rows) if rows else None)


def _pictures(job: Job) -> RecordPart | None:
    found = job_pictures(job)
    shown: list[RecordPicture] = []
    for name, caption in found[:MOST_PICTURES]:
        picture = printed(name, caption) if name.endswith(".jpg") else None
        if picture is not None:
            shown.append(picture)
    more = len(found) - len(shown)
    lines = (f"{more} more {'is' if more == 1 else 'are'} in the zip.",) if more else ()
    return RecordPart("Pictures", lines, pictures=tuple(shown)) if found else None


def _hashes(sums: Mapping[str, str], seal: str, gone: Sequence[str]) -> RecordPart:
    rows = tuple((name, f"{value[:32]} {value[32:]}", _size(name)) for name, value in sorted(sums.items()))
    lines = [f"Seal: {seal}", "SHA-256 of each member of the zip; the seal is that of all these lines."]
    if gone:
        lines.append(f"Not there any more when this was written: {', '.join(gone)}.")
    return RecordPart(
        "List of hashes", tuple(lines), RecordTable(("Member", "SHA-256", "Bytes"), rows, (2.2, 3.2, 0.7))
    )


def _size(name: str) -> str:
    path = Path(settings.PICTURES_ROOT) / name.removeprefix("pictures/")
    return str(path.stat().st_size) if name.startswith("pictures/") and path.is_file() else ""
