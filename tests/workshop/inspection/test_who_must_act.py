"""A snag from any page; who must act; the letter; what is not to be forgotten; the shop's own word."""

from dataclasses import replace
from datetime import date, timedelta
from html import unescape
from io import BytesIO
from pathlib import Path

import pytest
from django.test import Client
from pypdf import PdfReader
from pytest_django import Settings

from hidewright.refusals import Refusal
from hidewright.workshop.days import actions as days
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.front import shop_actions
from hidewright.workshop.inspection import contact_actions, snag_queries
from hidewright.workshop.inspection import reminder_queries as remind
from hidewright.workshop.inspection import snag_actions as steps
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.shop.models import Job
from workshop.plans import PLAN
from workshop.sends import PICTURE, file

pytestmark = pytest.mark.django_db


def test_from_any_page_in_two_taps_and_a_picture(
    visitor: Client, job: Job, settings: Settings, tmp_path: Path
) -> None:
    settings.PICTURES_ROOT = tmp_path
    for page in ("/pigments/", f"/jobs/{job.pk}/days/", f"/jobs/{job.pk}/colour/"):
        assert (
            f'href="/snag/{f"?job={job.pk}" if "jobs" in page else ""}"' in visitor.get(page).content.decode()
        )
    form = visitor.get("/snag/", {"job": job.pk}).content.decode()
    assert 'capture="environment"' in form
    sent = {
        "job": job.pk,
        "picture": file("p.png", PICTURE),
        "weight": "later",
        "back": f"/jobs/{job.pk}/days/",
    }
    answer = visitor.post("/snag/", sent)
    assert answer.headers["Location"] == f"/jobs/{job.pk}/days/", "back where it was seen"
    row = Snag.objects.get()
    assert (row.weight, bool(row.picture), row.what) == ("later", True, "A snag, see its picture")
    assert visitor.post("/snag/", {"job": job.pk, "weight": "blocks"}).status_code == 422, "nothing was said"


def test_later_ones_are_gathered_and_blocking_ones_kept_apart(job: Job) -> None:
    one, two, three = (
        steps.add(job, what, weight=weight)
        for what, weight in (("a", "later"), ("b", "blocks"), ("c", "later"))
    )
    assert [row.what for row in snag_queries.touch_ups(job)] == ["a", "c"]
    assert [row.what for row in snag_queries.blocking(job)] == ["b"]
    steps.decide(three, "leave", version=0)
    steps.close(one, version=0)
    steps.pass_on(two, version=0, weight="later")
    assert [row.what for row in snag_queries.touch_ups(job)] == ["b"]
    assert not snag_queries.blocking(job)


def test_who_must_act_is_of_the_job_and_asked_before_anything_is_ordered(job: Job) -> None:
    row, somebody = steps.add(job, "a"), contact_actions.add_contact(job, "Élodie Brandão", does="seams")
    with pytest.raises(Refusal, match="who it waits for"):
        steps.pass_on(row, version=0, weight="blocks", stage="ordered")
    steps.pass_on(row, version=0, weight="blocks", acts=somebody, stage="ordered", expected=date(2026, 3, 9))
    with pytest.raises(Refusal, match="meanwhile"):
        steps.pass_on(row, version=0, weight="blocks", acts=somebody, stage="arrived")
    row.refresh_from_db()
    assert [entry.text for entry in row.entries.all()][
        -1
    ] == "Blocks, Élodie Brandão: ordered, expected Mon 9 Mar"


def test_the_letter_says_the_same_on_paper_and_as_text(visitor: Client, job: Job) -> None:
    row = steps.add(job, "Seam open", piece="C1")
    somebody = contact_actions.add_contact(job, "Élodie Brandão", does="seams", reach="e@example.org")
    steps.pass_on(row, version=0, weight="blocks", acts=somebody, stage="asked", expected=date(2026, 3, 9))
    page = unescape(visitor.get(f"/jobs/{job.pk}/snags/").content.decode())
    pdf = visitor.get(f"/jobs/{job.pk}/snags/{row.pk}/letter.pdf").content
    text = " ".join(" ".join(one.extract_text() for one in PdfReader(BytesIO(pdf)).pages).split())
    for words in ("Élodie Brandão, seams", "we found: Seam open.", "by Monday 9 March 2026"):
        assert words in page
        assert words in text
    assert "mailto:e%40example.org?subject=Snag%20on" in page


def test_reminded_before_the_last_coat_and_before_packing(job: Job) -> None:
    coated = replace(PLAN, acts=(replace(PLAN.acts[0], key="C1/top/spray colour"), *PLAN.acts[1:]))
    days.keep_plan(job, coated, because="first")
    coats = remind.last_coats(job)
    piece, coat = next(iter(coats.items()))
    row = steps.add(job, "Cut", piece=piece)
    on: date = coat.start.date()

    def said(day: date) -> list[str]:
        return [one.words for one in remind.reminders(job, day)]

    Job.objects.filter(pk=job.pk).update(promised=None)
    job.refresh_from_db()
    assert said(on - timedelta(days=3)) == []
    assert said(on - timedelta(days=2)) == [f"before the last coat of {piece} on {on:%a} {on.day} {on:%b}"]
    assert remind.before_last_coat(job)[coat.key] == (row,), "shown at that session"
    tap(job, coat.key, "done", "t1")
    assert all("packing" in words for words in said(date(2027, 1, 1))), "the coat is on: before packing then"
    steps.close(row, version=0)
    assert said(on) == []
    assert not remind.before_last_coat(job)


def test_reminded_when_an_answer_is_late(job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(promised=None)
    job.refresh_from_db()
    row, somebody = steps.add(job, "Cut"), contact_actions.add_contact(job, "Ana")
    day = date(2026, 3, 9)
    steps.pass_on(row, version=0, weight="blocks", acts=somebody, stage="ordered", expected=day)
    assert not remind.reminders(job, day), "its day is not over"
    assert "from Ana, not there yet" in remind.reminders(job, day + timedelta(days=1))[0].words
    steps.pass_on(row, version=1, weight="blocks", acts=somebody, stage="arrived", expected=day)
    assert not remind.reminders(job, day + timedelta(days=1))


def test_the_shops_own_word_is_on_every_page_and_paper(visitor: Client, job: Job) -> None:
    shop_actions.change_settings(name="A shop", units="us", currency="$", snag_word="glitch")
    row = steps.add(job, "Cut")
    visitor.get(f"/jobs/{job.pk}/snags/")
    for where in ("", "snags/", "inspection/", "days/", "closing/"):
        shown = visitor.get(f"/jobs/{job.pk}/{where}").content.decode()
        main = shown.split("<body", 1)[1]
        assert "litches" in main or "litch" in main, where
        words = (
            unescape(main)
            .replace("snag-", "")
            .replace("/snag", "")
            .replace("snags/", "")
            .replace("snag_", "")
        )
        visible = " ".join(part.split("<", 1)[0] for part in words.split(">"))
        assert "snag" not in visible.lower(), where
    pdf = visitor.get(f"/jobs/{job.pk}/snags/{row.pk}/letter.pdf").content
    assert "Glitch on" in PdfReader(BytesIO(pdf)).pages[0].extract_text()
    wrong = {"name": "A", "units": "us", "currency": "$", "balance_step": "0.1", "drop": "0.05"}
    assert visitor.post("/shop/", {**wrong, "snag_word": "<b>"}).status_code == 422
    assert visitor.post("/shop/", {**wrong, "snag_word": "Squawk"}).status_code == 302
    assert "Squawks" in visitor.get(f"/jobs/{job.pk}/").content.decode()
