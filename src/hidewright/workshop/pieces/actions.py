"""Survey: bring a list of pieces, add, change and remove pieces. Each act can be undone."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F, Max
from django.utils import timezone

from hidewright import survey
from hidewright.refusals import Refusal
from hidewright.survey.csv_in import read_pieces
from hidewright.units import counted
from hidewright.workshop.pieces.colour_actions import numbers_for
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pieces.queries import rows, value
from hidewright.workshop.pieces.zone_queries import zone_facts
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import record, undoes

MOST = 2000
"""Pieces that one job may have."""


def import_csv(job: Job, text: str, unit: str = "mm") -> int:
    """Add the pieces of a CSV text to a job's list; refuses marks that stand there already. Returns how many."""
    pieces = read_pieces(text, unit)
    with transaction.atomic():
        return len(put_in(job, pieces, replace=False, source="a list").undo_with["out"])


def put_in(job: Job, pieces: Sequence[survey.Piece], *, replace: bool, source: str) -> Act:
    """Add pieces to a job's list, or with `replace` put them in its place; marks that stand there already are not added. Returns the act."""
    gone = list(rows(job)) if replace else []
    if gone:
        Piece.objects.filter(pk__in=[row.pk for row in gone]).update(removed=timezone.now())
    have = set(rows(job).values_list("key", flat=True))
    new = [piece for piece in pieces if piece.key not in have]
    if not new:
        raise Refusal("Every mark in the file is on the list already.", remedy="Replace the list instead.")
    added = _add(job, new)
    words = f"Took {counted(len(new), 'piece')} from {source}"
    if gone:
        words += f" in place of {len(gone)}"
    return record(
        job,
        words,
        undo="survey.swap",
        undo_with={"out": added, "back": [row.pk for row in gone]},
    )


def _add(job: Job, pieces: Sequence[survey.Piece]) -> list[int]:
    listed = rows(job)
    if listed.count() + len(pieces) > MOST:
        raise Refusal(f"A job has up to {MOST} pieces.", remedy="Split it into several jobs.")
    first = (Piece.objects.filter(job=job).aggregate(m=Max("order"))["m"] or 0) + 1
    try:
        with transaction.atomic():
            return add(job, pieces, first)
    except IntegrityError as error:
        raise Refusal(
            "A mark is on the list already.", where="key", remedy="Give each piece its own mark."
        ) from error


@undoes("survey.swap")
def _swap(old: dict[str, Any]) -> None:
    Piece.objects.filter(pk__in=old["out"]).update(removed=timezone.now(), version=F("version") + 1)
    _bring_back(old["back"])


def _bring_back(ids: Sequence[int]) -> None:
    try:
        with transaction.atomic():
            Piece.objects.filter(pk__in=ids).update(removed=None, version=F("version") + 1)
    except IntegrityError as error:
        raise Refusal(
            "A mark of these pieces is in use again.",
            remedy="Remove or rename the newer piece, then undo again.",
        ) from error


def add_pieces(job: Job, piece: survey.Piece, count: int = 1) -> list[int]:
    """Add a piece, or `count` of the same marked -1, -2 …"""
    made = (
        [piece]
        if count == 1
        else [piece.marked(f"{piece.key}-{n}", f"{piece.name} {n}") for n in range(1, count + 1)]
    )
    with transaction.atomic():
        added = _add(job, made)
        words = f"Added {piece.key} {piece.name}" if count == 1 else f"Added {count} pieces {piece.key}-1 …"
        record(job, words, undo="survey.swap", undo_with={"out": added, "back": []})
        return added


def change_piece(row: Piece, piece: survey.Piece, version: int) -> None:
    """Change a piece; refuses when somebody changed it since it was shown."""
    old = facts_of_row(row)
    with transaction.atomic():
        try:
            with transaction.atomic():
                changed = Piece.objects.filter(pk=row.pk, version=version, removed=None).update(
                    **facts(piece), version=F("version") + 1
                )
        except IntegrityError as error:
            raise Refusal(
                f"The mark {piece.key} is on the list already.", where="key", remedy="Give it its own mark."
            ) from error
        if changed != 1:
            raise Refusal("Somebody changed this piece meanwhile.", remedy="Reload the page and look again.")
        record(
            row.job,
            f"Changed {piece.key} {piece.name}",
            undo="survey.facts",
            undo_with={"pieces": {str(row.pk): old}},
        )


@undoes("survey.facts")
def _facts_back(old: dict[str, Any]) -> None:
    for key, was in old["pieces"].items():
        Piece.objects.filter(pk=int(key)).update(**was, version=F("version") + 1)


def remove_pieces(job: Job, ids: Sequence[int]) -> int:
    """Take pieces off the list; returns how many."""
    with transaction.atomic():
        going = list(rows(job).filter(pk__in=ids))
        if not going:
            raise Refusal("No piece was chosen.", remedy="Tick the pieces first.")
        Piece.objects.filter(pk__in=[row.pk for row in going]).update(
            removed=timezone.now(), version=F("version") + 1
        )
        words = (
            f"Removed {going[0].key} {going[0].name}" if len(going) == 1 else f"Removed {len(going)} pieces"
        )
        record(job, words, undo="survey.swap", undo_with={"out": [], "back": [row.pk for row in going]})
        return len(going)


def mark_pieces(job: Job, ids: Sequence[int], changes: dict[str, Any]) -> int:
    """Set condition, strip, turned or sat_on of many pieces at once; returns how many."""
    with transaction.atomic():
        chosen = list(rows(job).filter(pk__in=ids))
        if not chosen or not changes:
            raise Refusal(
                "No piece was chosen, or nothing to set.", remedy="Tick pieces and say what to set."
            )
        old = {str(row.pk): facts_of_row(row) for row in chosen}
        for row in chosen:
            for name, new in changes.items():
                setattr(row, name, new)
            kept = facts(value(row))
            Piece.objects.filter(pk=row.pk).update(**kept, version=F("version") + 1)
        record(
            job,
            f"Changed {len(chosen)} piece{'s' if len(chosen) > 1 else ''}",
            undo="survey.facts",
            undo_with={"pieces": old},
        )
        return len(chosen)


FACTS = (
    "key", "name", "group", "shape", "length", "width", "thickness", "measured", "material", "condition", "sat_on", "turned", "strip", "notes",
)  # fmt: skip
"""What is kept of a piece."""


def facts(piece: survey.Piece) -> dict[str, Any]:
    """What is kept of a piece, as plain values."""
    return {
        name: value if isinstance(value := getattr(piece, name), bool | float) else str(value)
        for name in FACTS
    }


def facts_of_row(row: Piece) -> dict[str, Any]:
    """The same of a row, so that a change can be undone."""
    return {name: getattr(row, name) for name in (*FACTS, "colour_number", "by_us", "zones")}


def add(job: Job, pieces: Iterable[survey.Piece], first: int) -> list[int]:
    """Add pieces behind the others; returns their row numbers in the order given.

    A piece that names no colour gets that of its group, where all of the group has one, else the job's first.
    """
    made = list(pieces)
    numbers = numbers_for(job, [piece.colour for piece in made], empty_list=not rows(job).exists())
    of_group = _colours_of_groups(job)
    new = []
    for n, piece in enumerate(made):
        number = numbers[piece.colour] if piece.colour else of_group.get(piece.group, 0)
        of_row = {**facts(piece), "zones": zone_facts(piece.zones)}
        row = Piece(job=job, order=first + n, colour_number=number, by_us=piece.by_us, **of_row)
        new.append(row)
    return [row.pk for row in Piece.objects.bulk_create(new)]


def _colours_of_groups(job: Job) -> dict[str, int]:
    """Group → the one colour that all of its pieces get; a group of several colours is left out."""
    found: dict[str, set[int]] = {}
    for group, number in rows(job).exclude(group="").values_list("group", "colour_number"):
        found.setdefault(group, set()).add(number)
    return {group: each.pop() for group, each in found.items() if len(each) == 1}
