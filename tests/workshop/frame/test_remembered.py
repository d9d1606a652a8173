"""What a page gathers is read once for it, is never carried over to the next page, and costs so many queries at most."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from hidewright import demo
from hidewright.workshop.days import actions as days
from hidewright.workshop.days import queries as gather_days
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.pieces import actions as survey
from hidewright.workshop.room import actions as room
from hidewright.workshop.shelf import actions as products
from hidewright.workshop.shelf import queries as gather
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered, remembering

pytestmark = pytest.mark.django_db


def test_the_same_question_is_asked_once_while_remembering() -> None:
    asked: list[tuple[int, bool]] = []

    @remembered
    def gathered(number: int, *, turned: bool = False) -> int:
        asked.append((number, turned))
        return 10 * number

    with remembering():
        assert [gathered(1), gathered(1), gathered(2), gathered(1, turned=True)] == [10, 10, 20, 10]
    assert asked == [(1, False), (2, False), (1, True)]
    assert gathered(1) == 10
    assert len(asked) == 4, "elsewhere it is asked every time"
    with remembering():
        gathered(1)
    assert len(asked) == 5, "nothing is carried over"


def test_what_was_written_stands_on_the_next_page(visitor: Client) -> None:
    assert "Clear base" not in visitor.get("/products/").content.decode()
    products.import_csv(demo.text("products.csv"))
    assert "Clear base" in visitor.get("/products/").content.decode()


def test_a_form_that_writes_sees_what_it_wrote(visitor: Client) -> None:
    assert not gather.products()
    products.import_csv(demo.text("products.csv"))
    assert gather.products()


@pytest.mark.parametrize(
    ("page", "most"),
    [
        ("", 36),
        ("survey/", 30),
        ("colour/", 40),
        ("quantities/", 36),
        ("mixing/", 45),
        ("days/", 42),
        ("snags/", 32),
    ],
)
def test_a_page_costs_so_many_queries_at_most(
    visitor: Client, job: Job, django_assert_max_num_queries: pytest.FixtureRequest, page: str, most: int
) -> None:
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    survey.import_csv(job, demo.text("pieces.csv"))
    products.import_csv(demo.text("products.csv"))
    visitor.get(f"/jobs/{job.pk}/{page}")
    with django_assert_max_num_queries(most):  # type: ignore[operator]
        assert visitor.get(f"/jobs/{job.pk}/{page}").status_code == 200


def test_a_refused_form_costs_no_more_than_its_page(visitor: Client, job: Job) -> None:
    """But for the token, the form and the step that was refused: the page is gathered once, as when it is asked for (163 queries without)."""
    where = f"/jobs/{job.pk}/quantities/"
    survey.import_csv(job, demo.text("pieces.csv"))
    products.import_csv(demo.text("products.csv"))
    visitor.get(where)
    with CaptureQueriesContext(connection) as page:
        visitor.get(where)
    with CaptureQueriesContext(connection) as refused:
        assert visitor.post(where, {"colour_coats": "many", "act": "a"}).status_code == 422
    assert len(refused) <= len(page) + 16


@pytest.fixture
def planned(visitor: Client, job: Job, quick_planning: None) -> Job:
    """A small job that starts today, planned in a moment, with taps, a wait, a piece that hurries and one that goes again."""
    Job.objects.filter(pk=job.pk).update(starts=timezone.localdate(), promised=None)
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    survey.import_csv(job, "\n".join(demo.text("pieces.csv").splitlines()[:6]))
    products.import_csv(demo.text("products.csv"))
    visitor.post(f"/jobs/{job.pk}/days/plan/", {"seconds": "10", "how": "anew"})
    plan = gather_days.plan_in_force(job)
    assert plan is not None
    first = min(
        (act for act in plan.acts if act.piece not in ("the job", "colour")), key=lambda act: act.start
    )
    tap(job, first.key, "done", "t1")
    later = timezone.localdate() + timedelta(days=20)
    days.hold(job, first.piece, "inspect", timezone.localdate() + timedelta(days=1), "the photo")
    days.set_due(job, first.piece, later)
    days.do_again(job, first.piece, ["sand", "spray clear"])
    return job


def made_again(visitor: Client, job: Job) -> None:
    row = gather_days.plan_row(job)
    room.add_storage("Wall rack", 60)
    visitor.post(f"/jobs/{job.pk}/days/plan/", {"seconds": "10", "how": "keep"})
    assert gather_days.plan_row(job) != row, "a plan that was made again is in force"


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("again", [False, True], ids=["planned", "made again"])
def test_a_planned_job_costs_so_many_queries_at_most(
    visitor: Client, planned: Job, django_assert_max_num_queries: pytest.FixtureRequest, again: bool
) -> None:
    if again:
        made_again(visitor, planned)
    for page, most in (("days/", 54), ("days/whole/", 26), ("", 38), ("snags/", 32)):
        visitor.get(f"/jobs/{planned.pk}/{page}")
        with django_assert_max_num_queries(most):  # type: ignore[operator]
            assert visitor.get(f"/jobs/{planned.pk}/{page}").status_code == 200


@pytest.mark.django_db(transaction=True)
def test_more_people_waits_and_tables_cost_no_more_queries(visitor: Client, planned: Job) -> None:
    def cost() -> int:
        visitor.get(f"/jobs/{planned.pk}/days/")
        with CaptureQueriesContext(connection) as asked:
            visitor.get(f"/jobs/{planned.pk}/days/")
        return len(asked)

    before = cost()
    for name in ("Ana", "Ben", "Cleo"):
        room.set_skills(add_person(name), ["sand"])
        room.add_table(f"Table of {name}", 2.0, 0.8)
        days.hold(planned, "LC1-seat", "inspect", timezone.localdate() + timedelta(days=2), name)
    assert cost() <= before
