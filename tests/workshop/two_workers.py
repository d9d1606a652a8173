"""Runs for two workers on one database, for a test: as a command it asks for runs, or works on them as a worker of its own.

python two_workers.py ask N     asks for N runs, prints their numbers
python two_workers.py work      carries out what waits, then ends
python two_workers.py look      prints each run's state, its worker, and how often it was carried out

The database is that of the settings, the data folder that of the environment: each worker has its own.
"""

import json
import sys
from typing import Any

KIND = "test.slow"


def ask(count: int) -> list[int]:
    """So many runs in the queue."""
    from hidewright.workshop.shop.models import Job
    from hidewright.workshop.shop.runs import start_run

    made = []
    for number in range(count):
        job = Job.objects.create(name=f"Job {number}", starts="2026-03-02")
        made.append(start_run(job, KIND, {"number": number}).pk)
    return made


def work() -> int:
    """Take runs until none waits; each says by whom it was carried out, in a row of its own."""
    import threading

    from django.core.management import call_command

    from hidewright.workshop.shop.models import Device
    from hidewright.workshop.shop.runs import RunHandle, runner, this_worker

    @runner(KIND)
    def slow(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
        Device.objects.create(name=f"run {asked['number']}")
        threading.Event().wait(0.05)
        return {"by": this_worker()}

    call_command("work", batch=True, verbosity=0)
    return 0


def look() -> list[list[Any]]:
    """Each run's state and worker, and how often it was carried out."""
    from hidewright.workshop.shop.models import Device, Run

    return [
        [run.state, run.worker, Device.objects.filter(name=f"run {run.asked['number']}").count()]
        for run in Run.objects.filter(kind=KIND).order_by("pk")
    ]


def main() -> None:
    """Carry out what was asked."""
    import django

    django.setup()
    what = {"ask": lambda: ask(int(sys.argv[2])), "work": work, "look": look}[sys.argv[1]]
    print(json.dumps(what()))


if __name__ == "__main__":
    main()
