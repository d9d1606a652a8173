"""Gaps in the taps: sprayed before it was stripped, or a tap forgotten; the page asks, and either answer is one tap."""

import re
from dataclasses import replace

import pytest
from django.test import Client

from hidewright.charts.plan import ActShown
from hidewright.workshop.days import queries as gather
from hidewright.workshop.days.actions import keep_plan
from hidewright.workshop.days.gap_queries import gaps
from hidewright.workshop.days.progress_actions import taps
from hidewright.workshop.days.progress_queries import standings
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.shop.models import Job
from workshop.plans import PLAN, at

pytestmark = pytest.mark.django_db

STEPS = ("prep/strip", "front/mask", "front/spray colour", "front/spray clear")
KEYS = tuple(f"C3/{step}" for step in STEPS)


@pytest.fixture
def planned(job: Job) -> Job:
    """A job with one piece more in its plan, in four steps."""
    add_person("Ana")
    more = tuple(
        ActShown(key, "C3", "", key.rsplit("/", 1)[1], "Ana", at(2, 9 + n), at(2, 10 + n), "Table A")
        for n, key in enumerate(KEYS)
    )
    keep_plan(job, replace(PLAN, acts=(*PLAN.acts, *more)))
    return job


def page(visitor: Client, job: Job) -> str:
    return visitor.get(f"/jobs/{job.pk}/days/").content.decode()


def answered(visitor: Client, job: Job, number: int) -> dict[str, bool]:
    """Send one of the forms of the question as a browser would; how the steps stand then."""
    asked = page(visitor, job).split('id="gaps"')[1].split("</section>")[0]
    form = re.findall(r"<form.*?</form>", asked, re.DOTALL)[number]
    fields: dict[str, list[str]] = {}
    for name, value in re.findall(r'name="([^"]+)" value="([^"]*)"', form):
        fields.setdefault(name, []).append(value)
    assert visitor.post(f"/jobs/{job.pk}/days/tap/", fields).status_code == 302
    return {key.rsplit("/", 1)[1]: standing.done for key, standing in standings(job).items()}


def test_nothing_is_asked_while_taps_come_in_order(visitor: Client, planned: Job) -> None:
    taps(planned, KEYS[:2], "done", "a")
    assert 'id="gaps"' not in page(visitor, planned)


def test_sprayed_before_stripped_is_asked_about(visitor: Client, planned: Job) -> None:
    taps(planned, [KEYS[2]], "done", "a")
    text = page(visitor, planned)
    assert "<strong>C3</strong>: strip, mask" in text
    assert "look at the piece before it goes on" in text


def test_it_was_done_is_kept_as_done_before_what_followed(visitor: Client, planned: Job) -> None:
    taps(planned, [KEYS[2]], "done", "a")
    assert answered(visitor, planned, 0) == {"spray colour": True, "strip": True, "mask": True}
    now = standings(planned)
    assert now[KEYS[0]].at < now[KEYS[2]].at  # type: ignore[operator]
    assert 'id="gaps"' not in page(visitor, planned)


def test_a_slip_of_the_finger_is_taken_back(visitor: Client, planned: Job) -> None:
    taps(planned, [KEYS[0], KEYS[2], KEYS[3]], "done", "a")
    assert answered(visitor, planned, 1) == {"strip": True, "spray colour": False, "spray clear": False}


def test_a_coat_that_lies_on_top_is_no_reason_for_that_caution(planned: Job) -> None:
    """A missing tap of a coat between two done ones leaves nothing out that must lie under a coat."""
    taps(planned, [*KEYS[:2], KEYS[3]], "done", "a")
    plan = gather.plan_in_force(planned)
    assert plan is not None
    (gap,) = gaps(planned, plan)
    assert (gap.missing, gap.later, gap.coated) == ((KEYS[2],), (KEYS[3],), False)
