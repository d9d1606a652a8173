"""Which coats are on: one place that every litre asks. Where the days of a job are tapped, the taps say it; else what was logged."""

from collections.abc import Callable, Mapping

from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

Shares = Mapping[tuple[str, str], float]
"""(piece, stage) → share of its coats that is on, 0..1; below 0 where more coats than the usual ones are to come."""
Source = Callable[[Job], Shares | None]
_SOURCES: list[Source] = []


def says_coats(function: Source) -> Source:
    """Register a higher subject that knows which coats are on; it answers None for a job of which it knows nothing."""
    _SOURCES.append(function)
    return function


@remembered
def coats_on(job: Job) -> Shares | None:
    """The coats that are on by whoever knows; None when only the log of uses can say."""
    return next((found for source in _SOURCES if (found := source(job)) is not None), None)
