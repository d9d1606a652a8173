"""Every pour draws from a lot and from stock; a counter-entry gives it back; odd lots are told, never refused."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from hidewright.mixing import MixPart, MixRecipe
from hidewright.takeoff.products import Product as ProductValue
from hidewright.takeoff.products import Role
from hidewright.workshop.bench import load_actions as portions
from hidewright.workshop.shelf import actions as products
from hidewright.workshop.shelf import queries as products_gather
from hidewright.workshop.shelf import stock_queries as stock
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import (
    MixEntry,
    MixVessel,
    Pigment,
    PigmentLot,
    Product,
    ProductLot,
    StockMove,
)
from hidewright.workshop.shop.models import Job

pytestmark = pytest.mark.django_db
RECIPE = MixRecipe("Any", (MixPart("base", "Clear base", 0.8, 1.03), MixPart("PW6", "White", 0.2, 1.9)))


@pytest.fixture
def cup(job: Job) -> MixVessel:
    """A cup, a base with two lots, a crosslinker, a thinner, and a pigment with a bottle of 100 mL."""
    products.add_product(ProductValue("base", "Base 40", Role.BASE, price=Decimal(30)))
    products.add_product(ProductValue("link", "Linker X", Role.CROSSLINKER, ratio=0.03, pot_life=240))
    products.add_product(ProductValue("thin", "Thinner", Role.SOLVENT, density=0.8))
    products.receive(Product.objects.get(key="base"), 1000, lot="B1")
    products.receive(Product.objects.get(key="base"), 2000, lot="B2")
    products.receive(Product.objects.get(key="link"), 100, lot="L1")
    white = Pigment.objects.create(key="PW6", name="White", density=1.9)
    PigmentLot.objects.create(pigment=white, name="W1", volume=100)
    return steps.begin_cup(job, RECIPE, 500, capacity=800)


def test_a_pour_draws_from_the_open_lot_and_is_given_back(cup: MixVessel) -> None:
    products.open_lot(ProductLot.objects.get(name="B2"))
    done = steps.pour(cup, "base", 400_000)
    assert done.entry.text.endswith("lot B2")
    assert products_gather.stock()["base"] == 2600
    assert StockMove.objects.get(entry=done.entry).lot == ProductLot.objects.get(name="B2")
    steps.take_back(done.entry.pk)
    assert products_gather.stock()["base"] == 3000
    assert {lot.name: lot.left for lot in stock.lots_held("base")} == {"B2": 2000, "B1": 1000}


def test_the_first_pour_opens_a_lot(cup: MixVessel) -> None:
    steps.pour(cup, "base", 100_000)
    assert ProductLot.objects.get(name="B1").opened == timezone.localdate()
    assert ProductLot.objects.get(name="B2").opened is None


def test_a_pigment_s_stock_is_what_came_less_what_was_poured(cup: MixVessel) -> None:
    done = steps.pour(cup, "PW6", 60_000)
    assert stock.stock()["PW6"] == pytest.approx(40)
    more = steps.pour(cup, "PW6", 60_000)
    assert "By the records lot W1 had 40 mL left, 20 mL too little." in more.entry.note
    assert stock.lots_held("PW6")[0].empty
    steps.take_back(more.entry.pk)
    steps.take_back(done.entry.pk)
    assert stock.stock()["PW6"] == pytest.approx(100)


def test_the_page_warns_before_the_pour(cup: MixVessel, visitor: Client, job: Job) -> None:
    ProductLot.objects.filter(name="B1").update(
        keep_until=timezone.localdate() - timedelta(days=1), opened=timezone.localdate()
    )
    products.move("base", -900, "spilt", ProductLot.objects.get(name="B1"))
    page = visitor.get(f"/jobs/{job.pk}/mixing/{cup.pk}/").content.decode()
    assert "Lot B1 is past its day." in page
    assert "lacks 300 mL for this pour" in page
    done = steps.pour(cup, "base", 400_000)
    assert "was past its day" in done.entry.note


def test_crosslinker_and_thinner_draw_too_and_an_unknown_lot_is_told(
    cup: MixVessel, visitor: Client, job: Job
) -> None:
    steps.pour(cup, "base", 400_000, lot="B9")
    assert MixEntry.objects.latest("pk").note == "Lot B9 is on the shop’s list since this pour."
    assert products_gather.stock()["base"] == 2600, "the stock falls all the same"
    told = {"product": "thin", "amount": "20 mL", "lot": ""}
    assert visitor.post(f"/jobs/{job.pk}/mixing/{cup.pk}/other/", told).status_code == 302
    assert StockMove.objects.get(product__key="thin").millilitres == -20
    assert gather.state_of(cup).volume == 420
    assert "They thin it" in visitor.get(f"/jobs/{job.pk}/mixing/{cup.pk}/").content.decode()
    bad = visitor.post(f"/jobs/{job.pk}/mixing/{cup.pk}/other/", {**told, "product": "link"})
    assert bad.status_code == 422
    steps.accept(cup)
    portions.crosslink(cup, "Linker X", 0.03, 240)
    assert products_gather.stock()["link"] == pytest.approx(100 - 0.03 * 420)


def test_drawing_off_and_boxing_move_no_stock(cup: MixVessel) -> None:
    steps.pour(cup, "base", 400_000)
    before = StockMove.objects.count()
    portions.draw_off(cup, 100)
    portions.use(cup, 50)
    assert StockMove.objects.count() == before
