"""The door: everything is refused until a one-time link was used, and it works once."""

from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.test import Client
from django.utils import timezone

from hidewright.workshop.shop.door import make_link, shut_out
from hidewright.workshop.shop.models import Device, OneTimeLink
from hidewright.workshop.shop.sessions import hashed

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("path", ["/", "/jobs/new/", "/devices/", "/runs/1/", "/nowhere/"])
def test_everything_is_refused_from_outside(client: Client, path: str) -> None:
    assert client.get(path).status_code == 403


def test_a_link_works_once(client: Client) -> None:
    link = make_link()
    assert client.get(link).status_code == 200
    assert not OneTimeLink.objects.get().used, "looking at the link must not use it up"
    assert client.post(link, {"name": "bench"}).status_code == 302
    assert client.get("/").status_code == 200
    assert Client().post(link, {"name": "stranger"}).status_code == 403
    assert Device.objects.count() == 1


def test_a_device_that_was_shut_out_stays_out(visitor: Client) -> None:
    shut_out(Device.objects.get().pk)
    assert visitor.get("/").status_code == 403


def test_an_unknown_link_is_refused(client: Client) -> None:
    assert client.post("/door/made-up/", {"name": "x"}).status_code == 403


def test_a_link_is_over_after_half_an_hour(client: Client) -> None:
    link = make_link()
    row = OneTimeLink.objects.get()
    assert row.expires - row.made == pytest.approx(timedelta(minutes=30), abs=timedelta(seconds=5))
    OneTimeLink.objects.update(expires=timezone.now() - timedelta(seconds=1))
    assert client.post(link, {"name": "late"}).status_code == 403
    assert not Device.objects.exists()
    assert client.get("/").status_code == 403


def test_a_session_is_new_at_the_door(visitor: Client) -> None:
    """Whoever knew the session of before is not in by it."""
    session = visitor.session
    session["left"] = "over"
    session.save()
    before = session.session_key
    assert Session.objects.filter(pk=hashed(before)).exists()
    assert visitor.post(make_link(), {"name": "again"}).status_code == 302
    assert visitor.session.session_key != before
    assert "left" not in visitor.session
    assert not Session.objects.filter(pk=hashed(before)).exists()
    stale = Client()
    stale.cookies["hidewright"] = before
    assert stale.get("/").status_code == 403


def test_the_cookies_are_out_of_the_reach_of_scripts_and_other_sites(client: Client) -> None:
    cookie = client.post(make_link(), {"name": "bench"}).cookies["hidewright"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert cookie["path"] == "/"
    assert 300 * 24 * 3600 < int(cookie["max-age"]) <= 366 * 24 * 3600, "a device stays in for a year"
    assert client.get("/jobs/new/").cookies["csrftoken"]["samesite"] == "Lax"


def test_pages_carry_a_strict_policy(visitor: Client) -> None:
    policy = visitor.get("/").headers["Content-Security-Policy"]
    assert "script-src 'self'" in policy
    assert "unsafe-inline" not in policy


@pytest.mark.parametrize(
    ("method", "address", "told"),
    [
        ("get", "/jobs/new/", {"name": "a\0b"}),
        ("post", "/jobs/new/", {"name": "a\0b", "starts": "2026-03-02"}),
        ("post", "/people/who/", {"person": "\0"}),
        ("post", "/jars/1/discard/", {"act": "\0"}),
    ],
)
def test_what_is_no_text_is_refused_before_any_page_sees_it(
    visitor: Client, method: str, address: str, told: dict[str, str]
) -> None:
    answer = getattr(visitor, method)(address, told)
    assert answer.status_code == 422
    assert "a mark that is no text" in answer.content.decode()
    answer = getattr(visitor, method)(address, told, headers={"accept": "application/json"})
    assert answer.status_code == 422
    assert "a mark that is no text" in answer.json()["error"]
