"""Many jobs at once, as rows: each of two pieces, with a cup poured in many small pours and a jar."""

from datetime import date

from django.db import connection

from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shelf.models import MixComponent, MixEntry, MixTurn, MixVessel
from hidewright.workshop.shop.models import Job

ENTRIES, MOVES = 29, 10
"""Entries of a job in the book, and moves in each: 340 jobs make 98,600 moves."""
DAY = date(2026, 3, 2)
POURED = """
    INSERT INTO workshop_mixmove (entry_id, source, target, component, lot, amount)
    SELECT turn.entry_id, 'stock', 'v' || turn.vessel_id, 'base', 'B1', 1000 + each.k
    FROM workshop_mixturn turn CROSS JOIN ({numbers}) each WHERE turn.vessel_id >= %s
"""


def open_jobs(first: int, count: int) -> None:
    """Jobs “Boat N” from number `first` on."""
    MixComponent.objects.get_or_create(key="base", defaults={"name": "Base", "density": 1.0})
    numbers = range(first, first + count)
    jobs = Job.objects.bulk_create(
        Job(name=f"Boat {n}", client=f"Owner {n}", registration=f"R-{n:04d}", starts=DAY) for n in numbers
    )
    Piece.objects.bulk_create(
        Piece(
            job=job, key=f"P{n}{letter}", name="panel", shape="panel", length=1.0, width=width, material="leather", condition="sound"
        )
        for n, job in zip(numbers, jobs, strict=True)
        for letter, width in (("a", 0.5), ("b", 0.4))
    )  # fmt: skip
    plan = {"name": "Tan", "parts": []}
    cups = MixVessel.objects.bulk_create(
        MixVessel(job=job, kind="cup", name=f"Cup {n}", capacity=10**9, turns=ENTRIES, plan=plan)
        for n, job in zip(numbers, jobs, strict=True)
    )
    MixVessel.objects.bulk_create(
        MixVessel(job=job, kind="jar", name=f"Jar {n}", capacity=10**6, kept_on=DAY)
        for n, job in zip(numbers, jobs, strict=True)
    )
    entries = MixEntry.objects.bulk_create(
        MixEntry(job=cup.job, act="pour", text="Poured") for cup in cups for _ in range(ENTRIES)
    )
    MixTurn.objects.bulk_create(
        MixTurn(vessel=cup, entry=entries[place * ENTRIES + seq], seq=seq + 1)
        for place, cup in enumerate(cups)
        for seq in range(ENTRIES)
    )
    each = " UNION ALL ".join(f"SELECT {k} AS k" for k in range(MOVES))
    with connection.cursor() as cursor:
        cursor.execute(POURED.format(numbers=each), [cups[0].pk])
