"""The list of pigments: what it can hold (common practice, no source), and how it is taken: known ones (by key) are changed, the others are added."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from hidewright.lists.cells import CellRefusal
from hidewright.lists.draft import Draft
from hidewright.lists.kinds import ListKind, Meaning, Sort
from hidewright.refusals import Refusal
from hidewright.sheets import Row
from hidewright.workshop.lists.queries import Prospect, Taker, added_and_changed, takes
from hidewright.workshop.pigments.actions import facts_of_row, list_pigments
from hidewright.workshop.shelf.models import Pigment
from hidewright.workshop.shop.models import Act, Job

_INDEX = re.compile(r"\bP(?:W|Y|O|R|V|B|G|Br|Bk|Bl|M)\s?\d{1,3}(?::\d)?\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Listed:
    """A pigment of a list: its key and its facts as the shop keeps them."""

    key: str
    facts: Mapping[str, Any]


def _completed(rows: tuple[Row, ...]) -> tuple[Row, ...]:
    """The rows, those without a key given one: the Colour Index name that stands in the row, else the name in capitals."""
    return tuple(_with_key(row) for row in rows)


def _with_key(row: Row) -> Row:
    index = _INDEX.search(f"{row.get('index')} {row.get('name')}")
    named = re.sub(r"[^\w]+", "-", row.get("name")).strip("-").upper()[:40]
    return Row(
        row.line, {**row.cells, "key": row.get("key") or (index[0].replace(" ", "") if index else named)}
    )


def _one(row: Row) -> tuple[Listed, ...]:
    key = row.get("key")
    if key and re.search(r"[\s=]", key):
        raise CellRefusal(
            "A key is one word.", where="key", remedy="Such as PW6.", proposal=re.sub(r"[\s=]+", "-", key)
        )
    return (Listed(*facts_of_row(row)),)


def _twice(made: tuple[tuple[int, Listed], ...]) -> tuple[tuple[int, Refusal], ...]:
    first: dict[str, int] = {}
    return tuple(
        (
            line,
            CellRefusal(
                f"{each.key} is on line {first[each.key]} too.",
                where="key",
                remedy="Give each its own key, or leave one out.",
                proposal=f"{each.key}-{line}",
            ),
        )
        for line, each in made
        if first.setdefault(each.key, line) != line
    )


PIGMENTS = ListKind(
    "pigments",
    "pigments",
    "pigment",
    (
        Meaning("key", "Key", words=("code", "id", "sku", "no", "nr", "abbreviation", "kürzel")),
        Meaning("name", "Name", words=("pigment", "colour", "color", "paste", "toner", "tint", "description", "farbe"), must=True),
        Meaning("index", "Colour Index name", words=("ci", "c i", "colour index", "color index", "generic name")),
        Meaning("density", "Density, g/mL", Sort.NUMBER, ("specific gravity", "sg", "dichte", "g/ml", "kg/l")),
        Meaning("solids", "Stays when dry", Sort.SHARE, ("volume solids", "solids by volume", "festkörper")),
        Meaning("price_per_litre", "Price of a litre", Sort.MONEY, ("price", "price per litre", "price/l", "cost per litre", "preis", "preis/l")),
        Meaning("note", "Note", words=("notes", "remark", "comment", "bemerkung")),
    ),
    one=_one,
    completed=_completed,
    together=_twice,
)  # fmt: skip
"""The list of pigments."""


def _take(job: Job | None, draft: Draft, how: str, name: str) -> Act:
    return list_pigments({each.key: each.facts for each in draft.values}, name)


def _prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    known = Pigment.objects.filter(key__in=[each.key for each in draft.values], active=True).count()
    return added_and_changed(len(draft.values), known, "pigment")


takes(Taker(PIGMENTS, of_job=False, to="pigments", take=_take, prospect=_prospect))
