"""The rest of the job: changing what every job takes besides coating, and what a job waits for."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.text import slugify

from hidewright.dates import short_day
from hidewright.planning.problem.milestones import Before
from hidewright.planning.problem.rest import Per, When
from hidewright.refusals import Refusal
from hidewright.workshop.days.models import Milestone, OtherWork
from hidewright.workshop.days.rest_queries import BY_KEY, item_of, rest_items, version
from hidewright.workshop.pieces.queries import rows as piece_rows
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.undo import record, undoes

Minutes = tuple[float, float, int]
"""Minutes each time, minutes more for every piece, days to wait for others."""
DAILY = {When.MORNING, When.EVENING}


def set_rest(wanted: Mapping[str, Minutes], seen: int) -> int:
    """Set minutes of lines of the list, in one act; `seen` is the version that was shown. Returns how many lines changed; refuses when somebody changed the list since."""
    with transaction.atomic():
        if version() != seen:
            raise Refusal(
                "Somebody changed this list meanwhile, perhaps on another tablet.",
                remedy="Look at it as it is now, then change it again.",
            )
        now = {item.key: item for item in rest_items()}
        changed = {
            key: found
            for key, found in wanted.items()
            if key in now and (now[key].minutes, now[key].each, now[key].days) != found
        }
        if not changed:
            raise Refusal("Nothing was changed.", remedy="Write other minutes first.")
        old = {key: _kept(key) for key in changed}
        for key, found in changed.items():
            _write(key, found)
        names = ", ".join(f"{now[key].name} {found[0]:g} min" for key, found in changed.items())
        record(
            None, f"What else a job takes: {names}", undo="rest.set", undo_with={"old": old, "left": changed}
        )
    return len(changed)


def _kept(key: str) -> Minutes | None:
    row = OtherWork.objects.filter(key=key, removed=None).first()
    return (row.minutes, row.each, row.days) if row else None


def _write(key: str, found: Minutes) -> None:
    minutes, each, days = found
    row = OtherWork.objects.filter(key=key).first()
    if row is None:
        start = BY_KEY[key]
        row = OtherWork(key=key, name=start.name, per=str(start.per), when=str(start.when))
    row.minutes, row.each, row.days, row.removed = minutes, each, days, None
    row.version += 1
    item_of(row)
    row.save()


@undoes("rest.set")
def _set_back(old: dict[str, Any]) -> None:
    for key, found in old["old"].items():
        if _kept(key) != tuple(old["left"][key]):
            raise Refusal(
                "This was changed since, perhaps on another tablet.",
                where=key,
                remedy="Change the list as it is now.",
            )
        if found is None:
            OtherWork.objects.filter(key=key).update(removed=timezone.now(), version=F("version") + 1)
        else:
            _write(key, tuple(found))


def add_rest(name: str, when: str, per: str, minutes: float) -> OtherWork:
    """Add a line of the shop's own; refuses a name that is on the list, and what cannot be."""
    name = " ".join(name.split())
    if name.lower() in {item.name.lower() for item in rest_items()}:
        raise Refusal("This is on the list already.", where="name", remedy="Change its minutes there.")
    moment = When(when)
    often = Per.COLOUR if moment is When.COLOUR else Per.DAY if moment in DAILY else Per(per)
    with transaction.atomic():
        key = _free_key(slugify(name)[:50] or "work")
        row = OtherWork(key=key, name=name, per=str(often), when=str(moment), minutes=minutes, version=1)
        item_of(row)
        row.save()
        record(
            None,
            f"What else a job takes: {name} added",
            undo="rest.there",
            undo_with={"id": row.pk, "there": False},
        )
    return row


def _free_key(key: str) -> str:
    taken = {*BY_KEY, *OtherWork.objects.values_list("key", flat=True)}
    found, number = key, 1
    while found in taken:
        number += 1
        found = f"{key}-{number}"
    return found


def remove_rest(row: OtherWork) -> None:
    """Take a line of the shop's own off the list, or give a line its starting value back."""
    with transaction.atomic():
        _listed(row.pk, listed=False)
        words = f"{row.name}: the usual figure again" if row.key in BY_KEY else f"{row.name} taken off"
        record(
            None,
            f"What else a job takes: {words}",
            undo="rest.there",
            undo_with={"id": row.pk, "there": True},
        )


def _listed(pk: int, *, listed: bool) -> None:
    changed = OtherWork.objects.filter(pk=pk, removed__isnull=not listed).update(
        removed=None if listed else timezone.now(), version=F("version") + 1
    )
    if changed != 1:
        raise Refusal("This was changed since.", remedy="Look at the list as it is now.")


@undoes("rest.there")
def _listed_back(old: dict[str, Any]) -> None:
    _listed(old["id"], listed=old["there"])


def add_milestone(job: Job, what: str, before: str, day: date, group: str = "") -> Milestone:
    """Let the job, or the pieces of a group, wait for something that others do by a day; can be undone."""
    what = " ".join(what.split())
    if not what:
        raise Refusal(
            "What is it that you wait for?", where="what", remedy="Such as: the owner approves the sample."
        )
    if group and group not in set(piece_rows(job).values_list("group", flat=True)):
        raise Refusal("There are no such pieces.", where="group", remedy="Choose some of the list.")
    with transaction.atomic():
        row = Milestone.objects.create(
            job=job, what=what[:80], before=str(Before(before)), group=group, day=day
        )
        record(
            job,
            f"Waits for: {what}, {short_day(day)}",
            undo="rest.milestone",
            undo_with={"id": row.pk, "what": "lifted"},
        )
    return row


def milestone_came(row: Milestone) -> None:
    """It is there: nothing waits for it any more."""
    with transaction.atomic():
        if Milestone.objects.filter(pk=row.pk, came=None, lifted=None).update(came=timezone.now()):
            record(
                row.job,
                f"{row.what}: it is there",
                undo="rest.milestone",
                undo_with={"id": row.pk, "what": "waits"},
            )


def lift_milestone(row: Milestone) -> None:
    """Take it off the list."""
    with transaction.atomic():
        if Milestone.objects.filter(pk=row.pk, lifted=None).update(lifted=timezone.now()):
            record(
                row.job,
                f"{row.what}: not waited for",
                undo="rest.milestone",
                undo_with={"id": row.pk, "what": "listed"},
            )


@undoes("rest.milestone")
def _milestone_back(old: dict[str, Any]) -> None:
    now: dict[str, dict[str, Any]] = {
        "lifted": {"lifted": timezone.now()},
        "waits": {"came": None},
        "listed": {"lifted": None},
    }
    Milestone.objects.filter(pk=old["id"]).update(**now[old["what"]])
