"""Leftovers and their days: which jars of a job are kept, and which of the shop's are near or past their day."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.utils import timezone

from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shelf.vessel_queries import SOON, Jar, components, jar_of, ledger_of
from hidewright.workshop.shop.models import Job


def jars_of(job: Job) -> list[Jar]:
    """The jars of a job, of all its colours, with something in them; the newest first."""
    return _filled(
        list(
            MixVessel.objects.filter(job=job, kind=MixVessel.Kind.JAR, put_away=None)
            .select_related("job")
            .order_by("-pk")
        )
    )


def due_jars(today: date | None = None, *, ahead: timedelta = SOON) -> list[Jar]:
    """Every jar with something in it whose day is past or comes within `ahead`, the first day first."""
    last = (today or timezone.localdate()) + ahead
    rows = MixVessel.objects.filter(kind=MixVessel.Kind.JAR, put_away=None, keep_until__lte=last)
    return _filled(list(rows.select_related("job").order_by("keep_until", "pk")))


def _filled(rows: Sequence[MixVessel]) -> list[Jar]:
    if not rows:
        return []
    book = ledger_of(rows)
    names = {key: component.name for key, component in components().items()}
    return [jar for jar in (jar_of(row, book, names) for row in rows) if jar.state.volume > 0]
