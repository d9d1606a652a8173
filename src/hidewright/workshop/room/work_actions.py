"""Changing how the work goes in the room; one undo takes it back."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.db.models import F

from hidewright.refusals import Refusal
from hidewright.workshop.room.models import RoomRules, WorkTable
from hidewright.workshop.room.work_queries import WORK_RULES
from hidewright.workshop.shop.undo import record, undoes


def set_work_rules(numbers: Mapping[str, int], airs: Mapping[int, str], version: int) -> None:
    """Set the rules by their names, and the air over tables by their row (empty: the air that all others share); refuses what cannot be, and when somebody changed the rules meanwhile."""
    kept = {rule.name: numbers[rule.name] for rule in WORK_RULES if numbers[rule.name] != rule.usual}
    for rule in WORK_RULES:
        if not rule.least <= numbers[rule.name] <= rule.most:
            raise Refusal(
                f"{numbers[rule.name]} cannot be.",
                where=rule.words,
                remedy=f"Enter {rule.least} to {rule.most}.",
            )
    named = {pk: " ".join(air.split()) for pk, air in airs.items()}
    with transaction.atomic():
        rules, _ = RoomRules.objects.get_or_create(pk=1)
        now = dict(WorkTable.objects.filter(pk__in=named).values_list("pk", "air"))
        changed = RoomRules.objects.filter(pk=1, version=version).update(work=kept, version=F("version") + 1)
        if changed != 1:
            raise Refusal("Somebody changed the rules meanwhile.", remedy="Reload the page and look again.")
        other = {pk: air for pk, air in named.items() if pk in now and now[pk] != air}
        _set_airs(other)
        old = {"work": rules.work, "airs": {str(pk): now[pk] for pk in other}}
        record(None, "Changed how the work goes", undo="room.work", undo_with=old)


def _set_airs(airs: Mapping[int, str]) -> None:
    for pk, air in airs.items():
        WorkTable.objects.filter(pk=pk).update(air=air, version=F("version") + 1)


@undoes("room.work")
def _work_back(old: dict[str, Any]) -> None:
    RoomRules.objects.filter(pk=1).update(work=old["work"], version=F("version") + 1)
    _set_airs({int(pk): air for pk, air in old["airs"].items()})
