"""Migrating: a new database gets its tables at once, as the last migration leaves them, and not step by step."""

from itertools import takewhile
from typing import Any

from django.core.management.commands.migrate import Command as Migrate
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations import Migration, operations
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import AmbiguityError
from django.db.migrations.recorder import MigrationRecorder
from django.db.migrations.state import ProjectState

APP = "workshop"
TABLES_ONLY = (
    operations.AddConstraint,
    operations.AddField,
    operations.AddIndex,
    operations.AlterField,
    operations.AlterModelOptions,
    operations.CreateModel,
    operations.DeleteModel,
    operations.RemoveConstraint,
    operations.RemoveField,
    operations.RemoveIndex,
    operations.RenameField,
    operations.RenameIndex,
    operations.RenameModel,
)
"""What changes tables and puts no rows into them: in a database without rows only where they end counts."""
OTHERWISE = ("plan", "check_unapplied", "fake", "fake_initial", "prune")
"""Options under which nothing may be made, or not by us."""


class Command(Migrate):
    """Django's own, which renders every model anew at every step; that costs a new shop some seconds."""

    def handle(self, *args: Any, **options: Any) -> Any:
        """Make the shop's tables at once where there are none; then whatever is left, step by step."""
        if not any(options[name] for name in OTHERWISE) and options["app_label"] in (None, APP):
            connection = connections[options["database"]]
            steps = steps_at_once(MigrationExecutor(connection), options["migration_name"])
            if steps:
                if options["app_label"] is None:
                    # The others first: each of their steps would render our models too.
                    others = {app for app, _ in MigrationExecutor(connection).loader.graph.nodes} - {APP}
                    for label in sorted(others):
                        super().handle(*args, **{**options, "app_label": label, "run_syncdb": False})
                make_at_once(connection, steps)
        return super().handle(*args, **options)


def steps_at_once(executor: MigrationExecutor, last: str | None = None) -> list[Migration]:
    """The first of our migrations, up to `last` (None: all; a name or its beginning), that only make and change tables.

    None where the database has been migrated before, or where `last` is no migration of ours.
    """
    if any(app == APP for app, _ in executor.loader.applied_migrations):
        return []
    try:
        leaf = executor.loader.graph.leaf_nodes(APP)[0][1]
        target = executor.loader.get_migration_by_prefix(APP, last).name if last else leaf
    except (AmbiguityError, KeyError):
        return []  # Django says which
    plan = [migration for migration, _ in executor.migration_plan([(APP, target)])]
    return list(takewhile(_only_tables, plan))


def make_at_once(connection: BaseDatabaseWrapper, steps: list[Migration]) -> None:
    """Make the tables as these migrations leave them, and note these as done; nothing where one of the tables is there.

    All is one transaction: after a kill there are either all tables, noted as migrated, or none.
    """
    state = ProjectState()
    for migration in steps:
        state = migration.mutate_state(state, preserve=False)
    models = [m for m in state.apps.get_models() if m._meta.managed and not m._meta.proxy]
    if {m._meta.db_table for m in models} & set(connection.introspection.table_names()):
        return
    recorder = MigrationRecorder(connection)
    recorder.ensure_schema()
    with connection.schema_editor(atomic=True) as editor:
        for model in models:
            editor.create_model(model)
        while editor.deferred_sql:
            editor.execute(editor.deferred_sql.pop(0))
        for migration in steps:
            recorder.record_applied(migration.app_label, migration.name)


def _only_tables(migration: Migration) -> bool:
    return migration.app_label == APP and all(isinstance(o, TABLES_ONLY) for o in migration.operations)
