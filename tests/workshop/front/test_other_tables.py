"""Data of an earlier trial version is refused in words before anything is served, and is left as it was."""

import pytest
from django.db import connection

from hidewright.refusals import Refusal
from hidewright.workshop.server import refuse_other_tables

pytestmark = pytest.mark.django_db


def test_this_versions_tables_are_taken() -> None:
    refuse_other_tables()


@pytest.mark.parametrize(
    "change",
    [
        "ALTER TABLE workshop_shop DROP COLUMN address",
        "ALTER TABLE workshop_shop ADD COLUMN sign varchar(8)",
        "ALTER TABLE workshop_shop RENAME TO workshop_firm",
    ],
)
def test_other_tables_are_refused_with_what_to_do(change: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(change)
    with pytest.raises(Refusal, match="earlier trial version") as refused:
        refuse_other_tables()
    assert "HIDEWRIGHT_HOME" in refused.value.remedy


def test_a_column_of_another_kind_is_refused() -> None:
    """Trial versions were served from SQLite, which keeps a column's kind as it was declared."""
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL tells kinds by number, and no trial version was served from it")
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE workshop_shop DROP COLUMN address")
        cursor.execute("ALTER TABLE workshop_shop ADD COLUMN address bool")
    with pytest.raises(Refusal, match="earlier trial version"):
        refuse_other_tables()
