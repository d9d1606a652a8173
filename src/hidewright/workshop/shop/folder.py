"""The data folder: who works in it, and who must have it to himself.

Two locks lie in it. `server.lock` is the server's: one server a folder, and restore takes it too. `data.lock` is shared by all
who read or write the shop's rows (server, worker, copy, link, manage) and taken alone by who puts a database in the place of
another (restore, migration). With PostgreSQL, where several machines may work on one database, an advisory lock in the
database does the same between them. A process that ends, however it ends, lets go of all it held.
"""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from django.conf import settings
from django.db import connection

from hidewright.machine import Lock
from hidewright.refusals import Refusal

SERVER, DATA, WORKER = "server.lock", "data.lock", "worker.lock"
ADVISORY = 0x4869646577
"""The number of the advisory lock on PostgreSQL."""
PATIENCE = 10.0
"""Seconds to wait for a worker whose server was killed: it ends within a few."""


def home() -> Path:
    """The data folder."""
    return Path(settings.HOME)


def _busy(name: str) -> Refusal:
    if name == SERVER:
        return Refusal(
            "A server works in this folder.",
            where=str(home()),
            remedy="Stop it first (Ctrl-C where it runs, or stop its service), then say this again.",
        )
    if name == WORKER:
        return Refusal(
            "A worker works in this folder.", where=str(home()), remedy="One is enough for a folder."
        )
    return Refusal(
        "Another Hidewright command works on this shop's data.",
        where=str(home()),
        remedy="Wait until the server, copy or restore has ended, then say this again.",
    )


def _take(name: str, *, alone: bool, wait: float = PATIENCE) -> Lock:
    lock = Lock.take(home() / name, alone=alone, wait=wait)
    if lock is None:
        raise _busy(name)
    return lock


@contextmanager
def serving() -> Iterator[None]:
    """This process is the folder's server."""
    with _take(SERVER, alone=True, wait=0.0), _take(DATA, alone=False), _on_postgres(alone=False):
        yield


@contextmanager
def reading_and_writing() -> Iterator[None]:
    """This process works on the rows beside others; refused while the database is replaced."""
    with _take(DATA, alone=False), _on_postgres(alone=False):
        yield


@contextmanager
def working() -> Iterator[None]:
    """This process is the folder's one worker; waits a while for one whose server is gone."""
    with _take(WORKER, alone=True), reading_and_writing():
        yield


@contextmanager
def alone() -> Iterator[None]:
    """Nobody else has this folder's data: no server, no worker, no copy."""
    with ExitStack() as held:
        held.enter_context(_take(SERVER, alone=True, wait=0.0))
        held.enter_context(_take(DATA, alone=True))
        yield


@contextmanager
def alone_in_the_database() -> Iterator[None]:
    """Nobody else, on whatever machine, works on this PostgreSQL; on SQLite the folder's lock says it all."""
    with _on_postgres(alone=True):
        yield


@contextmanager
def _on_postgres(*, alone: bool) -> Iterator[None]:
    if connection.vendor != "postgresql":
        yield
        return
    # A connection of its own: the worker closes the shared one between two runs, and the lock with it.
    own = connection.copy()
    kind = "" if alone else "_shared"
    try:
        with own.cursor() as cursor:
            cursor.execute(f"SELECT pg_try_advisory_lock{kind}(%s)", [ADVISORY])
            row = cursor.fetchone()
        if not (row and row[0]):
            raise Refusal(
                "A server or another command works on this PostgreSQL, perhaps on another machine.",
                where="DATABASE_URL",
                remedy="Stop every server of this shop first, then say this again.",
            )
        yield
    finally:
        own.close()
