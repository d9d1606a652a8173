"""What is done about a job's colour: readings, the target, finding recipes, choosing one."""

from collections.abc import Mapping, Sequence
from typing import Any, cast

import numpy as np
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from hidewright.colour.cups.own import family
from hidewright.colour.light import cie
from hidewright.colour.light.far import off_by
from hidewright.colour.light.smooth import smoothest
from hidewright.colour.reading.formats import read_any as read_any
from hidewright.colour.reading.photo import KnownPatch, Patch, PhotoColour, read_photo
from hidewright.colour.reading.readings import Reading as ReadingValue
from hidewright.colour.reading.repeats import alike_as_one
from hidewright.colour.reading.shine import read_alike, shine_stated
from hidewright.colour.recipes.leftovers import Leftover
from hidewright.colour.recipes.match import MatchResult, match
from hidewright.colour.recipes.shift import Shifted, lighter, more_neutral, toward
from hidewright.refusals import Refusal, Refusals
from hidewright.units import counted
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours import saving as keep
from hidewright.workshop.colours import search_queries as shelf
from hidewright.workshop.colours.models import Choice, Reading, Recipe, Target
from hidewright.workshop.colours.shop_actions import aim_at, withdraw_target
from hidewright.workshop.pigments import saving as keep_saving
from hidewright.workshop.pigments import values as gather_values
from hidewright.workshop.shop.models import Act, Device, Job, Run
from hidewright.workshop.shop.runs import RunHandle, runner, start_run
from hidewright.workshop.shop.undo import record, undoes

TARGET_WORDS = ("target", "aim")
OLD_WORDS = ("old colour", "old", "old coat")


def import_readings(job: Job, text: str, *, use_column: bool = True, number: int = 0) -> int:
    """Keep the readings of a CSV, a CGATS.17 text or a CxF3 file; a column `use` with target and old colour picks them.

    A reading taken with the shine where the pigments were read without it, or the other way, is brought alike, and its note says so.
    Readings of one name and state are kept as their mean, unless they are so far apart that they are different things: then each gets a number.
    Returns how many. Raises `Refusals` naming every line and column that must be put right, and then changes nothing.
    """
    return keep_readings(job, read_any(text), use_column=use_column, number=number)


def keep_readings(
    job: Job,
    found: Sequence[ReadingValue],
    *,
    use_column: bool = True,
    source: str = "file",
    number: int = 0,
) -> int:
    """Keep readings that were read from a file; see `import_readings`."""
    return record_readings(job, found, use_column=use_column, source=source, number=number)[0]


def record_readings(
    job: Job,
    found: Sequence[ReadingValue],
    *,
    use_column: bool = True,
    source: str = "file",
    number: int = 0,
) -> tuple[int, Act]:
    """Keep readings that were read from a file: how many there are now, and the act; see `import_readings`."""
    faults = [
        Refusal("A reading has no name.", where=f"reading {n}") for n, r in enumerate(found, 1) if not r.name
    ]
    faults += [
        Refusal(f"“{r.facts['state']}” is neither dry nor wet.", where=r.name)
        for r in found
        if r.facts.get("state", "dry") not in ("", "dry", "wet")
    ]
    if faults:
        raise Refusals(faults)
    read, surface = len(found), gather_values.surface()
    shone = [read_alike(reading, surface) for reading in alike_as_one(found)]
    found = [reading for reading, _ in shone]
    with transaction.atomic():
        rows = [
            keep.keep_reading(
                job,
                reading,
                source=source,
                state=reading.facts.get("state") or "dry",
                over=reading.facts.get("over", "")[:80],
                note=" ".join(
                    filter(
                        None, [reading.facts.get("note", ""), *(words or [shine_stated(reading, surface)])]
                    )
                )[:240],
            )
            for reading, words in shone
        ]
        picked = _pick(job, found, rows, number) if use_column else None
        act = record(
            job,
            f"Kept {counted(len(rows), 'reading')}"
            + (f", averaged from {read}" if read > len(rows) else "")
            + "".join(f". {words[0]}" for _, words in shone if words)[:200],
            undo="colour.readings",
            undo_with={"ids": [row.pk for row in rows], "target": picked.pk if picked else None},
        )
    return len(rows), act


def _pick(job: Job, found: Sequence[ReadingValue], rows: Sequence[Reading], number: int) -> Target | None:
    uses = [reading.facts.get("use", "").strip().lower() for reading in found]
    aims = [row for use, row in zip(uses, rows, strict=True) if use in TARGET_WORDS]
    olds = [row for use, row in zip(uses, rows, strict=True) if use in OLD_WORDS]
    if not aims:
        return None
    return aim_at(job, number, aims[0], olds[0] if olds else None)


@undoes("colour.readings")
def _take_back_readings(data: dict[str, Any]) -> None:
    now = timezone.now()
    withdraw_target(data["target"])
    used = Target.objects.filter(withdrawn=None)
    busy = {pk for pair in used.values_list("reading_id", "old_id") for pk in pair}
    Reading.objects.filter(pk__in=set(data["ids"]) - busy, struck=None).update(struck=now)


def type_colour(
    job: Job,
    name: str,
    colour: tuple[float, float, float],
    *,
    light: str = "D65",
    observer: str = "10",
    state: str = "dry",
    source: str = "typed",
    spread: float = 0.5,
    note: str = "",
) -> Reading:
    """Keep a colour given as L*, a*, b*; refuses one that no surface can have."""
    if not name.strip():
        raise Refusal("The reading needs a name.", where="Name", remedy="Say what was read, and where.")
    smoothest(colour, light, observer)
    with transaction.atomic():
        row = Reading.objects.create(
            job=job,
            name=name.strip()[:120],
            lab=[float(v) for v in colour],
            light=light,
            observer=observer,
            state=state,
            source=source,
            spread=spread,
            note=note,
        )
        record(
            job,
            f"Kept the reading {row.name}",
            undo="colour.readings",
            undo_with={"ids": [row.pk], "target": None},
        )
        return row


def aim_at_family(job: Job, word: str, number: int = 0, piece: str = "") -> Target:
    """Aim at a colour of which only a word is known, such as "tan": a wide guess that the eye narrows; refuses a word that is not known.

    `piece`: which piece cups are held against, in words.
    """
    guess = family(word)
    middle = cast("tuple[float, float, float]", tuple(float(v) for v in guess.lab))
    smoothest(middle, "D65", "10")
    with transaction.atomic():
        row = Reading.objects.create(
            job=job,
            name=f"{word}, a guess{f' for {piece}' if piece else ''}"[:120],
            lab=list(middle),
            source="family",
            spread=float(np.sqrt(np.trace(guess.covariance) / 3)),
            note="Only a word is known of it. Steer by eye.",
        )
        target = aim_at(job, number, row, None)
        record(
            job,
            f"Aim at {word}, by eye",
            undo="colour.readings",
            undo_with={"ids": [row.pk], "target": target.pk},
        )
        return target


def strike_reading(row: Reading) -> None:
    """Strike out a reading; refuses one that is the target or the old colour in force."""
    with transaction.atomic():
        if row.pk in gather.readings_in_use(row.job):
            raise Refusal(
                "This reading is in use as the target or the old colour.",
                where=row.name,
                remedy="Pick another one first.",
            )
        if Reading.objects.filter(pk=row.pk, struck=None).update(struck=timezone.now()):
            record(
                row.job,
                f"Struck out the reading {row.name}",
                undo="colour.unstrike",
                undo_with={"id": row.pk},
            )


def shifted(
    aimed: gather.TargetValue, way: str, amount: float, swatch: gather.ReadingValue | None
) -> Shifted:
    """The target shifted: `way` lighter (amount in L*), neutral (per cent) or toward (per cent of the way to `swatch`)."""
    here = aimed.target.reflectance
    if way == "lighter":
        return lighter(here, amount)
    if way == "neutral":
        return more_neutral(here, amount / 100)
    if way == "toward" and swatch is not None:
        return toward(here, swatch.reflectance, amount / 100)
    raise Refusal("Say which way the target goes.", where="Way", remedy="Toward needs a reading to go to.")


def shift_target(
    job: Job, way: str, amount: float, swatch: gather.ReadingValue | None = None, number: int = 0
) -> tuple[Reading, Target]:
    """Aim at a shifted colour: kept as a reading of its own; the target before comes back when this is undone."""
    aimed = gather.target(job, number)
    if aimed is None:
        raise Refusal("There is no target to shift.", where="Target", remedy="Pick one first.")
    new = shifted(aimed, way, amount, swatch)
    words = {
        "lighter": f"{abs(amount):g} L* {'lighter' if amount > 0 else 'darker'}",
        "neutral": f"{abs(amount):g} % {'more neutral' if amount > 0 else 'cleaner'}",
        "toward": f"{amount:g} % toward {swatch.name if swatch else ''}",
    }[way]
    with transaction.atomic():
        before = Target.objects.select_related("old", "reading").get(pk=aimed.id)
        row = Reading.objects.create(
            job=job,
            name=f"{aimed.target.name}, {words}"[:120],
            source="worked out",
            spread=before.reading.spread,
            note=f"shifted by {off_by(new.delta_e['D65'])} from {aimed.target.name}"[:240],
            **_shifted_facts(aimed.target, new),
        )
        old = before.old
        made = aim_at(job, number, row, old, aimed.tolerance)
        record(
            job,
            f"Aim {words}",
            undo="colour.readings",
            undo_with={"ids": [row.pk], "target": made.pk},
        )
        return row, made


def _shifted_facts(start: gather.ReadingValue, new: Shifted) -> dict[str, Any]:
    """A shifted spectrum; of a colour that was only seen under one light, the shifted colour under that light, so that it stays a guess under all others."""
    if not start.assumed:
        return {"reflectance": keep_saving.numbers(new.reflectance)}
    light, observer = start.seen_under
    seen = cie.lab(new.reflectance, light, observer)
    return {"lab": [float(v) for v in seen], "light": light, "observer": observer}


def keep_photo(
    job: Job, data: bytes, sample: Patch, known: Sequence[KnownPatch], name: str
) -> tuple[Reading, PhotoColour]:
    """Keep a colour read off a photo, with its wide spread; refuses photos that are clipped, unevenly lit or too far off."""
    if not name.strip():
        raise Refusal("The reading needs a name.", where="Name")
    found = read_photo(data, sample, known, name.strip())
    with transaction.atomic():
        row = keep.keep_reading(
            job,
            found.reading,
            source="photo",
            note=" ".join([f"{found.method}, known patches off by {off_by(found.residual)}.", *found.doubts])[
                :240
            ],
        )
        record(
            job,
            f"Kept the reading {row.name} off a photo",
            undo="colour.readings",
            undo_with={"ids": [row.pk], "target": None},
        )
        return row, found


@undoes("colour.unstrike")
def _unstrike(data: dict[str, Any]) -> None:
    Reading.objects.filter(pk=data["id"]).update(struck=None)


def set_target(job: Job, reading: int, old: int | None, tolerance: float = 1.0, number: int = 0) -> Target:
    """Say what is aimed at and what lies under it; the choice before stays on record."""
    there = {row.pk: row for row in Reading.objects.filter(job=job, struck=None)}
    if reading not in there or (old is not None and old not in there):
        raise Refusal("That reading is not there any more.", where="Target", remedy="Pick another one.")
    if reading == old:
        raise Refusal(
            "Target and old colour are the same reading.", where="Old colour", remedy="Pick another, or none."
        )
    if not 0.05 <= tolerance <= 10:
        raise Refusal("What is near enough lies from 0.05 to 10.", where="Near enough", remedy="1 is usual.")
    with transaction.atomic():
        row = aim_at(job, number, there[reading], there[old] if old else None, tolerance)
        record(job, f"The target is {there[reading].name}", undo="colour.target", undo_with={"id": row.pk})
        return row


@undoes("colour.target")
def _withdraw_target(data: dict[str, Any]) -> None:
    withdraw_target(data["id"])


def check_match(job: Job, asked: Mapping[str, Any]) -> None:
    """Refuse a search that cannot be carried out, before it starts."""
    there = {one.row.pk for one in shelf.jars_asked(job, asked)}
    if not {*asked.get("jars", ()), *asked.get("use_up", ())} <= there:
        raise Refusal(
            "A jar that was chosen is empty, put away, or holds something unknown.",
            where="Jars",
            remedy="Reload the page and choose again.",
        )
    shelf.problem(job, asked)


def start_match(job: Job, asked: dict[str, Any]) -> Run:
    """Look for recipes outside the request.

    `asked`: load [low, high], most, lights, worst or weights (light to weight), must_use, must_not_use, on_shelf, batch (mL), coats,
    jars and use_up (keys of jars that may be used, or used up), number (which of the job's colours).
    """
    check_match(job, asked)
    return start_run(job, "colour.match", asked)


@runner("colour.match")
def _match_run(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    job = handle.run.job
    if job is None:
        raise Refusal("A search for recipes belongs to a job.", remedy="Start it from the page Colour.")

    def say(fraction: float, text: str) -> None:
        done, mark, best = text.partition("; ")
        handle.progress(fraction, done, best={"text": best} if mark else None)

    opened = [one.leftover for one in shelf.jars_asked(job, asked)]
    result = match(shelf.problem(job, asked), on_progress=say, should_stop=handle.should_stop)
    rows = keep_match(job, result, run=handle.run, jars=opened)
    return {
        "recipes": [row.pk for row in rows],
        "tried": result.tried,
        "stopped": result.stopped,
        "reachable": result.reachable,
        "outside": result.outside,
        "short": result.short,
    }


def keep_match(
    job: Job, result: MatchResult, run: Run | None = None, jars: Sequence[Leftover] = (), number: int = 0
) -> list[Recipe]:
    """Keep the recipes of a search for one of the job's colours, best first; the pages show the newest. `jars` the leftovers that it might use."""
    asked = run.asked if run else {}
    mixed, coats = asked.get("batch"), asked.get("coats")
    aimed = gather.target_row(job, asked.get("number", number))
    if aimed is None:
        raise Refusal("There is no target yet.", where="target", remedy="Pick the reading to aim at first.")
    hexes = gather_values.hexes()
    with transaction.atomic():
        batch = (Recipe.objects.filter(job=job).aggregate(last=Max("batch"))["last"] or 0) + 1
        return [
            Recipe.objects.create(
                job=job,
                target=aimed,
                run=run,
                name=f"Recipe {rank}" if batch == 1 else f"Recipe {batch}-{rank}",
                rank=rank,
                batch=batch,
                data=keep.recipe_data(recipe, hexes, jars, batch=mixed, coats=coats),
            )
            for rank, recipe in enumerate(result.recipes, 1)
        ]


def choose(recipe: Recipe, device: Device | None = None) -> Choice:
    """Choose a recipe for the job; the choice before comes back when this one is undone."""
    with transaction.atomic():
        row = Choice.objects.create(job=recipe.job, recipe=recipe, device=device)
        record(
            recipe.job, f"Chose {recipe.name}", undo="colour.choice", undo_with={"id": row.pk}, device=device
        )
        return row


@undoes("colour.choice")
def _withdraw_choice(data: dict[str, Any]) -> None:
    Choice.objects.filter(pk=data["id"]).update(withdrawn=timezone.now())
