"""The page Air and damp: what it compares follows the safety stage; it warns and defers, and clears nothing."""

import pytest
from django.test import Client

from hidewright import demo
from hidewright.safety.air import PINT_ML
from hidewright.safety.damp import dew_point
from hidewright.workshop.days import air_queries as gather
from hidewright.workshop.pieces import actions as survey
from hidewright.workshop.room import air_actions as steps
from hidewright.workshop.room.models import AirReading
from hidewright.workshop.shelf import actions as products
from hidewright.workshop.shop.models import Act, Job, Shop
from hidewright.workshop.shop.undo import undo


@pytest.fixture
def filled(job: Job) -> Job:
    survey.import_csv(job, demo.text("pieces.csv"))
    products.import_csv(demo.text("products.csv"))
    return job


def url(job: Job, rest: str = "") -> str:
    return f"/jobs/{job.pk}/air/{rest}"


def test_an_empty_job_has_the_page_too_and_it_defers(visitor: Client, job: Job) -> None:
    page = visitor.get(url(job)).content.decode()
    for words in ("clear nothing", "data sheet", "authorised people", "No solvent is listed"):
        assert words in page
    for claim in ("compliant", "is safe", "airworthy"):
        assert claim not in page


def test_a_reading_moves_dew_point_margin_and_drying(visitor: Client, filled: Job) -> None:
    told = {"celsius": "25", "humidity": "60", "surface": "18", "speed": ""}
    assert visitor.post(url(filled, "read/"), told).status_code == 302
    now = gather.air_now(filled)
    assert now.damp.dew_point == pytest.approx(dew_point(25, 0.6))
    assert now.damp.margin == pytest.approx(18 - 16.69, abs=0.05), "Magnus: 25 °C, 60 % has 16.69 °C"
    page = visitor.get(url(filled)).content.decode()
    for words in ("16.7 °C", "1.3 K", "Only 1.3 K above the dew point", "close"):
        assert words in page
    undo(Act.objects.filter(undo_name="air.strike").latest("id").pk)
    assert gather.air_now(filled).reading is None
    steps.note_air(filled, 15, 0.8)
    slow = gather.drying_now(gather.air_now(filled).air)
    assert slow.factor is not None
    assert slow.factor > 2
    assert all(line.now == pytest.approx(slow.factor * line.usual) for line in slow.lines)
    steps.note_air(filled, 20, 0.99)
    assert gather.drying_now(gather.air_now(filled).air).refusal is not None
    assert "does not dry in a time that anybody can forecast" in visitor.get(url(filled)).content.decode()


def test_fresh_air_is_the_published_example(filled: Job) -> None:
    """Isopropanol, one pint an hour, 400 ppm: 219.3 cfm before K (ACGIH form; arithmetic)."""
    line = next(each for each in gather.solvents(filled, PINT_ML) if each.product.key == "isopropanol")
    assert line.fresh is not None
    assert line.fresh.ideal / gather.CFM == pytest.approx(219.3, abs=0.3)
    assert line.fresh.wanted == pytest.approx(5 * line.fresh.ideal)
    assert line.wanted == line.fresh.wanted
    assert line.room is None, "the room is not known yet"


def test_room_and_fan_are_compared_and_undone(visitor: Client, filled: Job) -> None:
    assert (
        visitor.post(url(filled, "room/"), {"room": "30", "fresh": "100", "mixing": "5"}).status_code == 302
    )
    lines = gather.solvents(filled, 2000)
    assert all(line.over for line in lines), "two litres an hour in 30 m³"
    assert all(line.short and line.short > 0 for line in lines)
    page = visitor.get(url(filled), {"hourly": "2 L"}).content.decode()
    assert "less than that" in page
    assert "over a quarter" in page
    undo(Act.objects.filter(undo_name="air.room").latest("id").pk)
    assert gather.setup().room is None


def test_without_a_limit_no_figure_is_invented(visitor: Client, filled: Job) -> None:
    from hidewright.workshop.shelf.models import Product

    Product.objects.filter(key="acetone").update(molar_mass=None)
    line = next(each for each in gather.solvents(filled, 500) if each.product.key == "acetone")
    assert (line.fresh, line.fire, line.room, line.short) == (None, None, None, None)
    assert "Not entered: molar mass." in visitor.get(url(filled)).content.decode()


def test_us_units_are_read_and_shown(visitor: Client, filled: Job) -> None:
    Shop.objects.update_or_create(pk=1, defaults={"units": "us"})
    told = {"celsius": "77", "humidity": "60", "surface": "", "speed": "0"}
    assert visitor.post(url(filled, "read/"), told).status_code == 302
    assert AirReading.objects.get().celsius == pytest.approx(25)
    assert (
        visitor.post(url(filled, "room/"), {"room": "1000", "fresh": "500", "mixing": "3"}).status_code == 302
    )
    assert gather.setup().room == pytest.approx(28.3168, abs=0.001)
    page = visitor.get(url(filled)).content.decode()
    for words in ("77.0 °F", "62.0 °F", "cfm", "500 cfm", "15.0 °F above the dew point"):
        assert words in page


@pytest.mark.parametrize(
    ("rest", "told"),
    [
        ("read/", {"celsius": "", "humidity": "50"}),
        ("read/", {"celsius": "20", "humidity": "0"}),
        ("read/", {"celsius": "20", "humidity": "150"}),
        ("read/", {"celsius": "1e9", "humidity": "50"}),
        ("read/", {"celsius": "20", "humidity": "50", "surface": "900"}),
        ("read/", {"celsius": "20", "humidity": "50", "speed": "-3"}),
        ("room/", {"room": "-5", "fresh": "", "mixing": "5"}),
        ("room/", {"room": "50", "fresh": "-1", "mixing": "5"}),
        ("room/", {"room": "50", "fresh": "", "mixing": "0"}),
        ("room/", {"room": "50", "fresh": "", "mixing": ""}),
    ],
)
def test_what_cannot_be_is_refused(visitor: Client, filled: Job, rest: str, told: dict[str, str]) -> None:
    assert visitor.post(url(filled, rest), told).status_code == 422
    assert not AirReading.objects.exists()
    assert gather.setup().room is None


def test_what_leaves_into_the_air_adds_up(visitor: Client, filled: Job) -> None:
    leaves = gather.emissions(filled)
    solvent = next(e for e in leaves if e.words == "Wipe-down solvent")
    assert solvent.grams == pytest.approx(solvent.millilitres / 1000 * 785)
    assert visitor.get(url(filled)).context["grams"] == pytest.approx(sum(e.grams or 0 for e in leaves))
    assert any(e.voc is None for e in leaves)
