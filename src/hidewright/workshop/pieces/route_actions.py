"""Routes: changed step by step in a draft, taken into use when they make sense, chosen for a job or a piece."""

from collections.abc import Callable, Iterable
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F, Min
from django.utils import timezone
from django.utils.text import slugify

from hidewright.planning.problem.kinds import OWN
from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.route import PLACES, Part, Route, RouteStep, Where, check
from hidewright.planning.problem.rules import FAMILIES
from hidewright.refusals import Refusal
from hidewright.workshop.pieces.models import RouteChoice, ShopRoute
from hidewright.workshop.pieces.queries import rows as piece_rows
from hidewright.workshop.pieces.route_queries import (
    SHIPPED_BY_KEY,
    data_of,
    route_of_data,
    shop_routes,
    step_data,
)
from hidewright.workshop.room.drying_queries import planning_drying
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.undo import record, undoes

Data = dict[str, Any]
OWN_OF_FAMILY = {FAMILIES[kind]: kind for kind in sorted(OWN)}
"""Family of work → the kind of the shop's own steps in it."""


def _row(key: str) -> ShopRoute:
    """The row of a route; one that was never changed gets its row now."""
    if key in SHIPPED_BY_KEY:
        row, _ = ShopRoute.objects.get_or_create(key=key, defaults={"now": data_of(SHIPPED_BY_KEY[key])})
        return row
    found = ShopRoute.objects.filter(key=key, removed=None).first()
    if found is None:
        raise Refusal("There is no such route.", remedy="Choose one of the list.")
    return found


def _change(key: str, version: int, words: str, change: Callable[[Data], Data]) -> None:
    """Change the draft of a route; refuses when somebody changed it since it was shown."""
    with transaction.atomic():
        row = _row(key)
        draft = change(row.draft or row.now)
        route_of_data(key, draft)
        left = None if draft == row.now else draft
        _claim(row, version, draft=left)
        undo_with = {"key": key, "draft": row.draft, "left": left}
        record(None, f"{row}: {words}", undo="routes.draft", undo_with=undo_with)


def _claim(row: ShopRoute, version: int, **changes: Any) -> None:
    changed = ShopRoute.objects.filter(pk=row.pk, version=version, removed=None).update(
        version=F("version") + 1, **changes
    )
    if changed != 1:
        raise Refusal(
            "Somebody changed this route meanwhile, perhaps on another tablet.",
            remedy="Look at it as it is now, then change it again.",
        )


@undoes("routes.draft")
def _draft_back(old: dict[str, Any]) -> None:
    row = _row(old["key"])
    _still(row, row.draft, old["left"])
    ShopRoute.objects.filter(pk=row.pk).update(draft=old["draft"], version=F("version") + 1)


def _still(row: ShopRoute, now: Data | None, left: Data | None) -> None:
    """Refuse an undo that would take back what somebody changed afterwards."""
    if now != left:
        raise Refusal(
            "This route was changed since, perhaps on another tablet.",
            where=str(row),
            remedy="Undo what came after first, or change the route as it is now.",
        )


def _step(data: Data, number: int) -> Data:
    if not 0 <= number < len(data["steps"]):
        raise Refusal("There is no such step.", remedy="Look at the route as it is now.")
    step: Data = data["steps"][number]
    return step


def add_step(
    key: str,
    version: int,
    kind: str,
    part: str,
    at: int | None = None,
    *,
    name: str = "",
    where: str = Where.ALWAYS,
    fixed: float | None = None,
    per_m2: float | None = None,
    dry: float | None = None,
) -> int:
    """Add a step to a part of the route as its number `at` (None: at the end of the part); one of the shop's own has a `name` and minutes. Returns its number."""
    step = RouteStep(Part(part), Kind(kind), Where(where), fixed, per_m2, dry, " ".join(name.split()))
    if step.part not in PLACES[step.kind]:
        places = " or ".join(str(each) for each in PLACES[step.kind])
        raise Refusal(f"“{kind}” cannot come there.", where="Step", remedy=f"Its place is {places}.")
    place = 0

    def change(data: Data) -> Data:
        nonlocal place
        steps = list(data["steps"])
        order = [str(each) for each in Part]
        parts = [order.index(each["part"]) for each in steps]
        mine = order.index(part)
        first = sum(each < mine for each in parts)
        last = first + parts.count(mine)
        place = last if at is None else at
        if not first <= place <= last:
            raise Refusal("There is no such place.", remedy="Look at the route as it is now.")
        steps.insert(place, step_data(step))
        return {**data, "steps": steps}

    _change(key, version, f"added {step.name or kind}", change)
    return place


def own_kind_at(key: str, at: int) -> Kind:
    """The family of work that a step of the shop's own most likely has as number `at`: that of the step before it."""
    row = ShopRoute.objects.filter(key=key, removed=None).first()
    steps = ((row.draft or row.now) if row else data_of(_shipped(key)))["steps"]
    if not steps:
        return Kind.OWN_PREP
    before = Kind(steps[max(0, min(at, len(steps)) - 1)]["kind"])
    return OWN_OF_FAMILY[FAMILIES[before]]


def remove_step(key: str, version: int, number: int) -> None:
    """Take a step out."""

    def change(data: Data) -> Data:
        _step(data, number)
        return {**data, "steps": [s for n, s in enumerate(data["steps"]) if n != number]}

    _change(key, version, "took a step out", change)


def move_step(key: str, version: int, number: int, by: int) -> int:
    """Move a step up (−1) or down (+1) within its part; returns where it is now."""
    to = number + by

    def change(data: Data) -> Data:
        if _step(data, number)["part"] != _step(data, to)["part"]:
            raise Refusal("It is at the end of its part already.")
        steps = list(data["steps"])
        steps[number], steps[to] = steps[to], steps[number]
        return {**data, "steps": steps}

    _change(key, version, "moved a step", change)
    return to


def change_step(
    key: str,
    version: int,
    number: int,
    *,
    where: str,
    fixed: float | None,
    per_m2: float | None,
    dry: float | None,
    name: str = "",
) -> None:
    """Say where a step is done, its minutes of its own, and how long it dries (None: the shop's pace, the products' drying); one of the shop's own keeps its name where none is given."""

    def change(data: Data) -> Data:
        old = _step(data, number)
        label = (" ".join(name.split()) or old["name"]) if old.get("name") else ""
        step = RouteStep(Part(old["part"]), Kind(old["kind"]), Where(where), fixed, per_m2, dry, label)
        return {
            **data,
            "steps": [step_data(step) if n == number else s for n, s in enumerate(data["steps"])],
        }

    _change(key, version, "changed a step", change)


def change_head(
    key: str,
    version: int,
    *,
    name: str,
    materials: Iterable[str],
    conditions: Iterable[str],
    strip: bool | None,
) -> None:
    """Change the name of a route and what it is for."""
    head = {
        "name": name.strip(),
        "materials": sorted(materials),
        "conditions": sorted(conditions),
        "strip": strip,
    }
    _change(key, version, "changed what it is for", lambda data: {**data, **head})


def use(key: str, version: int) -> Route:
    """Take the draft into use: the next plan goes by it. Refuses, all at once, what makes it senseless."""
    with transaction.atomic():
        row = _row(key)
        if row.draft is None:
            raise Refusal("Nothing was changed.", remedy="Change a step first.")
        route = route_of_data(key, row.draft)
        check(route, cure=planning_drying().cure)
        _claim(row, version, now=row.draft, draft=None, used=timezone.now())
        undo_with = {"key": key, "now": row.now, "draft": row.draft, "left": row.draft}
        record(None, f"{route.name}: in use from the next plan on", undo="routes.use", undo_with=undo_with)
        return route


@undoes("routes.use")
def _use_back(old: dict[str, Any]) -> None:
    row = _row(old["key"])
    _still(row, row.now, old["left"])
    ShopRoute.objects.filter(pk=row.pk).update(
        now=old["now"], draft=row.draft or old["draft"], version=F("version") + 1, used=timezone.now()
    )


def throw_away(key: str, version: int) -> None:
    """Throw the draft away; what is in use stays."""
    _change(key, version, "threw the changes away", lambda _: dict(_row(key).now))


def reset(key: str, version: int) -> None:
    """Bring a shipped route back to how it was shipped, in use at once."""
    if key not in SHIPPED_BY_KEY:
        raise Refusal("This route is the shop’s own.", remedy="Take it away instead.")
    with transaction.atomic():
        row = _row(key)
        shipped = data_of(SHIPPED_BY_KEY[key])
        _claim(row, version, now=shipped, draft=None, used=timezone.now())
        undo_with = {"key": key, "now": row.now, "draft": row.draft, "left": shipped}
        record(None, f"{row}: as it was shipped", undo="routes.use", undo_with=undo_with)


def copy(key: str, name: str) -> ShopRoute:
    """Make a route of the shop's own out of another, draft included; it is asked before all others once it is in use."""
    name = name.strip()
    stem = slugify(name)[:50]
    if not stem:
        raise Refusal("The copy needs a name.", where="Name", remedy="Write what it is for.")
    with transaction.atomic():
        source = ShopRoute.objects.filter(key=key, removed=None).first()
        data = (source.draft or source.now) if source else data_of(_shipped(key))
        first = ShopRoute.objects.aggregate(first=Min("order"))["first"] or 0
        try:
            with transaction.atomic():
                row = ShopRoute.objects.create(key=f"own-{stem}", now={**data, "name": name}, order=first - 1)
        except IntegrityError:
            raise Refusal(
                f"There is a route “{name}” already, or there was one.",
                where="Name",
                remedy="Choose another name.",
            ) from None
        check(route_of_data(row.key, row.now), cure=planning_drying().cure)
        record(None, f"Copied a route: {name}", undo="routes.away", undo_with={"key": row.key, "away": True})
        return row


def _shipped(key: str) -> Route:
    if key not in SHIPPED_BY_KEY:
        raise Refusal("There is no such route.", remedy="Choose one of the list.")
    return SHIPPED_BY_KEY[key]


def take_away(key: str) -> None:
    """Take a route of the shop's own away; pieces that took it go by the list again."""
    if key in SHIPPED_BY_KEY:
        raise Refusal("A route that came with it stays.", remedy="Copy it and change the copy.")
    with transaction.atomic():
        row = _row(key)
        if ShopRoute.objects.filter(pk=row.pk, removed=None).update(
            removed=timezone.now(), used=timezone.now()
        ):
            undo_with = {"key": key, "away": False}
            record(None, f"Took away the route {row}", undo="routes.away", undo_with=undo_with)


@undoes("routes.away")
def _away_back(old: dict[str, Any]) -> None:
    removed = timezone.now() if old["away"] else None
    ShopRoute.objects.filter(key=old["key"]).update(removed=removed, used=timezone.now())


def ask_first(key: str) -> None:
    """Let a route of the shop's own be asked before all others."""
    with transaction.atomic():
        row = _row(key)
        first = ShopRoute.objects.aggregate(first=Min("order"))["first"] or 0
        ShopRoute.objects.filter(pk=row.pk).update(order=first - 1, used=timezone.now())
        undo_with = {"key": key, "order": row.order}
        record(None, f"{row} is asked first", undo="routes.order", undo_with=undo_with)


@undoes("routes.order")
def _order_back(old: dict[str, Any]) -> None:
    ShopRoute.objects.filter(key=old["key"]).update(order=old["order"], used=timezone.now())


def choose(job: Job, marks: Iterable[str], key: str) -> None:
    """Let these pieces of a job (or with "" all of them) take a route; an empty key gives them back to the shop's list."""
    wanted = list(dict.fromkeys(marks))
    if not wanted:
        raise Refusal("Which pieces?", remedy="Choose at least one.")
    known = {route.key: route.name for route in shop_routes()}
    if key and key not in known:
        raise Refusal("There is no such route.", remedy="Choose one of the list.")
    have = set(piece_rows(job).values_list("key", flat=True))
    strange = [mark for mark in wanted if mark and mark not in have]
    if strange:
        raise Refusal("There is no such piece.", where=strange[0], remedy="Choose one of the list.")
    with transaction.atomic():
        old = list(RouteChoice.objects.filter(job=job, piece__in=wanted, withdrawn=None))
        RouteChoice.objects.filter(pk__in=[row.pk for row in old]).update(withdrawn=timezone.now())
        if key:
            RouteChoice.objects.bulk_create(RouteChoice(job=job, piece=mark, route=key) for mark in wanted)
        whose = "All pieces" if "" in wanted else ", ".join(wanted[:4]) + (" …" if len(wanted) > 4 else "")
        told = f"{whose}: {known[key]}" if key else f"{whose}: by the shop’s list again"
        undo_with = {"job": job.pk, "pieces": wanted, "routes": {row.piece: row.route for row in old}}
        record(job, told, undo="routes.choose", undo_with=undo_with)


@undoes("routes.choose")
def _choose_back(old: dict[str, Any]) -> None:
    now = RouteChoice.objects.filter(job_id=old["job"], piece__in=old["pieces"], withdrawn=None)
    now.update(withdrawn=timezone.now())
    RouteChoice.objects.bulk_create(
        RouteChoice(job_id=old["job"], piece=piece, route=route) for piece, route in old["routes"].items()
    )
