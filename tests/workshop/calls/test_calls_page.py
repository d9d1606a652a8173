"""First calls: counts become a ballpark with odds, and a call becomes a survey in one tap."""

from datetime import time

import pytest
from django.test import Client

from hidewright.refusals import Refusal
from hidewright.workshop.calls.models import Call
from hidewright.workshop.calls.queries import ballpark
from hidewright.workshop.front import shop_actions
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.room import actions as room

pytestmark = pytest.mark.django_db


@pytest.fixture
def crew() -> None:
    shop_actions.add_person("Ana")
    room.set_week(None, {day: [(time(8), time(16))] for day in range(5)})


def test_more_is_dearer_and_what_is_not_known_is_wider(crew: None) -> None:
    few, many = ballpark({"seat": 4}, strip="no"), ballpark({"seat": 12}, strip="no")
    assert 2.5 < many.hours.likely / few.hours.likely < 3.5, "three times the seats"
    stripped, unknown = ballpark({"seat": 4}, strip="yes"), ballpark({"seat": 4})
    assert unknown.money.low == few.money.low
    assert unknown.money.high == stripped.money.high
    assert few.money.likely < unknown.money.likely < stripped.money.likely
    assert few.days.low >= 3, "two sides dry two nights"


def test_a_call_becomes_a_survey_in_one_tap(visitor: Client, crew: None) -> None:
    sent = {"who": "Mrs Lind", "seat": "12", "settee": "2", "material": "leather", "strip": "unknown"}
    where = visitor.post("/calls/", sent).headers["Location"]
    page = visitor.get(where).content.decode()
    assert "12 seats with arms, 2 settees" in page
    assert "This is no quote" in page
    begun = visitor.post(f"{where}begin/")
    call = Call.objects.get()
    assert begun.headers["Location"] == f"/jobs/{call.job_id}/survey/"
    assert Piece.objects.filter(job=call.job).count() == 12 * 6 + 2 * 9
    assert visitor.post(f"{where}begin/").status_code == 422, "once"


@pytest.mark.parametrize("counts", [{}, {"seat": -1}, {"seat": 201}, {"boat": 1}])
def test_odd_counts_are_refused(counts: dict[str, int], crew: None) -> None:
    with pytest.raises(Refusal):
        ballpark(counts)
