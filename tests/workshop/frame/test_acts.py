"""The one path of acts: token, step and answer are one transaction, wherever the plug is pulled and however often a form is sent."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from hidewright.takeoff.products import Product, Role
from hidewright.workshop.shelf import actions
from hidewright.workshop.shelf.models import StockMove
from hidewright.workshop.shop.models import Act, Token
from own_shop import answer, migrated, script, this_database
from workshop import killed


class Killed(BaseException):
    """The plug was pulled."""


def breaking(at: int) -> Callable[..., Any]:
    """A wrapper round the database that lets no statement through from the `at`-th on."""
    passed = 0

    def wrapper(execute: Callable[..., Any], *words: Any) -> Any:
        nonlocal passed
        passed += 1
        if passed == at:
            raise Killed
        return execute(*words)

    return wrapper


@pytest.fixture
def clear(db: None) -> None:
    """A product to receive."""
    actions.add_product(Product("clear", "Clear base", Role.BASE))


def send(visitor: Client, token: str, **changes: str) -> Any:
    return visitor.post(killed.PAGE, {**killed.FORM, **changes, "act": token})


def test_broken_between_any_two_statements_nothing_is_done_and_the_form_can_be_sent_again(
    visitor: Client, clear: None
) -> None:
    for at in range(1, 100):
        moves, acts, token = StockMove.objects.count(), Act.objects.count(), f"broken-{at}"
        try:
            with connection.execute_wrapper(breaking(at)):
                send(visitor, token)
        except Killed:
            kept = Token.objects.filter(pk=token).exists()
            assert StockMove.objects.count() == moves + kept, "token and act come together or not at all"
            assert Act.objects.count() == acts + kept
            answer = send(visitor, token)
            assert (answer.status_code, answer.headers["Location"]) == (302, "/products/clear/")
            assert StockMove.objects.count() == moves + 1
        else:
            break
    assert 10 < at < 99, "it was broken at every statement of the act"


def test_a_second_send_gets_the_first_answer_and_a_refused_form_keeps_its_token(
    visitor: Client, clear: None
) -> None:
    assert send(visitor, "slip", **{"in-volume": "nothing"}).status_code == 422
    assert not Token.objects.filter(pk="slip").exists()
    first, second = send(visitor, "slip"), send(visitor, "slip")
    assert first.headers["Location"] == second.headers["Location"]
    assert StockMove.objects.count() == 1
    assert Token.objects.get().answer_status == 302


def ran(what: str, home: Path) -> Any:
    """What the killed process reports, on a fresh SQLite file, or on the PostgreSQL of this run."""
    database = None
    if connection.vendor == "postgresql":
        database = this_database(str(connection.settings_dict["NAME"]))
    else:
        migrated(home)
    return answer(script(killed.__file__, what, home=home, database=database))


@pytest.mark.django_db(transaction=True)
def test_a_killed_process_leaves_all_of_an_act_or_nothing(tmp_path: Path) -> None:
    rows = ran("kill", tmp_path)
    *pulled, whole = rows
    assert whole["ended"] == 0
    assert len(pulled) > 12
    assert {row["ended"] for row in pulled} == {-9}
    for row in rows:
        assert row["again"] == 0
        assert row["moves"] == 1, "once, whether it was killed before or after it was done"
        move, _, act, token = row["kept"]
        assert move == act == token
    assert {row["kept"][0] for row in pulled} == {0, 1}, "killed before the commit, and after it"


@pytest.mark.django_db(transaction=True)
def test_of_two_sends_at_once_one_does_it_and_both_get_its_answer(tmp_path: Path) -> None:
    found = ran("race", tmp_path)
    assert found["ended"] == [0, 0]
    assert found["answers"] == [[302, "/products/clear/"]] * 2
    assert found["moves"] == 1
