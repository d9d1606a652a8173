"""What the tests of every act share: rows of every kind, made once a module, and a browser that is in."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import Client

from hidewright.workshop.shop.door import make_link
from workshop.world import World, build


@pytest.fixture(scope="module")
def made(django_db_setup: None, django_db_blocker: Any) -> Iterator[tuple[World, Client]]:
    """The rows, made once for the module in a transaction that is rolled back at its end, and a browser that is in."""
    with django_db_blocker.unblock(), transaction.atomic():
        client = Client()
        client.post(make_link(), {"name": "test bench"})
        yield build(), client
        transaction.set_rollback(True)


@pytest.fixture
def world(made: tuple[World, Client], db: None) -> World:
    """The rows, as they were made: each test is rolled back."""
    return made[0]


@pytest.fixture
def browser(made: tuple[World, Client], db: None) -> Callable[..., Client]:
    """Makes a browser that is in; `enforce_csrf_checks` as Django's client takes it."""

    def new(**how: Any) -> Client:
        client = Client(**how)
        client.cookies.update(made[1].cookies)
        return client

    return new
