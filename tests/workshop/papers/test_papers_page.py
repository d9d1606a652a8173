"""The page of the papers: mixing card and touch-up sheet out of the recipe that was chosen."""

from datetime import date
from io import BytesIO

import pytest
from django.test import Client
from pypdf import PdfReader

from hidewright import demo
from hidewright.units import show_volume
from hidewright.workshop.bench import jar_actions as jars
from hidewright.workshop.bench import load_actions as portions
from hidewright.workshop.colours.models import Choice, Reading, Recipe, Target
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.pieces.queries import pieces
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job

pytestmark = pytest.mark.django_db

DATA = {
    "parts": [
        {"key": "PW6", "name": "White", "hex": "#f4f4f4", "mass_g_per_l": 300.0, "volume_ml_per_l": 160.0},
        {"key": "base", "name": "Clear base", "hex": "", "mass_g_per_l": 865.2, "volume_ml_per_l": 840.0},
    ],
    "load": 0.16,
    "density": 1.165,
    "hex": "#909192",
    "labs": {"D65": [60.0, 0.0, 0.0]},
    "delta_e": {"D65": 0.7},
    "coats": 2,
    "cost_per_l": "20.00",
    "drop": 0.5,
    "drop_of": "PW6",
    "reflectance": [0.3] * 31,
}


@pytest.fixture
def coloured(job: Job) -> Job:
    """A job with a chosen recipe."""
    reading = Reading.objects.create(job=job, name="Biscuit #1 *", reflectance=[0.3] * 31)
    target = Target.objects.create(job=job, reading=reading)
    recipe = Recipe.objects.create(job=job, target=target, name="Recipe 1", rank=1, batch=1, data=DATA)
    Choice.objects.create(job=job, recipe=recipe)
    return job


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_the_card_is_scaled_to_the_batch(visitor: Client, coloured: Job) -> None:
    assert "Open the card" in visitor.get(f"/jobs/{coloured.pk}/papers/").content.decode()
    answer = visitor.get(
        f"/jobs/{coloured.pk}/papers/mixing-card.pdf", {"batch": "500 mL", "vessel": "Cup #7"}
    )
    assert answer.status_code == 200
    text = text_of(answer.content)
    for wanted in ("Biscuit #1 *: Recipe 1", "150.0", "582.6", "500 mL in Cup #7"):
        assert wanted in text, wanted


@pytest.mark.parametrize("batch", ["", "lots", "-3 L", "0", "900 L"])
def test_a_batch_that_cannot_be_is_refused_on_the_page(visitor: Client, coloured: Job, batch: str) -> None:
    answer = visitor.get(f"/jobs/{coloured.pk}/papers/mixing-card.pdf", {"batch": batch})
    assert answer.status_code == 422
    assert 'class="error"' in answer.content.decode()


def test_the_touch_up_sheet_gives_the_colour_for_a_hundred_grams(visitor: Client, coloured: Job) -> None:
    text = text_of(visitor.get(f"/jobs/{coloured.pk}/papers/touch-up.pdf").content)
    assert "25.75" in text
    assert "74.25" in text


def test_the_touch_up_sheet_tells_the_colour_as_it_was_poured_and_names_the_jars(
    visitor: Client, coloured: Job
) -> None:
    """White went over: what is mended later must match what lies on the leather, not what was meant."""
    sheet = f"/jobs/{coloured.pk}/papers/touch-up.pdf"
    assert "nothing of it is mixed yet" in text_of(visitor.get(sheet).content)
    told = {"aim": "500 mL", "capacity": "900 mL", "measure": "each"}
    assert visitor.post(f"/jobs/{coloured.pk}/mixing/begin/", told).status_code == 302
    row = MixVessel.objects.latest("pk")
    for key, reading in (("base", "432.6"), ("PW6", "180")):
        row.refresh_from_db()
        pour = {"component": key, "seen": str(row.turns), "value": reading, "lot": "L7"}
        assert visitor.post(f"/jobs/{coloured.pk}/mixing/{row.pk}/pour/", pour).status_code == 302
    visitor.post(f"/jobs/{coloured.pk}/mixing/{row.pk}/accept/")
    text = text_of(visitor.get(sheet).content)
    assert f"As poured, in {row.name}" in text
    assert "29.38" in text, "180 of 612.6 g"
    portions.spray(row, 100, {})
    assert "As sprayed on this job" in text_of(visitor.get(sheet).content)
    jar = jars.keep_jar(row, 60, name="Spare", until=date(2031, 5, 1))
    text = text_of(visitor.get(sheet).content)
    for wanted in ("As poured, in Spare", "60 mL", "keep until 1 May 2031", "lot L7", "29.38"):
        assert wanted in text, wanted
    page = visitor.get(f"/jobs/{coloured.pk}/papers/").content.decode()
    assert f"/jars/{jar.pk}/label.pdf" in page


def test_without_a_recipe_the_page_says_so(visitor: Client, job: Job) -> None:
    assert "Choose a recipe first" in visitor.get(f"/jobs/{job.pk}/papers/").content.decode()
    for name in ("mixing-card.pdf?batch=1L", "touch-up.pdf"):
        assert visitor.get(f"/jobs/{job.pk}/papers/{name}").status_code == 422


def test_the_spray_order_card_names_every_piece(visitor: Client, job: Job) -> None:
    assert "Enter the pieces first" in visitor.get(f"/jobs/{job.pk}/papers/").content.decode()
    assert visitor.get(f"/jobs/{job.pk}/papers/spray-order.pdf").status_code == 422
    import_csv(job, demo.text("pieces.csv"))
    assert "Spray order card" in visitor.get(f"/jobs/{job.pk}/papers/").content.decode()
    text = text_of(visitor.get(f"/jobs/{job.pk}/papers/spray-order.pdf").content)
    assert all(piece.key in text for piece in pieces(job))


def test_the_card_tells_the_amount_that_the_pages_tell(visitor: Client, coloured: Job) -> None:
    import_csv(coloured, demo.text("pieces.csv"))
    told = visitor.get(f"/jobs/{coloured.pk}/quantities/").context
    page = visitor.get(f"/jobs/{coloured.pk}/papers/")
    assert page.context["card_form"]["batch"].value() == show_volume(told["stand"].mix)
    answer = visitor.get(f"/jobs/{coloured.pk}/papers/mixing-card.pdf", {"batch": "1 L"})
    assert told["advice"].what in text_of(answer.content)
