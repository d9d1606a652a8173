"""Every act is whole: whichever of its writes breaks, nothing is changed, and the form can be sent again."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from hidewright.workshop.shop.models import Token
from workshop.rows import changes, rows
from workshop.sends import SENDS, address
from workshop.world import World

pytestmark = pytest.mark.django_db

WRITE = re.compile(r'\s*(INSERT INTO|UPDATE|DELETE FROM) "workshop_', re.IGNORECASE)


ROWLESS = {"photo", "stick_photo", "theme"}
"""Acts that keep a file and no row."""


class Broken(Exception):
    """The disk is full, the plug is out."""


class Breaking:
    """A wrapper round the database that breaks at the `at`-th write to the workshop's tables."""

    def __init__(self, at: int) -> None:
        self.at, self.writes = at, 0

    def __call__(self, execute: Callable[..., Any], sql: str, *words: Any) -> Any:
        self.writes += bool(WRITE.match(sql))
        if self.writes == self.at:
            self.at = 0
            raise Broken
        return execute(sql, *words)


@pytest.mark.parametrize("name", SENDS)
def test_whichever_write_breaks_nothing_is_changed(
    name: str, world: World, browser: Callable[..., Client]
) -> None:
    visitor, sent, before = browser(), SENDS[name](world), rows()
    where, form, at = address(name, sent), {**sent[1], "act": "same"}, 0
    while True:
        at += 1
        for value in form.values():
            if hasattr(value, "seek"):
                value.seek(0)
        breaking = Breaking(at)
        try:
            with connection.execute_wrapper(breaking):
                answer = visitor.post(where, form)
        except Broken:
            assert not changes(before, rows()), f"broken at write {at}"
            assert not Token.objects.exists()
            continue
        break
    assert breaking.at, f"write {at} broke and the page went on"
    assert answer.status_code == 302, "it could be sent again"
    assert at > 1 or name in ROWLESS
    assert changes(before, rows()) or name in ROWLESS
