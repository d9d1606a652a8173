"""Two tablets at once lose nothing: on SQLite two processes on one file, on PostgreSQL two threads with connections of their own."""

import subprocess
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, connections

from own_shop import answer, migrated, script
from workshop import hands

WANTED = 40
"""Entries that each writer logs."""


def agreed(found: dict[str, Any], logged: int, wanted: int) -> None:
    """The book holds every entry that a writer was told of, and balances to the microlitre."""
    assert found["entries"] == logged
    assert logged >= wanted
    assert found["balanced"]
    assert not found["below_nothing"]
    assert not found["over"]
    assert found["gapless"]
    assert found["counted"]
    assert not found["spoilt"]
    assert found["stock_follows"], "what left the shelf is what the pours drew, less what was given back"
    assert set(found["acts"]) >= hands.MATTER


@pytest.mark.django_db(transaction=True)
def test_two_threads_on_postgresql_lose_nothing() -> None:
    if connection.vendor != "postgresql":
        pytest.skip("SQLite is tested with two processes on a file, below")
    keys = hands.begin()

    def run(seed: int) -> int:
        try:
            return hands.write(seed, WANTED, keys)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        logged = sum(pool.map(run, (1, 2)))
    agreed(hands.check(), logged, 2 * WANTED)


@pytest.mark.own_sqlite
def test_two_processes_on_one_sqlite_file_lose_nothing(tmp_path: Path) -> None:
    migrated(tmp_path)

    def start(*said: object) -> "subprocess.Popen[str]":
        return script(hands.__file__, *said, home=tmp_path)

    keys = answer(start("begin"))
    writers = [start(seed, WANTED, *keys) for seed in (1, 2)]
    logged = sum(answer(writer) for writer in writers)
    agreed(answer(start("check")), logged, 2 * WANTED)


@pytest.mark.django_db
def test_a_hundred_random_acts_on_rows_balance() -> None:
    keys = hands.begin()
    logged = hands.write(7, 100, keys)
    agreed(hands.check(), logged, 100)
