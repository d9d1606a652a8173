"""Every piece that came in goes out or is named, and the other end signs."""

import io
import json

import pytest
from django.test import Client
from pypdf import PdfReader

from hidewright.workshop.front.header import job_header
from hidewright.workshop.handover.models import HandOver
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo
from workshop.world import STROKES

pytestmark = pytest.mark.django_db
LIST = "key,name,group,shape,length,width\nA1,Seat,Chair,panel,500,400\nA2,Back,Chair,panel,500,400\nB1,Lid,Box,panel,300,200\n"
SIGNED = {"to": "Mrs Lind", "day": "2026-03-20", "kit": ["Care sheet"], "signature": json.dumps(STROKES)}


@pytest.fixture
def packed(visitor: Client, job: Job) -> Job:
    import_csv(job, LIST)
    pack(visitor, job, "A1")
    return job


def pack(visitor: Client, job: Job, *keys: str, **more: str) -> int:
    ids = list(Piece.objects.filter(job=job, key__in=keys).values_list("pk", flat=True))
    return visitor.post(f"/jobs/{job.pk}/handover/pack/", {"piece": ids, "stays": "", **more}).status_code


def test_nothing_leaves_while_a_piece_is_not_named(visitor: Client, packed: Job) -> None:
    refused = visitor.post(f"/jobs/{packed.pk}/handover/sign/", SIGNED)
    assert refused.status_code == 422
    assert "A2, B1" in refused.content.decode()
    assert pack(visitor, packed, "A2") == 302
    assert pack(visitor, packed, "B1", stay="1") == 422, "without a reason"
    assert pack(visitor, packed, "B1", stay="1", stays="hinge is on order") == 302
    assert pack(visitor, packed, "A1") == 422, "packed already"
    assert visitor.post(f"/jobs/{packed.pk}/handover/sign/", SIGNED).status_code == 302
    text = (
        PdfReader(io.BytesIO(visitor.get(f"/jobs/{packed.pk}/handover/packing-list.pdf?number=1").content))
        .pages[0]
        .extract_text()
    )
    assert "hinge is on order" in text
    assert "Care sheet" in text
    assert "Mrs Lind" in text
    assert not job_header(packed).left, "one piece is still here"
    page = visitor.get(f"/jobs/{packed.pk}/").content.decode()
    assert "2 of 3 handed over; 1 stays: hinge is on order" in page, (
        "above every page of the job, and on its way"
    )
    assert page.count("hinge is on order") >= 2
    assert pack(visitor, packed, "B1") == 302, "it goes with the next"
    assert visitor.post(f"/jobs/{packed.pk}/handover/sign/", SIGNED).status_code == 302
    assert job_header(packed).left
    assert not job_header(packed).parted, "what stayed has left too"
    assert job_header(packed).outlook is None
    undo(Act.objects.filter(undo_name="handover.signed").latest("pk").pk)
    assert HandOver.objects.filter(signed=None).count() == 1
    assert not job_header(packed).left


def test_a_day_past_is_never_in_time(visitor: Client, packed: Job) -> None:
    header = job_header(packed)
    assert header.finish is None
    assert header.days_past > 0
    assert header.outlook == "late"
    page = visitor.get(f"/jobs/{packed.pk}/").content.decode()
    assert "past the promised" in page
    assert "in time" not in page
