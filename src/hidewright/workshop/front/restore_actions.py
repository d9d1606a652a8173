"""A copy put in the place of a shop's database: built beside it, checked, and swapped in; what was there is kept.

On SQLite the new database is a file of its own until it is whole, so nothing of the old file is needed: it may be damaged or gone.
The swap is noted down first and finished at the next start if the plug is pulled in the middle. On PostgreSQL everything
happens in one transaction of the database, after a copy of what is there. The caller has the folder to itself.
"""

import json
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path
from typing import IO

from django.conf import settings
from django.core.management import call_command
from django.db import connection, connections

from hidewright.machine import settled
from hidewright.refusals import Refusal
from hidewright.workshop.front import copy_actions
from hidewright.workshop.front import copy_file as keep
from hidewright.workshop.front.health_queries import database_damages

NEW, NOTE = "restoring.sqlite3", "restoring.json"
BESIDE = ("-wal", "-shm", "-journal")
"""The endings of what SQLite writes beside a database."""


def database_file() -> Path | None:
    """The shop's SQLite file; none on another database, or on one in memory."""
    name = str(settings.DATABASES["default"]["NAME"])
    return (
        Path(name)
        if connection.vendor == "sqlite" and ":memory:" not in name and "mode=memory" not in name
        else None
    )


def restore(file: IO[bytes], *, over: bool) -> keep.About:
    """Put a copy in the place of what is here; refuses where something is unless `over`. On a refusal nothing has changed."""
    path = database_file()
    if path is None:
        return copy_actions.bring_back(file, over=over)[0]
    finish_swap()
    with keep.opened(file) as packed:
        about = keep.read_about(packed)
        keep.check_whole(packed)
        if (content := what_is_in(path)) and not over:
            raise Refusal(
                f"This shop is not empty: it holds {content}.",
                remedy="Name a new folder in HIDEWRIGHT_HOME, or say --over: the database that is here is kept.",
            )
        new = path.with_name(NEW)
        remove_database(new)
        with database_at(new):
            if about.older:
                call_command("migrate", "workshop", about.migration, verbosity=0, interactive=False)
                keep.put_back_older(packed, about.migration)
                call_command("migrate", verbosity=0, interactive=False)
                keep.after_restore()
            else:
                call_command("migrate", verbosity=0, interactive=False)
                keep.put_back(packed)
            if damages := database_damages():
                raise Refusal(
                    f"What came out of the copy is not sound: {damages[0]}", remedy="Take an older copy."
                )
            _settle(new)
    _note_swap(path)
    finish_swap()
    return about


def what_is_in(path: Path) -> str:
    """What a SQLite file holds of a shop's rows, in words; empty where it holds none or is not there. Nothing of it needs to be sound."""
    if not path.exists() or path.stat().st_size == 0:
        return ""
    kept = [m._meta for m in keep.tables() if m._meta.model_name not in ("shop", "device")]
    counts = {}
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as opened:
            names = {row[0] for row in opened.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            for meta in kept:
                if meta.db_table in names:
                    (count,) = opened.execute(f'SELECT count(*) FROM "{meta.db_table}"').fetchone()  # noqa: S608 - our own tables' names
                    counts[str(meta.verbose_name_plural)] = int(count)
    except sqlite3.Error:
        return "a database that is damaged"
    most = sorted(counts.items(), key=lambda item: -item[1])[:3]
    return ", ".join(f"{count} {name}" for name, count in most if count)


@contextmanager
def database_at(path: Path) -> Iterator[None]:
    """Inside, Django's database is the SQLite file at `path`."""
    connections.close_all()
    before = connection.settings_dict["NAME"]
    connection.settings_dict["NAME"] = str(path)
    try:
        yield
    finally:
        connections.close_all()
        connection.settings_dict["NAME"] = before


def remove_database(path: Path) -> None:
    """Remove a SQLite file and what lies beside it."""
    for ending in ("", *BESIDE):
        path.with_name(path.name + ending).unlink(missing_ok=True)


def _settle(path: Path) -> None:
    """Leave one whole file on the disk, with nothing beside it."""
    connections.close_all()
    with closing(sqlite3.connect(path)) as opened:
        opened.execute("PRAGMA journal_mode = DELETE")
    with path.open("r+b") as file:
        os.fsync(file.fileno())


def _note_swap(path: Path) -> None:
    Path(settings.COPIES_ROOT).mkdir(parents=True, exist_ok=True)
    note, part = path.with_name(NOTE), path.with_name(f"{NOTE}.part")
    with part.open("w", encoding="utf-8") as file:
        json.dump({"kept": f"before-{datetime.now():%Y-%m-%d-%H%M%S}.sqlite3"}, file)
        file.flush()
        os.fsync(file.fileno())
    part.replace(note)
    settled(path.parent)


def swap_was_broken_off() -> bool:
    """Whether a restore was noted down and not finished."""
    path = database_file()
    return path is not None and path.with_name(NOTE).exists()


def finish_swap() -> None:
    """Finish a swap that was noted down; each step may be done again. Without a note, half a new database goes."""
    path = database_file()
    if path is None:
        return
    note, new = path.with_name(NOTE), path.with_name(NEW)
    if not note.exists():
        remove_database(new)
        return
    if new.exists():
        kept = Path(settings.COPIES_ROOT) / str(json.loads(note.read_text(encoding="utf-8"))["kept"])
        for ending in ("", *BESIDE):
            _keep(path.with_name(path.name + ending), kept.with_name(kept.name + ending))
        settled(kept.parent)
        for ending in BESIDE:
            path.with_name(path.name + ending).unlink(missing_ok=True)
        new.replace(path)
        settled(path.parent)
    note.unlink()


def _keep(path: Path, kept: Path) -> None:
    """Have the file under a second name, without copying it where the disk can do that."""
    if not path.exists() or kept.exists():
        return
    try:
        os.link(path, kept)
    except OSError:
        part = kept.with_name(f"{kept.name}.part")
        shutil.copy2(path, part)
        part.replace(kept)
