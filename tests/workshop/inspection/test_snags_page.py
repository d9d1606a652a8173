"""Snags: noted with a picture, decided, closed, opened again; nothing of their story is lost."""

import io
from html import unescape

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from hidewright.refusals import Refusal
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.frame.pictures import LONGEST, picture_path
from hidewright.workshop.inspection import snag_actions as steps
from hidewright.workshop.inspection import snag_queries as gather
from hidewright.workshop.inspection.models import Decision, Snag, SnagKind
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job

pytestmark = pytest.mark.django_db


def undo_last() -> None:
    acts.undo(Act.objects.order_by("-id")[0].pk)


def a_picture(size: tuple[int, int] = (2400, 1200), kind: str = "PNG") -> SimpleUploadedFile:
    held = io.BytesIO()
    Image.new("RGB", size, "#884422").save(held, kind)
    return SimpleUploadedFile("p.png", held.getvalue())


def test_a_snag_with_a_picture_is_noted_shown_and_taken_back(visitor: Client, job: Job) -> None:
    where = f"/jobs/{job.pk}/snags/"
    sent = {"what": "Cut in the piping", "kind": "damage", "piece": "C03-SB", "picture": a_picture()}
    assert visitor.post(where, sent).status_code == 302
    row = Snag.objects.get()
    with Image.open(picture_path(row.picture)) as kept:
        assert max(kept.size) == LONGEST
        assert kept.format == "JPEG"
    shown = visitor.get(where).content.decode()
    assert "Cut in the piping" in shown
    assert visitor.get(f"{where}{row.pk}/picture/")["Content-Type"] == "image/jpeg"
    undo_last()
    assert gather.snags(job) == ([], [])
    assert row.entries.count() == 2, "taking back is a line of the story, too"


def test_what_is_no_picture_is_refused_and_nothing_is_kept(visitor: Client, job: Job) -> None:
    sent = {"what": "x", "kind": "damage", "picture": SimpleUploadedFile("p.jpg", b"no picture at all")}
    answer = visitor.post(f"/jobs/{job.pk}/snags/", sent)
    assert answer.status_code == 422
    assert "no picture that can be read" in answer.content.decode()
    assert not Snag.objects.exists()


def test_a_picture_s_name_cannot_lead_elsewhere(settings: object, job: Job) -> None:
    for name in ("../hidewright.sqlite3", "x.png", "", "..jpg", "a/b.jpg"):
        with pytest.raises(Refusal):
            picture_path(name)


def test_the_place_in_a_picture_s_notes_is_not_kept(visitor: Client, job: Job) -> None:
    held = io.BytesIO()
    notes = Image.Exif()
    notes[0x010E] = "taken at the client's house"
    Image.new("RGB", (40, 20)).save(held, "JPEG", exif=notes)
    picture = SimpleUploadedFile("p.jpg", held.getvalue())
    visitor.post(f"/jobs/{job.pk}/snags/", {"what": "x", "kind": "damage", "picture": picture})
    with Image.open(picture_path(Snag.objects.get().picture)) as kept:
        assert len(kept.getexif()) == 0


def test_a_snag_without_words_is_refused(visitor: Client, job: Job) -> None:
    assert visitor.post(f"/jobs/{job.pk}/snags/", {"what": " ", "kind": "damage"}).status_code == 422


def test_deciding_closing_and_opening_again_tell_the_story(visitor: Client, job: Job) -> None:
    row = steps.add(job, "Seam open")
    where = f"/jobs/{job.pk}/snags/{row.pk}/"
    key = f"s{row.pk}"
    sent = {f"{key}-decision": "ask", f"{key}-note": "sent a picture", f"{key}-version": "0", "decide": "1"}
    assert visitor.post(where, sent).status_code == 302
    late = visitor.post(where, sent)
    assert late.status_code == 422
    assert "Somebody changed this snag" in unescape(late.content.decode())
    visitor.post(where, {f"{key}-decision": "ask", f"{key}-note": "", f"{key}-version": "1", "close": "1"})
    assert gather.open_snags(job) == 0
    undo_last()
    assert gather.open_snags(job) == 1
    row.refresh_from_db()
    assert row.decision == Decision.ASK
    texts = [entry.text for entry in row.entries.all()]
    assert texts == [
        "Found",
        "Decided: ask the client. sent a picture",
        "Closed",
        "The last entry was undone",
    ]


def test_a_closed_snag_is_opened_again_on_the_page(visitor: Client, job: Job) -> None:
    row = steps.add(job, "Seam open")
    steps.close(row, version=0)
    visitor.post(f"/jobs/{job.pk}/snags/{row.pk}/", {f"s{row.pk}-version": "1", "reopen": "1"})
    assert gather.open_snags(job) == 1


def test_a_missing_placard_carries_its_caution(visitor: Client, job: Job) -> None:
    steps.add(job, "Placard gone by the door", kind=SnagKind.MISSING_PLACARD)
    shown = visitor.get(f"/jobs/{job.pk}/snags/").content.decode()
    assert shown.count("is for the authorised person") == 2, "once beside it, once beside the form"


def test_a_snag_told_on_days_is_taken_up_once(visitor: Client, job: Job) -> None:
    told, _ = tap(job, "C03/top/strip", "snag", "token-1", note="Burn mark")
    shown = visitor.get(f"/jobs/{job.pk}/snags/").content.decode()
    assert "Burn mark" in shown
    visitor.post(f"/jobs/{job.pk}/snags/taps/{told.pk}/")
    assert gather.told_on_days(job) == []
    with pytest.raises(Refusal, match="already"):
        steps.take_up(told)
    undo_last()
    assert gather.told_on_days(job) == [told]
    assert settings.PICTURES_ROOT


def test_a_refused_decision_keeps_what_was_typed_and_counts_when_sent_again(
    visitor: Client, job: Job
) -> None:
    """Another tablet changed the snag meanwhile: the note stays in the form, and its form is for the snag as it now stands."""
    row = steps.add(job, "Cut", kind="damage")
    where, key = f"/jobs/{job.pk}/snags/{row.pk}/", f"s{row.pk}"
    sent = {f"{key}-decision": "repair", f"{key}-note": "with filler", f"{key}-version": "0", "decide": "1"}
    steps.decide(row, Decision.ASK, version=0)
    answer = visitor.post(where, sent)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Somebody changed this snag meanwhile" in page
    assert 'value="with filler"' in page
    assert f'name="{key}-version" value="1"' in page
    assert visitor.post(where, {**sent, f"{key}-version": "1"}).status_code == 302
    row.refresh_from_db()
    assert row.decision == Decision.REPAIR
    late = {
        f"{key}-decision": "wait",
        f"{key}-until": "2025-01-01",
        f"{key}-note": "parts",
        f"{key}-version": "2",
    }
    page = visitor.post(where, late).content.decode()
    assert "Choose tomorrow or later" in page
    assert 'value="parts"' in page


def test_a_placard_is_known_by_what_was_written_too(visitor: Client, job: Job) -> None:
    steps.add(job, "Life vest PLACARD gone", kind="missing")
    steps.add(job, "Cut in the piping", kind="damage")
    page = visitor.get(f"/jobs/{job.pk}/snags/").content.decode()
    assert page.count("Has the authorised person dealt with it?") == 1
    assert page.count(gather.PLACARD_CAUTION) == 2, "beside the snag, and beside noting one"
