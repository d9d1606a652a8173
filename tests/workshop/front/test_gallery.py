"""The gallery: a shop of every release is brought up to this one, comes back, and all of its pages open."""

import json
import os
import subprocess
import sys
import zipfile
from collections import deque
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import pytest
from django.test import Client
from django.urls import Resolver404, resolve
from pytest_django import Settings

from hidewright.workshop.front import copy_actions
from hidewright.workshop.front import copy_file as keep
from hidewright.workshop.shop.door import make_link
from workshop.frame.test_odd_input import Forms

GALLERY = Path(__file__).resolve().parents[2] / "gallery"
SHOPS = sorted(GALLERY.glob("*.zip"))


def hidewright(home: Path, *words: str) -> None:
    kept = {k: v for k, v in os.environ.items() if k not in ("DATABASE_URL", "DJANGO_SETTINGS_MODULE")}
    env = {
        **kept,
        "HIDEWRIGHT_HOME": str(home),
        "PYTHONPATH": os.pathsep.join(filter(None, sys.path)),
    }
    said = [sys.executable, "-m", "hidewright.cli", *words]
    done = subprocess.run(said, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def broken_pages(visitor: Client) -> tuple[list[str], int]:
    """The pages that links lead to and that do not open, one of each kind; and how many kinds there are."""
    waiting, kinds, broken = deque(["/"]), set(), []
    while waiting:
        path = waiting.popleft()
        try:
            kind = str(resolve(urlsplit(path).path).url_name)
        except Resolver404:
            continue
        if kind in kinds or urlsplit(path).netloc:
            continue
        kinds.add(kind)
        answer = visitor.get(path)
        if answer.status_code not in (200, 302, 405):
            broken.append(f"{path}: {answer.status_code}")
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            page = Forms(path)
            page.feed(answer.content.decode())
            waiting.extend(urljoin(path, link) for link in page.links)
    return broken, len(kinds)


@pytest.mark.own_sqlite
@pytest.mark.django_db
@pytest.mark.parametrize("shop", SHOPS, ids=lambda path: path.stem)
def test_a_shop_of_an_earlier_release_opens(
    shop: Path, settings: Settings, tmp_path: Path, client: Client
) -> None:
    settings.PICTURES_ROOT, settings.COPIES_ROOT = tmp_path / "pictures", tmp_path / "copies"
    home, later = tmp_path / "home", tmp_path / "later.zip"
    hidewright(home, "restore", str(shop))
    hidewright(home, "copy", str(later))
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
