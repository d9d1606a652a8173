"""The chosen recipe on the a*b* plane, pour by pour: on the vessel's page and on the mixing card."""

from io import BytesIO

import numpy as np
import pytest
from django.test import Client
from pypdf import PdfReader

from hidewright import demo
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours.plane import recipe_plane
from hidewright.workshop.shop.models import Job
from workshop.few_pigments import choose_the_best, know_the_few

pytestmark = pytest.mark.django_db


@pytest.fixture
def chosen(job: Job) -> Job:
    """A job whose recipe is chosen."""
    know_the_few()
    steps.import_readings(job, demo.text("readings.csv"))
    choose_the_best(job)
    return job


def test_the_way_leads_pour_by_pour_to_the_recipe(chosen: Job) -> None:
    shown, recipe = recipe_plane(chosen), gather.chosen_recipe(chosen)
    assert shown is not None
    assert recipe is not None
    assert shown.cup is not None
    assert [spot.label for spot in shown.way] == [
        f"after pour {n}" for n in range(2, len(recipe.recipe.pigments) + 1)
    ]
    told = np.array(recipe.recipe.labs["D65"])
    assert np.abs(shown.cup.lab - told).max() < 0.5, "the last pour makes the recipe"
    assert shown.cup.covariance is not None
    assert np.linalg.eigvalsh(shown.cup.covariance).min() > 0


def test_it_stands_on_the_vessel_s_page_and_on_the_card(visitor: Client, chosen: Job) -> None:
    answer = visitor.post(f"/jobs/{chosen.pk}/mixing/begin/", {"aim": "500 mL", "measure": "running"})
    assert answer.status_code == 302, answer.content.decode()[:400]
    page = visitor.get(answer.headers["Location"]).content.decode()
    assert "The colour, pour by pour" in page
    assert "after pour 2" in page
    card = visitor.get(f"/jobs/{chosen.pk}/papers/mixing-card.pdf", {"batch": "500", "vessel": ""}).content
    pages = PdfReader(BytesIO(card)).pages
    assert len(pages) == 1
    assert "The colour, pour by pour" in pages[0].extract_text()


def test_without_a_recipe_there_is_none(job: Job) -> None:
    assert recipe_plane(job) is None
