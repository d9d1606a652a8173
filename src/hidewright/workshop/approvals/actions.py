"""Putting variants side by side, holding the spraying, taking down an agreement, making and taking back links. Each act can be undone."""

import secrets
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from hidewright.charts.signature import signature_of
from hidewright.dates import show_day
from hidewright.refusals import Refusal
from hidewright.workshop.approvals import queries as gather
from hidewright.workshop.approvals import worked_queries as worked
from hidewright.workshop.approvals.models import Agreement, Sheet, Variant, ViewerLink
from hidewright.workshop.colours import queries as colour
from hidewright.workshop.colours.actions import shifted
from hidewright.workshop.colours.models import Reading
from hidewright.workshop.colours.shop_actions import aim_agreed, take_agreed_back
from hidewright.workshop.days.actions import refuse_too_far
from hidewright.workshop.days.models import Hold
from hidewright.workshop.days.queries import coats_of
from hidewright.workshop.frame.past_days import refuse_other_than_past
from hidewright.workshop.pieces.queries import pieces
from hidewright.workshop.pigments.saving import numbers
from hidewright.workshop.shop.door import hash_token
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.runs import RunHandle, runner, start_run
from hidewright.workshop.shop.undo import record, undoes

LONGEST_LINK = timedelta(days=90)


def propose(
    job: Job, number: int, ways: Sequence[str], *, note: str = "", device: Device | None = None
) -> Sheet:
    """Put up to four variants of a colour side by side; what they take is worked out by the worker.

    Refuses none, more than four, an unknown way, and a colour without a target.
    """
    wanted = list(dict.fromkeys(ways))
    if not wanted:
        raise Refusal("Choose what to show.", where="Variants", remedy="Tick one to four.")
    if len(wanted) > gather.MOST:
        raise Refusal(f"A sheet shows up to {gather.MOST} colours.", where="Variants", remedy="Take one out.")
    strange = [way for way in wanted if way not in gather.WAYS]
    if strange:
        raise Refusal(f"“{strange[0]}” is no variant.", where="Variants")
    aimed = colour.target(job, number)
    if aimed is None:
        raise Refusal("There is no target yet.", where="Variants", remedy="Say which colour first (Colour).")
    with transaction.atomic():
        last = Sheet.objects.filter(job=job).aggregate(last=Max("number"))["last"] or 0
        sheet = Sheet.objects.create(job=job, colour_number=number, number=last + 1, note=note.strip()[:400])
        made = [_reading(job, aimed, way) for way in wanted]
        for place, (way, (reading, _)) in enumerate(zip(wanted, made, strict=True), start=1):
            shown = colour.reading_value(reading)
            Variant.objects.create(
                sheet=sheet,
                place=place,
                name=gather.WAYS[way][0],
                reading=reading,
                panel=gather.panel_code(sheet, place),
                takes={"hex": shown.hex, "lab": list(shown.labs["D65"])},
            )
        record(
            job,
            f"Put {len(made)} colours side by side (sheet {sheet.number})",
            undo="sheets.away",
            undo_with={"sheet": sheet.pk, "readings": [row.pk for row, new in made if new]},
            device=device,
        )
        start_run(job, "sheets.work_out", {"sheet": sheet.pk})
        return sheet


def _reading(job: Job, aimed: colour.TargetValue, way: str) -> tuple[Reading, bool]:
    """The reading of a variant, and whether it was made for it."""
    if way == "now":
        return Reading.objects.get(pk=aimed.target.id), False
    if way == "was":
        if aimed.old is None:
            raise Refusal(
                "How it was is not read yet.",
                where="Variants",
                remedy="Pick the old colour on the page Colour.",
            )
        return Reading.objects.get(pk=aimed.old.id), False
    name, shifts = gather.WAYS[way]
    new = aimed.target.reflectance
    for kind, amount in shifts:
        new = shifted(
            replace(aimed, target=replace(aimed.target, reflectance=new)), kind, amount, None
        ).reflectance
    row = Reading.objects.create(
        job=job,
        name=f"{aimed.target.name}, {name.lower()}"[:120],
        reflectance=numbers(new),
        source="worked out",
        note=f"variant of {aimed.target.name}"[:240],
    )
    return row, True


@undoes("sheets.away")
def _away(data: dict[str, Any]) -> None:
    now = timezone.now()
    if Agreement.objects.filter(sheet=data["sheet"], withdrawn=None).exists():
        raise Refusal("Somebody agreed to a colour of this sheet.", remedy="Undo the agreement first.")
    Sheet.objects.filter(pk=data["sheet"]).update(withdrawn=now)
    Variant.objects.filter(sheet=data["sheet"]).update(withdrawn=now)
    Reading.objects.filter(pk__in=data["readings"]).update(struck=now)
    Hold.objects.filter(sheet=data["sheet"], lifted=None).update(lifted=now)
    ViewerLink.objects.filter(sheet=data["sheet"], withdrawn=None).update(withdrawn=now)


@runner("sheets.work_out")
def _work_out(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    sheet = Sheet.objects.get(pk=asked["sheet"])
    done = 0
    rows = list(sheet.variants.filter(withdrawn=None))
    for row in rows:
        if handle.should_stop():
            break
        handle.progress(done / len(rows), f"{row.name}: coats, price, days")
        takes = worked.takes(sheet.job, sheet.colour_number, row.reading)
        Variant.objects.filter(pk=row.pk).update(takes={**row.takes, **takes})
        done += 1
    return {"variants": done}


def hold_spraying(sheet: Sheet, until: date, device: Device | None = None) -> int:
    """Let every piece of the sheet's colour wait before its first coat of it until somebody agrees, in one act; returns how many.

    `until` is when an answer is expected: with none by then they wait on. Refuses a colour that no piece gets, and pieces that wait for it already.
    """
    job, number = sheet.job, sheet.colour_number
    refuse_too_far(until, "It")
    if until < timezone.localdate():
        raise Refusal(
            "An answer is expected on a day to come.", where="Until", remedy="Choose today or later."
        )
    if Agreement.objects.filter(sheet=sheet, withdrawn=None).exists():
        raise Refusal("It is agreed already.", where="Until", remedy="Put new variants side by side first.")
    mine = pieces(job, number)
    if not mine:
        raise Refusal("No piece gets this colour.", where="Until", remedy="List the pieces first (Survey).")
    wiped = coats_of(job, number).coats.wiped
    with transaction.atomic():
        old = Hold.objects.filter(job=job, sheet__colour_number=number, lifted=None)
        lifted = list(old.values_list("pk", flat=True))
        if old.filter(sheet=sheet).exists():
            raise Refusal("They wait for this sheet already.", where="Until", remedy="Reload the page.")
        old.update(lifted=timezone.now())
        made = [
            Hold.objects.create(
                job=job,
                piece=piece.key,
                before="wipe in colour" if wiped and piece.wiped_faces else "spray colour",
                until=until,
                sheet=sheet,
                why=f"the colour must be agreed (sheet {sheet.number})",
            )
            for piece in mine
        ]
        record(
            job,
            f"{len(made)} pieces wait for an agreement about their colour",
            undo="sheets.hold",
            undo_with={"lift": [row.pk for row in made], "give": lifted},
            device=device,
        )
        return len(made)


@undoes("sheets.hold")
def _hold_back(data: dict[str, Any]) -> None:
    Hold.objects.filter(pk__in=data["lift"]).update(lifted=timezone.now())
    Hold.objects.filter(pk__in=data["give"]).update(lifted=None)


def agree(
    variant: Variant,
    *,
    name: str,
    day: date,
    light: str,
    judged_on: str = "panel",
    tolerance: float = 1.0,
    signature: object = None,
    scan: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> Agreement:
    """Take down that somebody agreed: the colour's next version is this, with its tolerance, and its pieces wait no longer.

    Refuses an agreement without a name, a light, or a signature (on the screen or as a scan), and one that is agreed already.
    """
    _check_agreement(name, day, light, tolerance)
    if not signature and not scan:
        raise Refusal(
            "Nobody has signed yet.", where="Signature", remedy="Sign in the field, or bring a scan."
        )
    strokes = signature_of(signature).data() if signature else None
    sheet = variant.sheet
    job, number = sheet.job, sheet.colour_number
    with transaction.atomic():
        now = gather.standing(job, number)
        if now.holds and now.agreement is not None and now.agreement.variant_id == variant.pk:
            raise Refusal(f"{now.agreement.name} agreed to this already.", where="Variant")
        why = f"agreed by {name.strip()} on {show_day(day)}, sheet {sheet.number}"
        target, back = aim_agreed(
            job, number, variant.reading, tolerance, why=why, on_panel=judged_on == "panel"
        )
        holds = Hold.objects.filter(job=job, sheet__colour_number=number, lifted=None)
        waiting = list(holds.values_list("pk", flat=True))
        holds.update(lifted=timezone.now())
        row = Agreement.objects.create(
            sheet=sheet,
            variant=variant,
            name=name.strip()[:120],
            day=day,
            light=light.strip()[:80],
            judged_on=judged_on,
            tolerance=tolerance,
            signature=strokes,
            scan=scan,
            version=target.version,
            target=target,
            person=person,
            device=device,
        )
        undo_with = {"agreement": row.pk, "holds": waiting, "back": back}
        words = f"{row.name} agreed to {variant.name} (sheet {sheet.number})"
        record(job, words, undo="sheets.agree", undo_with=undo_with, device=device)
        return row


def _check_agreement(name: str, day: date, light: str, tolerance: float) -> None:
    if not name.strip():
        raise Refusal("Who agrees?", where="Name", remedy="Write a name.")
    if not light.strip():
        raise Refusal("In which light was it judged?", where="Light", remedy="Say it in a few words.")
    refuse_other_than_past(day, "Nobody agreed on a day to come.")
    if not 0.05 <= tolerance <= 10:
        raise Refusal("What is near enough lies from 0.05 to 10.", where="Near enough", remedy="1 is usual.")


@undoes("sheets.agree")
def _not_agreed(data: dict[str, Any]) -> None:
    Agreement.objects.filter(pk=data["agreement"]).update(withdrawn=timezone.now())
    Hold.objects.filter(pk__in=data["holds"]).update(lifted=None)
    take_agreed_back(data["back"])


def make_link(sheet: Sheet, *, days: int, for_whom: str = "", device: Device | None = None) -> str:
    """Make a link by which somebody outside may look at a sheet; returns its path, which is shown once and not kept."""
    if not 1 <= days <= LONGEST_LINK.days:
        raise Refusal(
            f"A link lasts {days} days.", where="Days", remedy=f"It lasts from 1 to {LONGEST_LINK.days} days."
        )
    token = secrets.token_urlsafe(24)
    with transaction.atomic():
        row = ViewerLink.objects.create(
            sheet=sheet,
            token_hash=hash_token(token),
            for_whom=for_whom.strip()[:120],
            expires=timezone.now() + timedelta(days=days),
        )
        words = f"Made a link to sheet {sheet.number}{f' for {row.for_whom}' if row.for_whom else ''}"
        record(sheet.job, words, undo="sheets.unlink", undo_with={"link": row.pk}, device=device)
    return f"/door/{token}/sheet/"


@undoes("sheets.unlink")
def _unlink(data: dict[str, Any]) -> None:
    ViewerLink.objects.filter(pk=data["link"], withdrawn=None).update(withdrawn=timezone.now())


def take_link_back(row: ViewerLink, device: Device | None = None) -> None:
    """Take a link back: it opens nothing from now on. That cannot be undone; another can be made."""
    with transaction.atomic():
        if ViewerLink.objects.filter(pk=row.pk, withdrawn=None).update(withdrawn=timezone.now()):
            record(row.sheet.job, f"Took back a link to sheet {row.sheet.number}", device=device)
