"""The gallery: a shop of every release is brought up to this one, comes back, and all of its pages open."""

import json
import zipfile
from pathlib import Path

import pytest
from django.test import Client
from pytest_django import Settings

from hidewright.workshop.front import copy_actions
from hidewright.workshop.front import copy_file as keep
from hidewright.workshop.shop.door import make_link
from own_shop import hidewright
from workshop.crawl import pages

GALLERY = Path(__file__).resolve().parents[2] / "gallery"
SHOPS = sorted(GALLERY.glob("*.zip"))


def broken_pages(visitor: Client) -> tuple[list[str], int]:
    """The pages that links lead to and that do not open, one of each kind; and how many kinds there are."""
    answers = [(path, answer.status_code) for path, answer, _ in pages(visitor)]
    return [f"{path}: {status}" for path, status in answers if status not in (200, 302, 405)], len(answers)


@pytest.mark.own_sqlite
@pytest.mark.django_db
@pytest.mark.parametrize("shop", SHOPS, ids=lambda path: path.stem)
def test_a_shop_of_an_earlier_release_opens(
    shop: Path, settings: Settings, tmp_path: Path, client: Client
) -> None:
    settings.PICTURES_ROOT, settings.COPIES_ROOT = tmp_path / "pictures", tmp_path / "copies"
    home, later = tmp_path / "home", tmp_path / "later.zip"
    for said in (["restore", str(shop)], ["copy", str(later)]):
        done = hidewright(home, *said)
        assert done.returncode == 0, done.stderr
    with later.open("rb") as file:
        copy_actions.bring_back(file, over=True)
    with zipfile.ZipFile(shop) as packed:
        then: dict[str, int] = json.loads(packed.read("about.json"))["rows"]
    now = {str(m._meta.model_name): m._default_manager.count() for m in keep.tables()}
    assert {name: now.get(name) for name in then} == then
    client.post(make_link(), {"name": "test bench"})
    broken, kinds = broken_pages(client)
    assert broken == []
    assert kinds > 40


def test_every_release_has_its_shop_in_the_gallery() -> None:
    frozen = json.loads((GALLERY.parent / "frozen.json").read_text(encoding="utf-8"))
    assert bool(SHOPS) == bool(frozen), "freeze the migrations and make the shop of a release together"
