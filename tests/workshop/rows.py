"""All rows of the workshop as plain values, for tests that compare before and after."""

from typing import Any

from django.apps import apps
from django.db import connection

Rows = dict[str, dict[Any, dict[str, Any]]]

ASIDE = {"Token"}
"""Models that no act is about."""


def rows() -> Rows:
    """Model → key → its columns, as the database gives them."""
    found: Rows = {}
    with connection.cursor() as cursor:
        for model in apps.get_app_config("workshop").get_models():
            if model.__name__ not in ASIDE:
                cursor.execute(f'SELECT * FROM "{model._meta.db_table}"')
                columns = [column[0] for column in cursor.description]
                key = columns.index(model._meta.pk.column)  # type: ignore[union-attr]
                found[model.__name__] = {
                    row[key]: dict(zip(columns, row, strict=True)) for row in cursor.fetchall()
                }
    return found


def changes(before: Rows, after: Rows) -> dict[str, list[str]]:
    """What differs, in words: model → “+ key”, “- key” or “key: column …”."""
    found: dict[str, list[str]] = {}
    for name in before:
        old, new = before[name], after[name]
        if old == new:
            continue
        lines = [f"+ {key}" for key in new.keys() - old.keys()]
        lines += [f"- {key}" for key in old.keys() - new.keys()]
        for key in old.keys() & new.keys():
            columns = [column for column in old[key] if old[key][column] != new[key][column]]
            lines += [f"{key}: {', '.join(columns)}"] if columns else []
        found[name] = sorted(lines)
    return found
