"""Jars: what is left over is kept with its formula as poured, poured out again, or made again months later."""

from dataclasses import replace
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.dates import show_day
from hidewright.mixing import MixRecipe
from hidewright.mixing import acts as bench
from hidewright.mixing.amounts import microlitres, some_microlitres
from hidewright.mixing.jars import keep_until
from hidewright.refusals import Refusal
from hidewright.workshop.bench.on_pieces_queries import numbered
from hidewright.workshop.bench.remake_queries import Remake, remake
from hidewright.workshop.colours.models import Batch
from hidewright.workshop.shelf.models import MixEntry, MixVessel
from hidewright.workshop.shelf.vessel_actions import Logged, begin_cup, colour_name, log, next_name, shown
from hidewright.workshop.shop.models import Device, Job
from hidewright.workshop.shop.undo import record, undoes


def keep_jar(
    source: MixVessel,
    amount: float,
    *,
    name: str = "",
    capacity: float | None = None,
    until: date | None = None,
    token: str | None = None,
    device: Device | None = None,
) -> MixVessel:
    """Keep `amount` mL in a new jar, with its day and its keep-until day. Crosslinked colour is refused."""
    amount_ul = some_microlitres(amount, where="How much")
    today = timezone.localdate()
    if until is not None and until < today:
        raise Refusal(
            "The jar would be past its day already.", where="Keep until", remedy="Write a later day."
        )
    with transaction.atomic():
        known = MixEntry.objects.filter(token=token).first() if token else None
        if known is not None:
            return MixVessel.objects.filter(sequence__entry=known).exclude(pk=source.pk).get()
        jar = MixVessel.objects.create(
            job=source.job,
            colour_number=source.colour_number,
            kind=MixVessel.Kind.JAR,
            name=name.strip() or "Jar",
            capacity=some_microlitres(capacity if capacity is not None else amount * 1.1, where="Jar"),
            plan={"name": (source.plan or {}).get("name", ""), "hex": (source.plan or {}).get("hex", ""), "parts": []},
            kept_on=today,
            keep_until=until or keep_until(today),
        )  # fmt: skip
        if not name.strip():
            jar.name = f"Jar {jar.pk}"
            jar.save(update_fields=["name"])
        log(
            [source, jar],
            lambda book: bench.to_jar(book, source.key, jar.key, amount_ul),
            f"Kept {shown(amount_ul)} of {source.name} in {jar.name}",
            token=token,
            device=device,
            also={"away": jar.pk},
        )
    return jar


def keep_until_day(jar: MixVessel, until: date, *, device: Device | None = None) -> None:
    """Keep a jar until another day; the shop is reminded before it. Refuses a day that is past."""
    if until < timezone.localdate():
        raise Refusal(
            "This day is past.", where="Keep until", remedy="Write a later day, or discard what is in it."
        )
    with transaction.atomic():
        before = jar.keep_until.isoformat() if jar.keep_until else None
        MixVessel.objects.filter(pk=jar.pk).update(keep_until=until)
        words = f"Keep {jar.name} until {show_day(until)}"
        record(jar.job, words, undo="jars.until", undo_with={"jar": jar.pk, "until": before}, device=device)


@undoes("jars.until")
def _until_again(data: dict[str, Any]) -> None:
    MixVessel.objects.filter(pk=data["jar"]).update(keep_until=data["until"])


def from_jar(
    jar: MixVessel,
    target: MixVessel,
    amount: float,
    *,
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Pour `amount` mL out of a jar into a cup."""
    amount_ul = microlitres(amount, where="How much")
    return log(
        [jar, target],
        lambda book: bench.split(book, jar.key, target.key, amount_ul),
        f"Poured {shown(amount_ul)} out of {jar.name} into {target.name}",
        token=token,
        device=device,
    )


def mix_again(
    row: MixVessel,
    job: Job,
    aim: float,
    *,
    device: Device | None = None,
    as_poured: bool = False,
    batch: Batch | None = None,
    **facts: Any,
) -> MixVessel:
    """Begin a cup that makes again what stands in a vessel: a top-up of a batch, or a jar of months ago.

    Its pigments are shifted so that the lots now on the shelf give the colour that the vessel's lots gave, unless `as_poured`. `batch`: as that was when it was sprayed from the vessel, which
    holds another mix by now; the cup is then held against that batch.
    """
    found = remake(row, batch)
    recipe, told = found.recipe, found.facts(row.name)
    if as_poured:
        recipe, told = as_it_was(found), {"of": row.name, "why_not": "It is poured as it was, as you wished."}
    if batch is not None:
        told |= {"of": numbered(batch), "formula": batch.formula}
    mixed = (row.plan or {}).get("hex", "")
    colour = (row.plan or {}).get("name") or row.name
    facts.setdefault("name", next_name(job, colour_name(colour)))
    with transaction.atomic():
        number = row.colour_number if row.job_id == job.pk else facts.pop("number", 0)
        cup = begin_cup(
            job,
            replace(recipe, name=colour_name(colour)),
            aim,
            hexes=found.hexes,
            mixed_hex=mixed,
            number=number,
            like=row,
            device=device,
            **facts,
        )
        cup.plan = {**(cup.plan or {}), "again": told}
        cup.save(update_fields=["plan"])
    return cup


def as_it_was(found: Remake) -> MixRecipe:
    """The recipe in the proportions as poured."""
    was = {change.key: change.was for change in found.changes}
    parts = tuple(replace(part, share=was.get(part.key, part.share)) for part in found.recipe.parts)
    return replace(found.recipe, parts=parts)
