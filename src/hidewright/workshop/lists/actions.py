"""Bring a list, say what its columns and words mean, take it whole."""

from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.lists.draft import Answers, remembered
from hidewright.lists.grid import Grid
from hidewright.refusals import Refusal
from hidewright.workshop.lists.models import BroughtList, ListWord
from hidewright.workshop.lists.queries import HEADING, Taker, answers_facts, draft, grid_facts
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo_recorded, undoes


def bring(job: Job | None, kind: str, name: str, grid: Grid) -> BroughtList:
    """Keep a list for looking at before it is taken; nothing else changes."""
    return BroughtList.objects.create(job=job, kind=kind, name=name[:120] or "a paste", grid=grid_facts(grid))


def answer(row: BroughtList, taker: Taker, answers: Answers, units: str) -> None:
    """Keep what a person said about a list, and remember what columns and words mean for the next list of the kind."""
    with transaction.atomic():
        row.answers = answers_facts(answers)
        row.save(update_fields=["answers"])
        kept = remembered(draft(row, taker.kind, units), answers)
        words = {(HEADING, heading): value for heading, value in kept.headings.items()} | dict(kept.words)
        for (place, word), value in words.items():
            ListWord.objects.update_or_create(
                kind=row.kind, place=place[:40], word=word[:200], defaults={"value": value[:80]}
            )


def take(row: BroughtList, taker: Taker, *, how: str, fingerprint: str, units: str) -> Act:
    """Take a list that is in order, exactly as it was shown: `fingerprint` is that of the draft on the page."""
    with transaction.atomic():
        if BroughtList.objects.filter(pk=row.pk, taken=None).update(taken=timezone.now()) != 1:
            raise Refusal("This list was taken already.", remedy="Bring it again to take it again.")
        shown = draft(row, taker.kind, units)
        if shown.fingerprint != fingerprint:
            raise Refusal(
                "The list reads otherwise than it was shown.", remedy="Look it over again, then take it."
            )
        shown.values  # noqa: B018 - refuses while something is in the way
        act = taker.take(row.job, shown, how, row.name)
        act.undo_with = {"list": row.pk, "name": act.undo_name, "with": act.undo_with}
        act.undo_name = "lists.take"
        act.save(update_fields=["undo_name", "undo_with"])
        return act


@undoes("lists.take")
def _give_back(data: dict[str, Any]) -> None:
    BroughtList.objects.filter(pk=data["list"]).update(taken=None)
    undo_recorded(data["name"], data["with"])
