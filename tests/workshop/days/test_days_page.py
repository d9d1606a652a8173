"""The page of the days: lists, taps that count once, undo, snags, papers."""

import json
import re
from dataclasses import replace
from datetime import date, datetime, timedelta
from io import BytesIO

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from hidewright.charts.plan import ActShown, PlanShown
from hidewright.refusals import Refusal
from hidewright.workshop.days import queries as gather
from hidewright.workshop.days.actions import keep_plan
from hidewright.workshop.days.lists import Group, Line, in_parts
from hidewright.workshop.days.models import Plan, Tap
from hidewright.workshop.days.progress_actions import tap, taps
from hidewright.workshop.days.progress_queries import Standing, snags_told, standings
from hidewright.workshop.days.promise_queries import promise_of
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.room import actions as room
from hidewright.workshop.room.models import Storage
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job, Shop
from workshop.plans import PLAN

pytestmark = pytest.mark.django_db

SPRAY = "C1/top/spray"


@pytest.fixture
def planned(job: Job) -> Job:
    """A job with the small plan in force."""
    add_person("Ana")
    keep_plan(job, PLAN)
    return job


def body(visitor: Client, job: Job, day: str = "") -> str:
    return visitor.get(f"/jobs/{job.pk}/days/{day + '/' if day else ''}").content.decode()


def send(visitor: Client, job: Job, token: str, kind: str = "done", **more: str) -> dict[str, object]:
    fields = {"act_key": SPRAY, "kind": kind, "token": token, **more}
    answer = visitor.post(f"/jobs/{job.pk}/days/tap/", fields, headers={"accept": "application/json"})
    assert answer.status_code == 200, answer.content
    told: dict[str, object] = answer.json()
    return told


def test_what_is_there_is_counted(visitor: Client, job: Job) -> None:
    add_person("Ana")
    room.add_table("Bench", 2.0, 0.6)
    page = body(visitor, job)
    assert "1 table." in page
    assert "1 person." in page


def test_without_a_plan_the_page_says_what_is_missing(visitor: Client, job: Job) -> None:
    page = body(visitor, job)
    for wanted in ("Enter a table first", "Set the hours", "Enter who works first", "Make a plan"):
        assert wanted in page, wanted
    refused = visitor.post(f"/jobs/{job.pk}/days/plan/", {"seconds": "10"})
    assert refused.status_code == 422
    assert not job.runs.exists()


def test_the_page_shows_lists_pictures_and_the_verdict(visitor: Client, planned: Job) -> None:
    page = body(visitor, planned, "2026-03-02")
    for wanted in (
        "The plan ends 24 days early",
        "this plan is on that day",
        "Spray",
        "Strip",
        "Table A",
    ):
        assert wanted in page, wanted
    assert "<svg" not in page, "the pictures are fetched when they are unfolded"
    assert "<svg" in body(visitor, planned, "2026-03-02/pictures")
    assert page.count('class="act"') == 2
    assert "style=" not in page
    later = body(visitor, planned, "2026-03-03")
    assert "Left over from the days before: 2" in later
    left = visitor.get(f"/jobs/{planned.pk}/days/2026-03-03/left-over/").content.decode()
    assert left.count('class="act"') == 2
    assert "The whole plan" in visitor.get(f"/jobs/{planned.pk}/days/whole/").content.decode()


@pytest.mark.parametrize("day", ["nonsense", "2020-01-01", "2030-01-01"])
def test_a_day_that_is_not_planned_leads_to_one_that_is(visitor: Client, planned: Job, day: str) -> None:
    assert 'aria-current="date"' in body(visitor, planned, day)


def test_a_tap_sent_twice_counts_once_and_can_be_taken_back(visitor: Client, planned: Job) -> None:
    assert send(visitor, planned, "a" * 32)["fresh"] is True
    assert send(visitor, planned, "a" * 32)["fresh"] is False
    assert Tap.objects.count() == 1
    assert standings(planned)[SPRAY].done
    assert gather.today(planned, date(2026, 3, 2)) == (1, 2, "Strip C2 top")
    send(visitor, planned, "b" * 32, kind="undo")
    assert not standings(planned)[SPRAY].done
    assert Tap.objects.count() == 2, "taps are added, never changed"


def test_taps_count_in_the_order_of_the_fingers_not_of_the_delivery(planned: Job) -> None:
    now = timezone.now()
    tap(planned, SPRAY, "undo", "later", at=now - timedelta(minutes=1))
    tap(planned, SPRAY, "done", "earlier", at=now - timedelta(minutes=2))
    assert not standings(planned)[SPRAY].done


def test_a_clock_that_runs_ahead_is_not_believed(planned: Job) -> None:
    kept, _ = tap(planned, SPRAY, "done", "x", at=timezone.now() + timedelta(days=2))
    assert kept.at <= timezone.now()


def test_a_snag_is_told_and_the_day_goes_on(visitor: Client, planned: Job) -> None:
    send(visitor, planned, "s" * 32, kind="snag", note="seam has opened", person="Ana")
    assert [(s.note, s.by) for s in snags_told(planned)] == [("seam has opened", "Ana")]
    assert "seam has opened" in body(visitor, planned, "2026-03-02")
    send(visitor, planned, "t" * 32)
    assert standings(planned)[SPRAY].done
    assert standings(planned)[SPRAY].snag == "seam has opened"


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": "dance"},
        {"act_key": ""},
        {"token": ""},
        {"minutes": "-3"},
        {"minutes": "soon"},
        {"kind": "snag", "note": " "},
        {"act_key": "x" * 161},
    ],
)
def test_taps_that_tell_nothing_are_refused_in_words(
    visitor: Client, planned: Job, fields: dict[str, str]
) -> None:
    data = {"act_key": SPRAY, "kind": "done", "token": "t", **fields}
    answer = visitor.post(f"/jobs/{planned.pk}/days/tap/", data, headers={"accept": "application/json"})
    assert answer.status_code == 422
    assert answer.json()["error"]
    assert not Tap.objects.exists()


def test_without_script_a_tap_is_a_plain_form(visitor: Client, planned: Job) -> None:
    data = {"act_key": SPRAY, "kind": "done", "act": "z" * 32, "day": "2026-03-02"}
    for _ in range(2):
        answer = visitor.post(f"/jobs/{planned.pk}/days/tap/", data)
        assert answer.headers["Location"] == f"/jobs/{planned.pk}/days/2026-03-02/"
    assert Tap.objects.count() == 1


def test_a_plan_is_dropped_for_the_one_before_and_taken_back(visitor: Client, planned: Job) -> None:
    keep_plan(planned, PLAN, because="second")
    assert gather.plan_row(planned) == Plan.objects.get(because="second")
    visitor.post(f"/jobs/{planned.pk}/days/withdraw/")
    assert gather.plan_row(planned) == Plan.objects.get(because="")
    acts.undo(Act.objects.order_by("-id")[0].pk)
    assert gather.plan_row(planned) == Plan.objects.get(because="second")


def test_the_answers_for_the_header(planned: Job) -> None:
    assert gather.finish_day(planned) == date(2026, 3, 3)
    assert gather.days_left(planned, date(2026, 3, 20)) == 7
    assert gather.today(planned, date(2026, 3, 1)) == (0, 2, "Spray C1 top")
    empty = Job.objects.create(name="x", starts=date(2026, 3, 2))
    assert gather.today(empty) is None
    assert gather.finish_day(empty) is None
    assert gather.days_left(empty) is None


def test_papers_are_listed_and_open_as_pdf(visitor: Client, planned: Job) -> None:
    assert "Day sheet, Mon 2 Mar" in visitor.get(f"/jobs/{planned.pk}/papers/").content.decode()
    send(visitor, planned, "a" * 32)
    for name in ("day-sheet/2026-03-02", "table-maps"):
        answer = visitor.get(f"/jobs/{planned.pk}/papers/{name}.pdf")
        assert answer.headers["Content-Type"] == "application/pdf"
        text = " ".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages)
        assert "A job under test" in text


def test_papers_that_cannot_be_made_say_why(visitor: Client, job: Job) -> None:
    assert "Make a plan first" in visitor.get(f"/jobs/{job.pk}/papers/").content.decode()
    assert visitor.get(f"/jobs/{job.pk}/papers/day-sheet/2026-03-02.pdf").status_code == 422
    assert visitor.get(f"/jobs/{job.pk}/papers/day-sheet/x.pdf").status_code == 404
    keep_plan(job, PLAN)
    assert visitor.get(f"/jobs/{job.pk}/papers/day-sheet/2026-04-02.pdf").status_code == 422


def test_what_is_tapped_is_refused_at_the_step_too(planned: Job) -> None:
    with pytest.raises(Refusal, match="between a moment and a day"):
        tap(planned, SPRAY, "done", "t", minutes=float("nan"))
    assert datetime(2026, 3, 3, 9) == PLAN.finish


def test_what_moved_is_told_piece_by_piece(visitor: Client, planned: Job) -> None:
    first = body(visitor, planned)
    assert "What moved" not in first
    assert "Drop this plan<" in first, "there is none before it"
    tap(planned, SPRAY, "done", "early")
    later = [
        replace(act, start=act.start + timedelta(days=1), end=act.end + timedelta(days=1))
        for act in PLAN.acts
    ]
    keep_plan(planned, replace(PLAN, acts=tuple(later)))
    page = body(visitor, planned)
    assert "What moved since the plan before" in page
    moves = gather.moved(planned)
    assert moves is not None
    assert {move.key for move in moves.of_day} == {"C2/top/strip", "C1/turn"}, "what is done has not moved"
    assert "What moved since the plan before: 2 pieces" in page
    assert [(shift.piece, shift.acts) for shift in moves.shifts] == [
        ("C2", ("Strip top",)),
        ("C1", ("Turn",)),
    ]
    assert "go back to the one before" in page


def three_alike() -> PlanShown:
    """Three like acts one after the other, then one that is not like them."""
    begin = datetime(2026, 3, 2, 8)
    half = timedelta(minutes=30)
    acts = [
        ActShown(f"S{n}/strip", f"S{n}", "front", "Strip", "Ana", begin + n * half, begin + (n + 1) * half)
        for n in range(3)
    ]
    other = ActShown("S0/mask", "S0", "front", "Mask", "Ana", begin + 3 * half, begin + 4 * half)
    return replace(PLAN, acts=(*acts, other), people=("Ana",))


def test_like_acts_are_told_as_one_and_tapped_as_one_once(visitor: Client, job: Job) -> None:
    keep_plan(job, three_alike())
    page = body(visitor, job, "2026-03-02")
    assert "S0, S1, S2" in page
    assert page.count('class="act"') == 2
    data = {"act_key": ["S0/strip", "S1/strip", "S2/strip"], "kind": "done", "token": "g" * 64}
    for fresh in (True, False):
        answer = visitor.post(f"/jobs/{job.pk}/days/tap/", data, headers={"accept": "application/json"})
        assert answer.json()["fresh"] is fresh
    assert Tap.objects.count() == 3
    assert gather.today(job, date(2026, 3, 2)) == (1, 2, "Mask S0 front")


def test_a_group_with_one_act_left_offers_only_that_one(job: Job) -> None:
    keep_plan(job, three_alike())
    tap(job, "S1/strip", "done", "x")
    plan = gather.plan_in_force(job)
    assert plan is not None
    group = gather.day_list(job, plan, date(2026, 3, 2)).people[0].groups[0]
    assert group.keys == ["S0/strip", "S2/strip"]
    assert group.state == "open"


def test_of_several_taps_all_are_kept_or_none(job: Job) -> None:
    with pytest.raises(Refusal):
        taps(job, ["a", "x" * 200], "done", "t")
    with pytest.raises(Refusal):
        taps(job, [], "done", "t")
    with pytest.raises(Refusal):
        taps(job, ["a", "b"], "done", "")
    assert not Tap.objects.exists()


def lines_of(page: str) -> dict[str, list[object]]:
    """What the page's script builds its single lines from, by their keys."""
    sent = re.findall(r'<script type="application/json">(.*?)</script>', page)
    return {line[0]: line for lines in sent for line in json.loads(lines)}


def test_what_is_left_over_comes_in_parts() -> None:
    """A part holds whole sessions, in order, and no more lines than wanted but where one session alone has more."""
    line = Line(PLAN.acts[0], Standing())
    groups = [Group((line,) * many) for many in (1, 1, 3, 1, 1, 1)]
    parts = in_parts(groups, 2)
    assert [[len(group.lines) for group in part] for part in parts] == [[1, 1], [3], [1, 1], [1]]
    assert [group for part in parts for group in part] == groups
    assert in_parts([], 2) == [()]


def test_one_of_a_group_is_tapped_as_a_plain_form_too(visitor: Client, job: Job) -> None:
    keep_plan(job, three_alike())
    page = body(visitor, job, "2026-03-02")
    assert lines_of(page)["S1/strip"][1:5] == ["S1", "front", "08:30", 0]
    visitor.post(f"/jobs/{job.pk}/days/tap/", {"only": "done:S1/strip", "act": "q" * 32, "day": "2026-03-02"})
    assert [key for key, standing in standings(job).items() if standing.done] == ["S1/strip"]
    assert lines_of(body(visitor, job, "2026-03-02"))["S1/strip"][4] == 1


@pytest.mark.parametrize("path", ["whole/", "2026-03-02/left-over/"])
def test_without_a_plan_its_pages_refuse_in_words(visitor: Client, job: Job, path: str) -> None:
    assert visitor.get(f"/jobs/{job.pk}/days/{path}").status_code == 422


def test_a_device_that_nobody_holds_asks_who_it_is_and_then_opens_that_list(
    visitor: Client, planned: Job
) -> None:
    ben = add_person("Ben")
    page = body(visitor, planned, "2026-03-02")
    assert "Who are you?" in page
    assert not re.search(r'class="panel person-day"[^>]* open', page)
    where = f"/jobs/{planned.pk}/days/2026-03-02/"
    answer = visitor.post("/people/who/", {"person": ben.pk, "back": where})
    assert answer.headers["Location"] == where
    page = body(visitor, planned, "2026-03-02")
    assert "Who are you?" not in page
    assert re.findall(r'id="list-(\d)" open', page) == ["2"], "Ben's list is open, Ana's is folded"
    assert (
        visitor.post("/people/who/", {"person": "", "back": "//elsewhere.invalid/"})
        .headers["Location"]
        .startswith("/")
    )
    assert "Who are you?" in body(visitor, planned, "2026-03-02")


def test_what_is_done_is_folded_away(visitor: Client, planned: Job) -> None:
    assert "Done: 1 of 1 session<" not in body(visitor, planned, "2026-03-02")
    tap(planned, SPRAY, "done", "t")
    page = body(visitor, planned, "2026-03-02")
    assert "Done: 1 of 1 session<" in page
    assert "All of it is done." in page


def test_each_list_tells_that_persons_own_hours(visitor: Client, job: Job) -> None:
    late = (datetime(2026, 3, 2, 10), datetime(2026, 3, 2, 14))
    keep_plan(job, replace(PLAN, own_hours=(("Ana", (late,)), ("Ben", ()))))
    page = body(visitor, job, "2026-03-02")
    assert "0 of 1 session done · 10:00–14:00" in page
    assert "0 of 1 session done · not at work" in page


def test_the_page_of_a_piece_shows_all_its_steps_and_what_is_drying(visitor: Client, job: Job) -> None:
    acts_of_piece = (
        replace(PLAN.acts[0], key="C1/front/spray colour", act="spray colour"),
        replace(PLAN.acts[2], key="C1/front/spray clear", act="spray clear"),
    )
    keep_plan(job, replace(PLAN, acts=(*acts_of_piece, PLAN.acts[1])))
    where = f"/jobs/{job.pk}/days/pieces/C1/"
    page = visitor.get(where).content.decode()
    assert page.count('class="act"') == 2
    assert "Drying now" not in page
    early = timezone.now() - timedelta(minutes=50)
    tap(job, "C1/front/spray colour", "done", "t1", at=early)
    page = visitor.get(where).content.decode()
    assert "Sprayed colour dries between coats" in page
    assert "what=colour&amp;after=50%20min" in page
    tap(job, "C1/front/spray clear", "done", "t2", at=early + timedelta(minutes=20))
    page = visitor.get(where).content.decode()
    assert "The last coat cures before it is turned or moved" in page
    assert "what=cure&amp;after=30%20min" in page
    assert visitor.get(f"/jobs/{job.pk}/days/pieces/X9/").status_code == 404


def test_a_plan_that_wants_more_places_in_the_rack_than_there_are_says_so(visitor: Client, job: Job) -> None:
    keep_plan(job, replace(PLAN, lying=()))
    assert "1 piece is off the tables between two sides." in body(visitor, job)
    Storage.objects.create(name="Shelf", pieces=1)
    assert "the racks hold 1." in body(visitor, job)
    three = [
        replace(act, key=f"D{n}/{act.key}", piece=f"D{n}")
        for n in range(3)
        for act in (PLAN.acts[0], PLAN.acts[2])
    ]
    keep_plan(job, replace(PLAN, lying=(), acts=tuple(three)))
    page = body(visitor, job)
    assert "3 pieces are off the tables between two sides; the racks hold 1: 2 have no place" in page
    assert '<span class="mark">too many</span>' in page


def test_places_on_the_tables_follow_the_shop_s_units(visitor: Client, planned: Job) -> None:
    plan = replace(PLAN, acts=tuple(replace(act, place="Table A, from 1.50 m") for act in PLAN.acts))
    keep_plan(planned, plan)
    day = f"/jobs/{planned.pk}/days/2026-03-02/"
    assert "Table A, from 1.50 m" in visitor.get(day).content.decode()
    Shop.objects.update(units="us")
    assert "Table A, from 4.9 ft" in visitor.get(day).content.decode()


def test_the_racks_are_drawn_place_by_place(visitor: Client, planned: Job) -> None:
    """C1 lies until it is turned, off its table, on the Tuesday."""
    assert "In the racks" not in body(visitor, planned, "2026-03-02/pictures")
    assert "Off the tables · 1 piece at most" in body(visitor, planned, "2026-03-03/pictures")
    room.add_storage("Wall rack", 3)
    page = body(visitor, planned, "2026-03-03/pictures")
    assert "Wall rack · 3 places · 2 empty all day" in page
    assert "Wall rack, place 1: C1, Tue 08:00 to Tue 09:00" in page
    paper = visitor.get(f"/jobs/{planned.pk}/papers/table-maps.pdf").content
    assert "Wall rack" in " ".join(one.extract_text() for one in PdfReader(BytesIO(paper)).pages)
    assert "counted by pieces, not measured" in visitor.get("/tables/").content.decode()


def test_a_session_is_one_line_with_names_and_one_tap(visitor: Client, job: Job) -> None:
    """Wipe in, spray and sand of two pieces in one go are one session: one line, one tap for all of it; a piece can be taken out again."""
    start = datetime(2026, 3, 2, 8)
    kinds = ("wipe in colour", "spray colour", "sand")
    acts = tuple(
        replace(
            PLAN.acts[0],
            key=f"{mark}/front/{kind}",
            piece=mark,
            act=kind,
            person="Ana",
            start=start + timedelta(minutes=10 * n),
            end=start + timedelta(minutes=10 * n + 9),
        )
        for n, (kind, mark) in enumerate((kind, mark) for kind in kinds for mark in ("C1", "C2"))
    )
    keep_plan(job, replace(PLAN, acts=acts, lying=(), finish=acts[-1].end))
    page = body(visitor, job, "2026-03-02")
    assert "0 of 1 session done" in page
    assert "wipe in colour, spray colour, sand" in page
    assert page.count('class="act-time">08:00–08:59') == 1
    keys = [act.key for act in acts]
    visitor.post(
        f"/jobs/{job.pk}/days/tap/", {"act_key": keys, "kind": "done", "act": "s" * 32, "day": "2026-03-02"}
    )
    assert all(standings(job)[key].done for key in keys)
    visitor.post(
        f"/jobs/{job.pk}/days/tap/", {"only": f"undo:{keys[1]}", "act": "u" * 32, "day": "2026-03-02"}
    )
    assert not standings(job)[keys[1]].done
    assert standings(job)[keys[0]].done


def test_the_day_comes_with_its_odds(visitor: Client, planned: Job) -> None:
    """Twenty simulated last days: the middle one, the ninth in ten, and the chance of the promised day are read off them by hand."""
    days = [date(2026, 3, 10)] * 12 + [date(2026, 3, 12)] * 6 + [date(2026, 3, 30)] * 2
    row = gather.plan_row(planned)
    assert row is not None
    row.facts = {**row.facts, "odds": [day.isoformat() for day in days]}
    row.save(update_fields=["facts"])
    page = body(visitor, planned, "2026-03-02")
    # Twelve of twenty end by the tenth, eighteen by the twelfth.
    assert (
        "Likely done by Tuesday 10 March (six times in ten); nine times in ten by Thursday 12 March." in page
    )
    assert "The promised day holds with 88 %." in page
    promise = promise_of(gather.plan_row(planned), None)
    assert promise is not None
    assert promise.sure == date(2026, 3, 12)
    assert '<span class="mark warn">tight</span>' in page or '<span class="mark">late</span>' in page
