"""A piece in zones from its page to its last tap: kept, undone, planned, named on the list, tapped, counted."""

from datetime import date, datetime

import pytest
from django.test import Client
from django.utils import timezone

from hidewright import demo
from hidewright.planning.plan.audit import audit
from hidewright.planning.plan.schedule import plan_from_data
from hidewright.survey import make_piece
from hidewright.takeoff.coats import Stage
from hidewright.workshop.days import actions as planning
from hidewright.workshop.days import queries as days
from hidewright.workshop.days.changes import changed_since
from hidewright.workshop.days.coat_queries import coats_by_taps
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.pieces import queries as gather
from hidewright.workshop.pieces.actions import add_pieces
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.room import actions as room
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo

SEAT = make_piece(key="S1", name="Seat", group="Row 1", shape="shell", length=0.7, width=0.6, sat_on=True)
ZONES = {
    "name-0": "flap, sides and arms", "share-0": "45", "masked-0": "back and face", "masking-0": "12",
    "name-1": "back and face", "share-1": "", "masked-1": "sides", "masking-1": "", "sat_on-1": "on", "name-2": "",
}  # fmt: skip


@pytest.fixture
def seats(job: Job) -> Job:
    add_pieces(job, SEAT, 2)
    return job


def row(job: Job, key: str = "S1-1") -> Piece:
    return Piece.objects.get(job=job, key=key, removed=None)


def at(job: Job) -> str:
    return f"/jobs/{job.pk}/survey/pieces/{row(job).pk}/zones/"


def keep(visitor: Client, job: Job, **more: str) -> int:
    return visitor.post(at(job), {"version": row(job).version, **ZONES, **more}).status_code


def test_nothing_is_asked_until_zones_are_and_then_a_starting_set_is_there(
    visitor: Client, seats: Job
) -> None:
    page = visitor.get(f"/jobs/{seats.pk}/survey/pieces/{row(seats).pk}/").content.decode()
    assert "Coat it in zones" in page
    assert "share-0" not in page
    asked = visitor.get(at(seats)).content.decode()
    assert 'value="flap, sides, arms and recesses"' in asked
    assert 'value="underside and rims"' in visitor.get(at(seats) + "?set=2").content.decode()


def test_zones_are_kept_shown_undone_and_given_up(visitor: Client, seats: Job) -> None:
    assert keep(visitor, seats) == 302
    piece, other = gather.pieces(seats)
    assert [(z.name, round(z.share, 3), z.masking, z.sat_on) for z in piece.zones] == [
        ("flap, sides and arms", 0.45, 12, False),
        ("back and face", 0.55, None, True),
    ]
    assert other.zones == ()
    page = visitor.get(f"/jobs/{seats.pk}/survey/pieces/{row(seats).pk}/").content.decode()
    assert "back and face" in page
    undo(Act.objects.latest("pk").pk)
    assert gather.value(row(seats)).zones == ()
    keep(visitor, seats, others="on")
    assert [len(p.zones) for p in gather.pieces(seats)] == [2, 2]
    assert visitor.post(at(seats), {"version": row(seats).version, "one_go": "1"}).status_code == 302
    assert [len(p.zones) for p in gather.pieces(seats)] == [0, 2]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [({"share-0": "100"}, "Nothing is left"), ({"name-1": ""}, "2 to 8 zones"), ({"share-1": "20"}, "65 %")],
)
def test_zones_that_make_no_sense_are_refused(
    visitor: Client, seats: Job, wrong: dict[str, str], words: str
) -> None:
    answer = visitor.post(at(seats), {"version": "0", **ZONES, **wrong})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert gather.value(row(seats)).zones == ()


@pytest.mark.django_db(transaction=True)
def test_from_the_plan_to_the_last_tap(visitor: Client, seats: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    now = datetime(2026, 3, 2, 7, tzinfo=timezone.get_current_timezone())
    monkeypatch.setattr(timezone, "now", lambda: now)
    Job.objects.filter(pk=seats.pk).update(starts=date(2026, 3, 2))
    seats.refresh_from_db()
    room.import_tables("key,name,length,depth\na,Table A,3.6 m,0.9 m\n")
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    thinking = planning.plan
    monkeypatch.setattr(planning, "plan", lambda problem, **how: thinking(problem, **{**how, "seconds": 0.3}))
    monkeypatch.setattr(planning, "seconds_for_relief", lambda asked: 0.1)
    keep(visitor, seats)
    assert visitor.post(f"/jobs/{seats.pk}/days/plan/", {"seconds": "10", "how": "anew"}).status_code == 302
    kept = days.plan_row(seats)
    assert kept is not None
    assert audit(days.problem_of(seats), plan_from_data(kept.data["plan"])) == ()
    assert changed_since(seats, kept) == ()
    keep(visitor, seats, **{"share-0": "40"})
    assert changed_since(seats, kept) == ("S1-1 Seat 1 is coated in other zones",)
    keep(visitor, seats)
    shown = days.plan_in_force(seats)
    assert shown is not None
    acts = [act for act in shown.acts if act.piece == "S1-1"]
    assert {act.part for act in acts if "/zone2/" in act.key} == {"back and face"}
    masked = next(act for act in acts if act.key == "S1-1/zone1/mask")
    page = visitor.get(f"/jobs/{seats.pk}/days/{masked.start:%Y-%m-%d}/").content.decode()
    assert "Seat 1: flap, sides and arms" in page
    assert "mask: back and face" in page.lower()
    for zone, share in (("zone1", 0.45), ("zone2", 1.0)):
        for act in acts:
            if f"/{zone}/spray colour" in act.key or f"/{zone}/spray second" in act.key:
                tap(seats, act.key, "done", f"{act.key} once")
        on = coats_by_taps(seats)
        assert on is not None
        assert on["S1-1", Stage.COLOUR.value] == pytest.approx(share)
    assert keep(visitor, seats) == 422, "its coats have begun"
    for act in acts:
        tap(seats, act.key, "done", f"{act.key} again")
    done = visitor.get(f"/jobs/{seats.pk}/days/pieces/S1-1/").content.decode()
    assert "Tap when done" not in done
