"""Every act of every page, on rows of every kind: sent twice it counts once, and it is done only by whom and where it belongs."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pytest_django import Settings

from hidewright.workshop.credentials.models import Credential
from hidewright.workshop.front.copy_actions import keep_today
from hidewright.workshop.shelf.models import MixMove
from hidewright.workshop.shop.models import Token
from known_pages import KnownPage, known_pages
from workshop.frame.test_long_lists import HEAVY
from workshop.many_jobs import open_jobs
from workshop.rows import changes, rows
from workshop.sends import ELSEWHERE, PICTURE, SENDS, address, file
from workshop.world import World

pytestmark = pytest.mark.django_db

Browser = Callable[..., Client]

OWN_TOKEN = {
    "tap_act": "a tap is kept under its own token: tests/workshop/days",
    "tap_act colour": "likewise: tests/workshop/sessions",
}
"""Acts whose token is not kept by the one path."""

ROWLESS = {
    "photo": "keeps a picture as a file",
    "stick_photo": "likewise",
    "theme": "is kept by the device, in its cookie",
}

ANY_JOB = {
    "rename_job_colour": "a colour is named by its number in the job, which every job counts from one",
    "remove_job_colour": "likewise",
    "accept_quote": "a quote too is named by its number in the job",
    "remove_lamp": "a lamp is the shop's; the job is where the page leads back to",
    "jar_again": "what is in a jar may be mixed again for any job",
    "pour_jar": "a jar is poured into a cup of any job",
}
"""Acts that may reach from one job into another."""


def test_every_address_that_takes_a_form_is_sent_one() -> None:
    taking = {page.name for page in known_pages() if "POST" in page.methods}
    assert taking == {name.split()[0] for name in SENDS} | set(ELSEWHERE)


@pytest.mark.parametrize("name", SENDS)
def test_sent_twice_it_counts_once(name: str, world: World, browser: Browser) -> None:
    visitor, sent, before = browser(), SENDS[name](world), rows()
    form = {**sent[1], "act": "same"}
    first = visitor.post(address(name, sent), form)
    assert first.status_code == 302, first.content.decode()[-2000:]
    after = rows()
    assert changes(before, after) or name in ROWLESS, "it did something"
    assert Token.objects.filter(pk="same").exists() is (name not in OWN_TOKEN)
    for value in form.values():
        if hasattr(value, "seek"):
            value.seek(0)
    again = visitor.post(address(name, sent), form)
    assert again.headers["Location"] == first.headers["Location"]
    assert not changes(after, rows())


@pytest.mark.parametrize("name", SENDS)
def test_without_its_hidden_check_it_is_refused(name: str, world: World, browser: Browser) -> None:
    sent, before = SENDS[name](world), rows()
    assert browser(enforce_csrf_checks=True).post(address(name, sent), sent[1]).status_code == 403
    assert not changes(before, rows())


def _in_a_job(name: str) -> bool:
    route = next(page.route for page in known_pages() if page.name == name.split(maxsplit=1)[0])
    return bool(re.match(r"/jobs/N/.*N/", route))


@pytest.mark.parametrize("name", [name for name in SENDS if _in_a_job(name) and name not in ANY_JOB])
def test_a_row_of_another_job_is_not_there(name: str, world: World, browser: Browser) -> None:
    (_, *others), fields = SENDS[name](world)
    before = rows()
    astray = address(name, ((world.other.job.pk, *others), fields))
    assert browser().post(astray, fields).status_code == 404
    assert not changes(before, rows())


SHOWN = {"vessel": "cup", "own_cup": "own", "cup_colour": "cup", "stick_photo": "cup", "brought_job_list": "file", "edit_piece": "piece", "piece_zones": "piece", "snag_picture": "snag", "snag_letter_pdf": "snag", "recipe_curves": "recipe", "piece_in": "piece", "sign_receipt": "delivery", "receipt_pdf": "delivery", "agree": "sheet", "colour_sheet_pdf": "sheet", "panel_tags_pdf": "sheet"}  # fmt: skip
"""Pages about one row of a job."""


def test_every_page_about_a_row_of_a_job_is_known() -> None:
    routes = {
        page.name
        for page in known_pages()
        if "GET" in page.methods and re.match(r"/jobs/N/.*/N/", page.route)
    }
    assert routes == {*SHOWN, "picture"}


@pytest.mark.parametrize("name", SHOWN)
def test_a_page_shows_no_row_of_another_job(name: str, world: World, browser: Browser) -> None:
    row = getattr(world.mine, SHOWN[name]).pk
    assert browser().get(address(name, ((world.other.job.pk, row), {}))).status_code == 404
    if name != "snag_picture":
        assert browser().get(address(name, ((world.mine.job.pk, row), {}))).status_code == 200


FIELDS = ("box", "many_pieces", "set_target", "shift_target")


@pytest.mark.parametrize("name", FIELDS)
def test_a_form_reaches_no_row_of_another_job(name: str, world: World, browser: Browser) -> None:
    """The address is of one job, the rows that the form names are of the other."""
    args, _ = SENDS[name](world)
    _, fields = SENDS[name](World(world.shop, world.other, world.mine))
    if name == "shift_target":
        fields |= {"way": "toward", "swatch": world.other.loose.pk}
    before = rows()
    assert browser().post(address(name, (args, fields)), fields).status_code in (404, 422)
    assert not changes(before, rows())


DOORS = {"come_in", "viewed_sheet", "viewed_sheet_pdf"}
"""What somebody without a device may reach: the door itself, and one colour sheet by its link (tests/workshop/approvals)."""


def test_every_address_needs_a_device(client: Client, db: None) -> None:
    """But the door."""
    words = {"N": "1", "KEY": "clear", "KIND": "products", "DAY": "2026-03-02", "MARK": "C1"}
    for page in known_pages():
        where = "/".join(words.get(part, part) for part in page.route.split("/"))
        for method in page.methods & {"GET", "POST"}:
            status = client.generic(method, where).status_code
            assert status == 403 or page.name in DOORS, f"{method} {where}: {status}"


PAGES: dict[str, Callable[[World], tuple[object, ...]]] = {
    **{name: lambda w, row=row: (w.mine.job.pk, getattr(w.mine, row).pk) for name, row in SHOWN.items()},  # type: ignore[misc]
    "jar": lambda w: (w.mine.jar.pk,),
    "card": lambda w: (w.shop.card.pk,),
    "checklist": lambda w: (w.shop.checklist.pk,),
    "call": lambda w: (w.shop.call.pk,),
    "shop_colour": lambda w: (w.shop.colour().pk,),
    "jar_label_pdf": lambda w: (w.mine.jar.pk,),
    "run_panel": lambda w: (w.mine.run.pk,),
    "person_secret": lambda w: (w.shop.ana.pk,),
    "edit_person": lambda w: (w.shop.ana.pk,),
    "edit_table": lambda w: (w.shop.table.pk,),
    "person_hours": lambda w: (w.shop.ana.pk,),
    "pigment": lambda w: (w.shop.white.pk,),
    "product": lambda w: ("clear",),
    "route": lambda w: (w.shop.route.key,),
    "example": lambda w: ("products",),
    "bring_list": lambda w: ("products",),
    "brought_list": lambda w: (w.shop.list.pk,),
    "bring_job_list": lambda w: (w.mine.job.pk, "pieces"),
    "day": lambda w: (w.mine.job.pk, "2026-03-02"),
    "left_over": lambda w: (w.mine.job.pk, "2026-03-02"),
    "day_pictures": lambda w: (w.mine.job.pk, "2026-03-02"),
    "piece_days": lambda w: (w.mine.job.pk, "C1"),
    "day_sheet_pdf": lambda w: (w.mine.job.pk, "2026-03-02"),
    "quote_pdf": lambda w: (w.mine.job.pk, "surveyed"),
    "price_sheet_pdf": lambda w: (w.mine.job.pk, "surveyed"),
    "given_quote_pdf": lambda w: (w.mine.job.pk, 1),
}
"""What stands in an address beside the job."""

OF_FILES = {
    "kept_copy",
    "pick_patches",
    "photo_picture",
    "snag_picture",
    "card_picture",
    "credential_file",
    "picture",
}
"""Addresses of what is kept as a file; they are asked for below."""


def test_every_address_shows_something_and_asks_as_much_with_340_jobs_as_with_three(
    world: World, browser: Browser
) -> None:
    """Looking changes nothing; and however many jobs there are, with 100,000 moves in the book, a page asks the database the same."""
    visitor = browser()
    open_jobs(0, 1)
    before, pages = rows(), [page for page in known_pages() if "GET" in page.methods]
    asked = {page: _address_of(page, world) for page in pages if page.name not in OF_FILES | DOORS}
    for page, where in asked.items():
        status = visitor.get(where).status_code
        assert status == 200, f"{page.name}: {status}"
    assert set(changes(before, rows())) <= {"RoomRules", "JobSummary"}, "looking changes nothing"

    heavy: dict[str, int] = {}

    def questions(page: KnownPage) -> int:
        with CaptureQueriesContext(connection) as seen:
            answer = visitor.get(asked[page])
        heavy[page.name] = 0 if answer.streaming else len(answer.content)
        return len(seen)

    few = {page: questions(page) for page in asked if not page.is_paper}
    open_jobs(1, 337)
    assert MixMove.objects.count() > 98_000
    more = {page for page in few if questions(page) != few[page]}
    again = {page.name: (few[page], asks) for page in more if (asks := questions(page)) != few[page]}
    assert again == {}, "more than with three jobs, also when looked at a second time"
    assert next(asks for page, asks in few.items() if page.name == "jobs") < 25
    assert {name: size for name, size in heavy.items() if size > HEAVY} == {}, "bytes of a page as it is sent"


def _address_of(page: KnownPage, world: World) -> str:
    """Where a page is asked for: on the rows of `world`."""
    usual = (world.mine.job.pk,) if "/jobs/N/" in page.route else ()
    args = PAGES[page.name](world) if page.name in PAGES else usual
    words = {"mixing_card_pdf": "?batch=1+L", "find": "?q=boat", "jars": "?page=99"}
    return address(page.name, (args, {})) + words.get(page.name, "")


def test_what_is_kept_as_a_file_is_shown(
    world: World, browser: Browser, settings: Settings, tmp_path: Path
) -> None:
    settings.PICTURES_ROOT, settings.COPIES_ROOT = tmp_path / "pictures", tmp_path / "copies"
    visitor, job = browser(), world.mine.job.pk
    marking = visitor.post(f"/jobs/{job}/colour/photo/", {"photo": file("p.png", PICTURE)}).headers[
        "Location"
    ]
    visitor.post(
        f"/jobs/{job}/snags/", {"what": "A dent", "kind": "damage", "picture": file("p.png", PICTURE)}
    )
    snag = world.mine.job.snags.exclude(picture="").get()
    card = world.shop.card
    visitor.post(f"/cards/{card.pk}/pictures/", {"picture-picture": file("p.png", PICTURE)})
    paper = {
        "paper-kind": "data sheet",
        "paper-title": "Sheet",
        "paper-file": file("s.pdf", b"%PDF-1.4 made"),
    }
    visitor.post("/credentials/", paper)
    day = keep_today().stem
    for where in (
        marking,
        f"{marking}picture.jpg",
        f"/jobs/{job}/snags/{snag.pk}/picture/",
        f"/shop/copies/{day}.zip",
        f"/cards/pictures/{card.pictures.get().pk}/",
        f"/credentials/{Credential.objects.get(title='Sheet').pk}/file/",
    ):
        answer = visitor.get(where)
        assert answer.status_code == 200, where
        assert b"".join(answer.streaming_content) if answer.streaming else answer.content
