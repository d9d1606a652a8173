"""What came in: counted, missing, not by us; pictures through the queue without place and device; a signed receipt."""

import io
import json
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image
from pypdf import PdfReader
from pytest_django import Settings

from hidewright.workshop.intake.models import Delivery, Picture
from hidewright.workshop.intake.picture_actions import bring, keep_waiting
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Act, Job, Run, RunState
from hidewright.workshop.shop.runs import mark_lost
from hidewright.workshop.shop.undo import undo
from workshop.world import STROKES

pytestmark = pytest.mark.django_db
LIST = "key,name,group,shape,length,width\nA1,Sièges مقعد,Chair,panel,500,400\nA2,Back,Chair,panel,500,400\nB1,Lid,Box,panel,300,200\n"


@pytest.fixture
def listed(job: Job) -> Job:
    import_csv(job, LIST)
    Piece.objects.filter(job=job, key="B1").update(by_us=False)
    return job


def photo(name: str, size: tuple[int, int] = (400, 300)) -> SimpleUploadedFile:
    """A photo as a phone sends it, with where and with what it was taken."""
    facts = Image.Exif()
    facts[0x010F], facts[0x0110] = "Maker", "Telephone 9"
    facts.get_ifd(0x8825)[2] = (52.0, 30.0, 0.0)
    out = io.BytesIO()
    Image.new("RGB", size, (120, 80, 50)).save(out, "JPEG", exif=facts)
    assert b"Telephone 9" in out.getvalue()
    return SimpleUploadedFile(name, out.getvalue(), content_type="image/jpeg")


def take_in(visitor: Client, job: Job, *keys: str) -> Delivery:
    ids = list(Piece.objects.filter(job=job, key__in=keys).values_list("pk", flat=True))
    sent = {"brought_by": "Łukasz", "day": "2026-03-02", "note": "no keys", "piece": ids}
    assert visitor.post(f"/jobs/{job.pk}/intake/", sent).status_code == 302
    return Delivery.objects.latest("pk")


def test_what_is_missing_and_what_is_not_by_us_is_named(visitor: Client, listed: Job) -> None:
    row = take_in(visitor, listed, "A1")
    page = visitor.get(f"/jobs/{listed.pk}/intake/").content.decode()
    assert "1 of 2" in page
    assert "not here yet" in page
    assert "not by us" in page
    signed = {"name": "Łukasz", "signature": json.dumps(STROKES)}
    sign = f"/jobs/{listed.pk}/intake/deliveries/{row.pk}/sign/"
    assert visitor.post(sign, signed).status_code == 302
    assert visitor.post(sign, signed).status_code == 422, "signed once"
    paper = visitor.get(f"/jobs/{listed.pk}/intake/deliveries/{row.pk}/receipt.pdf?paper=us-letter")
    page_one = PdfReader(io.BytesIO(paper.content)).pages[0]
    assert [round(float(v)) for v in page_one.mediabox[2:]] == [612, 792]
    text = page_one.extract_text()
    assert "A1" in text
    assert "Not here yet" in text
    assert "Done elsewhere, not by us" in text
    assert "Łukasz" in text
    again = {"brought_by": "X", "day": "2026-03-02", "piece": [Piece.objects.get(job=listed, key="A1").pk]}
    assert visitor.post(f"/jobs/{listed.pk}/intake/", again).status_code == 422, "it came in before"


@pytest.mark.parametrize(
    "text", ["", "[]", "x", "[[[1,2]]]", '[[["a",1],[2,3]]]', "[[[0,0],[2000,0]]]", "[" * 2000]
)
def test_what_is_no_signature_is_refused(text: str, visitor: Client, listed: Job) -> None:
    row = take_in(visitor, listed, "A1")
    where = f"/jobs/{listed.pk}/intake/deliveries/{row.pk}/sign/"
    assert visitor.post(where, {"name": "A", "signature": text}).status_code == 422
    row.refresh_from_db()
    assert row.signed is None


def test_pictures_go_through_the_queue(
    visitor: Client, listed: Job, settings: Settings, tmp_path: Path
) -> None:
    settings.PICTURES_ROOT = tmp_path
    piece = Piece.objects.get(job=listed, key="A1")
    where = f"/jobs/{listed.pk}/intake/pieces/{piece.pk}/"
    files = [
        photo("one.jpg", (2400, 1800)),
        SimpleUploadedFile("torn.jpg", photo("x").read()[:200]),
        photo("two.jpg"),
    ]
    assert visitor.post(f"{where}pictures/", {"pictures": files, "kind": "arrival"}).status_code == 302
    assert "3 pictures being made smaller" in visitor.get(where).content.decode()
    assert visitor.get(f"/jobs/{listed.pk}/intake/pictures/waiting.txt").content == b"3"
    assert keep_waiting(listed) == {"kept": 2, "broken": 1}
    page = visitor.get(where).content.decode()
    assert "torn.jpg" in page
    assert "no picture that can be read" in page
    assert not list((tmp_path / "incoming").iterdir()), "the queue is empty"
    first = Picture.objects.get(name="one.jpg")
    for size, longest in (("full", 1600), ("small", 320)):
        answer = visitor.get(f"/jobs/{listed.pk}/pictures/{first.pk}/{size}.jpg")
        data = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
        kept = Image.open(io.BytesIO(data))
        assert max(kept.size) == longest
        assert not kept.getexif()
        assert b"Telephone" not in data
    undo(Act.objects.get(undo_name="pictures.away").pk)
    assert "one.jpg" not in visitor.get(where).content.decode()


def test_an_empty_picture_and_too_many_are_refused_by_name(
    visitor: Client, listed: Job, settings: Settings, tmp_path: Path
) -> None:
    settings.PICTURES_ROOT = tmp_path
    where = f"/jobs/{listed.pk}/intake/pictures/"
    empty = visitor.post(where, {"pictures": SimpleUploadedFile("nothing.jpg", b""), "kind": "arrival"})
    assert empty.status_code == 422
    assert not Picture.objects.exists()
    many = [SimpleUploadedFile(f"{n}.jpg", b"x") for n in range(41)]
    assert visitor.post(where, {"pictures": many, "kind": "arrival"}).status_code == 422


def test_a_tag_leads_to_its_piece(visitor: Client, listed: Job) -> None:
    paper = visitor.get(f"/jobs/{listed.pk}/intake/tags.pdf?mark=A1")
    assert paper.status_code == 200
    assert "A1" in PdfReader(io.BytesIO(paper.content)).pages[0].extract_text()
    hostile = visitor.get(f"/jobs/{listed.pk}/intake/tags.pdf?mark=nothing&paper=x")
    assert hostile.status_code == 422


def test_every_picture_can_be_reached(visitor: Client, listed: Job) -> None:
    Picture.objects.bulk_create(
        Picture(job=listed, name=f"{n}.jpg", state="kept", file="x.jpg", small="y.jpg") for n in range(65)
    )
    where = f"/jobs/{listed.pk}/intake/"
    first, second, beyond = (visitor.get(f"{where}?page={n}").content.decode() for n in (1, 2, 999))
    assert ("1 to 60 of 65" in first, first.count("/small.jpg")) == (True, 60)
    assert 'href="?page=2#pictures"' in first
    assert first.index("data-bring") < first.index("/small.jpg"), (
        "the next picture is brought without passing all of them"
    )
    assert ("61 to 65 of 65" in second, second.count("/small.jpg")) == (True, 5)
    assert 'href="?page=1#pictures"' in second
    assert "61 to 65 of 65" in beyond, "no page is empty"


def test_pictures_whose_worker_was_lost_are_asked_for_again(
    listed: Job, settings: Settings, tmp_path: Path
) -> None:
    settings.PICTURES_ROOT = tmp_path
    bring(listed, [photo("one.jpg")])
    Run.objects.update(state=RunState.RUNNING, worker="a machine whose plug was pulled")
    assert mark_lost() == 1
    assert list(Run.objects.order_by("pk").values_list("state", flat=True)) == ["lost", "waiting"]
    assert mark_lost() == 0, "once"
    assert keep_waiting(listed) == {"kept": 1, "broken": 0}
