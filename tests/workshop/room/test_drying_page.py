"""The page Drying: what was seen is noted, learned from, struck out by a counter-entry, and taken by the next plan."""

import pytest
from django.test import Client

from hidewright import demo
from hidewright.planning.problem.model import Kind
from hidewright.refusals import Refusal
from hidewright.safety.damp import Air, drying_factor
from hidewright.workshop.days import queries as days
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.room import actions as room
from hidewright.workshop.room import drying_actions as steps
from hidewright.workshop.room import drying_queries as gather
from hidewright.workshop.room.models import DryingSeen
from hidewright.workshop.shelf.actions import import_csv as import_products
from hidewright.workshop.shelf.models import Product
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job, Shop

pytestmark = pytest.mark.django_db

TOLD = {"what": "cure", "after": "20 h", "warmth": "20", "humidity": "50"}


def note(visitor: Client, **changes: str) -> int:
    return visitor.post("/drying/", {**TOLD, **changes}).status_code


def test_a_time_is_noted_and_shown_with_what_was_learned_from_it(visitor: Client, job: Job) -> None:
    assert note(visitor, job=str(job.pk), piece="C1", note="near the door") == 302
    row = DryingSeen.objects.get()
    assert (row.minutes, row.job, row.piece) == (1200, job, "C1")
    page = visitor.get("/drying/").content.decode()
    for wanted in ("1200 min", "near the door", "C1", "half the time within", "common practice, no source"):
        assert wanted in page, wanted
    assert gather.planning_drying().cure > 840


def test_the_next_plan_takes_what_was_learned(visitor: Client, job: Job) -> None:
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    import_csv(job, "\n".join(demo.text("pieces.csv").splitlines()[:3]))

    def cure() -> int:
        found = days.problem_of(job).jobs[0].operations
        return [o.dry for o in found if o.kind is Kind.CLEAR][-1]

    before = cure()
    for _ in range(12):
        note(visitor)
    assert before == 840
    assert cure() == pytest.approx(1200, rel=0.03)


def test_an_entry_is_struck_out_by_a_counter_entry_and_counts_no_more(visitor: Client) -> None:
    note(visitor)
    row = DryingSeen.objects.get()
    assert visitor.post(f"/drying/{row.pk}/strike/", {"why": " "}).status_code == 422
    for status in (302, 422):
        assert visitor.post(f"/drying/{row.pk}/strike/", {"why": "wrong clock"}).status_code == status
    assert DryingSeen.objects.count() == 2, "nothing is erased"
    assert gather.planning_drying().cure == 840
    page = visitor.get("/drying/").content.decode()
    assert "struck out: wrong clock" in page
    with pytest.raises(Refusal, match="correction stays"):
        steps.strike(DryingSeen.objects.exclude(strikes=None).get(), "x")


def test_noting_is_undone_by_a_counter_entry(visitor: Client) -> None:
    note(visitor)
    acts.undo(Act.objects.get().pk)
    assert DryingSeen.objects.count() == 2
    assert gather.counting() == []


def test_a_form_sent_twice_counts_once(visitor: Client) -> None:
    for _ in range(2):
        assert note(visitor, act="k" * 32) == 302
    assert DryingSeen.objects.count() == 1


def test_warmth_is_taken_in_the_shops_unit(visitor: Client) -> None:
    Shop.objects.update_or_create(pk=1, defaults={"units": "us"})
    note(visitor, warmth="59", humidity="70")
    row = DryingSeen.objects.get()
    assert (row.celsius, row.humidity) == (pytest.approx(15), pytest.approx(0.7))
    page = visitor.get("/drying/").content.decode()
    assert "59.0 °F" in page
    assert f"{1200 / drying_factor(Air(15, 0.7)):.0f} min at 68 °F and 50 %" in page


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"after": "soon"}, "soon"),
        ({"after": ""}, "required"),
        ({"after": "1 min"}, "cannot be"),
        ({"after": "90 days"}, "Up to a fortnight"),
        ({"humidity": "100"}, "does not dry"),
        ({"humidity": "0"}, "At least 1"),
        ({"warmth": "900"}, "cannot be right"),
        ({"what": "window"}, "valid choice"),
    ],
)
def test_what_cannot_be_is_refused_in_words(visitor: Client, changes: dict[str, str], words: str) -> None:
    answer = visitor.post("/drying/", {**TOLD, **changes})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not DryingSeen.objects.exists()


def test_entries_about_another_product_are_kept_but_not_learned_from(visitor: Client) -> None:
    import_products(demo.text("products.csv"))
    note(visitor)
    assert len(gather.counting()) == 1
    page = visitor.get("/drying/").content.decode()
    assert "data sheet of" in page
    clear = Product.objects.filter(role="clear")
    clear.update(active=False)
    Product.objects.create(key="other-clear", name="Other clear", role="clear", cure=600)
    assert gather.counting() == []
    assert gather.planning_drying().cure == 600
    assert "about another product" in visitor.get("/drying/").content.decode()


def test_a_page_can_lead_here_with_what_it_knows(visitor: Client, job: Job) -> None:
    page = visitor.get(f"/drying/?what=cure&after=95 min&piece=C7&job={job.pk}").content.decode()
    assert 'value="95 min"' in page
    assert 'value="C7"' in page
    assert '<option value="cure" selected>' in page


def cure_in_plan() -> float:
    return gather.planning_drying().minutes("cure")


def test_a_warm_dry_room_shortens_no_cure_without_a_line_of_the_data_sheet(visitor: Client) -> None:
    warm = {"guns": "1", "factor": "1", "version": "0", "warmth": "30", "humidity": "30"}
    assert visitor.post("/tables/rules/", warm).status_code == 302
    assert cure_in_plan() == 840
    for _ in range(20):
        note(visitor, after="5 h", warmth="30", humidity="30")
    assert cure_in_plan() == 840
    page = visitor.get("/drying/").content.decode()
    assert "only by a line of the clear’s data sheet" in page
    assert "cannot be known from warm or dry air" in page
    import_products("key,name,role,cure,warm_cure,warm_at\nc,Clear,clear,840,210,40\n")
    assert cure_in_plan() < 840
    assert "does not count" not in visitor.get("/drying/").content.decode()


def test_a_product_takes_the_line_of_its_data_sheet(visitor: Client) -> None:
    import_products("key,name,role\nc,Clear,clear\n")
    row = Product.objects.get()
    form = {"name": "Clear", "role": "clear", "price": "1", "density": "1", "pack": "1 L", "cure": "14 h"}
    half = visitor.post(f"/products/{row.key}/", {**form, "warm_cure": "4 h", "version": "0"})
    assert half.status_code == 422
    assert "needs its minutes and its temperature" in half.content.decode()
    whole = {**form, "warm_cure": "4 h", "warm_at": "40", "version": "0"}
    assert visitor.post(f"/products/{row.key}/", whole).status_code == 302
    row.refresh_from_db()
    assert (row.cure, row.warm_cure, row.warm_at) == (840, 240, 40)
