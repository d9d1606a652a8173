"""How the work goes in the room: on its page, in the plan, in what the plan does not know yet, and undone. Starting values are common practice, no source."""

from typing import Any

import pytest
from django.test import Client

from hidewright.workshop.days import queries as days
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.quantities.coat_queries import planned_coats
from hidewright.workshop.room import actions as room
from hidewright.workshop.room.changes import differences, room_told
from hidewright.workshop.room.models import WorkTable
from hidewright.workshop.shop import undo
from hidewright.workshop.shop.models import Act, Job

pytestmark = pytest.mark.django_db

USUAL = {"changes": 2, "flush": 8, "load": 12, "suit": 5, "change": 3, "least": 15, "coats": 2, "version": 0}


@pytest.fixture
def shop(job: Job) -> Job:
    room.import_tables("key,name,length,depth\na,Table A,3.6,0.9\nb,Booth,2.4,0.9\n")
    room.import_hours("weekday,hours\nMonday,08:00-17:00\n", "key,name\nana,Ana\n")
    import_csv(job, "key,name,group,shape,length,width,thickness,material,condition\nC1,Seat,Chair,panel,500,400,,leather,sound\n")  # fmt: skip
    return job


def test_every_rule_reaches_the_plan_and_one_undo_takes_all_of_it_back(visitor: Client, shop: Job) -> None:
    before, then = days.problem_of(shop).rules, room_told(shop)
    booth = WorkTable.objects.get(key="b")
    other = {"changes": 1, "flush": 20, "load": 25, "suit": 9, "change": 6, "least": 30, "coats": 3}
    answer = visitor.post("/tables/work/", {**USUAL, **other, f"air_{booth.pk}": " the  booth "})
    assert answer.status_code == 302
    now = days.problem_of(shop).rules
    assert {name: getattr(now, name) for name in other if name != "coats"} == {
        name: number for name, number in other.items() if name != "coats"
    }
    assert (now.air_of("a"), now.air_of("b")) == ("", "the booth")
    assert [o for o in days.problem_of(shop).jobs[0].operations if "spray" in o.kind][1:], "3 coats"
    assert "3 sprayed coats of colour" in visitor.get(f"/jobs/{shop.pk}/quantities/").content.decode()
    words = list(differences(then, room_told(shop), shop.starts))
    assert "to flush a gun between two products: 20 min" in words
    assert "the booth" in visitor.get("/tables/").content.decode()
    undo.undo(Act.objects.order_by("-id")[0].pk)
    assert days.problem_of(shop).rules == before


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"flush": 121}, "At most 120"),
        ({"changes": 0}, "At least 1"),
        ({"coats": "13"}, "At most 12"),
        ({"version": 7}, "Somebody changed the rules meanwhile"),
    ],
)
def test_rules_that_cannot_be_are_refused(
    visitor: Client, shop: Job, wrong: dict[str, Any], words: str
) -> None:
    answer = visitor.post("/tables/work/", {**USUAL, **wrong})
    assert (answer.status_code, words in answer.content.decode()) == (422, True)


@pytest.mark.parametrize(
    ("hiding", "coats", "why"),
    [(1, 2, "the shop’s least; the recipe hides with 1"), (3, 3, "the recipe"), (None, 2, "")],
)
def test_a_forecast_of_one_coat_is_no_reason_to_plan_fewer_than_the_least(
    hiding: int | None, coats: int, why: str
) -> None:
    assert planned_coats(hiding) == (coats, why)


def test_litres_and_days_take_the_same_coats(visitor: Client, shop: Job) -> None:
    visitor.post("/tables/work/", {**USUAL, "coats": 4})
    sprayed = [
        o for o in days.problem_of(shop).jobs[0].operations if o.kind in ("spray colour", "spray second coat")
    ]
    assert len(sprayed) == quantities.assumptions(shop).colour_coats == 4
