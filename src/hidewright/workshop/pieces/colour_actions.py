"""A job's colours: another one, another name, one taken off again; and which pieces get which. Each act can be undone."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db import transaction
from django.db.models import F, Max
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.survey.piece import NOT_BY_US
from hidewright.units import counted
from hidewright.workshop.pieces import colour_queries as gather
from hidewright.workshop.pieces.models import JobColour, Piece
from hidewright.workshop.pieces.queries import rows
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.undo import record, undoes


def _clean_name(job: Job, name: str, but: int | None = None) -> str:
    name = name.strip()[:60]
    if not name:
        raise Refusal("The colour needs a name.", where="Name", remedy="Write what you call it, such as Tan.")
    if name.casefold() == NOT_BY_US:
        raise Refusal(f"“{name}” means that somebody else coats it.", where="Name", remedy="Choose another.")
    others = {c.name.casefold() for c in gather.job_colours(job) if c.number != but}
    if name.casefold() in others:
        raise Refusal("This job has a colour of that name.", where="Name", remedy="Choose another.")
    return name


def row_of(job: Job, number: int) -> JobColour:
    """The row of a job's colour, made where there is none yet. Call it inside a transaction."""
    return JobColour.objects.get_or_create(job=job, number=number)[0]


def add_colour(job: Job, name: str) -> JobColour:
    """Give a job another colour; refuses an empty name, one in use, and more colours than anybody can keep apart."""
    with transaction.atomic():
        name = _clean_name(job, name)
        if len(gather.job_colours(job)) >= gather.MOST:
            raise Refusal(f"A job has up to {gather.MOST} colours.", remedy="Split it into several jobs.")
        row_of(job, 0)
        last = JobColour.objects.filter(job=job).aggregate(last=Max("number"))["last"]
        row = JobColour.objects.create(job=job, number=last + 1, name=name)
        record(job, f"Added the colour {name}", undo="colours.remove", undo_with={"row": row.pk})
        return row


def rename_colour(job: Job, number: int, name: str) -> None:
    """Call a colour of a job something else."""
    with transaction.atomic():
        gather.colour_numbered(job, number)
        name = _clean_name(job, name, but=number)
        row = row_of(job, number)
        old, row.name = row.name, name
        row.save(update_fields=["name"])
        record(
            job, f"The colour is called {name}", undo="colours.name", undo_with={"row": row.pk, "name": old}
        )


@undoes("colours.name")
def _name_back(old: dict[str, Any]) -> None:
    JobColour.objects.filter(pk=old["row"]).update(name=old["name"])


def remove_colour(job: Job, number: int) -> None:
    """Take a colour off a job; refuses the first one, and one that pieces still get."""
    with transaction.atomic():
        colour = gather.colour_numbered(job, number)
        if number == 0:
            raise Refusal("A job has at least its first colour.", where=colour.label)
        _refuse_in_use(job, number, colour.label)
        row = row_of(job, number)
        JobColour.objects.filter(pk=row.pk).update(removed=timezone.now())
        record(job, f"Took the colour {row} off", undo="colours.back", undo_with={"row": row.pk})


def _refuse_in_use(job: Job, number: int, label: str) -> None:
    pieces = rows(job).filter(colour_number=number, by_us=True).count()
    if pieces:
        raise Refusal(
            f"{counted(pieces, 'piece')} of the list {'gets' if pieces == 1 else 'get'} it.",
            where=label,
            remedy="Give them another colour first.",
        )


@undoes("colours.back")
def _back(old: dict[str, Any]) -> None:
    JobColour.objects.filter(pk=old["row"]).update(removed=None)


@undoes("colours.remove")
def _remove(old: dict[str, Any]) -> None:
    row = JobColour.objects.get(pk=old["row"])
    _refuse_in_use(row.job, row.number, str(row))
    JobColour.objects.filter(pk=row.pk).update(removed=timezone.now())


def give_colour(job: Job, ids: Sequence[int], number: int | None) -> int:
    """Give pieces one of the job's colours, or with None say that somebody else coats them; returns how many."""
    return give_colours(job, [(ids, number)])


def give_colours(job: Job, given: Sequence[tuple[Sequence[int], int | None]]) -> int:
    """Give several sets of pieces a colour each, as one act; returns how many pieces."""
    with transaction.atomic():
        old: dict[str, dict[str, Any]] = {}
        words = []
        for ids, number in given:
            chosen = list(rows(job).filter(pk__in=ids))
            old |= {str(row.pk): {"colour_number": row.colour_number, "by_us": row.by_us} for row in chosen}
            label = NOT_BY_US if number is None else gather.colour_numbered(job, number).label
            new = {"by_us": False} if number is None else {"by_us": True, "colour_number": number}
            Piece.objects.filter(pk__in=[row.pk for row in chosen]).update(**new, version=F("version") + 1)
            words.append(f"{counted(len(chosen), 'piece')}: {label}")
        if not old:
            raise Refusal("No piece was given another colour.", remedy="Choose what to change first.")
        record(job, "; ".join(words), undo="survey.facts", undo_with={"pieces": old})
        return len(old)


def numbers_for(job: Job, wanted: Iterable[str], *, empty_list: bool) -> Mapping[str, int]:
    """Name as a list of pieces writes it → number of the colour; names that are new become colours of the job.

    Into an `empty_list` whose every piece names its colour, the first name is that of the job's first colour, where that has none yet.
    """
    written = [name.strip() for name in wanted]
    ordered = dict.fromkeys(name for name in written if name and name.casefold() != NOT_BY_US)
    have = {c.name.casefold(): c.number for c in gather.job_colours(job) if c.name}
    if ordered and empty_list and "" not in written and not gather.job_colours(job)[0].name:
        first = next(iter(ordered))
        if first.casefold() not in have:
            JobColour.objects.update_or_create(job=job, number=0, defaults={"name": first[:60]})
            have[first.casefold()] = 0
    for name in ordered:
        if name.casefold() not in have:
            row_of(job, 0)
            last = JobColour.objects.filter(job=job).aggregate(last=Max("number"))["last"]
            have[name.casefold()] = JobColour.objects.create(job=job, number=last + 1, name=name[:60]).number
    if len(have) > gather.MOST:
        raise Refusal(f"A job has up to {gather.MOST} colours.", where="colour")
    return {name: have.get(name.casefold(), 0) for name in written}
