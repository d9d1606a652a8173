"""Template tags by which a page shows what a higher subject knows: the header, the day's sessions, open snags, what a shift changes."""

from typing import Any

import numpy as np
from django import template
from numpy.typing import NDArray

from hidewright.workshop.front import header
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.quantities.colour_change import Downstream, downstream
from hidewright.workshop.sessions.queries import sessions
from hidewright.workshop.shelf.vessel_queries import VesselState
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

register = template.Library()


@register.simple_tag
def job_header(job: Job) -> header.JobHeader:
    """The three answers at the top of every page of a job."""
    return header.job_header(job)


@register.inclusion_tag("mixing/_sessions.html", takes_context=True)
def spray_sessions(
    context: template.Context, job: Job, states: list[VesselState], in_hand: float
) -> dict[str, Any]:
    """What is sprayed on the next day of the plan, with its gun loads."""
    day, rows = sessions(job, states, in_hand)
    page: dict[str, Any] = {str(key): value for key, value in context.flatten().items()}
    return page | {"spray_day": day, "sessions": rows, "units": the_shop().units}


@register.simple_tag
def snags_of(job: Job, piece: str) -> list[Snag]:
    """The open snags of one piece."""
    return list(Snag.objects.filter(job=job, piece=piece, withdrawn=None, closed=None))


@register.simple_tag
def shift_changes(job: Job, new: Any) -> Downstream | None:
    """What aiming at a shifted target changes in coats, litres and cost."""
    reflectance: NDArray[np.float64] = new.reflectance
    return downstream(job, reflectance)
