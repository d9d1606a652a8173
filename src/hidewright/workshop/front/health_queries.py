"""Whether the shop's data is sound: the database's pages, tables and rows, the book of the bench, pictures, copies, and room on the disk.

Each trouble has a short name, says what is wrong in words, and what to do. Nothing here changes anything.
"""

import hashlib
import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.approvals.models import Agreement
from hidewright.workshop.cards.models import CardPicture
from hidewright.workshop.credentials.models import Credential
from hidewright.workshop.front import copy_file as keep
from hidewright.workshop.front.book_queries import book_damages
from hidewright.workshop.front.copy_queries import kept_copies
from hidewright.workshop.front.trouble import Trouble
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.intake.models import Picture
from hidewright.workshop.shop.disk import LITTLE_ROOM, free_space
from hidewright.workshop.shop.models import Run, RunState
from hidewright.workshop.shop.runs import LEASE

COPY_TOO_OLD = timedelta(days=2)
RESTORE = "Stop the server and bring back the newest good copy: hidewright restore FILE --over (what is here is kept)."
LATER = "Install the version of Hidewright that was last used here, or a later one."


def troubles(path: Path | None) -> list[Trouble]:
    """Everything that is wrong here; `path` is the SQLite file, none on another database."""
    found = list(folder_troubles())
    if path is not None:
        damaged = list(file_damages(path))
        if damaged:
            return [*found, *damaged, *copy_troubles()]
    found += database_damages()
    if any(one.name.startswith(("database-", "version-", "table-", "column-")) for one in found):
        return [*found, *copy_troubles()]
    return [*found, *picture_damages(), *copy_troubles(), *run_troubles()]


def file_damages(path: Path) -> Iterator[Trouble]:
    """What is wrong with a SQLite file before any of its rows can be trusted."""
    if not path.exists():
        yield Trouble("database-missing", f"The shop's database {path.name} is not there.", RESTORE)
        return
    try:
        # Not opened as read-only: SQLite then leaves out the rules that values keep.
        uri = f"{path.resolve().as_uri()}?mode=rw"
        with closing(sqlite3.connect(uri, uri=True, timeout=20)) as opened:
            opened.execute("PRAGMA query_only = ON")
            lines = [str(row[0]) for row in opened.execute("PRAGMA integrity_check(20)")]
    except sqlite3.DatabaseError as error:
        if "locked" in str(error) or "unable to open" in str(error):
            yield Trouble(
                "database-shut",
                f"The database cannot be opened: {error}.",
                "Look at who may read the data folder.",
            )
        elif "malformed" in str(error):
            yield Trouble("database-page", f"The database is damaged: {error}.", RESTORE)
        else:
            yield Trouble("database-head", f"The head of the database is damaged: {error}.", RESTORE)
        return
    if lines == ["ok"]:
        return
    kinds = {
        "constraint failed": ("database-value", "A row of the database holds what it cannot hold"),
        "NULL value in": ("database-value", "A row of the database holds what it cannot hold"),
        "index": ("database-index", "An index of the database does not fit its rows"),
        "": ("database-page", "A page of the database is damaged"),
    }
    for line in lines[:1]:
        name, words = next(kind for mark, kind in kinds.items() if mark in line)
        yield Trouble(name, f"{words}: {line}.", RESTORE)


def database_damages() -> list[Trouble]:
    """What is wrong with the tables and rows of the database that Django is connected to."""
    try:
        return [*_versions(), *_tables()] or [*_orphans(), *book_damages()]
    except DatabaseError as error:
        return [Trouble("database-page", f"The database cannot be read: {error}.", RESTORE)]


def _versions() -> Iterator[Trouble]:
    loader = MigrationLoader(connection)
    applied = {name for app, name in loader.applied_migrations if app == "workshop"}
    known = {name for app, name in loader.disk_migrations if app == "workshop"}
    if later := sorted(applied - known):
        yield Trouble(
            "version-later", f"A later version of Hidewright has changed this database ({later[-1]}).", LATER
        )
    elif behind := sorted(known - applied):
        yield Trouble(
            "version-earlier",
            f"The database waits to be brought up to this version ({behind[0]}).",
            "Start the server: it copies and migrates.",
        )


def _tables() -> Iterator[Trouble]:
    with connection.cursor() as cursor:
        names = set(connection.introspection.table_names(cursor))
        for model in apps.get_app_config("workshop").get_models():
            table = model._meta.db_table
            if table not in names:
                yield Trouble("table-missing", f"The table {table} is not there.", RESTORE)
                continue
            columns = {c.name for c in connection.introspection.get_table_description(cursor, table)}
            if missing := {str(f.column) for f in model._meta.local_concrete_fields} - columns:
                yield Trouble(
                    "column-missing", f"The table {table} lacks {', '.join(sorted(missing))}.", RESTORE
                )


def _orphans() -> Iterator[Trouble]:
    """Rows that point to a row that is not there; PostgreSQL does not let that happen."""
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA foreign_key_check")
        rows = cursor.fetchmany(1000)
    if rows:
        table, number, other, _ = rows[0]
        yield Trouble(
            "row-orphaned",
            f"{len(rows)} rows point to what is not there, such as row {number} of {table}, to {other}.",
            RESTORE,
        )


def picture_damages() -> Iterator[Trouble]:
    """Pictures that are gone, or are not what was kept: a picture's name is made from what is in it."""
    folder = Path(settings.PICTURES_ROOT)
    wanted = {
        str(name)
        for model, column in (
            (Snag, "picture"),
            (CardPicture, "picture"),
            (Credential, "file"),
            (Picture, "file"),
            (Picture, "small"),
            (Agreement, "scan"),
        )
        for name in model._default_manager.exclude(**{column: ""}).values_list(column, flat=True)
    }
    files = {path.name: path for path in folder.iterdir()} if folder.is_dir() else {}
    if missing := sorted(wanted - files.keys()):
        yield Trouble(
            "picture-missing",
            f"{len(missing)} pictures are gone, such as {missing[0]}.",
            "Bring them back from a copy.",
        )
    changed = [name for name, path in files.items() if path.suffix in (".jpg", ".pdf") and not is_whole(path)]
    if changed:
        yield Trouble(
            "picture-changed",
            f"{len(changed)} pictures are not what was kept, such as {changed[0]}.",
            "Bring them back from a copy.",
        )
    if torn := [name for name in files if name.endswith(".part")]:
        yield Trouble(
            "picture-torn",
            f"A picture was not written to its end: {torn[0]}.",
            "It may be deleted; take the picture again.",
        )


def is_whole(picture: Path) -> bool:
    """Whether a kept picture still is what its name was made from."""
    return hashlib.sha256(picture.read_bytes()).hexdigest()[:32] == picture.stem


def copy_troubles() -> Iterator[Trouble]:
    """The newest copy of the last days, and whether it could be brought back."""
    copies = [one for one in kept_copies() if not one.before]
    if not copies:
        yield Trouble(
            "copy-none",
            "There is no copy of this shop.",
            "Say hidewright copy FILE, or leave the server on for a minute.",
        )
        return
    newest = copies[0]
    if timezone.now() - newest.made > COPY_TOO_OLD:
        days = (timezone.now() - newest.made).days
        yield Trouble(
            "copy-old",
            f"The newest copy is {days} days old.",
            "Look why the server writes none: is the disk full?",
        )
    try:
        with (
            (Path(settings.COPIES_ROOT) / f"{newest.name}.zip").open("rb") as file,
            keep.opened(file) as packed,
        ):
            keep.read_about(packed)
            keep.check_whole(packed)
    except Refusal as refusal:
        yield Trouble(
            "copy-torn",
            f"The newest copy, {newest.name}.zip, could not be brought back: {refusal.what}",
            "Take a fresh one.",
        )


def folder_troubles() -> Iterator[Trouble]:
    """The data folder: room, who may read it, whether it can be written."""
    home = Path(settings.HOME)
    if not os.access(home, os.W_OK):
        yield Trouble(
            "folder-unwritable",
            f"Nothing can be written to {home}.",
            "Give its user the right to write there.",
        )
    if free_space() < LITTLE_ROOM:
        yield Trouble(
            "disk-full",
            f"Only {free_space() / 1e6:.0f} MB are free where the shop's data lies.",
            "Make room; nothing can be kept on a full disk.",
        )
    if os.name == "posix":
        for path in (home, home / "secret", *home.glob("*.sqlite3"), *home.glob("*.key")):
            if path.exists() and stat.S_IMODE(path.stat().st_mode) & 0o077:
                yield Trouble(
                    "folder-open",
                    f"Other users of this computer can read {path.name}.",
                    f"Say chmod go= {path}",
                )
                break
    if (home / "restoring.json").exists():
        yield Trouble(
            "restore-broken-off",
            "A restore was broken off in its last step.",
            "Start the server, or restore again: it is finished first.",
        )
    if torn := list(Path(settings.COPIES_ROOT).glob("*.part")):
        yield Trouble(
            "copy-half", f"A copy was not written to its end: {torn[0].name}.", "It may be deleted."
        )


def run_troubles() -> Iterator[Trouble]:
    """Long computations that seem at work, but whose worker is gone."""
    stale = Run.objects.filter(state=RunState.RUNNING, heard__lt=timezone.now() - 2 * LEASE)
    if count := stale.count():
        yield Trouble(
            "run-left",
            f"{count} long computations seem at work, but nobody is at them.",
            "Start the server: it marks them as lost.",
        )
