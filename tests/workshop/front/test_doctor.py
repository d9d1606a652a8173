"""The doctor finds each planted damage by its name, and nothing in a sound shop."""

import os
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection, transaction
from django.utils import timezone
from pytest_django import Settings

from hidewright.workshop.front import copy_actions, health_queries
from hidewright.workshop.front.restore_actions import what_is_in
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.shelf.models import MixComponent, MixEntry, MixMove, MixTurn, MixVessel
from hidewright.workshop.shop.models import Job, Run, RunState


def database(path: Path) -> Path:
    """A small SQLite file with a table, an index and a rule."""
    with closing(sqlite3.connect(path)) as opened, opened:
        opened.execute(
            "CREATE TABLE paint (id integer PRIMARY KEY, name text, litres real CHECK (litres >= 0))"
        )
        opened.execute("CREATE INDEX paint_name ON paint (name)")
        opened.executemany(
            "INSERT INTO paint (name, litres) VALUES (?, 1)", [(f"needle{n}",) for n in range(400)]
        )
    return path


def head(path: Path) -> None:
    with path.open("r+b") as file:
        file.write(b"this is no database")


def page(path: Path) -> None:
    with path.open("r+b") as file:
        file.seek(4096)
        file.write(os.urandom(3000))


def index(path: Path) -> None:
    data = path.read_bytes()
    at = data.rindex(b"needle7")
    path.write_bytes(data[:at] + b"noodle7" + data[at + 7 :])


def value(path: Path) -> None:
    with closing(sqlite3.connect(path)) as opened, opened:
        opened.execute("PRAGMA ignore_check_constraints = ON")
        opened.execute("INSERT INTO paint (name, litres) VALUES ('x', -1)")


@pytest.mark.parametrize(
    ("damage", "name"),
    [
        (Path.unlink, "database-missing"),
        (head, "database-head"),
        (page, "database-page"),
        (index, "database-index"),
        (value, "database-value"),
    ],
)
def test_damage_to_the_file_is_found_by_name(
    tmp_path: Path, damage: Callable[[Path], None], name: str
) -> None:
    path = database(tmp_path / "shop.sqlite3")
    assert not list(health_queries.file_damages(path))
    damage(path)
    (found,) = health_queries.file_damages(path)
    assert found.name == name
    assert found.words
    assert "restore" in found.remedy


@pytest.fixture
def shop(db: None, settings: Settings, tmp_path: Path) -> Path:
    """A folder with a copy, two vessels, and three entries of which the last takes back the second."""
    settings.HOME, settings.PICTURES_ROOT, settings.COPIES_ROOT = (
        tmp_path,
        tmp_path / "pictures",
        tmp_path / "copies",
    )
    tmp_path.chmod(0o700)
    settings.PICTURES_ROOT.mkdir()
    job = Job.objects.create(name="Job", starts="2026-03-02")
    MixComponent.objects.create(key="base", name="Base", density=1.0)
    cup, load = (
        MixVessel.objects.create(job=job, kind=kind, name=name, capacity=10**6, turns=turns)
        for kind, name, turns in (("cup", "Cup", 3), ("portion", "Load", 2))
    )
    book(job, 1, "pour", "stock", cup.key, 5000)
    split = book(job, 2, "split", cup.key, load.key, 2000)
    book(job, 3, "counter", load.key, cup.key, 2000, split)
    copy_actions.keep_today()
    return tmp_path


def book(
    job: Job, seq: int, act: str, source: str, target: str, amount: int, counters: MixEntry | None = None
) -> MixEntry:
    entry = MixEntry.objects.create(job=job, act=act, text=act, counters=counters)
    MixMove.objects.create(entry=entry, source=source, target=target, component="base", amount=amount)
    for place in {source, target} - {"stock"}:
        MixTurn.objects.create(vessel_id=int(place[1:]), entry=entry, seq=seq)
    return entry


def sql(*lines: str) -> Callable[[Path], None]:
    def plant(_: Path) -> None:
        with connection.cursor() as cursor:
            for line in lines:
                cursor.execute(line)

    return plant


def later(_: Path) -> None:
    sql(
        "INSERT INTO django_migrations (app, name, applied) VALUES ('workshop', '9999_later', '2030-01-01 00:00:00')"
    )(_)


def gives_more_than_it_holds(_: Path) -> None:
    MixMove.objects.filter(entry__act="pour").update(amount=1000)


def no_way_back(_: Path) -> None:
    MixMove.objects.filter(entry__act="counter").update(amount=1999)


def unknown_place(_: Path) -> None:
    MixMove.objects.filter(entry__act="pour").update(source="v999")


def no_place_in_line(_: Path) -> None:
    MixTurn.objects.filter(entry__act="split").first().delete()  # type: ignore[union-attr]


def lost_picture(_: Path) -> None:
    Snag.objects.create(job=Job.objects.get(), what="scratch", picture="f" * 32 + ".jpg")


def other_picture(home: Path) -> None:
    (home / "pictures" / ("f" * 32 + ".jpg")).write_bytes(b"another picture")


def half_picture(home: Path) -> None:
    (home / "pictures" / "abc.part").write_bytes(b"half")


def no_copy(home: Path) -> None:
    for path in (home / "copies").iterdir():
        path.unlink()


def old_copy(home: Path) -> None:
    (path,) = (home / "copies").iterdir()
    old = (timezone.now() - timedelta(days=5)).timestamp()
    os.utime(path, (old, old))


def torn_copy(home: Path) -> None:
    (path,) = (home / "copies").iterdir()
    with zipfile.ZipFile(path) as packed:
        members = {name: packed.read(name) for name in packed.namelist()}
    with zipfile.ZipFile(path, "w") as packed:
        for name, data in members.items():
            packed.writestr(name, data.replace(b'"Job"', b'"Jab"'))


def open_folder(home: Path) -> None:
    home.chmod(0o755)


def left_run(_: Path) -> None:
    Run.objects.create(kind="x", state=RunState.RUNNING, heard=timezone.now() - timedelta(hours=1))


PLANTED = [
    (later, "version-later"),
    (sql("DELETE FROM django_migrations WHERE app = 'workshop'"), "version-earlier"),
    (sql("ALTER TABLE workshop_snag RENAME TO workshop_scratch"), "table-missing"),
    (sql("ALTER TABLE workshop_shop DROP COLUMN address"), "column-missing"),
    (sql("INSERT INTO workshop_mixturn (vessel_id, entry_id, seq) VALUES (777, 777, 1)"), "row-orphaned"),
    (unknown_place, "book-place"),
    (lambda _: MixComponent.objects.all().delete(), "book-component"),
    (lambda _: MixMove.objects.filter(entry__act="pour").update(target="stock"), "book-amount"),
    (gives_more_than_it_holds, "book-balance"),
    (lambda _: MixMove.objects.filter(entry__act="counter").delete(), "book-empty"),
    (no_way_back, "book-counter"),
    (no_place_in_line, "book-sequence"),
    (lost_picture, "picture-missing"),
    (other_picture, "picture-changed"),
    (half_picture, "picture-torn"),
    (no_copy, "copy-none"),
    (old_copy, "copy-old"),
    (torn_copy, "copy-torn"),
    (lambda home: (home / "copies" / "x.part").write_bytes(b"half"), "copy-half"),
    (open_folder, "folder-open"),
    (lambda home: (home / "restoring.json").write_text("{}"), "restore-broken-off"),
    (left_run, "run-left"),
]


def test_a_sound_shop_has_no_trouble(shop: Path) -> None:
    assert health_queries.troubles(None) == []


@pytest.mark.parametrize(("damage", "name"), PLANTED, ids=[name for _, name in PLANTED])
def test_each_planted_damage_is_found_by_name(
    shop: Path, damage: Callable[[Path], object], name: str
) -> None:
    if name == "row-orphaned" and connection.vendor != "sqlite":
        pytest.skip("PostgreSQL lets no row point to nothing")
    with transaction.atomic():
        damage(shop)
        found = health_queries.troubles(None)
        transaction.set_rollback(True)
    assert name in [one.name for one in found]


def test_a_full_disk_is_said_before_it_is_full(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(health_queries, "free_space", lambda: 5 * 10**6)
    assert [one.name for one in health_queries.troubles(None)] == ["disk-full"]


@pytest.mark.django_db
def test_what_a_damaged_file_holds_is_said_without_reading_it(tmp_path: Path) -> None:
    path = database(tmp_path / "shop.sqlite3")
    assert what_is_in(path) == ""
    head(path)
    assert what_is_in(path) == "a database that is damaged"
    assert what_is_in(tmp_path / "nowhere") == ""
