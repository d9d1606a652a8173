"""Lists that grow for years come in pages: however many rows there are, a page shows some of them, asks the database the same, and stays light."""

from collections.abc import Callable
from datetime import date

import pytest
from django.core.paginator import Page
from django.db import connection
from django.db.models import Model
from django.test import Client
from django.test.utils import CaptureQueriesContext

from hidewright.workshop.calls.models import Call
from hidewright.workshop.colours.models import Colour
from hidewright.workshop.shelf.models import MixVessel, Product
from hidewright.workshop.shop.models import Device, Job

FEW, MANY = 3, 130
HEAVY = 100_000
"""Bytes of a page, as it is sent."""


def jars(first: int, last: int) -> None:
    job = Job.objects.get_or_create(name="Boat", defaults={"starts": date(2026, 3, 2)})[0]
    MixVessel.objects.bulk_create(
        MixVessel(job=job, kind="jar", name=f"Jar {n}", capacity=10**6, kept_on=date(2026, 3, 2))
        for n in range(first, last)
    )


def products(first: int, last: int) -> None:
    Product.objects.bulk_create(
        Product(key=f"p{n}", name=f"Clear {n}", role="clear", density=1.0, pack=1000.0, price=10)
        for n in range(first, last)
    )


def calls(first: int, last: int) -> None:
    Call.objects.bulk_create(
        Call(who=f"Owner {n}", counts={"seat": 2}, answer={}) for n in range(first, last)
    )


def colours(first: int, last: int) -> None:
    Colour.objects.bulk_create(Colour(name=f"Tan {n}") for n in range(first, last))


def devices(first: int, last: int) -> None:
    Device.objects.bulk_create(Device(name=f"Phone {n}") for n in range(first, last))


@pytest.mark.parametrize(
    ("where", "make"),
    [
        ("/jars/", jars),
        ("/products/", products),
        ("/calls/", calls),
        ("/colours/", colours),
        ("/devices/", devices),
    ],
)
def test_a_long_list_comes_in_pages(where: str, make: Callable[[int, int], None], visitor: Client) -> None:
    make(0, FEW)
    visitor.get(where)
    with CaptureQueriesContext(connection) as few:
        short = visitor.get(where).content.decode()
    assert "Page 1 of" not in short
    make(FEW, MANY)
    with CaptureQueriesContext(connection) as many:
        page = visitor.get(where).content
    assert len(many) <= len(few) + 1, "it also counts the rows"
    assert len(page) < HEAVY
    assert "Page 1 of 3" in page.decode()
    assert sum(len(_page(visitor, f"{where}?page={n}")) for n in (1, 2, 3)) >= MANY
    for asked, shown in (("2", 2), ("999", 3), ("x", 1), ("-1", 3)):
        assert _page(visitor, f"{where}?page={asked}").number == shown


def _page(visitor: Client, where: str) -> Page[Model]:
    context = visitor.get(where).context
    found = context.get("page") or context["devices"]
    assert isinstance(found, Page)
    return found
