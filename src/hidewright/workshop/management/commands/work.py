"""The worker: carries out long computations, and ends when the server that started it is gone."""

import logging
import os
import signal
import threading
from argparse import ArgumentParser
from typing import Any

from django.db import DatabaseError, connection, connections
from django_tasks_db.management.commands.db_worker import Command as QueueWorker

from hidewright import machine
from hidewright.workshop.shop import folder
from hidewright.workshop.shop.runs import mark_lost, still_here

HEARD_EVERY = 5.0
"""Seconds between two renewals of the lease on what is at work; a lease lasts six times as long."""
GRACE = 3.0
"""Seconds that a computation has to end by itself once the server is gone."""
logger = logging.getLogger(__name__)


class Command(QueueWorker):
    """The queue's own worker, one for each data folder, tied to the life of its server where it has one."""

    help = "Carry out long computations; several machines may share one PostgreSQL, each with a data folder and a worker of its own."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """What the queue's own worker takes, and whether a server holds the other end of standard input."""
        super().add_arguments(parser)
        parser.add_argument(
            "--with-server", action="store_true", help="End when the pipe at standard input is closed."
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Watch the server, keep the lease, and work."""
        if options.pop("with_server"):
            machine.when_parent_ends(_end)
        with folder.working():
            # On SQLite nobody else can be at work: this process has the folder's one lock for workers.
            mark_lost(all_of_them=connection.vendor == "sqlite")
            threading.Thread(target=_keep_lease, daemon=True).start()
            super().handle(*args, **options)


def _end() -> None:
    """End in order, or, where a computation does not hear, at once: it is marked as lost by the next worker."""
    pause = threading.Event()
    threading.Thread(target=lambda: (pause.wait(GRACE), os._exit(1)), daemon=True).start()
    signal.raise_signal(signal.SIGTERM)


def _keep_lease() -> None:
    pause = threading.Event()
    while not pause.wait(HEARD_EVERY):
        try:
            still_here()
            mark_lost()
        except DatabaseError:
            logger.warning("The database did not answer; the lease is renewed in a moment", exc_info=True)
        finally:
            connections.close_all()
