"""The inspection as a paper: every piece with its checks, what was measured, certificates, snags, signatures, before beside after."""

from datetime import date

from django.utils.timezone import localtime

from hidewright.dates import short_day, show_day, show_moment
from hidewright.papers.record import Record, RecordPart, RecordTable
from hidewright.safety.burn import JUDGES
from hidewright.safety.finish import EYES
from hidewright.workshop.frame.prints import paper_size
from hidewright.workshop.inspection import queries as gather
from hidewright.workshop.inspection import snag_queries as snags
from hidewright.workshop.inspection.colour_queries import WAYS
from hidewright.workshop.inspection.sign_off_queries import hindrances
from hidewright.workshop.pieces.queries import named
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

WORDS = {"good": "good", "again": "to be done again", "": "not yet"}
NO_RELEASE = (
    "Figures beside published ones are a comparison, not a finding. A signature here says that somebody of the shop looked; "
    "it is no release to service: that is for the authorised person."
)


def inspection_record(job: Job, *, made_on: date, page_url: str = "") -> Record:
    """The inspection of a job as it stands."""
    pieces = gather.pieces(job)
    left = hindrances(job)
    return Record(
        title="Inspection",
        job=job.name,
        headline="Inspection",
        made_on=made_on,
        lines=(job.client and f"For {job.client}", the_shop().name, gather.standing(job, pieces).words),
        parts=inspection_parts(job, pieces) or (RecordPart("Pieces", ("None is listed.",)),),
        cautions=(NO_RELEASE, JUDGES, *(f"Still open: {words}." for words in left)),
        to_sign=("Looked at by, name and day", "Seen by the client, name and day"),
        paper=paper_size(),
        page_url=page_url,
    )


def inspection_parts(job: Job, pieces: list[gather.PieceShown] | None = None) -> tuple[RecordPart, ...]:
    """The parts of the inspection, for its own paper and for the closing file."""
    shown = gather.pieces(job) if pieces is None else pieces
    return tuple(
        part
        for part in (_pieces(shown), _measured(job), _certificates(job), snag_part(job), _signatures(job))
        if part is not None
    )


def _pieces(shown: list[gather.PieceShown]) -> RecordPart | None:
    rows = tuple(
        (piece.key, piece.name, piece.group, *(WORDS[result] for _, result in piece.eyes)) for piece in shown
    )
    table = RecordTable(("Piece", "Name", "Belongs to", "Sun", "Low lamp"), rows, (1.4, 2.4, 1.8, 1, 1))
    return RecordPart("Looked at", table=table) if rows else None


def _measured(job: Job) -> RecordPart | None:
    rows = tuple(
        (
            named(job, check.row.piece),
            check.name + (f", {WAYS[check.row.way]}" if check.row.way in WAYS else ""),
            check.compared.words if check.compared else check.row.value,
            {"good": "good", "again": "to be done again"}.get(check.row.result, ""),
            f"{check.compared.source if check.compared else ''}"
            + (f"; against {check.row.version}" if check.row.version else ""),
        )
        for check in gather.checks(job)
        if not check.struck and check.row.kind not in EYES
    )
    head = ("Piece", "Check", "Found", "Result", "Beside")
    return RecordPart("Measured", table=RecordTable(head, rows, (1.2, 1.8, 2.2, 1, 2.4))) if rows else None


def _certificates(job: Job) -> RecordPart | None:
    rows = tuple(
        (one.row.certificate, one.test, one.row.specimen, show_day(one.row.tested) if one.row.tested else "")
        for one in gather.burn_records(job)
        if not one.struck
    )
    head = ("Number", "Test", "What was tested", "Day")
    return RecordPart("Burn-test certificates", table=RecordTable(head, rows)) if rows else None


def snag_part(job: Job) -> RecordPart | None:
    """The snags of a job, open ones first, under the shop's own word."""
    opened, closed = snags.snags(job)
    rows = tuple(
        (
            named(job, one.row.piece),
            one.row.what,
            one.row.get_weight_display(),
            "closed" if one.row.closed else "open",
            " · ".join(f"{short_day(localtime(entry.made))}: {entry.text}" for entry in one.entries),
        )
        for one in (*opened, *closed)
    )
    head = ("Piece", "What", "Weight", "State", "Its story")
    title = the_shop().snag_words.capitalize()
    return RecordPart(title, table=RecordTable(head, rows, (1.2, 2.2, 1, 0.8, 3))) if rows else None


def _signatures(job: Job) -> RecordPart | None:
    lines = tuple(
        f"{show_moment(localtime(one.row.made))}, {one.row.person.name}{', final sign-off' if one.row.final else ''}: {one.row.words} ({one.row.covers.get('words', '')})"
        + (f". Struck out: {one.counter.words}" if one.counter else "")
        for one in gather.signatures(job)
    )
    return RecordPart("Signatures", lines) if lines else None
