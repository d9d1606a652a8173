"""The list of jobs, and the field that finds them; that no page asks more with 340 jobs is held in tests/workshop/frame/test_every_act.py."""

from django.test import Client

from hidewright.workshop.days import actions as days
from hidewright.workshop.front.find_queries import find
from hidewright.workshop.front.header import job_header
from hidewright.workshop.front.summary_queries import SHOWN
from hidewright.workshop.pieces import actions as survey
from hidewright.workshop.shop.models import Job, JobSummary
from workshop.many_jobs import open_jobs
from workshop.plans import PLAN


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
