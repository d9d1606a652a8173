"""What page tests share: a visitor who came in through the door, and an empty job."""

import os
from datetime import date

import pytest
from django.test import Client

from hidewright.planning.problem.rest import STARTING
from hidewright.workshop.days import actions as days
from hidewright.workshop.days.models import OtherWork
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.shop.door import make_link
from hidewright.workshop.shop.models import Job

DATABASE = {"db", "transactional_db", "django_db_setup", "live_server"}
"""Fixtures through which a test comes to the database; the fixture that blocks it is there for every test."""


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """What says the same whatever database the run has runs once, on SQLite.

    That is what makes a SQLite shop of its own in processes of its own (`own_sqlite`), and what asks for no database at all: pytest-django lets no query through in such a test.
    """
    if not os.environ.get("DATABASE_URL"):
        return
    once = [item for item in items if item.get_closest_marker("own_sqlite") or not has_database(item)]
    if once:
        config.hook.pytest_deselected(items=once)
        items[:] = [item for item in items if item not in once]


def has_database(item: pytest.Item) -> bool:
    """Whether a test, or any fixture that it uses, may ask the database."""
    fixtures = set(getattr(item, "fixturenames", DATABASE))
    return bool(DATABASE & fixtures) or item.get_closest_marker("django_db") is not None


@pytest.fixture
def visitor(client: Client, db: None) -> Client:
    """A client whose device came in through a one-time link."""
    client.post(make_link(), {"name": "test bench"})
    return client


@pytest.fixture
def job(db: None) -> Job:
    """An empty job."""
    return open_job("A job under test", starts=date(2026, 3, 2), promised=date(2026, 3, 27))


@pytest.fixture
def only_coating(db: None) -> None:
    """A shop that counts nothing but the coating: for tests of what happens between the steps of a route."""
    OtherWork.objects.bulk_create(
        OtherWork(key=item.key, name=item.name, per=str(item.per), when=str(item.when), minutes=0)
        for item in STARTING
    )


@pytest.fixture
def quick_planning(few_runs: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Planning, planning again, and the search for what would end it sooner take a moment: what is tested is what becomes of the plan."""
    thinking, again = days.plan, days.replan
    monkeypatch.setattr(days, "plan", lambda problem, **how: thinking(problem, **{**how, "seconds": 0.3}))
    monkeypatch.setattr(days, "replan", lambda *what, **how: again(*what, **{**how, "seconds": 0.3}))
    monkeypatch.setattr(days, "seconds_for_relief", lambda asked: 0.05)
