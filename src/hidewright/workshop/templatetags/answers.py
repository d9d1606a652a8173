"""Template tags by which a page shows what a higher subject knows: the header, the day's sessions, open snags, what a shift changes."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from django import template
from numpy.typing import NDArray

from hidewright.planning.problem.kinds import SPRAYED
from hidewright.workshop.cards.queries import CardValue, ListValue, cards_for, due_before_spraying
from hidewright.workshop.credentials.queries import PaperReminders, paper_reminders
from hidewright.workshop.days.lists import Group
from hidewright.workshop.front import header
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.inspection.reminder_queries import Reminder, before_last_coat, reminders
from hidewright.workshop.pieces.colour_queries import ColourOfJob, job_colours
from hidewright.workshop.pieces.queries import piece_texts
from hidewright.workshop.quantities.colour_change import Downstream, downstream
from hidewright.workshop.sessions.draw_queries import Draw, draws
from hidewright.workshop.sessions.queries import sessions
from hidewright.workshop.shelf.vessel_queries import VesselState
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

register = template.Library()


@register.simple_tag
def job_header(job: Job) -> header.JobHeader:
    """The three answers at the top of every page of a job."""
    return header.job_header(job)


@register.simple_tag
def colours_of(job: Job) -> tuple[ColourOfJob, ...]:
    """The colours of a job by number."""
    return job_colours(job)


@register.inclusion_tag("mixing/_sessions.html", takes_context=True)
def spray_sessions(
    context: template.Context, job: Job, states: list[VesselState], in_hand: float
) -> dict[str, Any]:
    """What of the page's colour is sprayed on the next day of the plan, with its gun loads."""
    day, rows = sessions(job, states, in_hand, context.get("of") or 0)
    page: dict[str, Any] = {str(key): value for key, value in context.flatten().items()}
    return page | {"spray_day": day, "sessions": rows, "units": the_shop().units}


@register.simple_tag
def session_draws(job: Job, keys: list[str]) -> tuple[Draw, ...]:
    """What a session takes of each pot by the forecast, and the vessels it can come from."""
    return draws(job, tuple(keys))


@register.simple_tag
def snags_of(job: Job, piece: str) -> list[Snag]:
    """The open snags of one piece."""
    return list(Snag.objects.filter(job=job, piece=piece, withdrawn=None, closed=None))


@dataclass(frozen=True, slots=True)
class JobReminders:
    """What a job must not forget: its papers, and its snags."""

    papers: PaperReminders
    snags: tuple[Reminder, ...]

    @property
    def any(self) -> bool:
        """Whether there is anything to say."""
        return self.papers.any or bool(self.snags)

    @property
    def count(self) -> int:
        """How many things there are to say."""
        papers = self.papers
        return len(papers.missing) + len(papers.over) + len(papers.soon) + len(self.snags)


@register.simple_tag
def job_reminders(job: Job) -> JobReminders:
    """What stands in a job's header beside the three answers."""
    return JobReminders(paper_reminders(job), reminders(job))


@register.simple_tag
def cards_of(job: Job, group: Group) -> tuple[CardValue, ...]:
    """The how-to cards for a session."""
    texts = piece_texts(job)
    steps = {line.act.key.rsplit("/", 1)[-1] for line in group.lines}
    return cards_for(steps, [texts.get(mark, mark) for mark in group.pieces])


@register.simple_tag
def lists_before(group: Group) -> tuple[ListValue, ...]:
    """The checklists to go through before a session: those before spraying that are due, where it sprays and is not done."""
    sprays = any(f"/{kind}" in line.act.key for line in group.lines for kind in SPRAYED)
    return due_before_spraying() if sprays and group.state == "open" else ()


@register.simple_tag
def last_coat_snags(job: Job, group: Group) -> list[Snag]:
    """The open blocking snags of pieces that get their last coat in a session."""
    found = before_last_coat(job)
    return [row for line in group.lines if not line.standing.done for row in found.get(line.act.key, ())]


@register.simple_tag(takes_context=True)
def shift_changes(context: template.Context, job: Job, new: Any) -> Downstream | None:
    """What aiming at a shifted target changes in coats, litres and cost of the page's colour."""
    reflectance: NDArray[np.float64] = new.reflectance
    return downstream(job, reflectance, context.get("of") or 0)
