"""Snags: noting one, deciding, closing. The story of a snag is only ever added to."""

from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from hidewright.refusals import Refusal

from ..gather import snags as gather
from ..models.days import Tap
from ..models.jobs import Job
from ..models.shop import Device, Person
from ..models.snags import Decision, Snag, SnagEntry, SnagKind
from .acts import record, undoes


def add(
    job: Job,
    what: str,
    *,
    kind: str = SnagKind.DAMAGE,
    piece: str = "",
    picture: str = "",
    tap: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> Snag:
    """Note a snag; the work goes on. `picture` is the name of a kept picture, `tap` the token of the tap that told it."""
    if not what.strip():
        raise Refusal("Say in a word or two what is wrong.", where="What")
    if kind not in SnagKind.values:
        raise Refusal(f"“{kind}” is no kind of snag.", where="Kind")
    with transaction.atomic():
        try:
            with transaction.atomic():
                row = Snag.objects.create(
                    job=job,
                    what=what.strip()[:240],
                    kind=kind,
                    piece=piece.strip()[:120],
                    picture=picture,
                    tap=tap,
                )
        except IntegrityError:
            raise Refusal(
                "This snag was taken up already.", remedy="Reload the page to see how things stand."
            ) from None
        SnagEntry.objects.create(snag=row, text="Found", person=person, device=device)
        record(job, f"Noted a snag: {row.what}", undo="snags.add", undo_with={"id": row.pk}, device=device)
        return row


@undoes("snags.add")
def _withdraw(data: dict[str, Any]) -> None:
    row = Snag.objects.filter(pk=data["id"], withdrawn=None)
    if row.update(withdrawn=timezone.now(), tap=""):
        SnagEntry.objects.create(snag_id=data["id"], text="Taken back")


def take_up(tap: Tap, *, device: Device | None = None) -> Snag:
    """Make a snag of what was tapped on the page Days."""
    return add(
        tap.job,
        tap.note or "A snag",
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
            "Somebody changed this snag meanwhile.", remedy="Look at it again before you change it."
        )


def _tell(
    row: Snag, text: str, act: str, before: dict[str, Any], person: Person | None, device: Device | None
) -> None:
    SnagEntry.objects.create(snag=row, text=text[:400], person=person, device=device)
    record(row.job, act, undo="snags.stand", undo_with={"id": row.pk, **before}, device=device)


@undoes("snags.stand")
def _stand_again(data: dict[str, Any]) -> None:
    closed = data.get("closed")
    Snag.objects.filter(pk=data["id"]).update(
        decision=data["decision"], closed=timezone.now() if closed else None, version=F("version") + 1
    )
    SnagEntry.objects.create(snag_id=data["id"], text="The last entry was undone")


def decide(
    row: Snag,
    decision: str,
    *,
    version: int,
    note: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> None:
    """Decide what is to be done, with a note if there is one."""
    if decision not in Decision.values:
        raise Refusal(f"“{decision}” is no decision.", where="Decision")
    before = {"decision": row.decision, "closed": row.closed is not None}
    words = f"Decided: {Decision(decision).label}"
    if note.strip():
        words += f". {note.strip()}"
    with transaction.atomic():
        _claim(row, version, decision=decision)
        _tell(row, words, f"{row.what}: {Decision(decision).label}", before, person, device)


def close(
    row: Snag,
    *,
    version: int,
    note: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> None:
    """Close a snag: it was dealt with."""
    before = {"decision": row.decision, "closed": row.closed is not None}
    with transaction.atomic():
        _claim(row, version, closed=timezone.now())
        words = f"Closed. {note.strip()}" if note.strip() else "Closed"
        _tell(row, words, f"Closed: {row.what}", before, person, device)


def reopen(row: Snag, *, version: int, person: Person | None = None, device: Device | None = None) -> None:
    """Open a closed snag again."""
    before = {"decision": row.decision, "closed": row.closed is not None}
    with transaction.atomic():
        _claim(row, version, closed=None)
        _tell(row, "Opened again", f"Opened again: {row.what}", before, person, device)


def note(row: Snag, text: str, *, person: Person | None = None, device: Device | None = None) -> SnagEntry:
    """Add a line to the story."""
    if not text.strip():
        raise Refusal("Write what is to be noted.", where="Note")
    return SnagEntry.objects.create(snag=row, text=text.strip()[:400], person=person, device=device)
