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
    ("name", "words"),
    [
        ("products", "Took 10 products"),
        ("pigments", "Listed "),
        ("tables", "Took 4 tables"),
        ("people", "Took 2 people"),
    ],
)
def test_an_example_needs_no_answer(visitor: Client, name: str, words: str) -> None:
    take(visitor, name)
    assert Act.objects.get().text.startswith(words)


def test_the_example_of_hours_comes_in_once_its_people_are_known(visitor: Client) -> None:
    take(visitor, "people")
    take(visitor, "hours")
    assert Act.objects.latest("pk").text.startswith("Took the hours of")
    take(visitor, "absences")
    assert Act.objects.latest("pk").text.startswith("Took 3 absences")


def take(visitor: Client, name: str) -> None:
    """Bring an example and take it as it is read."""
    page = visitor.post(f"/lists/{name}/", {"file": example(visitor, name)}, follow=True)
    form = list_form(page.content.decode()) | {"take": "take"}
    assert visitor.post(page.request["PATH_INFO"], form).status_code == 302


def test_drawdowns_come_in_once_their_pigments_are_listed(visitor: Client) -> None:
    take(visitor, "pigments")
    answer = visitor.post("/pigments/drawdowns/", {"drawdowns-file": example(visitor, "drawdowns")})
    assert answer.status_code == 302


def test_every_example_can_be_fetched_and_nothing_else(visitor: Client) -> None:
    for name in EXAMPLES:
        assert example(visitor, name).size
    assert visitor.get("/examples/job.csv").status_code == 404
    assert visitor.get("/examples/pieces.csv").status_code == 404
