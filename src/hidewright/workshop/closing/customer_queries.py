"""The customer's side of a job as parts of its closing paper: the first call, what came in, what was agreed, what was handed over."""

from collections.abc import Iterator

from django.utils import timezone

from hidewright.charts.signature import signature_of
from hidewright.colour.light.far import off_with_figure
from hidewright.dates import show_day
from hidewright.money import show_money
from hidewright.papers.record import RecordDrawing, RecordPart, RecordTable
from hidewright.units import counted
from hidewright.workshop.approvals.models import Agreement, Sheet
from hidewright.workshop.calls.models import Call
from hidewright.workshop.calls.queries import ballpark_of, counted_words
from hidewright.workshop.handover.models import HandOver
from hidewright.workshop.handover.queries import signed
from hidewright.workshop.intake.models import Arrival, Delivery
from hidewright.workshop.papers.quote_queries import acceptance, quotes
from hidewright.workshop.pieces.colour_queries import colour_numbered
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

JUDGED = {"panel": "on a panel", "piece": "on the piece", "cup": "on the cup", "screen": "on a screen"}


def first_call(job: Job) -> RecordPart | None:
    """The calls that became this job, with what was said, and the quotes that were given."""
    sign = the_shop().currency
    lines = []
    for row in Call.objects.filter(job=job, withdrawn=None).order_by("id"):
        made = ballpark_of(row)
        lines.append(
            f"{show_day(timezone.localdate(row.made))}, {row.who}: {counted_words(row.counts)}, {row.material}. Said: likely {show_money(made.money.likely, sign, whole=True)} "
            f"({show_money(made.money.low, sign, whole=True)} to {show_money(made.money.high, sign, whole=True)}), {made.days.likely:.0f} working days ({made.days.low:.0f} to {made.days.high:.0f})."
        )
    for quote in reversed(quotes(job)):
        ready = f", ready by {show_day(quote.sure_on)} nine times in ten" if quote.sure_on else ""
        lines.append(
            f"Quote {quote.number} of {show_day(timezone.localdate(quote.made))}: {quote.name.lower()}, {show_money(quote.net, sign)} before tax, "
            f"holds until {show_day(quote.valid_until)}{ready}."
        )
        if yes := acceptance(quote):
            how = f" ({yes.note})" if yes.note else ""
            lines.append(f"Quote {quote.number} was accepted by {yes.name} on {show_day(yes.day)}{how}.")
    return RecordPart("First call and quotes", tuple(lines)) if lines else None


def came_in(job: Job) -> RecordPart | None:
    """What came in with which delivery, how it looked, who brought and who signed it; what never came."""
    deliveries = list(
        Delivery.objects.filter(job=job, withdrawn=None).select_related("person").order_by("number")
    )
    if not deliveries:
        return None
    arrivals = list(
        Arrival.objects.filter(delivery__in=deliveries, withdrawn=None)
        .select_related("delivery", "piece")
        .order_by("piece__order", "id")
    )
    lines = []
    for row in deliveries:
        many = counted(sum(one.delivery_id == row.pk for one in arrivals), "piece")
        taken = f", taken in by {row.person.name}" if row.person else ""
        name = f", signed by {row.signed_by}" if row.signed else ", not signed"
        note = f" {row.note}" if row.note else ""
        lines.append(
            f"Delivery {row.number}, {show_day(row.day)}: {many}, brought by {row.brought_by}{taken}{name}.{note}"
        )
    rows = tuple(
        (one.piece.key, one.piece.name, str(one.delivery.number), one.condition)
        for one in arrivals
        if one.condition
    )
    if plain := [f"{one.piece.key} {one.piece.name}" for one in arrivals if not one.condition]:
        lines.append(f"Nothing was noted of: {', '.join(plain)}.")
    missing = Piece.objects.filter(job=job, removed=None, by_us=True).exclude(
        arrivals__in=Arrival.objects.filter(withdrawn=None)
    )
    if marks := [f"{key} {name}" for key, name in missing.values_list("key", "name")]:
        lines.append(f"Listed and never came in: {', '.join(marks)}.")
    if others := list(Piece.objects.filter(job=job, removed=None, by_us=False).values_list("key", flat=True)):
        lines.append(f"Done elsewhere: {', '.join(others)}.")
    head = ("Piece", "Name", "Delivery", "On arrival")
    return RecordPart(
        "What came in",
        tuple(lines),
        RecordTable(head, rows, (1.2, 2, 0.8, 3)) if rows else None,
        tuple(_drawn(f"{row.signed_by}, delivery {row.number}", row.signature) for row in deliveries if row.signature),
    )  # fmt: skip


def agreements(job: Job) -> RecordPart | None:
    """Every sheet of colours with its variants, and who agreed to which, in which light; what was agreed later stands too."""
    sheets = list(Sheet.objects.filter(job=job, withdrawn=None).order_by("number"))
    if not sheets:
        return None
    lines = []
    for sheet in sheets:
        names = ", ".join(sheet.variants.filter(withdrawn=None).values_list("name", flat=True))
        lines.append(
            f"Sheet {sheet.number}, {colour_numbered(job, sheet.colour_number).label.lower()}: {names}."
        )
    found = list(
        Agreement.objects.filter(sheet__in=sheets)
        .select_related("sheet", "variant", "version__colour")
        .order_by("id")
    )
    rows = tuple(
        (
            str(row.sheet.number),
            row.variant.name,
            row.name,
            show_day(row.day),
            f"{row.light}, {JUDGED.get(row.judged_on, row.judged_on)}",
            off_with_figure(row.tolerance),
            "taken back" if row.withdrawn else str(row.version or ""),
        )
        for row in found
    )
    head = ("Sheet", "Colour", "Agreed by", "Day", "Judged in", "To within", "Became")
    return RecordPart(
        "What was agreed",
        tuple(lines) if found else (*lines, "Nobody agreed to a colour."),
        RecordTable(head, rows, (0.6, 1.6, 1.5, 1.1, 1.6, 0.9, 1.5)) if rows else None,
        tuple(_drawn(f"{row.name}, {show_day(row.day)}", row.signature) for row in found if row.signature),
    )


def handed_over(job: Job) -> RecordPart | None:
    """Each hand-over with what went out, what stayed and why, what went along, and the signature at the other end."""
    rows = list(reversed(signed(job)))
    if not rows:
        return None
    return RecordPart(
        "Handed over",
        tuple(line for row in rows for line in _went(row)),
        pictures=tuple(_drawn(f"{row.to}, {show_day(row.day)}" if row.day else row.to, row.signature) for row in rows if row.signature),
    )  # fmt: skip


def _went(row: HandOver) -> Iterator[str]:
    lines = list(row.lines.filter(withdrawn=None).select_related("piece").order_by("piece__order", "id"))
    gone = [line.piece.key for line in lines if not line.stays]
    by = f" by {row.person.name}" if row.person else ""
    day = show_day(row.day) if row.day else ""
    yield f"Hand-over {row.number}, {day}: {counted(len(gone), 'piece')} to {row.to}{by}: {', '.join(gone)}."
    for line in lines:
        if line.stays:
            yield f"{line.piece.key} stayed: {line.stays}."
    if row.kit:
        yield f"Went along: {'; '.join(str(each) for each in row.kit)}."
    if row.note:
        yield row.note


def _drawn(caption: str, strokes: object) -> RecordDrawing:
    return RecordDrawing(f"Signed by {caption}", signature_of(strokes).svg(f"Signature of {caption}"))
