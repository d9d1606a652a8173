"""Two machines with a worker each share one PostgreSQL: every run is carried out once, and what a dead worker had is not lost for good."""

import json
import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from hidewright.workshop.shop.models import Job, Run, RunState
from hidewright.workshop.shop.runs import LEASE, mark_lost
from workshop import two_workers

RUNS = 12


def started(home: Path, *words: str) -> "subprocess.Popen[str]":
    """The script in a data folder of its own, on the database of this test."""
    address, _, _ = os.environ["DATABASE_URL"].rpartition("/")
    env = {
        **os.environ,
        "HIDEWRIGHT_HOME": str(home),
        "DJANGO_SETTINGS_MODULE": "hidewright.workshop.settings",
        "DATABASE_URL": f"{address}/{connection.settings_dict['NAME']}",
    }
    said = [sys.executable, str(Path(two_workers.__file__)), *words]
    return subprocess.Popen(said, env=env, stdout=subprocess.PIPE, text=True)


def answer(process: "subprocess.Popen[str]") -> Any:
    text, _ = process.communicate(timeout=240)
    assert process.returncode == 0
    return json.loads(text.splitlines()[-1])


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
