"""The app: writers that meet in the same second, what a save costs, and how long pages take.

The trial of the writers does what a tap does: read a row, then write, in one transaction. It runs with the settings as they
are and, as the baseline, with Django's plain SQLite settings.
"""

import os
import statistics
import tempfile
import threading
import time
from copy import deepcopy
from pathlib import Path
from typing import Any

WRITERS, EACH = 20, 10
SAVES = 200


def run() -> list[dict[str, Any]]:
    """All rows; in a home of its own that is gone afterwards."""
    with tempfile.TemporaryDirectory(prefix="hidewright-bench-") as home:
        os.environ["HIDEWRIGHT_HOME"] = home
        os.environ["DJANGO_SETTINGS_MODULE"] = "hidewright.workshop.settings"
        os.environ.pop("DATABASE_URL", None)
        from hidewright.workshop import server

        server.set_up()
        rows = [*writers(Path(home)), saves(Path(home))]
        close_all()
        return rows


def open_database(name: str, home: Path, change: dict[str, Any]) -> None:
    """Make a second database like the shop's, with changed options, and bring it up to date."""
    from django.core.management import call_command
    from django.db import connections

    made = deepcopy(connections.databases["default"])
    made["NAME"] = str(home / f"{name}.sqlite3")
    made["OPTIONS"] = change
    connections.databases[name] = made
    call_command("migrate", database=name, verbosity=0, interactive=False)


def close_all() -> None:
    """Let go of every file."""
    from django.db import connections

    connections.close_all()


def refused(alias: str) -> int:
    """How many of the writers' transactions are refused."""
    from django.db import OperationalError, connections, transaction

    from hidewright.workshop.shop.models import Shop

    Shop.objects.using(alias).get_or_create(pk=1)
    lost: list[str] = []
    start = threading.Barrier(WRITERS)

    def write() -> None:
        start.wait()
        for _ in range(EACH):
            try:
                with transaction.atomic(using=alias):
                    shop = Shop.objects.using(alias).get(pk=1)
                    Shop.objects.using(alias).filter(pk=1).update(name=shop.name[:20] + "x")
            except OperationalError as error:
                lost.append(str(error))
        connections.close_all()

    threads = [threading.Thread(target=write) for _ in range(WRITERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return len(lost)


def writers(home: Path) -> list[dict[str, Any]]:
    """Twenty writers at once: refused transactions with our settings, and with plain ones."""
    open_database("plain", home, {})
    plain, ours = refused("plain"), refused("default")
    return [
        {
            "stage": "workshop",
            "name": f"writes refused of {WRITERS * EACH} by {WRITERS} writers at once",
            "value": ours,
            "unit": "writes",
            "goal": "none",
            "holds": ours == 0,
            "baseline": f"plain SQLite settings: {plain} refused",
        }
    ]


def saves(home: Path) -> dict[str, Any]:
    """Median time of one saved act, with synchronous FULL as it is and NORMAL as the baseline."""
    from hidewright.workshop.settings import SQLITE_OPTIONS

    normal = SQLITE_OPTIONS | {"init_command": SQLITE_OPTIONS["init_command"].replace("FULL", "NORMAL")}
    open_database("normal", home, normal)
    full_ms, normal_ms = median_save("default"), median_save("normal")
    return {
        "stage": "workshop",
        "name": "one saved row",
        "value": full_ms,
        "unit": "ms",
        "goal": "at most 50 ms",
        "holds": full_ms <= 50,
        "baseline": f"synchronous NORMAL, which may lose the last saves with the plug: {normal_ms:.2f} ms",
    }


def median_save(alias: str) -> float:
    """Median milliseconds of an UPDATE in a transaction of its own."""
    from hidewright.workshop.shop.models import Shop

    Shop.objects.using(alias).get_or_create(pk=1)
    took = []
    for number in range(SAVES):
        began = time.perf_counter()
        Shop.objects.using(alias).filter(pk=1).update(name=f"Shop {number}")
        took.append(1000 * (time.perf_counter() - began))
    return statistics.median(took)
