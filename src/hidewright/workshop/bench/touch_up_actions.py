"""Next year: colour of a jar mixed again for a touch-up, with its target set and the lots of today, in one act."""

from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.bench.jar_actions import mix_again
from hidewright.workshop.bench.on_pieces_queries import on_pieces
from hidewright.workshop.bench.touch_up_queries import kept_jars, smallest_honest
from hidewright.workshop.colours.batch_queries import newer_batch, newest_batch, stands_in
from hidewright.workshop.colours.likeness_queries import look_of, look_of_batch
from hidewright.workshop.colours.models import Batch, Reading
from hidewright.workshop.colours.queries import ReadingValue, target_row
from hidewright.workshop.colours.shop_actions import aim_at
from hidewright.workshop.colours.shop_queries import version_in_force
from hidewright.workshop.pieces.colour_actions import row_of
from hidewright.workshop.pieces.models import JobColour
from hidewright.workshop.pigments.saving import numbers
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shelf.vessel_actions import next_name
from hidewright.workshop.shop.models import Device, Job
from hidewright.workshop.shop.undo import record, undoes

USUAL = 100.0
"""mL that are mixed again when nothing else is said."""


def mix_from_jar(
    jar: MixVessel, aim: float = USUAL, *, like: Batch | None = None, device: Device | None = None
) -> MixVessel:
    """Begin a cup like a jar (or `like` a batch), for the jar's own job while that is open, else for a touch-up job that is opened for it.

    The cup's parts are corrected for the lots that are open today, and it is held against what it is made like.
    """
    with transaction.atomic():
        own = jar.job is not None and jar.job.put_away is None
        job = jar.job if own and jar.job is not None else open_touch_up(jar, like=like, device=device)
        row = like.vessel if like else jar
        gone = like if like and not stands_in(like) else None
        facts: dict[str, Any] = {} if own else {"number": 0, "name": next_name(job, row.name[:40])}
        return mix_again(row, job, aim, batch=gone, device=device, **facts)


def touch_up(jar: MixVessel, *, batch: int | None = None, device: Device | None = None) -> MixVessel:
    """Begin the smallest cup that the shop's balance can weigh honestly, like what is on the pieces: the `batch` (its key) that is on them, else the newest that was sprayed, or the jar where that is it.

    A batch whose mix stands in no vessel any more is made by its own recipe from the lots of today, and held against it by number. Refuses a batch that is on no piece.
    """
    like = newer_batch(jar)
    if batch is not None:
        listed = on_pieces(jar.job, jar.colour_number, (jar,)) if jar.job else ()
        chosen = next((each for each in listed if each.batch.pk == batch), None)
        if chosen is None:
            raise Refusal(
                "That batch cannot be made again from here.", remedy="Reload the page and choose another."
            )
        like = None if chosen.row == jar else chosen.batch
    return mix_from_jar(jar, smallest_honest(jar, like), like=like, device=device)


def open_touch_up(jar: MixVessel, *, like: Batch | None = None, device: Device | None = None) -> Job:
    """Open a job that begins with a jar: its colour is that of the jar's colour of the shop, its target what the jar (or `like` a batch) looks like."""
    old = jar.job
    with transaction.atomic():
        job = Job.objects.create(
            name=f"Touch-up: {old.name if old else jar.name}"[:120],
            kind=old.kind if old else "",
            client=old.client if old else "",
            registration=old.registration if old else "",
            starts=timezone.localdate(),
            is_demo=bool(old and old.is_demo),
            notes=f"Begun from {jar.name}.",
        )
        record(
            job,
            f"Opened {job.name} from {jar.name}",
            undo="touch_up.away",
            undo_with={"job": job.pk},
            device=device,
        )
        _take_over(
            old,
            jar.colour_number,
            job,
            look_of_batch(like) if like else look_of(jar),
            like.vessel if like else jar,
        )
        return job


def open_touch_up_of(old: Job, number: int = 0, *, device: Device | None = None) -> Job:
    """Open a job that touches up one of a job's colours: aimed at what was sprayed of it last, else at its newest jar, else at what the job was aimed at."""
    kept = kept_jars(old, number)
    if kept:
        return open_touch_up(kept[0].row, like=newer_batch(kept[0].row), device=device)
    sprayed = newest_batch(old, number)
    with transaction.atomic():
        job = Job.objects.create(
            name=f"Touch-up: {old.name}"[:120],
            kind=old.kind,
            client=old.client,
            registration=old.registration,
            starts=timezone.localdate(),
            is_demo=old.is_demo,
            notes=f"Of {old.name}; no jar of it is kept.",
        )
        record(job, f"Opened {job.name}", undo="touch_up.away", undo_with={"job": job.pk}, device=device)
        look = look_of_batch(sprayed) if sprayed else None
        _take_over(old, number, job, look, sprayed.vessel if sprayed else None)
        return job


@undoes("touch_up.away")
def _away(data: dict[str, Any]) -> None:
    Job.objects.filter(pk=data["job"]).update(put_away=timezone.now())


def _take_over(
    old: Job | None, number: int, job: Job, look: ReadingValue | None, of: MixVessel | None
) -> None:
    """Give the new job the old one's colour of the shop, and aim at the `look` of a vessel, or else at what the old job was aimed at."""
    before = JobColour.objects.filter(job=old, number=number).first() if old else None
    row = row_of(job, 0)
    if before is not None:
        row.name, row.colour = before.name, before.colour
        row.save(update_fields=["name", "colour"])
    aimed = target_row(old, number) if old else None
    if look is not None and of is not None:
        reading = Reading.objects.create(
            job=job, name=look.name[:120], reflectance=numbers(look.reflectance), source="jar", note=f"of {of.name}"
        )  # fmt: skip
    elif aimed is not None:
        was = aimed.reading
        reading = Reading.objects.create(
            job=job, name=was.name, reflectance=was.reflectance, lab=was.lab, light=was.light, observer=was.observer,
            source=was.source, spread=was.spread, note=f"target of {old.name if old else ''}"[:240],
        )  # fmt: skip
    else:
        return
    version = version_in_force(row.colour) if row.colour is not None else None
    aim_at(job, 0, reading, None, aimed.tolerance if aimed else 1.0, version=version)


def aim_at_jar(jar: MixVessel, job: Job, number: int = 0, *, device: Device | None = None) -> Reading:
    """Pick the colour of a jar as the target of one of a job's colours; refuses a jar whose colour cannot be worked out."""
    look = look_of(jar)
    if look is None:
        raise Refusal(
            f"How {jar.name} looks is not known.",
            where=jar.name,
            remedy="Read a dried drawdown of it, and bring that as a reading.",
        )
    with transaction.atomic():
        reading = Reading.objects.create(
            job=job, name=look.name[:120], reflectance=numbers(look.reflectance), source="jar", note=f"of {jar.name}"
        )  # fmt: skip
        made = aim_at(job, number, reading)
        record(
            job,
            f"The target is {reading.name}",
            undo="colour.readings",
            undo_with={"ids": [reading.pk], "target": made.pk},
            device=device,
        )
        return reading
