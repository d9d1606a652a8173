"""Snags: noting one, deciding, closing. The story of a snag is only ever added to."""

from datetime import date, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from hidewright.dates import short_day
from hidewright.refusals import Refusal
from hidewright.workshop.days.actions import refuse_too_far
from hidewright.workshop.days.models import Hold, Tap
from hidewright.workshop.inspection import snag_queries as gather
from hidewright.workshop.inspection.models import Decision, Snag, SnagEntry, SnagKind, Stage, Weight
from hidewright.workshop.inspection.repair_actions import (
    STARTING,
    RepairWork,
    ask_repair,
    bring_back,
    leave_repair,
)
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Contact, Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes


def add(
    job: Job,
    what: str,
    *,
    kind: str = SnagKind.DAMAGE,
    piece: str = "",
    picture: str = "",
    tap: str = "",
    weight: str = Weight.BLOCKS,
    person: Person | None = None,
    device: Device | None = None,
) -> Snag:
    """Note a snag; the work goes on. `picture` is the name of a kept picture, `tap` the token of the tap that told it.

    A picture alone does: words can follow. `weight` says whether it blocks or is touched up later.
    """
    word = the_shop().snag_word
    if not what.strip() and not picture:
        raise Refusal("Say in a word or two what is wrong, or take a picture.", where="What")
    if kind not in SnagKind.values:
        raise Refusal(f"“{kind}” is no kind of {word}.", where="Kind")
    if weight not in Weight.values:
        raise Refusal(f"“{weight}” is no weight of a {word}.", where="Weight")
    with transaction.atomic():
        try:
            with transaction.atomic():
                row = Snag.objects.create(
                    job=job,
                    what=what.strip()[:240] or f"A {word}, see its picture",
                    kind=kind,
                    weight=weight,
                    piece=piece.strip()[:120],
                    picture=picture,
                    tap=tap,
                )
        except IntegrityError:
            raise Refusal(
                f"This {word} was taken up already.", remedy="Reload the page to see how things are now."
            ) from None
        SnagEntry.objects.create(snag=row, text="Found", person=person, device=device)
        record(job, f"Noted a {word}: {row.what}", undo="snags.add", undo_with={"id": row.pk}, device=device)
        return row


@undoes("snags.add")
def _withdraw(data: dict[str, Any]) -> None:
    row = Snag.objects.filter(pk=data["id"], withdrawn=None)
    if row.update(withdrawn=timezone.now(), tap=""):
        Hold.objects.filter(snag_id=data["id"], lifted=None).update(lifted=timezone.now())
        bring_back({"id": data["id"]})
        SnagEntry.objects.create(snag_id=data["id"], text="Taken back")


def take_up(tap: Tap, *, device: Device | None = None) -> Snag:
    """Make a snag of what was tapped on the page Days."""
    return add(
        tap.job,
        tap.note or f"A {the_shop().snag_word}",
        kind=SnagKind.OTHER,
        piece=gather.piece_of(tap.job, tap.act_key) or tap.act_key,
        tap=tap.token,
        person=tap.person,
        device=device,
    )


def _claim(row: Snag, version: int, **changes: Any) -> None:
    """Change how a snag stands if nobody else did since it was shown."""
    changed = Snag.objects.filter(pk=row.pk, version=version, withdrawn=None).update(
        version=F("version") + 1, **changes
    )
    if changed != 1:
        raise Refusal(
            f"Somebody changed this {the_shop().snag_word} meanwhile.",
            remedy="Look at it again before you change it.",
        )


def _tell(
    row: Snag, text: str, act: str, before: dict[str, Any], person: Person | None, device: Device | None
) -> None:
    SnagEntry.objects.create(snag=row, text=text[:400], person=person, device=device)
    record(row.job, act, undo="snags.stand", undo_with={"id": row.pk, **before}, device=device)


@undoes("snags.stand")
def _stand_again(data: dict[str, Any]) -> None:
    closed = data.get("closed")
    _set_waiting(data["id"], data.get("hold"))
    bring_back(data)
    Snag.objects.filter(pk=data["id"]).update(
        decision=data["decision"],
        closed=timezone.now() if closed else None,
        weight=data["weight"],
        acts_id=data["acts"],
        stage=data["stage"],
        expected=data["expected"],
        version=F("version") + 1,
    )
    SnagEntry.objects.create(snag_id=data["id"], text="The last entry was undone")


EXPECTED = timedelta(days=7)
"""How long a piece waits where nobody says until when."""


def _before(row: Snag) -> dict[str, Any]:
    """How a snag stands, to be brought back."""
    hold = row.holds.filter(lifted=None).first()
    return {
        "decision": row.decision,
        "closed": row.closed is not None,
        "hold": hold.pk if hold else None,
        "repair": row.repair_id,
        "weight": row.weight,
        "acts": row.acts_id,
        "stage": row.stage,
        "expected": row.expected.isoformat() if row.expected else None,
    }


def _set_waiting(snag_id: int, hold_id: int | None) -> None:
    """Let only this hold of a snag count (None: no hold)."""
    now = timezone.now()
    Hold.objects.filter(snag_id=snag_id, lifted=None).exclude(pk=hold_id or 0).update(lifted=now)
    Hold.objects.filter(snag_id=snag_id, pk=hold_id or 0).update(lifted=None, made=now)


def _let_wait(row: Snag, until: date | None) -> str:
    """Hold the piece of a snag up in the plan, before whatever comes next on it; says so in words."""
    day = until or timezone.localdate() + EXPECTED
    if row.piece not in gather.piece_marks(row.job):
        return "It is on no piece of the list, so that nothing waits in the plan"
    hold = Hold.objects.create(
        job=row.job, piece=row.piece, before="", until=day, why=row.what[:240], snag=row
    )
    _set_waiting(row.pk, hold.pk)
    return f"{row.piece} waits in the plan until {short_day(day)}, sooner when something else is decided"


def decide(
    row: Snag,
    decision: str,
    *,
    version: int,
    note: str = "",
    until: date | None = None,
    work: RepairWork = STARTING,
    person: Person | None = None,
    device: Device | None = None,
) -> None:
    """Decide what is to be done, with a note if there is one.

    “Wait” holds the piece up in the plan until a day (a week on where none is told), and on while nothing else is decided; any other decision lets it go on at once. “Repair” becomes `work`
    of the piece before its next coat.
    """
    if decision not in Decision.values:
        raise Refusal(f"“{decision}” is no decision.", where="Decision")
    if decision == Decision.WAIT and until is not None and until <= timezone.localdate():
        raise Refusal("It waits until a day to come.", where="Until", remedy="Choose tomorrow or later.")
    if decision == Decision.WAIT and until is not None:
        refuse_too_far(until, row.piece)
    before = _before(row)
    words = f"Decided: {Decision(decision).label}"
    act = f"{row.what}: {Decision(decision).label}"
    with transaction.atomic():
        _claim(row, version, decision=decision)
        if decision == Decision.WAIT:
            told = _let_wait(row, until)
            words, act = f"{words}. {told}", f"{act}. {told}"
        else:
            _set_waiting(row.pk, None)
        if decision == Decision.REPAIR:
            told = ask_repair(row, work)
            words, act = f"{words}. {told}", f"{act}. {told}"
        else:
            leave_repair(row)
        if note.strip():
            words += f". {note.strip()}"
        _tell(row, words, act, before, person, device)


def close(
    row: Snag,
    *,
    version: int,
    note: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> None:
    """Close a snag: it was dealt with, and its piece waits no longer."""
    before = _before(row)
    with transaction.atomic():
        _claim(row, version, closed=timezone.now())
        _set_waiting(row.pk, None)
        leave_repair(row)
        words = f"Closed. {note.strip()}" if note.strip() else "Closed"
        _tell(row, words, f"Closed: {row.what}", before, person, device)


def reopen(row: Snag, *, version: int, person: Person | None = None, device: Device | None = None) -> None:
    """Open a closed snag again; where “wait” was decided, its piece waits again."""
    before = _before(row)
    with transaction.atomic():
        _claim(row, version, closed=None)
        last = row.holds.order_by("-id").first()
        if row.decision == Decision.WAIT and last is not None:
            _set_waiting(row.pk, last.pk)
        if row.decision == Decision.REPAIR and row.repair is None:
            ask_repair(row, STARTING)
        _tell(row, "Opened again", f"Opened again: {row.what}", before, person, device)


def pass_on(
    row: Snag,
    *,
    version: int,
    weight: str,
    acts: Contact | None = None,
    stage: str = Stage.NONE,
    expected: date | None = None,
    note: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> None:
    """Say whether it blocks, who must act, how far that has come, and when an answer or a part is expected; can be undone."""
    if weight not in Weight.values or stage not in Stage.values:
        raise Refusal("Choose one of what is offered.", where="Weight")
    if stage and acts is None:
        raise Refusal(
            "Say who it waits for.", where="Waits for", remedy="Add them to the job’s contacts first."
        )
    if acts is not None and acts.job_id != row.job_id:
        raise Refusal("This is nobody of the job.", where="Waits for")
    before = _before(row)
    words = [Weight(weight).label.capitalize()]
    if acts is not None:
        words.append(f"{acts.name}: {Stage(stage).label}" if stage else f"waits for {acts.name}")
    if expected is not None:
        words.append(f"expected {short_day(expected)}")
    told = ", ".join(words)
    with transaction.atomic():
        _claim(row, version, weight=weight, acts=acts, stage=stage, expected=expected)
        _tell(
            row,
            f"{told}. {note.strip()}" if note.strip() else told,
            f"{row.what}: {told}",
            before,
            person,
            device,
        )


def note(row: Snag, text: str, *, person: Person | None = None, device: Device | None = None) -> SnagEntry:
    """Add a line to the story."""
    if not text.strip():
        raise Refusal("Write what is to be noted.", where="Note")
    return SnagEntry.objects.create(snag=row, text=text.strip()[:400], person=person, device=device)
