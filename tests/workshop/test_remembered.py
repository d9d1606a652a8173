"""What a page gathers is read once for it, is never carried over to the next page, and costs so many queries at most."""

import pytest
from django.test import Client

from hidewright import demo
from hidewright.workshop.gather import products as gather
from hidewright.workshop.gather.remembered import remembered, remembering
from hidewright.workshop.models.jobs import Job
from hidewright.workshop.steps import products, room, survey

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
        ("", 32),
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
    room.take_in(*(demo.text(f"{name}.csv") for name in ("tables", "hours", "people")))
    survey.import_csv(job, demo.text("pieces.csv"))
    products.import_csv(demo.text("products.csv"))
    visitor.get(f"/jobs/{job.pk}/{page}")
    with django_assert_max_num_queries(most):  # type: ignore[operator]
        assert visitor.get(f"/jobs/{job.pk}/{page}").status_code == 200
