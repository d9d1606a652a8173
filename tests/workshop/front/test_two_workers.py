"""Two machines with a worker each share one PostgreSQL: every run is carried out once, and what a dead worker had is not lost for good."""

import subprocess
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.utils import timezone

from hidewright.workshop.shop.models import Job, Run, RunState
from hidewright.workshop.shop.runs import LEASE, mark_lost
from own_shop import answer, script, this_database
from workshop import two_workers

RUNS = 12


def started(home: Path, *said: str) -> "subprocess.Popen[str]":
    """The script in a data folder of its own, on the database of this test."""
    database = this_database(str(connection.settings_dict["NAME"]))
    return script(two_workers.__file__, *said, home=home, database=database)


@pytest.mark.django_db(transaction=True)
def test_two_workers_on_one_postgresql_carry_every_run_out_once(tmp_path: Path) -> None:
    if connection.vendor != "postgresql":
        pytest.skip("a SQLite shop has one worker, held by a lock on its folder")
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    assert len(answer(started(tmp_path / "one", "ask", str(RUNS)))) == RUNS
    workers = [started(tmp_path / name, "work") for name in ("one", "two")]
    for worker in workers:
        answer(worker)
    rows = answer(started(tmp_path / "one", "look"))
    assert [(state, times) for state, _, times in rows] == [(RunState.DONE, 1)] * RUNS
    assert len({worker for _, worker, _ in rows}) == 2, "both had a share of them"


@pytest.mark.django_db
def test_what_a_silent_worker_had_is_lost_after_its_lease_and_not_before(job: Job) -> None:
    now = timezone.now()
    made = {
        name: Run.objects.create(
            job=job, kind="test.slow", state=RunState.RUNNING, worker=f"{name}:1", heard=heard
        )
        for name, heard in (("alive", now), ("silent", now - LEASE - timedelta(seconds=1)))
    }
    assert mark_lost() == 1
    for run in made.values():
        run.refresh_from_db()
    assert made["silent"].state == RunState.LOST
    assert "Start it again" in made["silent"].message
    assert made["alive"].state == RunState.RUNNING
