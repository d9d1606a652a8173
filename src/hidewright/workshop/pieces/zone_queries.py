"""The zones of a piece, as its row keeps them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from hidewright.survey.zones import Zone, zones_as_text
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Job

Begun = Callable[[Job], frozenset[str]]
_BEGUN: list[Begun] = []
ALIKE = ("shape", "length", "width", "thickness", "sat_on", "turned")
"""In what pieces are alike that can be coated in the same zones."""


def says_begun(function: Begun) -> Begun:
    """Register a higher subject that knows on which pieces (by their marks) the coats have begun."""
    _BEGUN.append(function)
    return function


def begun(job: Job) -> frozenset[str]:
    """The marks of the pieces on which coats are on already."""
    return frozenset().union(*(function(job) for function in _BEGUN))


def zones_of(kept: Sequence[Mapping[str, Any]]) -> tuple[Zone, ...]:
    """The zones that a row keeps."""
    return tuple(Zone(**one) for one in kept)


def zone_facts(zones: Sequence[Zone]) -> list[dict[str, Any]]:
    """The zones as a row keeps them."""
    return [asdict(zone) for zone in zones]


def zone_texts(job: Job) -> dict[str, str]:
    """The zones of each piece that has some, in words, by its mark."""
    listed = Piece.objects.filter(job=job, removed=None).exclude(zones=[]).values_list("key", "zones")
    return {key: zones_as_text(zones_of(kept)) for key, kept in listed}


def alike(row: Piece) -> list[Piece]:
    """The other pieces of its job with the same shape, size and sides."""
    same = {name: getattr(row, name) for name in ALIKE}
    return list(Piece.objects.filter(job=row.job_id, removed=None, by_us=True, **same).exclude(pk=row.pk))
