"""With 340 jobs and about 100,000 moves in the book, a page asks the database as many questions as with 3 jobs."""

from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from hidewright.workshop.days import actions as days
from hidewright.workshop.front.find_queries import find
from hidewright.workshop.front.header import job_header
from hidewright.workshop.front.summary_queries import SHOWN
from hidewright.workshop.pieces import actions as survey
from hidewright.workshop.shelf.models import MixComponent, MixEntry, MixMove, MixTurn, MixVessel
from hidewright.workshop.shop.models import Job, JobSummary
from workshop.plans import PLAN

SHOP_PAGES = ("/", "/jars/", "/colours/", "/find/?q=boat", "/pigments/", "/products/", "/people/", "/weeks/")
JOB_PAGES = (
    "",
    "survey/",
    "colour/",
    "colours/",
    "quantities/",
    "mixing/",
    "days/",
    "snags/",
    "inspection/",
    "papers/",
)
ENTRIES, MOVES = 29, 10
"""Entries of a job in the book, and moves in each: 340 jobs make 98,600 moves."""


def open_jobs(first: int, count: int) -> None:
    """Jobs of two pieces, each with a cup and a jar, the cup poured in many small pours."""
    MixComponent.objects.get_or_create(key="base", defaults={"name": "Base", "density": 1.0})
    for n in range(first, first + count):
        job = Job.objects.create(
            name=f"Boat {n}", client=f"Owner {n}", registration=f"R-{n:04d}", starts=date(2026, 3, 2)
        )
        survey.import_csv(
            job, f"key,name,shape,length,width\nP{n}a,panel,panel,1000,500\nP{n}b,panel,panel,900,500\n"
        )
        cup = MixVessel.objects.create(
            job=job,
            kind="cup",
            name=f"Cup {n}",
            capacity=10**9,
            turns=ENTRIES,
            plan={"name": "Tan", "parts": []},
        )
        MixVessel.objects.create(
            job=job, kind="jar", name=f"Jar {n}", capacity=10**6, kept_on=date(2026, 3, 2)
        )
        made = MixEntry.objects.bulk_create(
            [MixEntry(job=job, act="pour", text="Poured") for _ in range(ENTRIES)]
        )
        MixTurn.objects.bulk_create(
            [MixTurn(vessel=cup, entry=entry, seq=seq) for seq, entry in enumerate(made, 1)]
        )
        MixMove.objects.bulk_create(
            [
                MixMove(
                    entry=entry, source="stock", target=cup.key, component="base", lot="B1", amount=1000 + k
                )
                for entry in made
                for k in range(MOVES)
            ]
        )


def questions(visitor: Client, url: str) -> int:
    """Questions to the database of a page that was looked at before."""
    assert visitor.get(url).status_code == 200
    with CaptureQueriesContext(connection) as asked:
        assert visitor.get(url).status_code == 200
    return len(asked)


@pytest.mark.django_db
def test_pages_ask_the_same_with_3_jobs_and_with_340(visitor: Client) -> None:
    open_jobs(0, 3)
    job = Job.objects.get(name="Boat 1")
    pages = [*SHOP_PAGES, *(f"/jobs/{job.pk}/{page}" for page in JOB_PAGES)]
    few = {url: questions(visitor, url) for url in pages}
    open_jobs(3, 337)
    assert MixMove.objects.count() > 98_000
    many = {url: questions(visitor, url) for url in pages}
    assert many == few
    assert few["/"] < 20


def test_the_list_of_jobs_is_worked_out_anew_only_where_something_happened(visitor: Client) -> None:
    open_jobs(0, 3)
    visitor.get("/")
    before = {row.job_id: row.sign for row in JobSummary.objects.all()}
    assert len(before) == 3
    changed = Job.objects.get(name="Boat 1")
    header = dict(visitor.get("/").context["found"].rows)[changed]
    survey.import_csv(changed, "key,name,shape,length,width\nnew,panel,panel,2000,1000\n")
    after = dict(visitor.get("/").context["found"].rows)[changed]
    assert after.needed > header.needed
    now = {row.job_id: row.sign for row in JobSummary.objects.all()}
    assert [key for key in now if now[key] != before[key]] == [changed.pk]


def test_a_summary_that_was_kept_says_what_the_job_says(visitor: Client) -> None:
    """With a plan whose last day comes with odds, too."""
    open_jobs(0, 1)
    job = Job.objects.get()
    days.keep_plan(job, PLAN, because="first", facts={"odds": ["2026-03-03", "2026-03-04", "2026-03-05"]})
    header = job_header(job)
    assert header.odds
    for _ in range(2):
        assert dict(visitor.get("/").context["found"].rows)[job] == header


def test_the_list_comes_in_pages_and_never_says_that_there_is_no_job_while_some_are_put_away(
    visitor: Client,
) -> None:
    assert "No job yet" in visitor.get("/").content.decode()
    open_jobs(0, SHOWN + 1)
    assert "Page 1 of 2" in visitor.get("/").content.decode()
    assert len(visitor.get("/?page=2").context["found"].rows) == 1
    Job.objects.update(put_away="2026-03-04T10:00Z")
    page = visitor.get("/").content.decode()
    assert "No job yet" not in page
    assert "No open job" in page
    assert f"{SHOWN} of {SHOWN + 1}" in page


def test_one_field_finds_jobs_owners_registrations_jars_pieces_and_lots(visitor: Client) -> None:
    open_jobs(0, 3)
    Job.objects.filter(name="Boat 2").update(put_away="2026-03-04T10:00Z")
    for words, kind, label in (
        ("boat 2", "Jobs", "Boat 2"),
        ("owner 2", "Jobs", "Boat 2"),
        ("r-0001", "Jobs", "Boat 1"),
        ("jar 1", "Jars", "Jar 1"),
        ("P1b", "Pieces", "P1b panel"),
    ):
        hits = {hit.label for each in find(words) if each.label == kind for hit in each.hits}
        assert label in hits, words
    assert find("nothing like this") == []
    assert find("  ") == []
