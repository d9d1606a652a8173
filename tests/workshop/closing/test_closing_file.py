"""The closing file: back in another shop equal to the last field, or not at all, with the place said."""

import hashlib
import io
import json
import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse
from django.utils import timezone
from pypdf import PdfReader
from pytest_django import Settings

from hidewright.refusals import Refusal
from hidewright.survey.zones import usual_zones
from hidewright.workshop.account import actions as account
from hidewright.workshop.approvals import actions as approvals
from hidewright.workshop.approvals.models import ViewerLink
from hidewright.workshop.calls.models import Call
from hidewright.workshop.closing import bring_actions, file_actions
from hidewright.workshop.closing.selection_queries import owning_fields
from hidewright.workshop.credentials import actions as credentials
from hidewright.workshop.days.queries import plan_in_force
from hidewright.workshop.frame.files import keep_file
from hidewright.workshop.front import copy_file
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.handover import actions as handover
from hidewright.workshop.inspection import snag_actions
from hidewright.workshop.intake import actions as intake
from hidewright.workshop.papers import quote_actions
from hidewright.workshop.papers.price_queries import options
from hidewright.workshop.papers.quote_queries import quotes
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pieces.zone_queries import zone_facts, zones_of
from hidewright.workshop.room.models import DayOff
from hidewright.workshop.sessions.actions import tell
from hidewright.workshop.sessions.models import SessionDone
from hidewright.workshop.shelf.models import MixMove, MixVessel
from hidewright.workshop.shop.door import make_link
from hidewright.workshop.shop.models import Job, Person, Run, RunState
from workshop.lean_shop import keys, lean_job, mixed
from workshop.sends import PICTURE, file
from workshop.world import STROKES, TODAY, World, build

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def places(settings: Settings, tmp_path: Path) -> Path:
    """Pictures in a folder of the test's own."""
    settings.PICTURES_ROOT = tmp_path / "pictures"
    return tmp_path


@pytest.fixture
def closed(places: Path, db: None) -> tuple[World, io.BytesIO]:
    """A job with a row of nearly every kind and a picture, beside another one; and its closing file."""
    world = build()
    job = world.mine.job
    Person.objects.filter(pk=world.shop.ana.pk).update(secret="hashed", role="owner")
    Run.objects.update(state=RunState.DONE)
    Piece.objects.filter(pk=world.mine.piece.pk).update(zones=zone_facts(usual_zones("cushion")))
    snag_actions.add(job, "", picture=keep_file(file("p.png", PICTURE)), piece="C2", weight="later")
    with_the_customer(world)
    credentials.keep(job, "data sheet", "Sheet", file=keep_file(file("s.pdf", b"%PDF-1.4 made")))
    return world, file_actions.closing_zip(job)


def with_the_customer(world: World) -> None:
    """The call that became the job, a receipt and a hand-over that were signed, an agreement that was changed, and a claim."""
    mine = world.mine
    Call.objects.filter(pk=world.shop.call.pk).update(job=mine.job)
    intake.sign_receipt(mine.delivery, "A driver", STROKES)
    for name, variant in (("Mrs Lind", 0), ("Mr Lind", 1)):
        approvals.agree(
            mine.sheet.variants.all()[variant], name=name, day=TODAY, light="north window", judged_on="panel", tolerance=0.8, signature=STROKES
        )  # fmt: skip
    handover.hand_over(mine.job, to="Élodie Brandão", day=TODAY, signature=STROKES, kit=["50 mL"])
    account.claim(mine.job, "A scuff by the door", [mine.piece], day=TODAY)
    quote_actions.accept(quotes(mine.job)[0], "Mrs Lind", timezone.localdate(), note="order 4711")


Rows = dict[str, dict[Any, dict[str, Any]]]


LEFT_OUT = ("JobSummary", "Token", "ViewerLink")
"""What is worked out again, and what lets somebody in: that stays with its own shop."""


def rows_of(job: Job) -> Rows:
    """Every row that hangs on the job, found over the fields that point to it and on: written without the code under test."""
    models = list(apps.get_app_config("workshop").get_models())
    found: dict[Any, set[Any]] = {Job: {job.pk}}
    for _ in range(6):
        for model in models:
            for one in model._meta.local_fields:
                owns = one.is_relation and (
                    one.remote_field.on_delete.__name__ == "CASCADE" or one.name in ("job", "sheet")
                )
                if owns:
                    keys = found.get(one.related_model, set())
                    held = model._default_manager.filter(**{f"{one.name}__in": list(keys)})
                    found.setdefault(model, set()).update(held.values_list("pk", flat=True))
    return {
        model.__name__: {row["id" if "id" in row else "key"]: row for row in rows}
        for model, keys in found.items()
        if keys and model.__name__ not in LEFT_OUT
        and (rows := list(model._default_manager.filter(pk__in=keys).values()))
    }  # fmt: skip


def test_in_an_empty_shop_it_is_equal_field_by_field(closed: tuple[World, io.BytesIO], places: Path) -> None:
    world, packed = closed
    before = rows_of(world.mine.job)
    assert {
        "Call",
        "Delivery",
        "Arrival",
        "Sheet",
        "Variant",
        "Agreement",
        "HandOver",
        "PackedPiece",
        "GivenQuote",
        "QuoteAcceptance",
        "AccountLine",
        "Lesson",
        "Claim",
    } <= set(before)
    for claim in before["Claim"].values():
        claim["touch_up_id"] = None  # The touch-up is a job of its own, with a closing file of its own.
    assert len(before) > 30, "nearly every kind of row"
    pictures = {path.name: path.read_bytes() for path in (places / "pictures").iterdir()}
    copy_file._empty()
    for path in (places / "pictures").iterdir():
        path.unlink()
    job = bring_actions.bring_in(packed)
    after = rows_of(job)
    came = after["Act"].pop(max(after["Act"]))
    assert "closing file" in came["text"]
    assert after == before
    assert zones_of(Piece.objects.get(job=job, key="C1").zones) == usual_zones("cushion")
    assert not DayOff.objects.exists(), "when people are away is their shop's"
    assert {path.name: path.read_bytes() for path in (places / "pictures").iterdir()} == pictures
    assert Job.objects.count() == 1, "nothing of the other job came along"
    assert not Person.objects.exclude(secret="").exists()
    assert not ViewerLink.objects.exists(), "a link to a colour sheet opens nothing elsewhere"
    following = open_job("The next one", starts=job.starts)
    assert following.pk != job.pk


KNOWN_BELOW = {"ColourVersion", "StockMove"}
"""Tables of the shop whose rows name rows of jobs: a version of a colour comes along with the targets that name it; stock stays with its shop."""


def test_no_table_that_belongs_to_a_job_is_left_behind() -> None:
    """Whatever points to a row of a job belongs to it, or is known here for what it is."""
    models = [m for m in apps.get_app_config("workshop").get_models() if m.__name__ not in LEFT_OUT]
    owned: set[Any] = {Job}
    for _ in models:
        owned |= {m for m in models if any(one.related_model in owned for one in owning_fields(m))}
    loose = {
        m.__name__
        for m in set(models) - owned
        if any(one.is_relation and one.related_model in owned for one in m._meta.local_concrete_fields)
    }
    assert loose == KNOWN_BELOW


def test_what_a_session_drew_comes_back_with_it(places: Path, db: None) -> None:
    job = lean_job()
    mixed(job)
    tell(job, keys("wipe in colour", "spray colour"), "done", "s1", amounts={"colour 0": 90.0})
    before = SessionDone.objects.get()
    drawn = [sorted(rows.values_list("pk", flat=True)) for rows in (before.entries, before.uses)]
    assert all(drawn), "it drew something"
    packed = file_actions.closing_zip(job)
    copy_file._empty()
    bring_actions.bring_in(packed)
    after = SessionDone.objects.get()
    assert [sorted(rows.values_list("pk", flat=True)) for rows in (after.entries, after.uses)] == drawn


def named(rows: Rows) -> dict[str, list[str]]:
    """The rows without keys and what points to keys: what must be the same wherever they lie."""
    keys = ("id", "_id", "undo_name", "undo_with", "source", "target")
    return {
        name: sorted(
            repr([(column, value) for column, value in row.items() if not column.endswith(keys)])
            for row in table.values()
        )
        for name, table in rows.items()
    }


def test_in_a_shop_at_work_it_comes_beside_what_is_there(closed: tuple[World, io.BytesIO]) -> None:
    world, packed = closed
    before, poured = named(rows_of(world.mine.job)), _levels(world.mine.job)
    copy_file._empty()
    here = build()
    others = {job.pk: named(rows_of(job)) for job in Job.objects.all()}
    job = bring_actions.bring_in(packed)
    assert job.pk not in others
    after = rows_of(job)
    after["Act"].pop(max(after["Act"]))
    assert named(after) == before
    assert _levels(job) == poured, "the book of pours names the vessels under their keys here"
    assert {pk: named(rows_of(Job.objects.get(pk=pk))) for pk in others} == others
    assert Person.objects.filter(key="ana").count() == 1, "who is known here by the same name is the same"
    assert here.shop.ana.pk == Person.objects.get(key="ana").pk
    assert DayOff.objects.count() == 1, "the absences of who works here stay as they are"
    assert not any(act["undo_name"] for act in after["Act"].values()), "nothing of there is undone here"


def _levels(job: Job) -> list[tuple[str, int]]:
    """Name of each vessel with what went into it less what left it, µL."""
    found = []
    for vessel in MixVessel.objects.filter(job=job):
        into = sum(move.amount for move in MixMove.objects.filter(target=f"v{vessel.pk}"))
        out = sum(move.amount for move in MixMove.objects.filter(source=f"v{vessel.pk}"))
        found.append((vessel.name, into - out))
    return sorted(found)


def test_the_same_job_does_not_come_in_twice(closed: tuple[World, io.BytesIO]) -> None:
    _, packed = closed
    before = Job.objects.count()
    with pytest.raises(Refusal, match="here already"):
        bring_actions.bring_in(packed)
    assert Job.objects.count() == before


Change = Callable[[dict[str, bytes]], None]


def changed(packed: io.BytesIO, change: Change, *, sums: bool = False) -> io.BytesIO:
    """The zip with its members changed; with `sums` the list of hashes and the seal are made to fit again."""
    with zipfile.ZipFile(packed) as opened:
        members = {name: opened.read(name) for name in opened.namelist()}
    change(members)
    if sums:
        about = json.loads(members["about.json"])
        found = {n: hashlib.sha256(data).hexdigest() for n, data in members.items() if n != "about.json"}
        about |= {"sha256": found, "seal": file_actions.seal_of(found)}
        members["about.json"] = json.dumps(about).encode()
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as out:
        for name, data in members.items():
            out.writestr(name, data)
    return file


def _picture(members: dict[str, bytes]) -> str:
    return next(name for name in members if name.endswith(".jpg"))


def a_letter_changed(members: dict[str, bytes]) -> None:
    members["rows/piece.jsonl"] = members["rows/piece.jsonl"].replace(b"Seat", b"Seal")


def a_table_gone(members: dict[str, bytes]) -> None:
    del members["rows/piece.jsonl"]


def one_more(members: dict[str, bytes]) -> None:
    members["rows/extra.jsonl"] = b""


def a_way_out(members: dict[str, bytes]) -> None:
    members["pictures/../../secret"] = b"x"


def another_picture(members: dict[str, bytes]) -> None:
    members[_picture(members)] = b"\xff\xd8 another"


def a_piece_of_no_job(members: dict[str, bytes]) -> None:
    members["rows/piece.jsonl"] = members["rows/piece.jsonl"].replace(b'"job": ', b'"job": 99')


def another_table(members: dict[str, bytes]) -> None:
    members["rows/piece.jsonl"] += members["rows/job.jsonl"]


def another_seal(members: dict[str, bytes]) -> None:
    members["about.json"] = members["about.json"].replace(b'"seal": "', b'"seal": "0')


def no_job(members: dict[str, bytes]) -> None:
    members["rows/job.jsonl"] = b""


@pytest.mark.parametrize(
    ("change", "sums", "where"),
    [
        (a_letter_changed, False, "rows/piece.jsonl"),
        (a_table_gone, False, "rows/piece.jsonl"),
        (one_more, False, "rows/extra.jsonl"),
        (a_way_out, True, "pictures/../../secret"),
        (another_picture, False, "pictures/"),
        (another_picture, True, "pictures/"),
        (a_piece_of_no_job, True, ""),
        (another_table, True, "rows/piece.jsonl"),
        (another_seal, False, "about.json"),
        (no_job, True, "rows/job.jsonl"),
    ],
)
def test_what_is_torn_or_changed_is_refused_whole_saying_where(
    closed: tuple[World, io.BytesIO], places: Path, change: Change, sums: bool, where: str
) -> None:
    _, packed = closed
    copy_file._empty()
    with pytest.raises(Refusal) as refused:
        bring_actions.bring_in(changed(packed, change, sums=sums))
    assert refused.value.where.startswith(where)
    assert refused.value.remedy
    left = [m.__name__ for m in apps.get_app_config("workshop").get_models() if m._default_manager.exists()]
    assert not left


def test_half_a_file_and_no_file_are_refused(closed: tuple[World, io.BytesIO]) -> None:
    _, packed = closed
    whole = packed.getvalue()
    for data in (whole[: len(whole) // 2], whole[len(whole) // 3 :], b"", b"PK", b"key,name\n"):
        with pytest.raises(Refusal):
            bring_actions.bring_in(io.BytesIO(data))


def test_a_bit_that_flips_anywhere_is_noticed(closed: tuple[World, io.BytesIO]) -> None:
    """Forty places over the whole file: refused, or nothing of what counts was touched."""
    _, packed = closed
    whole = packed.getvalue()
    copy_file._empty()
    for n in range(40):
        at = len(whole) * n // 40
        torn = bytearray(whole)
        torn[at] ^= 0x10
        try:
            job = bring_actions.bring_in(io.BytesIO(bytes(torn)))
        except Refusal:
            assert not Job.objects.exists()
        else:
            assert job.name == "Mine"
            copy_file._empty()


CUSTOMER = (
    "Mrs Lind: 2 seats", "Quote 1 of", "Quote 1 was accepted by Mrs Lind on", "1 piece, brought by A driver", "signed by A driver", "Nothing was noted of: C1", "Listed and never came in: C2",
    "north window, on a panel", "Mr Lind", "to Élodie Brandão", "Went along: 50 mL", "Hours of hands", "Arms take longer", "A scuff by the door",
)  # fmt: skip
"""What the customer's side of the job leaves on the paper."""


def test_the_pages_save_it_and_bring_it_in(
    closed: tuple[World, io.BytesIO], client: Client, places: Path
) -> None:
    world, packed = closed
    client.post(make_link(), {"name": "test bench"})
    page = client.get(reverse("closing", args=[world.mine.job.pk])).content.decode()
    assert "Still open" in page
    pdf = client.get(reverse("closing_pdf", args=[world.mine.job.pk])).content
    text = " ".join(" ".join(one.extract_text() for one in PdfReader(io.BytesIO(pdf)).pages).split())
    for wanted in ("Mine", "C1", "A scratch", "Umber", "Report", "List of hashes", *CUSTOMER):
        assert wanted in text, wanted
    saved = b"".join(client.get(reverse("closing_zip", args=[world.mine.job.pk])).streaming_content)  # type: ignore[attr-defined]
    assert zipfile.ZipFile(io.BytesIO(saved)).testzip() is None

    copy_file._empty()
    newcomer = Client()
    newcomer.post(make_link(), {"name": "tablet"})
    torn = SimpleUploadedFile("c.zip", packed.getvalue()[:900])
    assert newcomer.post(reverse("bring_job"), {"file": torn}).status_code == 422
    sent = SimpleUploadedFile("c.zip", packed.getvalue())
    answer = newcomer.post(reverse("bring_job"), {"file": sent}, follow=True)
    assert answer.status_code == 200
    assert "Mine" in answer.content.decode()


def test_every_paper_of_a_job_keeps_to_the_sheet_that_is_asked_for(
    closed: tuple[World, io.BytesIO], visitor: Client
) -> None:
    """ANSI/ASME Y14.1: Letter is 8.5 by 11 in, 612 by 792 points. Every address that ends in .pdf, in a shop that prints on A4."""
    mine = closed[0].mine
    plan = plan_in_force(mine.job)
    assert plan is not None
    known = {
        "job_id": mine.job.pk, "sheet_id": mine.sheet.pk, "jar_id": mine.jar.pk, "snag_id": mine.snag.pk, "delivery_id": mine.delivery.pk,
        "key": options(mine.job)[0].key, "number": 1, "day": plan.days[0].isoformat(),
    }  # fmt: skip
    papers = [
        one
        for one in get_resolver().url_patterns
        if isinstance(one, URLPattern)
        and str(one.pattern).endswith(".pdf")
        and "token" not in str(one.pattern)
    ]
    assert len(papers) > 18
    for paper in papers:
        words = [word.split(":")[-1] for word in re.findall(r"<([^>]+)>", str(paper.pattern))]
        where = reverse(str(paper.name), kwargs={word: known[word] for word in words})
        answer = visitor.get(where, {"paper": "us-letter", "batch": "500 mL"})
        assert answer.status_code == 200, where
        box = PdfReader(io.BytesIO(answer.content)).pages[0].mediabox
        assert (round(float(box.width)), round(float(box.height))) == (612, 792), where
