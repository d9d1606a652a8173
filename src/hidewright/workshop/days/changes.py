"""What was changed since the plan in force was made, so that the page can say that the plan is behind."""

import re
from collections.abc import Callable, Iterator
from datetime import datetime

from django.utils import timezone

from hidewright.dates import short_day
from hidewright.refusals import Refusal
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.queries import coats_of
from hidewright.workshop.days.request_queries import dues, goes_on, hold_words, holds, redos, repairs
from hidewright.workshop.days.rest_queries import milestones, rest_differences
from hidewright.workshop.pieces.models import RouteChoice, ShopRoute
from hidewright.workshop.pieces.queries import named
from hidewright.workshop.pieces.queries import rows as piece_rows
from hidewright.workshop.pieces.route_queries import route_choices
from hidewright.workshop.pieces.zone_queries import zone_texts
from hidewright.workshop.room.changes import differences, room_told
from hidewright.workshop.room.models import DryingSeen
from hidewright.workshop.shop.models import Job

Changes = Callable[[Job], Iterator[str]]
_MORE: list[Changes] = []


def changes_plan(function: Changes) -> Changes:
    """Register what a higher subject knows that a plan in force does not: `function(job)` says it in words."""
    _MORE.append(function)
    return function


def changed_since(job: Job, row: Plan) -> tuple[str, ...]:
    """What the plan does not know of yet, in words; empty when it is up to date."""
    return tuple(dict.fromkeys(_changes(job, row)))


def concerned(job: Job, row: Plan) -> frozenset[str]:
    """The pieces that a new plan may move anyway: those that wait or hurry, or did when `row` was made, or take another route since."""
    asked = [each.piece for each in holds(job) if each.lifted is None or each.lifted > row.made]
    asked += [each.piece for each in dues(job) if each.lifted is None or each.lifted > row.made]
    routed = [choice.piece for choice in route_choices(job) if _chosen_since(choice, row)]
    return frozenset(piece for piece in (*asked, *routed, *_rezoned(job, row)) if piece)


def changed_for_all(job: Job, row: Plan) -> tuple[str, ...]:
    """Of what the plan does not know of yet, what concerns every piece and not only some of them."""
    return tuple(dict.fromkeys(_changes_for_all(job, row)))


def _changes(job: Job, row: Plan) -> Iterator[str]:
    yield from _pieces(job, row)
    for piece in _rezoned(job, row):
        yield f"{named(job, piece)} is coated in other zones"
    yield from _waiting(job, row.made)
    for due in dues(job):
        if due.lifted is None and due.made > row.made:
            yield f"{named(job, due.piece)} must be done by {short_day(due.day)}"
        elif due.lifted is not None and due.made < row.made < due.lifted:
            yield f"{named(job, due.piece)} has no day of its own any more"
    for again in redos(job):
        if again.made > row.made:
            yield f"{named(job, again.piece)} goes again through {', '.join(again.kinds)}"
    for repair in repairs(job):
        if repair.made > row.made:
            yield f"{named(job, repair.piece)}: {repair.name}"
    for more in _MORE:
        yield from more(job)
    for choice in route_choices(job):
        if choice.piece and _chosen_since(choice, row):
            yield f"{named(job, choice.piece)} takes another route"
    yield from _changes_for_all(job, row)


def _chosen_since(choice: RouteChoice, row: Plan) -> bool:
    return choice.made > row.made or (choice.withdrawn is not None and choice.withdrawn > row.made)


def _changes_for_all(job: Job, row: Plan) -> Iterator[str]:
    kept = row.facts.get("coat_figures") or row.facts.get("coats")
    if kept and _coats_kept(kept) != coats_of(job).figures:
        yield f"the litres now count on {coats_of(job).words}"
    if "rest" in row.facts:
        yield from rest_differences(job, row.facts["rest"])
    for each in milestones(job):
        if each.came is None and each.made > row.made:
            yield f"{each.before} waits for {each.what}"
        elif each.came is not None and each.came > row.made:
            yield f"{each.what}: it is there"
    for route in ShopRoute.objects.filter(used__gt=row.made):
        yield f"the route {route} was changed"
    if any(_chosen_since(choice, row) for choice in route_choices(job) if not choice.piece):
        yield "the whole job takes another route"
    yield from _room(job, row)
    seen = DryingSeen.objects.filter(made__gt=row.made).count()
    if seen:
        yield f"{seen} entr{'y' if seen == 1 else 'ies'} about drying"


def _coats_kept(kept: list[int] | str) -> list[int]:
    """Coats of colour, of clear, and 1 where colour is wiped in; a plan of 0.1.0 kept them as a sentence."""
    if isinstance(kept, str):
        colour, clear = (
            int(number) for number in re.findall(r"\d+(?= coats? of colour| of clear)", kept)[:2]
        )
        return [colour, clear, int("wiped in" in kept)]
    return kept


def _room(job: Job, row: Plan) -> Iterator[str]:
    then = row.facts.get("room")
    if not then:
        return
    try:
        now = room_told(job)
    except Refusal as refusal:
        yield refusal.what
        return
    yield from differences(then, now, timezone.localdate())


def _pieces(job: Job, row: Plan) -> Iterator[str]:
    planned = set(row.facts.get("slack") or ())
    if not planned:
        return
    now = set(piece_rows(job).values_list("key", flat=True))
    if now - planned:
        yield f"not planned yet: {_some(job, now - planned)}"
    if planned - now:
        yield f"no longer on the list: {_some(job, planned - now)}"


def _rezoned(job: Job, row: Plan) -> list[str]:
    """The pieces whose zones are not those of the plan."""
    if "zones" not in row.facts:
        return []
    then, now = row.facts["zones"], zone_texts(job)
    planned = row.facts.get("slack") or ()
    return sorted(
        piece for piece in then.keys() | now.keys() if piece in planned and then.get(piece) != now.get(piece)
    )


def _some(job: Job, marks: set[str], most: int = 6) -> str:
    listed = [named(job, mark) for mark in sorted(marks)]
    return ", ".join(listed[:most]) + (f" and {len(listed) - most} more" if len(listed) > most else "")


def _waiting(job: Job, made: datetime) -> Iterator[str]:
    for row in holds(job):
        if row.lifted is None and (row.made > made or goes_on(row) > row.until):
            yield f"{named(job, row.piece)} waits {hold_words(row)}"
        elif row.lifted is not None and row.made < made < row.lifted:
            yield f"{named(job, row.piece)} waits no longer"
