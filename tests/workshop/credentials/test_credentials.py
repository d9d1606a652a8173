"""What a job's rules want, what is missing, expired or ends soon, in the header; papers are kept and struck out."""

from datetime import date, timedelta
from html import unescape
from pathlib import Path

import pytest
from django.test import Client
from pytest_django import Settings

from hidewright.refusals import Refusal
from hidewright.workshop.credentials import actions as steps
from hidewright.workshop.credentials import queries as gather
from hidewright.workshop.credentials.models import Credential
from hidewright.workshop.front.shop_actions import add_person, remove_person
from hidewright.workshop.inspection.actions import keep_certificate
from hidewright.workshop.shop.models import Job
from workshop.sends import PICTURE, file

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 2)


def states(job: Job) -> dict[str, str]:
    return {one.want.kind.value: one.state for one in gather.wants(job, TODAY)}


def test_the_rules_say_what_is_missing_expired_and_on_record(job: Job) -> None:
    assert gather.wants(job, TODAY) == (), "nobody said which rules"
    steps.set_rules(job, "rail")
    assert states(job) == {"burn report": "missing", "training": "missing", "data sheet": "missing"}
    ana = add_person("Ana")
    steps.keep(None, "training", "Solvents", person=ana, expires=TODAY)
    steps.keep(None, "data sheet", "Sheet", expires=TODAY - timedelta(days=1))
    steps.keep(None, "burn report", "Of another job")
    assert states(job) == {"burn report": "missing", "training": "on record", "data sheet": "expired"}
    keep_certificate(job, "ship", specimen="leather", certificate="1")
    assert states(job)["burn report"] == "missing", "a ship's certificate is none of rail"
    keep_certificate(job, "rail", specimen="leather", certificate="2")
    assert states(job)["burn report"] == "on record"
    remove_person(ana)
    assert states(job)["training"] == "missing", "who left takes the training along"


def test_the_header_says_it_on_every_page_of_the_job(visitor: Client, job: Job) -> None:
    def head() -> str:
        shown = unescape(visitor.get(f"/jobs/{job.pk}/snags/").content.decode())
        return shown.split('class="job-head"')[1].split('class="stages"')[0]

    assert "reminders" not in head()
    steps.set_rules(job, "ship")
    assert "3 papers missing" in head()
    steps.keep(job, "data sheet", "Sheet", expires=date.today() + timedelta(days=7))
    steps.keep(None, "training", "Course", expires=date.today() - timedelta(days=1))
    shown = head()
    assert "1 paper missing" in shown
    assert "Sheet: ends in 7 days" in shown
    assert "Course: expired 1 day ago" in shown
    for claim in ("complian", "airworth", "approved", "certified"):
        assert claim not in shown.lower()


def test_a_paper_is_kept_with_its_file_and_struck_out_with_a_reason(
    visitor: Client, job: Job, settings: Settings, tmp_path: Path
) -> None:
    settings.PICTURES_ROOT = tmp_path
    where = f"/jobs/{job.pk}/credentials/"
    sent = {
        "paper-kind": "clearance",
        "paper-title": "Clearance",
        "paper-number": "7",
        "paper-issued": "2026-03-02",
    }
    wrong = {**sent, "paper-expires": "2026-03-01"}
    assert visitor.post(where, wrong).status_code == 422, "it would end before its day"
    assert visitor.post(where, {**sent, "paper-file": file("x.txt", b"words")}).status_code == 422
    for n, (name, data) in enumerate((("p.png", PICTURE), ("s.pdf", b"%PDF-1.7 made"))):
        assert (
            visitor.post(where, {**sent, "paper-number": n, "paper-file": file(name, data)}).status_code
            == 302
        )
    pictured, written = Credential.objects.order_by("pk")
    assert visitor.get(f"/credentials/{pictured.pk}/file/").headers["Content-Type"] == "image/jpeg"
    answer = visitor.get(f"/credentials/{written.pk}/file/")
    assert "attachment" in answer.headers["Content-Disposition"], "nothing in it runs as a page of ours"
    assert b"".join(answer.streaming_content) == b"%PDF-1.7 made"  # type: ignore[attr-defined]
    strike = f"{where}{written.pk}/strike/"
    assert visitor.post(strike, {"reason": ""}).status_code == 422
    assert visitor.post(strike, {"reason": "wrong one"}).status_code == 302
    with pytest.raises(Refusal, match="already"):
        steps.strike(written, "again", job)
