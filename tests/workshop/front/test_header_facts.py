"""The header never shows a job in time against the facts: every state, and a job at work."""

import re
from datetime import date, timedelta
from itertools import product

import pytest
from django.test import Client

from hidewright.survey import make_piece
from hidewright.workshop.days.models import Plan, Redo
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.days.promise_queries import Outlook, Promise
from hidewright.workshop.front.header import JobHeader, job_header
from hidewright.workshop.inspection import snag_actions
from hidewright.workshop.pieces.actions import add_pieces
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job, Shop
from workshop.lean_shop import keys, lean_job

TODAY = date(2026, 3, 10)
NEVER = "in time"


def in_time_may_be_said(
    promised: int | None, finish: int | None, chance: float | None, **facts: object
) -> bool:
    """By the facts alone: a day is promised and not past, a plan ends by it, knows all there is, and holds nine times in ten."""
    return (
        promised is not None
        and promised >= 0
        and finish is not None
        and finish <= promised
        and (chance is None or chance >= 0.9)
        and not any(facts.values())
    )


@pytest.mark.parametrize(("promised", "finish"), list(product((None, -291, -1, 0, 5), (None, -20, 0, 5, 6))))
def test_in_no_state_it_says_in_time_against_the_facts(promised: int | None, finish: int | None) -> None:
    for chance, left, outrun, over, unplanned in product(
        (None, 0.3, 0.6, 0.95), (False, True), (False, True), (0, 3), (0, 2)
    ):
        day = TODAY + timedelta(days=promised or 0)
        header = JobHeader(
            in_hand=0.0, needed=None, needed_p90=None, enough="", today_total=None, today_done=0, today_next="",
            finish=None if finish is None else TODAY + timedelta(days=finish), promised=None if promised is None else day, days_left=promised,
            odds=None if chance is None else Promise(TODAY, TODAY, chance), left=left, outrun=outrun, left_over=over, unplanned=unplanned,
        )  # fmt: skip
        facts = {"left": left, "outrun": outrun, "over": over, "unplanned": unplanned}
        may = in_time_may_be_said(promised, finish, chance, **facts)
        assert (header.outlook is Outlook.IN_TIME) is may, (chance, facts)
        if promised is not None and promised < 0 and not left:
            assert header.outlook is Outlook.LATE


@pytest.fixture
def job(db: None) -> Job:
    """Planned for 2 and 3 March, promised for the 27th, and the first day's work done."""
    job = lean_job()
    Job.objects.filter(pk=job.pk).update(promised=date(2026, 3, 27))
    job.refresh_from_db()
    for key in keys("strip", "wipe down", "wipe in colour", "spray colour"):
        tap(job, key, "done", f"t-{key}")
    return job


def test_a_job_at_work(job: Job) -> None:
    """In time on its second day; not once a step of the first is open again, and not when the plan is over."""
    second = date(2026, 3, 3)
    assert job_header(job, second).outlook is Outlook.IN_TIME
    tap(job, keys("strip")[0], "undo", "u1")
    behind = job_header(job, second)
    assert (behind.left_over, behind.outlook) == (1, None)
    assert job_header(job, date(2026, 3, 9)).outlook is None, "the plan ended with work left"
    assert job_header(job, date(2026, 3, 28)).outlook is Outlook.LATE


def test_what_the_plan_does_not_know_is_said(visitor: Client, job: Job) -> None:
    Plan.objects.update(facts={"slack": {"C1": 0, "C2": 0, "C3": 0}})
    second = date(2026, 3, 3)
    assert job_header(job, second).outlook is Outlook.IN_TIME
    add_pieces(job, make_piece(key="C4", name="Arm", group="Chair", shape="panel", length=0.3, width=0.2))
    assert (job_header(job, second).unplanned, job_header(job, second).outlook) == (1, None)
    Redo.objects.create(job=job, piece="C1", kinds=["sand"])
    assert job_header(job, second).unplanned == 2
    page = visitor.get(f"/jobs/{job.pk}/").content.decode()
    assert NEVER not in page


def test_the_shop_s_own_word_stands_on_every_page(visitor: Client, job: Job) -> None:
    Shop.objects.filter(pk=the_shop().pk).update(snag_word="squawk")
    snag_actions.add(job, "A cut", piece="C1", weight="later")
    for page in ("", "snags/", "inspection/", "days/", "days/pieces/C1/", "papers/", "closing/", "account/", "contacts/"):  # fmt: skip
        answer = visitor.get(f"/jobs/{job.pk}/{page}")
        assert answer.status_code == 200, page
        seen = re.sub(r"<(script|style)\b.*?</\1>|<[^>]*>", " ", answer.content.decode(), flags=re.DOTALL)
        assert not re.search(r"\bsnags?\b", seen, re.IGNORECASE), page
        assert "quawk" in seen or page == "contacts/", page
