"""Every act that can be undone: afterwards all stands as it stood, and an undo that breaks or is refused stays open."""

from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client

from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act
from workshop.frame.test_whole import Breaking, Broken
from workshop.rows import Rows, changes, rows
from workshop.sends import SENDS, address
from workshop.world import World

pytestmark = pytest.mark.django_db

IDENTITY = {"id", "made", "version", "turns", "edits"}
"""Columns that tell one row from another, or only ever grow."""
SET_ASIDE = ("removed", "withdrawn", "struck", "lifted", "aside", "put_away", "finished", "strikes_id")
"""A row with one of these does not count any more."""
LEDGER = {"MixEntry", "MixMove", "MixTurn", "StockMove"}
"""Books in which an undo is a counter-entry: their balance must be as it was."""
APART = {"Act", "Run", "SnagEntry", "JobSummary", "Tap", "SessionDone"}
"""What was done, what was computed, taps with their events and a snag's story are only added to; a summary is worked out again."""
LEFT = {
    "pour_other": {"MixComponent"},
    "own_leftover": {"MixComponent"},
    "like_own_cup": {"Recipe"},
    "crosslink": {"MixComponent", "MixVessel"},
    "settle_route": {"ShopRoute"},
    "settle_route away": {"ShopRoute"},
    "settle_route first": {"ShopRoute"},
}
"""What an undone act leaves on purpose: that the bench knows a component; a recipe that is chosen no more, and in no list; a pot life, which counts only while crosslinker is in the
vessel; the moment at which what is planned with a route last changed."""


def standing(found: Rows) -> dict[str, Counter[Any]]:
    """What counts: rows that are not set aside, whatever their keys, and the balance of the books."""
    struck = {name: {row.get("strikes_id") for row in table.values()} for name, table in found.items()}
    away = {key for key, job in found["Job"].items() if job["put_away"]}
    stands = {
        name: Counter(
            repr([(column, value) for column, value in row.items() if column not in IDENTITY])
            for key, row in table.items()
            if not any(row.get(column) for column in SET_ASIDE)
            and row.get("job_id") not in away
            and row.get("active", True)
            and key not in struck[name]
        )
        for name, table in found.items()
        if name not in LEDGER | APART
    }
    stock: Counter[Any] = Counter()
    for row in found["StockMove"].values():
        stock[row["product_id"], row["lot_id"]] += round(row["millilitres"], 6)
    places: Counter[Any] = Counter()
    for row in found["MixMove"].values():
        places[row["source"], row["component"], row["lot"]] -= row["amount"]
        places[row["target"], row["component"], row["lot"]] += row["amount"]
    return {**stands, "stock": _not_nothing(stock), "places": _not_nothing(places)}


def _not_nothing(book: Counter[Any]) -> Counter[Any]:
    return Counter({key: amount for key, amount in book.items() if amount})


def undone_whole(act: Act) -> list[str]:
    """Undo an act, after breaking each of its writes in turn; what went wrong."""
    faults, before, at = [], rows(), 1
    while True:
        try:
            with connection.execute_wrapper(Breaking(at)):
                acts.undo(act.pk)
        except Broken:
            if changes(before, rows()) or Act.objects.get(pk=act.pk).undone:
                faults.append(f"{act.undo_name}: broken at write {at}, it is half undone")
            at += 1
            continue
        return faults


def test_undone_it_is_as_it_was(world: World, browser: Callable[..., Client]) -> None:
    """One after the other, each on the same rows: so that none of the undo functions is left out."""
    faults: list[str] = []
    seen: set[str] = set()
    for name, send in SENDS.items():
        with transaction.atomic():
            sent, newest = send(world), Act.objects.latest("pk").pk
            before = standing(rows())
            browser().post(address(name, sent), sent[1])
            for act in Act.objects.filter(pk__gt=newest).exclude(undo_name="").order_by("-pk"):
                seen |= {
                    act.undo_name,
                    act.undo_with.get("name", "") if act.undo_name == "lists.take" else "",
                } - {""}
                if not Act.objects.get(pk=act.pk).undone:
                    faults += undone_whole(act)
            done = Act.objects.filter(pk__gt=newest).exclude(undo_name="").exists()
            after = standing(rows())
            faults += [
                f"{name}: {model}: was {before[model] - after[model]}, is {after[model] - before[model]}"
                for model in before
                if done and model not in LEFT.get(name, ()) and before[model] != after[model]
            ]
            transaction.set_rollback(True)
    assert not faults, "\n".join(faults)
    assert seen == acts.undoers(), "no undo function is left out"
