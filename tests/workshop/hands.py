"""Random hands at the bench's rows, for tests of several writers at once; run as a command it is one writer of its own.

python hands.py SEED WANTED VESSEL…      in the home named by HIDEWRIGHT_HOME; prints how many entries it logged
python hands.py begin                    makes a job with vessels there; prints their keys
python hands.py check                    prints what the book says as JSON
"""

import json
import random
import sys
from collections.abc import Sequence
from typing import Any

PARTS = ("base", "PW6", "PBr7")
MATTER = {"pour", "split", "counter", "discard"}
"""Kinds of act that a run must have logged to have tried anything."""


def begin() -> list[int]:
    """A job with two cups, a gun load and a jar, all of 2 L; gives their keys."""
    from datetime import date

    from hidewright.mixing import MixPart, MixRecipe
    from hidewright.takeoff.products import Product, Role
    from hidewright.workshop.front.job_actions import open_job
    from hidewright.workshop.shelf import actions as products
    from hidewright.workshop.shelf import vessel_actions as steps
    from hidewright.workshop.shelf.models import MixVessel

    products.add_product(Product("clear", "Clear base", Role.BASE))
    products.add_product(Product("linker", "Linker", Role.CROSSLINKER, ratio=0.03, pot_life=240))
    job = open_job("Two writers", starts=date(2026, 3, 2))
    recipe = MixRecipe("Any", tuple(MixPart(key, key, 1 / 3, 1.2) for key in PARTS))
    cups = [steps.begin_cup(job, recipe, 1500, capacity=2000).pk for _ in range(2)]
    others = [
        MixVessel.objects.create(job=job, kind=kind, name=kind, capacity=2_000_000).pk
        for kind in ("portion", "jar")
    ]
    return [*cups, *others]


def write(seed: int, wanted: int, keys: Sequence[int]) -> int:
    """Random acts until `wanted` of them were logged and every kind that matters has come up; gives how many were logged.

    Many are refused (a crosslinked cup takes no pigment), and how many depends on what the other writer did meanwhile: so it is
    counted what was logged, not what was tried. It gives up after thirty times as many tries.
    """
    from hidewright.refusals import Refusal
    from hidewright.workshop.shelf.models import MixEntry

    hands = random.Random(seed)
    logged = 0
    for number in range(30 * wanted):
        seen = set(MixEntry.objects.values_list("act", flat=True)) if logged >= wanted else set()
        if seen >= MATTER:
            break
        try:
            done = _one(hands, keys, f"{seed}-{number}")
        except Refusal:
            continue
        logged += bool(done and done.fresh)
    return logged


def _one(hands: random.Random, keys: Sequence[int], token: str) -> Any:
    from hidewright.mixing import acts as bench
    from hidewright.workshop.bench import load_actions as portions
    from hidewright.workshop.shelf import vessel_actions as steps
    from hidewright.workshop.shelf.models import MixEntry, MixVessel

    a, b = (MixVessel.objects.get(pk=pk) for pk in hands.sample(list(keys), 2))
    amount = hands.randint(1, 90_000)
    choice = hands.choice(
        ["pour", "pour", "pour", "split", "split", "box", "crosslink", "use", "discard", "jar", "counter"]
    )
    if choice == "pour":
        part = hands.choice(PARTS)
        done = steps.pour(a, part, amount, token=token)
        if hands.random() < 0.3:
            assert not steps.pour(a, part, amount, token=token).fresh
        return done
    if choice == "split":
        return steps.log([a, b], lambda book: bench.split(book, a.key, b.key, amount), "split", token=token)
    if choice == "jar":
        return steps.log([a, b], lambda book: bench.to_jar(book, a.key, b.key, amount), "jar", token=token)
    if choice == "box":
        return portions.box([a], b, token=token)
    if choice == "crosslink":
        return portions.crosslink(a, "Linker", 0.03, 240, token=token)
    if choice == "use":
        return portions.use(a, amount / 1000, token=token)
    if choice == "discard":
        return portions.discard(a, amount / 100, token=token)
    newest = MixEntry.objects.exclude(act="counter").order_by("-pk").first()
    return steps.take_back(newest.pk, token=token) if newest else None


def check() -> dict[str, Any]:
    """What the book says: entries, whether every sequence is without gaps, whether the volumes balance, whether any jar is spoilt."""
    from django.db.models import Sum

    from hidewright.mixing import SPRAYED, STOCK, WASTE
    from hidewright.mixing.ledger import contents, crosslinked_since, volume
    from hidewright.workshop.shelf import vessel_queries as gather
    from hidewright.workshop.shelf.models import MixEntry, MixTurn, MixVessel, StockMove

    rows = list(MixVessel.objects.all())
    book = gather.ledger_of(rows)
    total: dict[Any, int] = {}
    least = 0
    for place in (*(row.key for row in rows), SPRAYED, WASTE):
        for content, amount in contents(book, place).items():
            least = min(least, amount)
            total[content] = total.get(content, 0) + amount
    taken = {content: -amount for content, amount in contents(book, STOCK).items()}
    drawn = {
        key: -round(
            1000 * (StockMove.objects.filter(product__key=key).aggregate(ml=Sum("millilitres"))["ml"] or 0)
        )
        for key in ("clear", "linker")
    }
    out = {
        "clear": sum(v for (part, _), v in taken.items() if part == "base"),
        "linker": sum(v for (part, _), v in taken.items() if part == "crosslinker:linker"),
    }
    sequences = [list(MixTurn.objects.filter(vessel=row).values_list("seq", flat=True)) for row in rows]
    return {
        "entries": MixEntry.objects.count(),
        "acts": sorted(set(MixEntry.objects.values_list("act", flat=True))),
        "balanced": {k: v for k, v in total.items() if v} == taken,
        "below_nothing": least < 0,
        "over": [row.pk for row in rows if volume(book, row.key) > row.capacity],
        "gapless": all(found == list(range(1, len(found) + 1)) for found in sequences),
        "counted": all(row.turns == len(found) for row, found in zip(rows, sequences, strict=True)),
        "stock_follows": drawn == out and out["clear"] > 0,
        "spoilt": [row.pk for row in rows if row.kind == "jar" and crosslinked_since(book, row.key)],
    }


def main() -> None:
    """Carry out what was asked."""
    import django

    django.setup()
    if sys.argv[1] == "begin":
        print(json.dumps(begin()))
    elif sys.argv[1] == "check":
        print(json.dumps(check()))
    else:
        seed, wanted, *keys = (int(word) for word in sys.argv[1:])
        print(json.dumps(write(seed, wanted, keys)))


if __name__ == "__main__":
    main()
