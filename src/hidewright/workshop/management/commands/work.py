"""The worker: carries out long computations, and ends when the server that started it is gone."""

import os
import signal
import threading
from typing import Any

from django_tasks_db.management.commands.db_worker import Command as QueueWorker

LOOK_EVERY = 1.0
"""Seconds between two looks at whether the server is still there."""


class Command(QueueWorker):
    """The queue's own worker, tied to the life of the server."""

    help = "Carry out long computations until the server that started this process ends."

    def handle(self, *args: Any, **options: Any) -> None:
        """Watch the parent process from a thread, and work."""
        threading.Thread(target=_end_with_parent, args=(os.getppid(),), daemon=True).start()
        super().handle(*args, **options)


def _end_with_parent(parent: int) -> None:
    pause = threading.Event()
    while os.getppid() == parent:
        pause.wait(LOOK_EVERY)
    os.kill(os.getpid(), signal.SIGTERM)
