"""Light or dark: each device its own, from the first byte of a page on."""

import re

import pytest
from django.test import Client

pytestmark = pytest.mark.django_db


def dark(page: str) -> list[str]:
    """For what the page's dark stylesheet is meant; empty where it has none."""
    return re.findall(r'href="/static/dark[^"]*" media="([^"]*)"', page)


@pytest.mark.parametrize(
    ("chosen", "media"),
    [("device", ["screen and (prefers-color-scheme: dark)"]), ("light", []), ("dark", ["screen"])],
)
def test_a_device_has_the_theme_that_was_chosen_on_it(visitor: Client, chosen: str, media: list[str]) -> None:
    answer = visitor.post("/theme/", {"theme": chosen}, follow=True)
    assert f'value="{chosen}" required id="id_theme_' in answer.content.decode()
    assert dark(visitor.get("/").content.decode()) == media
    assert dark(Client().get("/").content.decode()) == ["screen and (prefers-color-scheme: dark)"]


def test_what_is_no_theme_is_refused_and_forgotten(visitor: Client) -> None:
    assert visitor.post("/theme/", {"theme": "blue"}).status_code == 422
    visitor.cookies["hidewright-theme"] = '"><script>'
    page = visitor.get("/").content.decode()
    assert dark(page) == ["screen and (prefers-color-scheme: dark)"]
    assert "<script>" not in page
