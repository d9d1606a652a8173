"""The colours of the shop: a target makes one and gives it a version; its facts are changed; each act can be undone."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.db.models import F, Max
from django.utils import timezone

from hidewright.defaults import TOLERANCE
from hidewright.refusals import Refusal
from hidewright.workshop.colours.models import Colour, ColourVersion, Reading, Target
from hidewright.workshop.colours.queries import target_row
from hidewright.workshop.colours.shop_queries import TRUTHS, version_in_force
from hidewright.workshop.pieces.colour_actions import row_of
from hidewright.workshop.pieces.colour_queries import colour_numbered
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.undo import record, undoes


def aim_at(
    job: Job,
    number: int,
    reading: Reading,
    old: Reading | None = None,
    tolerance: float = TOLERANCE,
    *,
    version: ColourVersion | None = None,
) -> Target:
    """Aim one of the job's colours at a reading: the shop's colour behind it gets a version of it, and is made where there is none.

    With a `version` the reading is what was sprayed of that version, and makes none of its own.
    Call it inside a transaction; it records no act of its own.
    """
    colour_numbered(job, number)
    place = row_of(job, number)
    if place.colour is None:
        place.colour = Colour.objects.create(
            name=(place.name or reading.name)[:80],
            owner=job.client,
            truth=TRUTHS.get(reading.source, Colour.Truth.READING),
            tolerance=tolerance,
        )
        place.save(update_fields=["colour"])
    return Target.objects.create(
        job=job,
        colour_number=number,
        reading=reading,
        old=old,
        tolerance=tolerance,
        version=version or _version(place.colour, reading, job),
    )


def _version(colour: Colour, reading: Reading, job: Job) -> ColourVersion:
    """The version of a colour that this reading is; a new one where it is another reading than the one in force."""
    now = version_in_force(colour)
    if now is not None and _same(now.reading, reading):
        return now
    last = colour.versions.aggregate(last=Max("number"))["last"] or 0
    return ColourVersion.objects.create(
        colour=colour, number=last + 1, reading=reading, why=f"aimed at in {job.name}"[:120]
    )


def _same(one: Reading, other: Reading) -> bool:
    """The same row, or another row of the very same figures."""
    return one.pk == other.pk or (
        one.reflectance == other.reflectance
        and one.lab == other.lab
        and (one.light, one.observer, one.state) == (other.light, other.observer, other.state)
    )


def withdraw_target(pk: int | None) -> None:
    """Take a target back, and the version that only it made; does nothing without a key."""
    row = Target.objects.filter(pk=pk, withdrawn=None).first() if pk else None
    if row is None:
        return
    now = timezone.now()
    Target.objects.filter(pk=row.pk).update(withdrawn=now)
    if row.version_id and not Target.objects.filter(version=row.version_id, withdrawn=None).exists():
        ColourVersion.objects.filter(pk=row.version_id).update(withdrawn=now)


FACTS = ("name", "owner", "truth", "tolerance", "sheen", "clear_id", "notes")
"""What a person says of a colour of the shop."""


def edit_colour(row: Colour, facts: Mapping[str, Any], *, edits: int) -> None:
    """Change what is said of a colour; refuses an empty name, and a form that somebody overtook."""
    if not str(facts["name"]).strip():
        raise Refusal("The colour needs a name.", where="Name", remedy="Write what the shop calls it.")
    if not 0.05 <= facts["tolerance"] <= 10:
        raise Refusal("What is near enough lies from 0.05 to 10.", where="Near enough", remedy="1 is usual.")
    with transaction.atomic():
        old = {name: getattr(row, name) for name in FACTS}
        changed = Colour.objects.filter(pk=row.pk, edits=edits).update(**facts, edits=F("edits") + 1)
        if changed != 1:
            raise Refusal("Somebody changed this colour meanwhile.", remedy="Reload the page and look again.")
        record(
            None, f"Changed {facts['name']}", undo="shop_colour.facts", undo_with={"colour": row.pk, **old}
        )


@undoes("shop_colour.facts")
def _facts_back(old: dict[str, Any]) -> None:
    facts = {name: value for name, value in old.items() if name != "colour"}
    Colour.objects.filter(pk=old["colour"]).update(**facts, edits=F("edits") + 1)


def put_colour_away(row: Colour) -> None:
    """Take a colour off the list of those in use; nothing is erased."""
    with transaction.atomic():
        if Colour.objects.filter(pk=row.pk, put_away=None).update(put_away=timezone.now()):
            record(None, f"Put {row.name} away", undo="shop_colour.fetch", undo_with={"colour": row.pk})


@undoes("shop_colour.fetch")
def _fetch(old: dict[str, Any]) -> None:
    Colour.objects.filter(pk=old["colour"]).update(put_away=None)


def aim_agreed(
    job: Job, number: int, reading: Reading, tolerance: float, *, why: str, on_panel: bool
) -> tuple[Target, dict[str, Any]]:
    """Aim one of the job's colours at what was agreed: it becomes the next version of the shop's colour, with its tolerance.

    A target in force that is this very reading within this tolerance stays, so that its recipes do too. Gives the target and what takes all
    of it back (`take_agreed_back`). Call it inside a transaction; it records no act of its own.
    """
    now = target_row(job, number)
    stays = now is not None and now.reading_id == reading.pk and now.tolerance == tolerance
    colour = row_of(job, number).colour
    before = {"colour": colour.pk, "tolerance": colour.tolerance, "truth": colour.truth} if colour else None
    target = (
        now
        if now is not None and stays
        else aim_at(job, number, reading, now.old if now else None, tolerance)
    )
    colour = row_of(job, number).colour
    assert colour is not None, "a target in force has a colour of the shop behind it"
    last = colour.versions.aggregate(last=Max("number"))["last"] or 0
    version = ColourVersion.objects.create(colour=colour, number=last + 1, reading=reading, why=why[:120])
    was = target.version_id
    Target.objects.filter(pk=target.pk).update(version=version)
    facts: dict[str, Any] = {"tolerance": tolerance, **({"truth": Colour.Truth.PANEL} if on_panel else {})}
    Colour.objects.filter(pk=colour.pk).update(**facts)
    back = {
        "target": target.pk, "made": not stays, "version": version.pk, "was": was, "before": before,
    }  # fmt: skip
    target.refresh_from_db()
    return target, back


def take_agreed_back(data: Mapping[str, Any]) -> None:
    """Take back what `aim_agreed` did."""
    Target.objects.filter(pk=data["target"]).update(version=data["was"])
    ColourVersion.objects.filter(pk=data["version"]).update(withdrawn=timezone.now())
    if data["made"]:
        withdraw_target(data["target"])
    if data["before"]:
        facts = {name: data["before"][name] for name in ("tolerance", "truth")}
        Colour.objects.filter(pk=data["before"]["colour"]).update(**facts)
