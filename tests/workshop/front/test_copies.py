"""A copy of everything: back to the last value on the same tables, whole or not at all, and kept for as long as is said."""

import hashlib
import io
import json
import threading
import zipfile
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from pytest_django import Settings

from hidewright.refusals import Refusal
from hidewright.workshop import demonstration, server
from hidewright.workshop.front import copy_actions as steps
from hidewright.workshop.front import copy_file as keep
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.door import make_link
from hidewright.workshop.shop.models import Act, Device, Job, OneTimeLink, Run, RunState
from workshop.few_pigments import find_the_few

PICTURE = f"{'a1' * 16}.jpg"


@pytest.fixture(autouse=True)
def places(settings: Settings, tmp_path: Path) -> Path:
    """Pictures and copies in a folder of the test's own."""
    settings.PICTURES_ROOT, settings.COPIES_ROOT = tmp_path / "pictures", tmp_path / "copies"
    return tmp_path


@pytest.fixture
def told(visitor: Client) -> Job:
    """A shop that has told something: the demonstration's job with its pieces and readings, and a device."""
    return demonstration.open_the_job(date(2026, 3, 2))


@pytest.fixture
def poured(told: Job) -> Job:
    """The same with four of its pigments known, a recipe chosen and the first cup poured."""
    find_the_few()
    demonstration.find_recipe(told, lambda _fraction, _words: None)
    demonstration.mix_first_cup(told)
    return told


def rows() -> dict[str, list[dict[str, Any]]]:
    """Every row of every table that is copied."""
    return {str(m._meta.model_name): list(m._default_manager.order_by("pk").values()) for m in keep.tables()}


def a_copy() -> io.BytesIO:
    file = io.BytesIO()
    keep.write_copy(file)
    return file


def changed(copy: io.BytesIO, change: Callable[[dict[str, bytes]], None], *, sums: bool) -> io.BytesIO:
    """The copy with its members changed; with `sums` the checksums are made to fit again."""
    with zipfile.ZipFile(copy) as packed:
        members = {name: packed.read(name) for name in packed.namelist()}
    change(members)
    if sums:
        about = json.loads(members["about.json"])
        about["sha256"] = {n: hashlib.sha256(d).hexdigest() for n, d in members.items() if n != "about.json"}
        members["about.json"] = json.dumps(about).encode()
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as packed:
        for name, data in members.items():
            packed.writestr(name, data)
    return file


def test_all_comes_back_as_it_stood(poured: Job, places: Path) -> None:
    """Rows to the last value, pictures to the last byte; new rows go on counting; nobody is let in by a copy."""
    (places / "pictures").mkdir()
    (places / "pictures" / PICTURE).write_bytes(b"a picture")
    at_work = Run.objects.create(job=poured, kind="colour.match", state=RunState.RUNNING)
    before, copy = rows(), a_copy()

    Piece.objects.all().delete()
    Act.objects.all().delete()
    Job.objects.update(name="Overwritten")
    open_job("Another job", starts=date(2026, 3, 2), promised=date(2026, 3, 27))
    (places / "pictures" / PICTURE).unlink()
    make_link()
    about, _ = steps.bring_back(copy, over=True)

    after = rows()
    assert about.jobs == 1
    assert about.rows == {name: len(found) for name, found in before.items()}
    assert all(device["shut_out"] for device in after.pop("device"))
    (lost,) = (run for run in after["run"] if run["id"] == at_work.pk)
    assert lost["state"] == RunState.LOST
    lost.update(state=RunState.RUNNING, message="", finished=None)
    del before["device"]
    assert after == before
    assert (places / "pictures" / PICTURE).read_bytes() == b"a picture"
    assert not OneTimeLink.objects.exists()
    fresh = open_job("The next job", starts=date(2026, 3, 2), promised=date(2026, 3, 27))
    assert fresh.pk not in {row["id"] for row in before["job"]}
    (kept,) = (places / "copies").glob("before-*.zip")
    with kept.open("rb") as file, keep.opened(file) as packed:
        assert b"Another job" in packed.read("rows/job.jsonl")


def test_a_shop_that_holds_something_is_left_alone(told: Job) -> None:
    copy, before = a_copy(), rows()
    with pytest.raises(Refusal, match="not empty") as refused:
        steps.bring_back(copy)
    assert "--over" in refused.value.remedy
    assert rows() == before


def cut_off(copy: io.BytesIO) -> io.BytesIO:
    return io.BytesIO(copy.getvalue()[: len(copy.getvalue()) // 2])


def one_byte_more(members: dict[str, bytes]) -> None:
    members["rows/job.jsonl"] = members["rows/job.jsonl"].replace(b"Juniper", b"Jumiper")


def a_table_gone(members: dict[str, bytes]) -> None:
    del members["rows/piece.jsonl"]


def a_path_outside(members: dict[str, bytes]) -> None:
    members["pictures/../../secret"] = b"x"


def a_piece_of_no_job(members: dict[str, bytes]) -> None:
    members["rows/piece.jsonl"] = members["rows/piece.jsonl"].replace(b'"job": ', b'"job": 99')


def rows_of_another_table(members: dict[str, bytes]) -> None:
    members["rows/piece.jsonl"] += members["rows/job.jsonl"]


def a_session(members: dict[str, bytes]) -> None:
    line = {
        "model": "sessions.session",
        "pk": "a" * 32,
        "fields": {"session_data": "", "expire_date": "2027-01-01T00:00Z"},
    }
    members["rows/piece.jsonl"] += json.dumps(line).encode() + b"\n"


def no_text(members: dict[str, bytes]) -> None:
    members["rows/job.jsonl"] = b"\xff\xfe{"


def another_version(members: dict[str, bytes]) -> None:
    members["about.json"] = members["about.json"].replace(b'"schema": "', b'"schema": "0')


@pytest.mark.parametrize(
    ("change", "sums", "words"),
    [
        (one_byte_more, False, "changed since"),
        (a_table_gone, False, "torn"),
        (a_table_gone, True, "not whole"),
        (a_path_outside, True, "not whole"),
        (a_piece_of_no_job, True, "cannot be read"),
        (rows_of_another_table, True, "cannot be read"),
        (a_session, True, "cannot be read"),
        (no_text, True, "cannot be read"),
        (another_version, False, "version"),
    ],
)
def test_what_is_no_whole_copy_changes_nothing(
    told: Job, change: Callable[[dict[str, bytes]], None], sums: bool, words: str
) -> None:
    copy = changed(a_copy(), change, sums=sums)
    before = rows()
    with pytest.raises(Refusal, match=words) as refused:
        steps.bring_back(copy, over=True)
    assert refused.value.remedy
    assert rows() == before


@pytest.mark.django_db
@pytest.mark.parametrize("data", [b"", b"PK", b"name,length\n", b"\x00" * 200])
def test_what_is_no_copy_at_all_is_refused(data: bytes) -> None:
    with pytest.raises(Refusal, match="no copy of a shop, or it is torn"):
        steps.bring_back(io.BytesIO(data))


def test_a_torn_copy_is_refused(told: Job) -> None:
    with pytest.raises(Refusal, match="no copy of a shop, or it is torn"):
        steps.bring_back(cut_off(a_copy()), over=True)
    whole = a_copy().getvalue()
    with pytest.raises(Refusal, match="The copy is torn"):
        steps.bring_back(io.BytesIO(whole[len(whole) // 3 :]), over=True)
    assert Job.objects.filter(pk=told.pk).exists()


@given(st.sets(st.integers(0, 900)), st.dates(date(2026, 1, 1), date(2030, 1, 1)))
def test_the_last_days_and_the_newest_of_each_month_stay(ages: set[int], today: date) -> None:
    days = [today - timedelta(days=age) for age in ages]
    gone = steps.too_old([f"{day}.zip" for day in days] + ["before-2020-01-01-101010.zip", "x.zip"], today)
    kept = {day for day in days if f"{day}.zip" not in gone}
    assert "before-2020-01-01-101010.zip" not in gone
    assert {day for day in days if (today - day).days < steps.DAYS} <= kept
    months = sorted({(day.year, day.month) for day in days})[-steps.MONTHS :]
    for month in months:
        assert max(day for day in days if (day.year, day.month) == month) in kept
    assert len(kept) <= steps.DAYS + steps.MONTHS


def test_the_shop_keeps_todays_copy_and_the_page_hands_it_out(
    told: Job, visitor: Client, places: Path
) -> None:
    path = steps.keep_today()
    assert [one.name for one in (places / "copies").iterdir()] == [path.name]
    page = visitor.get(reverse("copies")).content.decode()
    address = reverse("kept_copy", args=[path.stem])
    assert address in page
    for where in (address, reverse("copy_now")):
        answer = visitor.get(where)
        assert "attachment" in answer.headers["Content-Disposition"]
        with zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content))) as packed:  # type: ignore[attr-defined]
            assert keep.read_about(packed).jobs == 1
    assert visitor.get(reverse("kept_copy", args=["2020-01-01"])).status_code == 422
    assert "Bring it back" not in page


def test_a_copy_is_brought_back_on_the_page_of_an_empty_shop(told: Job, visitor: Client) -> None:
    """The device that brings it stays in; all others are out."""
    copy, pieces = a_copy(), Piece.objects.count()
    sent = SimpleUploadedFile("shop.zip", copy.getvalue(), "application/zip")
    assert visitor.post(reverse("bring_back"), {"file": sent}).status_code == 422

    keep._empty()
    Client().post(make_link(), {"name": "other"})
    newcomer = Client()
    newcomer.post(make_link(), {"name": "tablet"})
    assert "Bring it back" in newcomer.get(reverse("copies")).content.decode()
    torn = SimpleUploadedFile("shop.zip", copy.getvalue()[:900], "application/zip")
    refused = newcomer.post(reverse("bring_back"), {"file": torn})
    assert refused.status_code == 422
    assert "torn" in refused.content.decode()

    sent.seek(0)
    answer = newcomer.post(reverse("bring_back"), {"file": sent}, follow=True)
    assert answer.status_code == 200
    assert "All is back" in answer.content.decode()
    assert Piece.objects.count() == pieces
    assert [d.name for d in Device.objects.filter(shut_out=None)] == ["tablet"]
    assert visitor.get(reverse("copies")).status_code in (302, 403)


def test_a_copy_that_fails_is_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The server's own copies go on after a full disk."""
    tries: list[int] = []
    again = threading.Event()

    def keep_today() -> None:
        tries.append(1)
        if len(tries) == 1:
            raise OSError("No space left on device")
        again.set()

    monkeypatch.setattr(steps, "keep_today", keep_today)
    monkeypatch.setattr(server, "FIRST_COPY", 0.0)
    monkeypatch.setattr(server, "COPY_EVERY", 0.01)
    copier = server.Copier()
    try:
        assert again.wait(30)
    finally:
        copier.stop()
        copier.join(30)
    assert not copier.is_alive()
