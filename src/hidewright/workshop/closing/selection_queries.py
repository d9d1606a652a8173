"""Which rows belong to a job, and which they stand on: found by walking the models, so that a new table comes along by itself.

A row belongs to the job when its chain of owners (fields whose rows go with their owner) ends at the job. What such rows point to is
what they stand on: people, products, colours, readings of other jobs. Products, pigments and lots that are named by key in the books come too.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import models

from hidewright.workshop.account.models import Claim
from hidewright.workshop.approvals.models import Agreement
from hidewright.workshop.colours.models import Recipe
from hidewright.workshop.front.copy_file import tables
from hidewright.workshop.pieces.models import RouteChoice, ShopRoute
from hidewright.workshop.shelf.models import MixComponent, MixMove, Pigment, PigmentLot, Product, ProductLot
from hidewright.workshop.shop.models import Device, Job, JobSummary, Person, Role, Shop

Model = type[models.Model]
NEVER: frozenset[Model] = frozenset({JobSummary, Shop})
"""What is worked out again, and the shop's own settings."""
FILE = re.compile(r"\b[0-9a-f]{32}\.(?:jpg|pdf)\b")
APART = frozenset({(Claim, "touch_up")})
"""Fields that lead to a job with a closing file of its own: not followed, and empty in the file."""
OWNERS = frozenset({(Agreement, "sheet")})
"""Fields that keep what they point to from being erased, and all the same say to whom the row belongs."""
ANOTHER_JOB = "Another job of that shop"


@dataclass
class Selection:
    """The rows by table: those that belong to the job, and those they stand on; by key."""

    job: Job
    owned: dict[Model, dict[Any, models.Model]] = field(default_factory=dict)
    below: dict[Model, dict[Any, models.Model]] = field(default_factory=dict)

    def rows(self, model: Model) -> list[models.Model]:
        """The rows of one table by key, those it stands on too."""
        found = {**self.below.get(model, {}), **self.owned.get(model, {})}
        return [found[key] for key in sorted(found)]

    def has(self, model: Model, key: Any) -> bool:
        """Whether a row is in it already."""
        return key in self.owned.get(model, {}) or key in self.below.get(model, {})


def selection(job: Job) -> Selection:
    """The rows of one job and what they stand on, as they are now."""
    found = Selection(job, owned={Job: {job.pk: job}})
    _own(found)
    for model, name in APART:
        for row in found.owned.get(model, {}).values():
            setattr(row, name, None)
    waiting = [row for rows in found.owned.values() for row in rows.values()]
    waiting += _add(found, _named(found))
    while waiting:
        waiting = _add(found, _pointed_at(found, waiting))
    _without_secrets(found)
    return found


def owning_fields(model: Model) -> Iterator[models.ForeignKey[Any, Any]]:
    """The fields of a table whose rows go with what they point to; and any that points to a job itself."""
    for one in model._meta.local_concrete_fields:
        if not isinstance(one, models.ForeignKey) or (model, one.name) in APART:
            continue
        owns = one.remote_field.on_delete is models.CASCADE or one.related_model is Job
        if owns or (model, one.name) in OWNERS:
            yield one


def _own(found: Selection) -> None:
    """Follow owners until nothing is added."""
    grew = True
    while grew:
        grew = False
        for model in tables():
            if model in NEVER:
                continue
            kept = found.owned.setdefault(model, {})
            for one in owning_fields(model):
                owners = found.owned.get(one.related_model, {})
                if not owners:
                    continue
                rows = model._default_manager.filter(**{f"{one.name}__in": list(owners)})
                for row in rows.exclude(pk__in=list(kept)):
                    kept[row.pk], grew = row, True


def _add(found: Selection, rows: Iterable[models.Model]) -> list[models.Model]:
    """Take rows in that are not there yet, as what the job stands on."""
    added = []
    for row in rows:
        if type(row) not in NEVER and not found.has(type(row), row.pk):
            found.below.setdefault(type(row), {})[row.pk] = row
            added.append(row)
    return added


def _pointed_at(found: Selection, rows: Iterable[models.Model]) -> Iterator[models.Model]:
    """What these rows point to and is not in it yet."""
    wanted: dict[Model, set[Any]] = {}
    for row in rows:
        for one in row._meta.local_concrete_fields:
            key = getattr(row, one.attname)
            if isinstance(one, models.ForeignKey) and key is not None:
                target: Model = one.related_model
                if not found.has(target, key):
                    wanted.setdefault(target, set()).add(key)
    for model, keys in wanted.items():
        yield from model._default_manager.filter(pk__in=keys)


def _named(found: Selection) -> Iterator[models.Model]:
    """What the books name by key: components, pigments, products, their lots, routes."""
    moves = found.owned.get(MixMove, {}).values()
    components = {move.component for move in moves}  # type: ignore[attr-defined]
    lots = {move.lot for move in moves if move.lot}  # type: ignore[attr-defined]
    for recipe in found.owned.get(Recipe, {}).values():
        components |= {str(part["key"]) for part in recipe.data.get("parts", ())}  # type: ignore[attr-defined]
    yield from MixComponent.objects.filter(key__in=components)
    yield from Pigment.objects.filter(key__in=components)
    yield from Product.objects.filter(key__in=components)
    yield from PigmentLot.objects.filter(name__in=lots, pigment__key__in=components)
    yield from ProductLot.objects.filter(name__in=lots, product__key__in=components)
    routes = {row.route for row in found.owned.get(RouteChoice, {}).values()}  # type: ignore[attr-defined]
    yield from ShopRoute.objects.filter(key__in=routes)


def _without_secrets(found: Selection) -> None:
    """Another job that a colour stands on goes along as a name only; nobody's role or PIN goes along."""
    for job in found.below.get(Job, {}).values():
        for name, value in (("name", ANOTHER_JOB), ("client", ""), ("registration", ""), ("notes", "")):
            setattr(job, name, value)
    for rows in (found.owned, found.below):
        for person in rows.get(Person, {}).values():
            person.secret, person.role = "", Role.BENCH  # type: ignore[attr-defined]
        for device in rows.get(Device, {}).values():
            device.shut_out = device.shut_out or device.let_in  # type: ignore[attr-defined]


def files_of(lines: Iterable[bytes]) -> list[str]:
    """The names of the pictures and papers that rows name, each once."""
    return sorted({name for line in lines for name in FILE.findall(line.decode())})


def counts(found: Selection) -> Mapping[str, int]:
    """Table → how many rows of it are in."""
    return {str(model._meta.model_name): len(rows) for model in tables() if (rows := found.rows(model))}
