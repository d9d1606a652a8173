"""Under which keys the rows of a closing file go into a shop.

A row keeps its key where that is free. What the shop knows by a name of its own (a person, product, pigment, lot, route) is taken as it
is here. Where a key is taken by something else the row gets the next free one, and what points to it follows, the books of pours too.
Acts of the other shop cannot be undone here. What a session took off the shop's stock stays with that shop: stock is no part of a job.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import models

from hidewright.workshop.front.copy_file import row_line
from hidewright.workshop.pieces.models import ShopRoute
from hidewright.workshop.shelf.models import (
    MixComponent,
    MixMove,
    MixVessel,
    Pigment,
    PigmentLot,
    Product,
    ProductLot,
)
from hidewright.workshop.shop.models import LIVE, Act, Person, Run, RunState

Model = type[models.Model]
Keys = dict[Model, dict[Any, Any]]
NAMES: Mapping[Model, tuple[str, ...]] = {
    Person: ("key",),
    Product: ("key",),
    Pigment: ("key",),
    MixComponent: ("key",),
    ShopRoute: ("key",),
    PigmentLot: ("pigment", "name"),
    ProductLot: ("product", "name"),
}
"""Table → what tells its rows apart in every shop; what they point to comes before them here."""
LINKED = "linked"
"""Under which name a row carries the keys of the file that several rows share with it."""


def place(rows: Iterable[models.Model]) -> Keys:
    """Save the rows, all in the transaction that is open; returns the key of each here by its key in the file."""
    by_model: dict[Model, list[models.Model]] = {}
    for row in rows:
        by_model.setdefault(type(row), []).append(row)
    keys: Keys = {}
    known: set[tuple[Model, Any]] = set()
    for model in sorted(by_model, key=lambda one: list(NAMES).index(one) if one in NAMES else -1):
        keys[model] = _keys(model, by_model[model], keys, known)
    placed: list[models.Model] = []
    moved = any(old != new for found in keys.values() for old, new in found.items())
    for model, listed in by_model.items():
        for row in listed:
            if (model, row.pk) not in known:
                _save(row, keys, moved=moved)
                placed.append(row)
    for row in placed:
        _link(row, keys)
    return keys


def _link(row: models.Model, keys: Keys) -> None:
    """Hang on the row what several rows share with it, of what came along; `bring_actions` keeps the keys of the file with it."""
    for name, old in getattr(row, LINKED, {}).items():
        model: Model = row._meta.get_field(name).related_model  # type: ignore[assignment]
        here = keys.get(model, {})
        getattr(row, name).set([here[key] for key in old if key in here])


def _keys(
    model: Model, rows: list[models.Model], keys: Keys, known: set[tuple[Model, Any]]
) -> dict[Any, Any]:
    here = {row.pk: row for row in model._default_manager.filter(pk__in=[row.pk for row in rows])}
    newest = model._default_manager.order_by("-pk").values_list("pk", flat=True).first()
    found: dict[Any, Any] = {}
    following = max([row.pk for row in rows] + [newest or 0]) if isinstance(rows[0].pk, int) else 0
    for row in rows:
        same = _known(model, row, keys) if model in NAMES else None
        if same is not None:
            found[row.pk] = same
            known.add((model, row.pk))
        elif row.pk not in here:
            found[row.pk] = row.pk
        elif row_line(here[row.pk]) == row_line(row):
            found[row.pk] = row.pk
            known.add((model, row.pk))
        else:
            following += 1
            found[row.pk] = following
    return found


def _known(model: Model, row: models.Model, keys: Keys) -> Any:
    """The key under which the shop knows such a row; None where it does not."""
    told = {}
    for name in NAMES[model]:
        one = model._meta.get_field(name)
        value = getattr(row, one.attname)  # type: ignore[union-attr]
        if isinstance(one, models.ForeignKey):
            value = keys.get(one.related_model, {}).get(value, value)
        told[one.attname] = value  # type: ignore[union-attr]
    return model._default_manager.filter(**told).values_list("pk", flat=True).first()


def _save(row: models.Model, keys: Keys, *, moved: bool) -> None:
    for one in row._meta.local_concrete_fields:
        if isinstance(one, models.ForeignKey):
            value = getattr(row, one.attname)
            setattr(row, one.attname, keys.get(one.related_model, {}).get(value, value))
    row.pk = keys[type(row)][row.pk]
    if isinstance(row, MixMove):
        row.source, row.target = (_place(text, keys) for text in (row.source, row.target))
    if isinstance(row, Act) and moved:
        row.undo_name, row.undo_with = "", {}
    if isinstance(row, Run) and row.state in LIVE:
        row.state, row.message = RunState.LOST, "It was at work when the file was written."
    row.save_base(raw=True)


def _place(text: str, keys: Keys) -> str:
    """A place in the book of pours: “v12” is a vessel."""
    number = text[1:]
    if not text.startswith("v") or not number.isdigit():
        return text
    return f"v{keys.get(MixVessel, {}).get(int(number), number)}"
