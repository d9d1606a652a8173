"""The demonstration's second colour and second job, as far as pages need no plan of them."""

from datetime import date, timedelta

from django.test import Client

from hidewright.workshop import demonstration
from hidewright.workshop.colours.queries import target
from hidewright.workshop.colours.shop_queries import colour_of
from hidewright.workshop.pieces.colour_queries import shares


def test_a_trim_colour_and_a_smaller_job_stand_beside_the_first(visitor: Client) -> None:
    smaller = demonstration.open_the_smaller_job(date.today())
    job = demonstration.open_the_job(date.today())
    number = demonstration.give_the_trim_its_colour(job)
    counted, others = shares(job)
    assert [(each.colour.label, each.pieces) for each in counted] == [("Saloon", 77), ("Trim", 9)]
    assert others == 0
    aimed, trim = target(job), target(job, number)
    assert aimed
    assert trim
    assert (aimed.target.name, trim.target.name) == (
        "Target, under the cushion",
        "Trim, behind the heater cover",
    )
    made = [colour_of(job, 0), colour_of(job, number), colour_of(smaller, 0)]
    assert len({colour.pk for colour in made if colour}) == 3
    assert smaller.is_demo
    assert job.starts < smaller.starts < job.starts + timedelta(days=10)
    assert smaller.pieces.count() == 6
    rows = visitor.get("/").context["found"].rows
    assert [row.name for row, _ in rows] == [job.name, smaller.name]
    assert [each.label for each in rows[0][1].colours] == ["Saloon", "Trim"]
