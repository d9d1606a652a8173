"""Planning around what the other open jobs hold: the one call that the runs of a job share."""

import logging
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from django.utils import timezone

from hidewright.planning.change.shared import JobPlan, plan_around
from hidewright.planning.change.together import Share
from hidewright.planning.solve.planner import AuditError
from hidewright.refusals import Refusal
from hidewright.workshop.days.sharing_queries import Shared, share_of
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.runs import RunHandle

logger = logging.getLogger(__name__)


def job_of(handle: RunHandle) -> Job:
    """The job of a run; refuses a run of the whole shop."""
    if handle.run.job is None:
        raise Refusal("There is no job to plan.")
    return handle.run.job


def planned_around(
    handle: RunHandle, asked: dict[str, Any], share: Share, others: Sequence[Shared], moment: datetime
) -> JobPlan:
    """The share planned around what the plans of `others` hold, for `asked["seconds"]`; refuses in words what cannot be."""
    with audited(share.key):
        return plan_around(
            share,
            _shares(others),
            moment,
            seconds=float(asked["seconds"]),
            keep=not share.loose,
            on_progress=handle.progress,
            should_stop=handle.should_stop,
        )


def _shares(others: Sequence[Shared]) -> list[Share]:
    """The others as they hold the shop; one whose days are all over, and that can no longer be planned, holds nothing."""
    shares = []
    for one in others:
        try:
            shares.append(share_of(one))
        except Refusal:
            if one.row.finish >= timezone.localdate():
                raise
            logger.warning("%s owes work and cannot be planned as it is now: no hands are kept", one.label)
    return shares


@contextmanager
def audited(where: str) -> Iterator[None]:
    """Say in words that a plan broke a rule: it is not kept."""
    try:
        yield
    except AuditError as error:
        logger.exception("a plan of %s broke a rule", where)
        raise Refusal(
            f"The plan that was found broke a rule of the shop and was not kept: {error}",
            where=where,
            remedy="The plan in force stays. Plan everything from scratch, or tap what is missing and try again.",
        ) from error
