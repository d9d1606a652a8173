"""Pieces as rows."""

from collections.abc import Iterable
from typing import Any

from hidewright import survey

from ..models.jobs import Job
from ..models.survey import Piece

FACTS = (
    "key", "name", "group", "shape", "length", "width", "thickness", "measured", "material", "condition", "sat_on", "turned", "strip", "notes",
)  # fmt: skip
"""What is kept of a piece."""


def facts(piece: survey.Piece) -> dict[str, Any]:
    """What is kept of a piece, as plain values."""
    return {
        name: value if isinstance(value := getattr(piece, name), bool | float) else str(value)
        for name in FACTS
    }


def facts_of_row(row: Piece) -> dict[str, Any]:
    """The same of a row, so that a change can be undone."""
    return {name: getattr(row, name) for name in FACTS}


def add(job: Job, pieces: Iterable[survey.Piece], first: int) -> list[int]:
    """Add pieces behind the others; returns their row numbers in the order given."""
    made = Piece.objects.bulk_create(
        [Piece(job=job, order=first + n, **facts(piece)) for n, piece in enumerate(pieces)]
    )
    return [row.pk for row in made]
