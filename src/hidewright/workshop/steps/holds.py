"""How long a piece may wait in a plan."""

from datetime import date, timedelta

from django.utils import timezone

from hidewright.refusals import Refusal

FURTHEST = timedelta(days=150)
"""The planner reaches 200 days from the first; what waits must still be finished in them."""


def refuse_too_far(until: date, piece: str) -> None:
    """Refuse a wait that no plan can reach beyond."""
    if until > timezone.localdate() + FURTHEST:
        raise Refusal(
            f"It waits {FURTHEST.days} days at most in a plan.",
            where=piece,
            remedy="Take the piece off the list (Survey) and bring it back when it can go on.",
        )
