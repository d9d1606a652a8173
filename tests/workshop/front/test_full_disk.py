"""A full disk: pages are still shown, nothing is half written, and every answer says what to do."""

import errno
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from hidewright.workshop.frame import full_disk
from hidewright.workshop.front import health_queries
from hidewright.workshop.shop import disk
from hidewright.workshop.shop.models import Job, Person

SHOP_PAGES = (
    "/",
    "/jars/",
    "/colours/",
    "/vessels/",
    "/pigments/",
    "/products/",
    "/people/",
    "/shop/",
    "/shop/health/",
)
JOB_PAGES = ("", "survey/", "colour/", "quantities/", "mixing/", "days/", "snags/", "inspection/", "papers/")


@pytest.fixture
def no_writing(visitor: Client, job: Job) -> Iterator[Client]:
    """A shop whose database takes nothing any more, as on a full disk; the pages' first rows were made before."""
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL's disk is another machine's")
    for path in (*SHOP_PAGES, *(f"/jobs/{job.pk}/{page}" for page in JOB_PAGES)):
        assert visitor.get(path).status_code == 200
    visitor.raise_request_exception = False
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only = ON")
        yield visitor
        cursor.execute("PRAGMA query_only = OFF")


def test_every_page_is_shown_and_nothing_is_taken(no_writing: Client, job: Job) -> None:
    for path in (*SHOP_PAGES, *(f"/jobs/{job.pk}/{page}" for page in JOB_PAGES)):
        assert no_writing.get(path).status_code == 200, path
    answer = no_writing.post(reverse("people"), {"name": "Ann"})
    assert answer.status_code == 507
    assert "nothing was written" in answer.content.decode()
    assert not Person.objects.filter(name="Ann").exists()


def test_a_tap_is_told_and_stays_in_its_queue(visitor: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(full_disk, "free_space", lambda: disk.NO_ROOM - 1)
    answer = visitor.post(reverse("people"), {"name": "Ann"}, headers={"Accept": "application/json"})
    assert answer.status_code == 507
    assert "Make room" in answer.json()["error"]
    assert not Person.objects.filter(name="Ann").exists()
    assert visitor.get(reverse("people")).status_code == 200


def test_little_room_is_said_on_every_page(visitor: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "MB are free" not in visitor.get("/").content.decode()
    monkeypatch.setattr(disk, "free_space", lambda: 150 * 10**6)
    assert "Only 150 MB are free" in visitor.get("/").content.decode()


def test_a_disk_that_fills_up_in_the_midst_of_a_step_is_said_too(
    visitor: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        Person.objects.create(name="Half")
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("hidewright.workshop.front.shop_actions.add_person", full)
    visitor.raise_request_exception = False
    assert visitor.post(reverse("people"), {"name": "Ann"}).status_code == 507
    assert not Person.objects.filter(name="Half").exists()


def test_another_fault_is_not_called_a_full_disk(visitor: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise OSError(errno.EIO, "broken")

    monkeypatch.setattr("hidewright.workshop.front.shop_actions.add_person", broken)
    visitor.raise_request_exception = False
    assert visitor.post(reverse("people"), {"name": "Ann"}).status_code == 500


def test_the_health_page_names_what_the_doctor_names(
    visitor: Client, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    trouble = health_queries.Trouble("copy-old", "The newest copy is 9 days old.", "Take one.")
    monkeypatch.setattr("hidewright.workshop.front.shop_views.troubles", lambda _: [trouble])
    page = visitor.get(reverse("health")).content.decode()
    assert "9 days old" in page
    assert "1 to look after" in page
