"""The Products page: facts, deliveries, counts, lots."""

from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from hidewright import demo
from hidewright.refusals import Refusal
from hidewright.takeoff.products import Role
from hidewright.takeoff.products_csv import read_products
from hidewright.workshop.lists.models import BroughtList
from hidewright.workshop.shelf import actions as steps
from hidewright.workshop.shelf import queries as gather
from hidewright.workshop.shelf.models import Product, ProductLot, StockMove
from hidewright.workshop.shop.models import Act
from hidewright.workshop.shop.undo import undo
from workshop.sent_forms import list_form


@pytest.fixture
def listed(db: None) -> None:
    steps.import_csv(demo.text("products.csv"))


def test_an_empty_list_says_what_to_do(visitor: Client) -> None:
    assert "No product is listed yet" in visitor.get("/products/").content.decode()


def test_rows_give_back_what_the_file_said(listed: None) -> None:
    assert gather.products() == read_products(demo.text("products.csv"))


def test_a_list_is_brought_and_undone(visitor: Client, db: None) -> None:
    file = SimpleUploadedFile("p.csv", demo.text("products.csv").encode())
    assert visitor.post("/lists/products/", {"file": file}).status_code == 302
    row = BroughtList.objects.get()
    page = visitor.get(f"/lists/brought/{row.pk}/").content.decode()
    visitor.post(f"/lists/brought/{row.pk}/", list_form(page) | {"take": "take"})
    assert "Clear satin" in visitor.get("/products/").content.decode()
    undo(Act.objects.latest("id").pk)
    assert not gather.products()


def test_a_second_list_changes_and_can_be_undone(listed: None) -> None:
    steps.import_csv("key,name,role,pack\nbase,Base new,base,1 L\nmore,More,clear,1 L\n")
    assert gather.products()["base"].name == "Base new"
    undo(Act.objects.latest("id").pk)
    assert gather.products() == read_products(demo.text("products.csv"))


def test_faults_of_a_list_are_told(visitor: Client, db: None) -> None:
    file = SimpleUploadedFile("p.csv", b"key,name,role\na,A,glue\n")
    page = visitor.post("/lists/products/", {"file": file}, follow=True).content.decode()
    assert "What it is for: “glue”, 1 row" in page
    assert not Product.objects.exists()


def test_a_product_is_added_with_units_and_changed(visitor: Client, listed: None) -> None:
    data = {"name": "Quick clear", "role": "clear", "price": "88,50", "density": "1.02", "solids": "22 %", "pack": "1 gal", "cure": "8 h"}  # fmt: skip
    assert visitor.post("/products/add/", data).status_code == 302
    made = gather.products()["quick-clear"]
    assert (made.solids, made.cure) == (0.22, 480)
    assert made.pack == pytest.approx(3785.411784)
    page = visitor.get("/products/quick-clear/")
    form = page.context["form"]
    data = {name: form[name].value() for name in form.fields}
    assert visitor.post("/products/quick-clear/", data).status_code == 302
    assert gather.products()["quick-clear"] == made
    assert visitor.post("/products/quick-clear/", data).status_code == 422, "an old version is refused"


@pytest.mark.parametrize(("field", "text"), [("density", "heavy"), ("pack", "5 furlongs"), ("solids", "250 %"), ("price", "much")])  # fmt: skip
def test_bad_facts_are_refused_beside_their_field(visitor: Client, db: None, field: str, text: str) -> None:
    data = {"name": "X", "role": "clear", "price": "1", "density": "1", "pack": "1 L", field: text}
    answer = visitor.post("/products/add/", data)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert not Product.objects.exists()


def test_deliveries_and_counts_add_up(visitor: Client, listed: None) -> None:
    visitor.post("/products/base/receive/", {"in-volume": "2 x 5 L", "in-lot": "B7"})
    assert gather.stock()["base"] == pytest.approx(10000)
    steps.move("base", -1200.0, "poured", ProductLot.objects.get(name="B7"))
    visitor.post("/products/base/count/", {"count-volume": "8.5 L"})
    assert gather.stock()["base"] == pytest.approx(8500)
    undo(Act.objects.latest("id").pk)
    assert gather.stock()["base"] == pytest.approx(8800)
    assert StockMove.objects.count() == 4, "movements are only added"


def test_counting_what_is_there_moves_nothing(listed: None) -> None:
    row = Product.objects.get(key="base")
    assert steps.count(row, 0.0) is None
    with pytest.raises(Refusal):
        steps.count(row, -5.0)
    with pytest.raises(Refusal):
        steps.receive(row, 0.0)


def test_a_lot_is_opened_ages_and_is_finished(visitor: Client, listed: None) -> None:
    visitor.post("/products/base/receive/", {"in-volume": "5 L", "in-lot": "B7"})
    lot = ProductLot.objects.get()
    visitor.post(f"/products/base/lots/{lot.pk}/", {})
    ProductLot.objects.update(opened=date.today() - timedelta(days=400))
    assert "past its day" in visitor.get("/products/").content.decode()
    visitor.post(f"/products/base/lots/{lot.pk}/", {"finish": "1"})
    assert gather.stock()["base"] == 0
    undo(Act.objects.latest("id").pk)
    assert gather.stock()["base"] == pytest.approx(5000)


def test_a_product_taken_off_comes_back(visitor: Client, listed: None) -> None:
    visitor.post("/products/base/remove/")
    assert "base" not in gather.products()
    assert gather.first_of(Role.BASE) is None
    undo(Act.objects.latest("id").pk)
    assert "base" in gather.products()


def test_the_list_is_saved_as_it_was_brought(visitor: Client, listed: None) -> None:
    saved = visitor.get("/products/list.csv").content.decode()
    assert read_products(saved) == read_products(demo.text("products.csv"))
