"""A closing file brought into another shop: whole or not at all.

First the zip is checked: every member there, none added, none changed, each picture what its name says, the seal right. Then all rows
go in within one transaction (`placing.py` says under which keys).
"""

import hashlib
import json
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import PurePosixPath
from typing import IO, Any

from django.core import serializers
from django.core.serializers.base import DeserializationError
from django.db import DatabaseError, connection, models, transaction

from hidewright import __version__
from hidewright.refusals import Refusal
from hidewright.workshop.closing.file_actions import FORMAT, PAPER, WHAT, seal_of
from hidewright.workshop.closing.placing import LINKED, place
from hidewright.workshop.front.copy_file import (
    PICTURE,
    UNREADABLE,
    count_on,
    newest_migration,
    opened,
    put_pictures,
    schema,
    tables,
)
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.undo import record

AGAIN = "Nothing was changed here. Fetch the file again from where it was made."


def bring_in(file: IO[bytes]) -> Job:
    """Bring the job of a closing file in; returns it. Refuses, saying where, what is torn, changed, of other tables, or in the way here."""
    with opened(file) as packed:
        about = _about(packed)
        _check_whole(packed, about["sha256"])
        put_pictures(packed)
        try:
            with transaction.atomic():
                rows = list(_rows(packed, about["sha256"]))
                _refuse_twice(rows, about["job"])
                keys = place(rows)
                connection.check_constraints()
                count_on()
                job = Job.objects.get(pk=keys[Job][about["job"]])
                record(job, f"Came in with its closing file, seal {about['seal'][:16]}")
        except (DeserializationError, DatabaseError, ValueError, LookupError, Job.DoesNotExist) as error:
            if isinstance(error, Refusal):
                raise
            raise Refusal(f"The file cannot be read: {error}.", remedy=AGAIN) from error
    return job


def _about(packed: zipfile.ZipFile) -> dict[str, Any]:
    """What the file says of itself; refuses what is no closing file, and one of other tables."""
    try:
        about = json.loads(packed.read("about.json"))
        what, number, version = about["what"], int(about["format"]), str(about["version"])
        sums = {str(name): str(value) for name, value in about["sha256"].items()}
        about = {**about, "sha256": sums, "seal": str(about["seal"]), "job": int(about["job"])}
        tables_then = (str(about["migration"]), str(about["schema"]))
    except (KeyError, ValueError, TypeError, AttributeError, *UNREADABLE) as error:
        raise Refusal("This is no closing file of a job.", where="about.json", remedy=AGAIN) from error
    if what != WHAT:
        raise Refusal("This is no closing file of a job.", where="about.json", remedy=AGAIN)
    if number != FORMAT or tables_then != (newest_migration(), schema(tables())):
        raise Refusal(
            f"It was made by version {version}, whose tables are not those of this one ({__version__}).",
            remedy=f"Bring it into a shop of version {version}.",
        )
    return about


def _check_whole(packed: zipfile.ZipFile, sums: dict[str, str]) -> None:
    """Refuse a zip of which anything is missing, was added or was changed, naming the member."""
    names = packed.namelist()
    known = {f"rows/{model._meta.model_name}.jsonl" for model in tables()} | {PAPER}
    twice = next((name for name in names if names.count(name) > 1), None)
    strange = next((n for n in sums if n not in known and not PICTURE.fullmatch(n)), None)
    added = next((name for name in names if name not in sums and name != "about.json"), None)
    missing = next((name for name in sums if name not in names), None)
    for name, what in (
        (twice, "It is in the file twice."),
        (strange, "It does not belong into a closing file."),
        (added, "It was added to the file."),
        (missing, "It is missing from the file."),
    ):
        if name is not None:
            raise Refusal(what, where=name, remedy=AGAIN)
    for name, value in sums.items():
        try:
            found = hashlib.sha256(packed.read(name)).hexdigest()
        except UNREADABLE as error:
            raise Refusal("It is torn.", where=name, remedy=AGAIN) from error
        stem = PurePosixPath(name).stem
        if found != value or (name.startswith("pictures/") and not found.startswith(stem)):
            raise Refusal("It was changed since it was written.", where=name, remedy=AGAIN)
    about = json.loads(packed.read("about.json"))
    if seal_of(sums) != about["seal"]:
        raise Refusal("The seal is not that of the list of hashes.", where="about.json", remedy=AGAIN)


def _rows(packed: zipfile.ZipFile, sums: dict[str, str]) -> Iterator[models.Model]:
    """Every row of the file, table by table."""
    for model in tables():
        name = f"rows/{model._meta.model_name}.jsonl"
        if name not in sums:
            continue
        with packed.open(name) as lines:
            for one in serializers.deserialize("jsonl", lines):
                if type(one.object) is not model:
                    raise Refusal(
                        f"{one.object} is among the rows of another table.", where=name, remedy=AGAIN
                    )
                linked = {name: list(keys) for name, keys in (one.m2m_data or {}).items()}
                setattr(one.object, LINKED, linked)
                yield one.object


def _refuse_twice(rows: Iterable[models.Model], key: int) -> None:
    """Refuse a job that is here already: one of the same name, opened at the same moment."""
    job = next((row for row in rows if isinstance(row, Job) and row.pk == key), None)
    if job is None:
        raise Refusal("The job itself is not in the file.", where="rows/job.jsonl", remedy=AGAIN)
    if Job.objects.filter(name=job.name, made=job.made).exists():
        raise Refusal(f"{job.name} is here already.", where=job.name, remedy="Open it from the list of jobs.")
