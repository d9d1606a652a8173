"""A copy of everything the shop has told, in one file, and back: every row as text, every picture, on either database.

The file is a zip: `about.json` says what it is and the SHA-256 of each member; `rows/<table>.jsonl` holds a table, a row a line, as Django's own deserialiser
takes it; `pictures/` the pictures as they are kept. What lets somebody in (sessions, links, PINs and passwords, the server's secret) is not in it.
"""

import hashlib
import json
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import IO, Any

from django.apps import apps
from django.conf import settings
from django.core import serializers
from django.core.exceptions import ValidationError
from django.core.management.color import no_style
from django.core.serializers.base import DeserializationError
from django.db import DatabaseError, connection, models, transaction
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from hidewright import __version__
from hidewright.refusals import Refusal
from hidewright.workshop.approvals.models import ViewerLink
from hidewright.workshop.intake.models import Picture, PictureState
from hidewright.workshop.shop.models import LIVE, Device, OneTimeLink, Person, Run, RunState, Token

FORMAT = 2
"""The number of the way in which a copy is packed; the rows in it are as the migration named in it left them."""
FIRST_RELEASE = "c2cf324c47d86bda1e576aeca542c873ff2998d76f01b3aa40abdab41ca41759"
"""What 0.1.0 wrote of its tables: a hash over tables and columns in the order of its own code, which no later code has."""


def _tables_by_name(told: dict[str, Any]) -> dict[str, Any]:
    """Format 1, of 0.1.0: its tables are known by their hash; from format 2 on the order of tables and columns does not count."""
    if told["schema"] != FIRST_RELEASE:
        return told
    return {**told, "schema": schema(tables_at("0001_initial"))}


UPGRADERS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {1: _tables_by_name}
"""By number: what makes of a copy's `about.json` that of the next number. From the first release on, none is ever taken away."""
WHAT = "a copy of everything in a Hidewright shop"
LEFT_OUT: frozenset[type[models.Model]] = frozenset({OneTimeLink, Token, ViewerLink})
"""Tables that only matter to the server they were made on."""
LARGEST = 8 * 2**30
"""Bytes that a copy may unpack to."""
UNREADABLE = (
    zipfile.BadZipFile,
    zlib.error,
    OSError,
    EOFError,
    NotImplementedError,
    RuntimeError,
    ValueError,
)
"""What reading a member of a torn zip may end in."""
PICTURE = re.compile(r"pictures/[0-9a-f]{32}\.(?:jpg|pdf)")


@dataclass(frozen=True, slots=True)
class About:
    """What a copy says of itself: `version` of the program, when it was `made`, `rows` by table, how many `pictures`, and the last `migration` of its tables."""

    version: str
    made: datetime
    rows: dict[str, int]
    pictures: int
    migration: str

    @property
    def older(self) -> bool:
        """Whether its rows must be brought up to this version's tables."""
        return self.migration != newest_migration()

    @property
    def jobs(self) -> int:
        """How many jobs are in it."""
        return self.rows.get("job", 0)


def tables() -> tuple[type[models.Model], ...]:
    """The models whose rows are copied, in the order of their definition."""
    return tuple(m for m in apps.get_app_config("workshop").get_models() if m not in LEFT_OUT)


def newest_migration() -> str:
    """The name of the last migration that this version brings."""
    return str(MigrationLoader(None).graph.leaf_nodes("workshop")[0][1])


def tables_at(migration: str) -> tuple[type[models.Model], ...]:
    """The models whose rows are copied as they were after a migration of this or an earlier version."""
    state = MigrationLoader(None).project_state(("workshop", migration))
    left_out = {m._meta.model_name for m in LEFT_OUT}
    found = state.apps.get_app_config("workshop").get_models()
    return tuple(m for m in found if m._meta.model_name not in left_out)


def schema(of: Sequence[type[models.Model]]) -> str:
    """What tells one version's tables from another's: a hash over tables, columns and their kinds, by name: models and migrations have them in different orders."""
    told = sorted(
        [
            m._meta.model_name,
            sorted([f.name, f.get_internal_type()] for f in m._meta.local_concrete_fields),
        ]
        for m in of
    )
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()


def write_copy(to: IO[bytes], migration: str = "") -> About:
    """Write everything as it stands at one moment; others may go on writing to the database meanwhile.

    With `migration` the tables are as they were after that one: for a copy before they are brought up to this version.
    """
    copied = tables_at(migration) if migration else tables()
    made, rows, sums = timezone.now(), {}, {}
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as packed:
        with _one_moment():
            for model in copied:
                name = str(model._meta.model_name)
                rows[name], sums[f"rows/{name}.jsonl"] = _write_rows(packed, model)
        pictures = 0
        for path in kept_files():
            data = path.read_bytes()
            sums[f"pictures/{path.name}"] = hashlib.sha256(data).hexdigest()
            packed.writestr(f"pictures/{path.name}", data, zipfile.ZIP_STORED)
            pictures += 1
        about = {
            "what": WHAT,
            "format": FORMAT,
            "version": __version__,
            "migration": migration or newest_migration(),
            "schema": schema(copied),
            "made": made.isoformat(),
            "rows": rows,
            "sha256": sums,
        }
        packed.writestr("about.json", json.dumps(about, indent=1))
    return About(__version__, made, rows, pictures, str(about["migration"]))


def kept_files() -> list[Path]:
    """The pictures and papers that are kept as files, by name."""
    folder = Path(settings.PICTURES_ROOT)
    return sorted(path for path in folder.glob("*") if PICTURE.fullmatch(f"pictures/{path.name}"))


def _write_rows(packed: zipfile.ZipFile, model: type[models.Model]) -> tuple[int, str]:
    count, whole = 0, hashlib.sha256()
    with packed.open(f"rows/{model._meta.model_name}.jsonl", "w", force_zip64=True) as out:
        for row in model._default_manager.order_by("pk").iterator(chunk_size=1000):
            line = row_line(row)
            whole.update(line)
            out.write(line)
            count += 1
    return count, whole.hexdigest()


def row_line(row: models.Model) -> bytes:
    """A row as the line of JSON that a copy holds, to the last value; nobody's PIN or password goes with it."""
    (fields,) = serializers.serialize("python", [row])
    if row._meta.model_name == Person._meta.model_name and "secret" in fields["fields"]:
        fields["fields"]["secret"] = ""
    return f"{json.dumps(fields, default=_as_text, ensure_ascii=False)}\n".encode()


def _as_text(value: object) -> str:
    """Moments to the microsecond (Django's own encoder cuts them to the millisecond) and money to the last place."""
    if isinstance(value, (date, time)):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    raise TypeError(f"{value!r} is of no kind that a table holds")


@contextmanager
def _one_moment() -> Iterator[None]:
    """Everything read inside is as it stood at one moment, and nobody who writes has to wait."""
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        # A plain BEGIN reads a snapshot of the write-ahead log; the app's own transactions take the lock at once.
        with connection.cursor() as cursor:
            cursor.execute("BEGIN")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")
    else:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield


def read_about(packed: zipfile.ZipFile) -> About:
    """What the copy says of itself; refuses what is no copy, one of a later version, and one of a trial version's tables."""
    try:
        told = json.loads(packed.read("about.json"))
        number = int(told.get("format", 1))
        for step in range(number, FORMAT):
            told = UPGRADERS[step](told)
        about = About(
            str(told["version"]),
            datetime.fromisoformat(told["made"]),
            {str(k): int(v) for k, v in told["rows"].items()},
            sum(name.startswith("pictures/") for name in told["sha256"]),
            str(told.get("migration", newest_migration())),
        )
        what, made_by = told["what"], told["schema"]
    except (KeyError, ValueError, TypeError, AttributeError, *UNREADABLE) as error:
        raise Refusal(
            "This file is no copy of a shop.", remedy="Bring a file that hidewright copy wrote."
        ) from error
    if what != WHAT:
        raise Refusal("This file is no copy of a shop.", remedy="Bring a file that hidewright copy wrote.")
    if number > FORMAT or ("workshop", about.migration) not in MigrationLoader(None).disk_migrations:
        raise Refusal(
            f"The copy was made by a later version of Hidewright ({about.version}); this one is {__version__}.",
            remedy="Install that version or a later one, then bring the copy back.",
        )
    if made_by != schema(tables_at(about.migration) if about.older else tables()):
        raise Refusal(
            f"The copy was made by version {about.version}, whose tables are not those of this one ({__version__}).",
            remedy=f"Bring it back with version {about.version}.",
        )
    return about


def opened(file: IO[bytes]) -> zipfile.ZipFile:
    """The file as a zip; refuses one that is none, or that would unpack to more than a shop can hold."""
    try:
        packed = zipfile.ZipFile(file)
    except UNREADABLE as error:
        raise Refusal(
            "This file is no copy of a shop, or it is torn.", remedy="Fetch it again, or take an older copy."
        ) from error
    if sum(one.file_size for one in packed.infolist()) > LARGEST:
        raise Refusal("This file unpacks to more than any shop holds.", remedy="It is no copy of a shop.")
    return packed


def check_whole(packed: zipfile.ZipFile) -> None:
    """Refuse a copy of which anything is missing, was added or was changed since it was written."""
    about = read_about(packed)
    sums: dict[str, str] = json.loads(packed.read("about.json"))["sha256"]
    copied = tables_at(about.migration) if about.older else tables()
    wanted = {f"rows/{m._meta.model_name}.jsonl" for m in copied}
    strange = [name for name in sums if name not in wanted and not PICTURE.fullmatch(name)]
    if strange or not wanted <= set(sums):
        raise Refusal("The copy is not whole.", where=(strange or ["rows"])[0], remedy="Take an older copy.")
    for name, told in sums.items():
        found = hashlib.sha256()
        try:
            with packed.open(name) as member:
                while part := member.read(2**20):
                    found.update(part)
        except (KeyError, *UNREADABLE) as error:
            raise Refusal("The copy is torn.", where=name, remedy="Take an older copy.") from error
        if found.hexdigest() != told:
            raise Refusal(
                "The copy was changed since it was written.", where=name, remedy="Take an older copy."
            )


def holds() -> dict[str, int]:
    """How many rows of each kind stand here that people entered; empty in a new shop."""
    kept = [m for m in tables() if m._meta.model_name not in ("shop", "device")]
    counts = {str(m._meta.verbose_name_plural): m._default_manager.count() for m in kept}
    return {name: count for name, count in counts.items() if count}


def put_back(packed: zipfile.ZipFile) -> None:
    """Put a whole copy in the place of all rows here, in one transaction; pictures come beside those that are there."""
    put_pictures(packed)
    try:
        with transaction.atomic():
            _empty()
            for model in tables():
                with packed.open(f"rows/{model._meta.model_name}.jsonl") as lines:
                    for one in serializers.deserialize("jsonl", lines):
                        if type(one.object) is not model:
                            raise DeserializationError(f"{one.object} is among the rows of {model.__name__}")
                        one.save()
            after_restore()
            connection.check_constraints()
    except (DeserializationError, DatabaseError, ValueError, LookupError) as error:
        raise Refusal(
            f"The copy cannot be read: {error}.", remedy="Nothing was changed here. Take an older copy."
        ) from error


def put_back_older(packed: zipfile.ZipFile, migration: str) -> None:
    """Put the rows of an earlier version's copy into an empty database that was migrated as far as `migration`."""
    put_pictures(packed)
    try:
        with transaction.atomic():
            for model in tables_at(migration):
                with packed.open(f"rows/{model._meta.model_name}.jsonl") as lines:
                    for line in lines:
                        _earlier_row(model, json.loads(line)).save_base(raw=True)
            connection.check_constraints()
    except (DatabaseError, ValueError, LookupError, TypeError, ValidationError) as error:
        raise Refusal(
            f"The copy cannot be read: {error}.", remedy="Nothing was changed here. Take an older copy."
        ) from error


def _earlier_row(model: type[models.Model], told: dict[str, Any]) -> models.Model:
    """A row of a table as it was, made without the models of today."""
    if told["model"] != model._meta.label_lower:
        raise ValueError(f"{told['model']} is among the rows of {model._meta.label_lower}")
    values = {"pk": model._meta.pk.to_python(told["pk"])}
    for name, value in told["fields"].items():
        field = model._meta.get_field(name)
        if isinstance(field, models.ForeignKey):
            values[field.attname] = field.target_field.to_python(value)
        elif isinstance(field, models.Field):
            values[field.attname] = field.to_python(value)
        else:
            raise ValueError(f"{name} is no column of {model._meta.label_lower}")
    return model(**values)


def _empty() -> None:
    """Every row of the app goes, and with it whoever was let in here."""
    from django.contrib.sessions.models import Session

    quoted = connection.ops.quote_name
    with connection.cursor() as cursor:
        for table in (
            *(m._meta.db_table for m in apps.get_app_config("workshop").get_models()),
            Session._meta.db_table,
        ):
            cursor.execute(f"DELETE FROM {quoted(table)}")  # noqa: S608 - our own tables' names


def after_restore() -> None:
    """What was at work when the copy was made is lost; devices must be let in anew; new rows go on counting after the old."""
    now = timezone.now()
    Run.objects.filter(state__in=LIVE).update(
        state=RunState.LOST, finished=now, message="It was at work when the copy was made. Start it again."
    )
    Device.objects.filter(shut_out=None).update(shut_out=now)
    Picture.objects.filter(state=PictureState.WAITING).update(
        state=PictureState.BROKEN, waiting="", why="It still waited when the copy was made. Bring it again."
    )
    count_on()


def count_on() -> None:
    """New rows go on counting after those that came with keys of their own."""
    with connection.cursor() as cursor:
        for line in connection.ops.sequence_reset_sql(no_style(), list(tables())):
            cursor.execute(line)


def put_pictures(packed: zipfile.ZipFile) -> None:
    """Lay the pictures of a zip beside those that are here; one that is here already stays."""
    folder = Path(settings.PICTURES_ROOT)
    folder.mkdir(parents=True, exist_ok=True)
    for name in packed.namelist():
        place = folder / Path(name).name
        if PICTURE.fullmatch(name) and not place.exists():
            part = place.with_suffix(".part")
            part.write_bytes(packed.read(name))
            part.replace(place)
