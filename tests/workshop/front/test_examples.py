"""Files to fill in: each is taken in by the form that offers it."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from hidewright.workshop.front.example_views import EXAMPLES
from hidewright.workshop.shop.models import Act
from workshop.sent_forms import list_form

pytestmark = pytest.mark.django_db


def example(visitor: Client, name: str) -> SimpleUploadedFile:
    answer = visitor.get(f"/examples/{name}.csv")
    assert answer.status_code == 200
    return SimpleUploadedFile(f"{name}.csv", answer.content, "text/csv")


@pytest.mark.parametrize(
    ("address", "files"),
    [
        ("/pigments/list/", {"list-file": "pigments"}),
        ("/tables/files/", {"file-tables": "tables", "file-hours": "hours", "file-people": "people"}),
    ],
)
def test_the_form_that_offers_an_example_takes_it(
    visitor: Client, address: str, files: dict[str, str]
) -> None:
    answer = visitor.post(address, {field: example(visitor, name) for field, name in files.items()})
    assert answer.status_code == 302
    assert Act.objects.exists()


def test_the_example_of_products_needs_no_answer(visitor: Client) -> None:
    page = visitor.post("/lists/products/", {"file": example(visitor, "products")}, follow=True)
    form = list_form(page.content.decode()) | {"take": "take"}
    assert visitor.post(page.request["PATH_INFO"], form).status_code == 302
    assert Act.objects.get().text.startswith("Took 10 products")


def test_drawdowns_come_in_once_their_pigments_are_listed(visitor: Client) -> None:
    visitor.post("/pigments/list/", {"list-file": example(visitor, "pigments")})
    answer = visitor.post("/pigments/drawdowns/", {"drawdowns-file": example(visitor, "drawdowns")})
    assert answer.status_code == 302


def test_every_example_can_be_fetched_and_nothing_else(visitor: Client) -> None:
    for name in EXAMPLES:
        assert example(visitor, name).size
    assert visitor.get("/examples/job.csv").status_code == 404
    assert visitor.get("/examples/pieces.csv").status_code == 404
