"""A new database gets its tables at once: they are the tables that the migrations make one by one, on both databases."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.commands.migrate import Command as StepByStep
from django.db import connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.recorder import MigrationRecorder
from django.test.utils import CaptureQueriesContext

import freeze
from hidewright.workshop.management.commands import migrate

UNNAMED = r"^(__unnamed_constraint_|fk_)\d+(__)?$"
"""What SQLite has no name for: Django numbers it in the order of the columns."""


@pytest.fixture
def own(db: None, tmp_path: Path) -> Iterator[BaseDatabaseWrapper]:
    """This run's own database, which is only read; meanwhile Django's is another of its kind, empty."""
    own = connections["default"]
    name, maker = str(tmp_path / "other.sqlite3"), own.copy()
    if own.vendor == "postgresql":
        name = f"{own.settings_dict['NAME']}_other"
        maker.cursor().execute(f'CREATE DATABASE "{name}"')
    other = own.copy()
    other.settings_dict["NAME"] = name
    connections["default"] = other
    yield own
    connections["default"] = own
    other.close()
    if own.vendor == "postgresql":
        maker.cursor().execute(f'DROP DATABASE "{name}"')
        maker.close()


def described(of: BaseDatabaseWrapper) -> dict[str, Any]:
    """Each table by name: its columns, keys, indexes and checks, as the database itself tells; their order does not count."""
    tables: dict[str, Any] = {}
    with of.cursor() as cursor:
        for table in sorted(of.introspection.table_names(cursor)):
            columns = sorted(map(repr, of.introspection.get_table_description(cursor, table)))
            held = of.introspection.get_constraints(cursor, table).items()
            tables[table] = [columns, sorted((re.sub(UNNAMED, "", name), repr(what)) for name, what in held)]
        if of.vendor == "sqlite":
            cursor.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
            rows = [(kind, name, sorted(re.split(r"[,()]\s*", sql))) for kind, name, sql in cursor.fetchall()]
        else:
            cursor.execute(
                "SELECT conrelid::regclass::text, conname, pg_get_constraintdef(oid) FROM pg_constraint"
            )
            rows = list(cursor.fetchall())
            cursor.execute(
                "SELECT tablename, indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'"
            )
            rows += cursor.fetchall()
        tables["as written"] = sorted(rows)
        cursor.execute("SELECT app, name FROM django_migrations")
        tables["migrations"] = sorted(cursor.fetchall())
    return tables


def test_tables_made_at_once_are_those_made_step_by_step(own: BaseDatabaseWrapper) -> None:
    """This run's own tables were made at once; beside them the same made by Django's own command."""
    call_command(StepByStep(), verbosity=0, interactive=False)
    assert described(connection) == described(own)


def test_all_that_is_released_is_made_at_once_and_in_one_piece(
    own: BaseDatabaseWrapper, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Broken off at its last write it leaves no table of ours, and the next try makes them all; then there is nothing left to do."""
    steps = migrate.steps_at_once(MigrationExecutor(connection))
    assert {f"{step.name}.py" for step in steps} == set(freeze.sums())
    record = MigrationRecorder.record_applied

    def broken(self: MigrationRecorder, app: str, name: str) -> None:
        if name == steps[-1].name:
            raise KeyboardInterrupt
        record(self, app, name)

    with monkeypatch.context() as patch:
        patch.setattr(MigrationRecorder, "record_applied", broken)
        with pytest.raises(KeyboardInterrupt):
            call_command("migrate", verbosity=0)
    assert [name for name in connection.introspection.table_names() if name.startswith("workshop")] == []
    call_command("migrate", verbosity=0)
    assert described(connection) == described(own)
    assert migrate.steps_at_once(MigrationExecutor(connection)) == []


def test_only_as_far_as_is_asked(own: BaseDatabaseWrapper) -> None:
    """As an older copy is brought back: first the tables of its own version; the later migrations are left to be done."""
    call_command("migrate", "workshop", "0001", verbosity=0)
    with connection.cursor() as cursor:
        names = {c.name for c in connection.introspection.get_table_description(cursor, "workshop_piece")}
    assert "zones" not in names
    executor = MigrationExecutor(connection)
    left = [one.name for one, _ in executor.migration_plan(executor.loader.graph.leaf_nodes("workshop"))]
    assert [f"{name}.py" for name in left] == sorted(freeze.sums())[1:]


def test_a_shop_that_is_up_to_date_is_only_looked_at(db: None) -> None:
    """At every start: no table is made, and not every row is checked as after a change of tables."""
    with CaptureQueriesContext(connection) as asked:
        call_command("migrate", verbosity=0)
    assert asked.captured_queries
    assert [q["sql"] for q in asked.captured_queries if not q["sql"].lstrip().startswith("SELECT")] == []
