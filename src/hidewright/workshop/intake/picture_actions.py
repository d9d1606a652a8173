"""Pictures: brought by the phone, put in a queue, made smaller by the worker, taken off the page."""

from collections.abc import Sequence
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.frame.pictures import from_queue, keep_both, out_of_queue, put_in_queue, tidy_queue
from hidewright.workshop.intake.models import Picture, PictureKind, PictureState
from hidewright.workshop.intake.queries import waiting
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Device, Job, Run, RunState
from hidewright.workshop.shop.runs import RunHandle, runner, start_run
from hidewright.workshop.shop.undo import record, undoes

AT_ONCE = 40
"""Pictures in one form; a page with the script sends each by itself."""
MOST = 3000
"""Pictures of one job."""
KIND = "pictures.keep"


def bring(
    job: Job,
    uploads: "Sequence[UploadedFile[bytes]]",
    *,
    piece: Piece | None = None,
    kind: str = PictureKind.ARRIVAL,
    device: Device | None = None,
) -> list[Picture]:
    """Take pictures in and ask the worker to make them smaller; refuses none, too many, empty files and files that are too large, by name.

    Whether a file can be read shows later: the page then names the one that could not.
    """
    if not uploads:
        raise Refusal("No picture was chosen.", where="Pictures", remedy="Choose one or several.")
    if len(uploads) > AT_ONCE:
        raise Refusal(
            f"Up to {AT_ONCE} pictures at once.", where="Pictures", remedy="Send the rest afterwards."
        )
    if kind not in PictureKind.values:
        raise Refusal(f"“{kind}” is no kind of picture.", where="Kind")
    if Picture.objects.filter(job=job, withdrawn=None).count() + len(uploads) > MOST:
        raise Refusal(f"A job has up to {MOST} pictures.", where="Pictures", remedy="Take some off first.")
    names = [put_in_queue(upload) for upload in uploads]
    with transaction.atomic():
        made = [
            Picture.objects.create(
                job=job, piece=piece, kind=kind, name=str(upload.name)[:120], waiting=name, device=device
            )
            for upload, name in zip(uploads, names, strict=True)
        ]
        of = f" of {piece.key}" if piece else ""
        words = f"Brought {counted(len(made), 'picture')}{of}"
        record(job, words, undo="pictures.away", undo_with={"ids": [row.pk for row in made]}, device=device)
        _ask_worker(job)
        return made


def _ask_worker(job: Job) -> None:
    """A run that has not begun will see these pictures too."""
    if not Run.objects.filter(job=job, kind=KIND, state=RunState.WAITING).exists():
        start_run(job, KIND, {})


@undoes("pictures.away")
def _take_off(data: dict[str, Any]) -> None:
    Picture.objects.filter(pk__in=data["ids"], withdrawn=None).update(withdrawn=timezone.now())


def take_off(row: Picture, device: Device | None = None) -> None:
    """Take a picture off the page; its file stays where copies find it."""
    with transaction.atomic():
        if Picture.objects.filter(pk=row.pk, withdrawn=None).update(withdrawn=timezone.now()):
            words = f"Took off the picture {row.name}"
            record(row.job, words, undo="pictures.back", undo_with={"id": row.pk}, device=device)


@undoes("pictures.back")
def _put_back(data: dict[str, Any]) -> None:
    Picture.objects.filter(pk=data["id"]).update(withdrawn=None)


@runner(KIND, begins_again=True)
def _keep_run(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    job = handle.run.job
    if job is None:
        raise Refusal("Pictures belong to a job.", remedy="Bring them on its page.")
    return keep_waiting(job, handle)


def keep_waiting(job: Job, handle: RunHandle | None = None) -> dict[str, Any]:
    """Make every waiting picture of a job smaller, one after the other; a broken one is marked with why, and the rest goes on."""
    kept = broken = 0
    while todo := waiting(job):
        for row in todo:
            if handle is not None and handle.should_stop():
                return {"kept": kept, "broken": broken}
            fine = _keep_one(row)
            kept, broken = kept + fine, broken + (not fine)
            if handle is not None:
                handle.progress(kept / (kept + len(todo)), f"{counted(kept, 'picture')} made smaller")
    tidy_queue(set(Picture.objects.exclude(waiting="").values_list("waiting", flat=True)))
    return {"kept": kept, "broken": broken}


def _keep_one(row: Picture) -> bool:
    try:
        file, small = keep_both(from_queue(row.waiting), row.name)
    except Refusal as refusal:
        facts = {"state": PictureState.BROKEN, "why": f"{refusal.what} {refusal.remedy}".strip()[:240]}
    else:
        facts = {"state": PictureState.KEPT, "file": file, "small": small}
    Picture.objects.filter(pk=row.pk, state=PictureState.WAITING).update(waiting="", **facts)
    out_of_queue(row.waiting)
    return facts["state"] == PictureState.KEPT
