"""After the work: actual against the quote, the account, what a job taught, claims, and leftovers with their day."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.takeoff.coats import Stage
from hidewright.takeoff.products import Product as ProductValue
from hidewright.takeoff.products import Role
from hidewright.workshop.account import actions, queries
from hidewright.workshop.account.material_queries import materials_of
from hidewright.workshop.account.models import Claim
from hidewright.workshop.bench.jar_actions import keep_jar, keep_until_day
from hidewright.workshop.bench.jar_queries import due_jars
from hidewright.workshop.colours import actions as colours
from hidewright.workshop.colours.queries import target_row
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.inspection import snag_actions
from hidewright.workshop.papers.models import GivenQuote
from hidewright.workshop.pieces.models import JobColour, Piece
from hidewright.workshop.quantities.models import Use
from hidewright.workshop.shelf import actions as shelf
from hidewright.workshop.shelf.models import MixEntry, MixVessel, Pigment, Product
from hidewright.workshop.shelf.vessel_actions import take_back
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo
from workshop.lean_shop import STEPS, keys, lean_job, mixed

pytestmark = pytest.mark.django_db

TAKES = {"hours": 4.0, "hand_days": 2.0, "colour": 400.0, "colour_p90": 500.0, "clear": 200.0}


def quoted(job: Job, **facts: object) -> GivenQuote:
    usual = {"number": 1, "way": "surveyed", "name": "As surveyed", "content": {}, "takes": TAKES, "net": Decimal("1000"),
             "tax_name": "Tax", "tax_rate": Decimal("0.2"), "valid_until": date(2026, 4, 1), "sure_on": date(2026, 3, 4)}  # fmt: skip
    return GivenQuote.objects.create(job=job, **{**usual, **facts})


@pytest.fixture
def job(db: None) -> Job:
    return lean_job()


def done(job: Job, step: str, minutes: float | None = None) -> None:
    for key in keys(step):
        tap(job, key, "done", f"t-{key}", minutes=minutes)


def test_what_it_took_stands_beside_what_was_quoted(visitor: Client, job: Job) -> None:
    """26 steps of 10 minutes: 3 sanded in 25 minutes each, the other 23 as planned; 500 mL of colour, 190 of clear."""
    assert "No quote was given" in visitor.get(f"/jobs/{job.pk}/account/").content.decode()
    quoted(job)
    for step in STEPS:
        done(job, step, 25 if step == "sand" else None)
    for stage, amount in ((Stage.COLOUR, 380), (Stage.WIPED, 120), (Stage.CLEAR, 198)):
        Use.objects.create(
            job=job,
            stage=stage,
            done={"C1": 1.0},
            items={"C1": ["panel", 100, 0.1, 0.3]},
            millilitres=amount,
            cup_loss=0,
        )
    lines = {line.what: line for line in queries.compared(job)}
    work = queries.work_of(job)
    assert (work.done, work.of, work.finished) == (26, 26, True)
    assert work.hours == pytest.approx((3 * 25 + 23 * 10) / 60)
    assert work.assumed == pytest.approx(23 * 10 / 60)
    assert [(pace.kind, pace.steps, pace.planned, pace.noted) for pace in work.paces] == [("sand", 3, 30, 75)]
    assert lines["Hours of hands"].words == "27 % more"
    assert lines["Mixed colour"].words == "25 % more"
    assert lines["Clear"].words == "as quoted", "1 % less"
    today = timezone.localdate()
    assert lines["Ready"].words == f"{(today - date(2026, 3, 4)).days} days late"
    page = visitor.get(f"/jobs/{job.pk}/account/").content.decode()
    assert "27 % more" in page
    assert "sand: 75 min noted, 30 planned" in page


def test_while_it_goes_on_nothing_is_called_more_or_less(job: Job) -> None:
    quoted(job)
    done(job, "strip")
    lines = {line.what: line for line in queries.compared(job)}
    assert lines["Hours of hands"].words == "12 % of it used up"
    assert "so far" in lines["Hours of hands"].actual
    assert lines["Ready"].actual == "not yet"


def test_materials_are_held_against_the_quote_in_money(visitor: Client, job: Job) -> None:
    """880 mL of base at 30 a litre, 120 mL of umber at 40, 198 mL of clear at 50: 26.40 + 4.80 + 9.90, worked out by hand."""
    quoted(job, takes={**TAKES, "materials": "60.00"})
    shelf.add_product(ProductValue("base", "Clear base", Role.BASE, price=Decimal(30)))
    cup = mixed(job)
    Product.objects.filter(role="clear").update(price=50)
    Use.objects.create(job=job, stage=Stage.CLEAR, done={"C1": 1.0}, items={}, millilitres=198, cup_loss=0)
    assert materials_of(job).unpriced == ("Umber",)
    Pigment.objects.create(key="PBr7", name="Umber", price=40)
    assert (materials_of(job).money, materials_of(job).unpriced) == (Decimal("41.10"), ())
    line = next(line for line in queries.compared(job) if line.what == "Materials")
    assert (line.actual, line.words) == ("$41.10 so far, leftovers included", "68 % of it used up")
    take_back(MixEntry.objects.filter(job=job, moves__component="PBr7").latest("pk").pk)
    assert materials_of(job).money == Decimal("36.30"), f"what went back out of {cup} costs nothing"


def test_the_quote_that_was_accepted_is_what_counts(visitor: Client, job: Job) -> None:
    first, second = quoted(job), quoted(job, number=2, net=Decimal(900))
    assert queries.account(job).quote == second
    at = f"/jobs/{job.pk}/price/given/1/accept/"
    day = timezone.localdate()
    for wrong in ({"name": ""}, {"day": day + timedelta(days=1)}, {"day": day - timedelta(days=1)}):
        assert visitor.post(at, {"name": "Mrs Lind", "day": day, **wrong}).status_code == 422
    assert visitor.post(at, {"name": "Mrs Lind", "day": day, "note": "order 4711"}).status_code == 302
    assert queries.account(job).quote == first
    assert "Mrs Lind" in visitor.get(f"/jobs/{job.pk}/price/").content.decode()
    undo(Act.objects.latest("pk").pk)
    assert queries.account(job).quote == second


def test_the_account_adds_up_and_names_repairs_that_stand_on_no_line(visitor: Client, job: Job) -> None:
    quoted(job)
    snag = snag_actions.add(job, "A torn seam", piece="C1")
    snag_actions.decide(snag, "repair", version=0)
    at = f"/jobs/{job.pk}/account/"
    assert "on no line: A torn seam" in visitor.get(at).content.decode()
    assert visitor.post(f"{at}lines/", {"line-amount": "0", "line-text": "x"}).status_code == 422
    assert visitor.post(f"{at}lines/", {"line-amount": "80", "line-snag": snag.pk}).status_code == 302
    assert visitor.post(f"{at}lines/", {"line-amount": "-30.50", "line-text": "=1+1"}).status_code == 302
    found = queries.account(job)
    assert (found.net, found.tax, found.total) == (Decimal("1049.50"), Decimal("209.90"), Decimal("1259.40"))
    assert "on no line" not in visitor.get(at).content.decode()
    assert visitor.get(f"{at}account.csv").content.decode().splitlines() == [
        "what,money before tax,tax rate",
        "Quote 1: as surveyed,1000.00,0.2000",
        "A torn seam,80.00,0.2000",
        "'=1+1,-30.50,0.2000",
    ]
    undo(Act.objects.latest("pk").pk)
    assert queries.account(job).net == Decimal(1080)


def test_what_a_job_taught_stands_where_the_next_price_is_made(visitor: Client, job: Job) -> None:
    visitor.post(f"/jobs/{job.pk}/account/lessons/", {"lesson-text": "Piping doubles the masking"})
    other = Job.objects.create(name="Next", starts=date(2026, 5, 1))
    Piece.objects.create(job=other, key="A", name="A", shape="panel", length=0.5, width=0.5)
    assert "Piping doubles the masking" in visitor.get(f"/jobs/{other.pk}/price/").content.decode()
    assert "What jobs before taught" not in visitor.get(f"/jobs/{job.pk}/price/").content.decode()


@pytest.mark.parametrize("kept", [True, False])
def test_a_claim_opens_a_touch_up_on_the_same_colour(visitor: Client, job: Job, kept: bool) -> None:
    reading = colours.type_colour(job, "Saddle", (55.0, 6.0, 14.0))
    colours.set_target(job, reading.pk, None)
    if kept:
        keep_jar(mixed(job), 100)
    piece = Piece.objects.get(job=job, key="C1")
    form = {
        "claim-what": "A scuff",
        "claim-whose": "open",
        "claim-day": "2026-03-20",
        "claim-pieces": piece.pk,
    }
    assert visitor.post(f"/jobs/{job.pk}/account/claims/", form).status_code == 302
    row = Claim.objects.get()
    opened = row.touch_up
    assert opened is not None
    assert JobColour.objects.get(job=opened).colour == JobColour.objects.get(job=job).colour
    aimed = target_row(opened)
    assert aimed is not None
    assert aimed.version == target_row(job).version  # type: ignore[union-attr]
    assert list(opened.pieces.values_list("key", "length")) == [("C1", piece.length)]
    assert opened.snags.get().what == "A scuff"
    assert "1 open claim" in visitor.get("/").content.decode()
    actions.settle(row, "ours", "mended and looked at", day=date(2026, 3, 22))
    assert "open claim" not in visitor.get("/").content.decode()
    undo(Act.objects.filter(undo_name="account.claim").latest("pk").pk)
    assert Job.objects.get(pk=opened.pk).put_away
    assert not queries.claims(job)


def test_a_claim_on_several_colours_at_once_is_refused(job: Job) -> None:
    Piece.objects.filter(key="C2").update(colour_number=1)
    both = list(Piece.objects.filter(key__in=("C1", "C2")))
    with pytest.raises(Refusal, match="several colours"):
        actions.claim(job, "A scuff", both, day=date(2026, 3, 20))
    with pytest.raises(Refusal, match="today or earlier"):
        actions.claim(job, "A scuff", both[:1], day=timezone.localdate() + timedelta(days=1))


def test_a_leftover_is_remembered_before_its_day(visitor: Client, job: Job) -> None:
    jar = keep_jar(mixed(job), 100)
    today = timezone.localdate()
    for days, reminded in ((31, False), (30, True), (0, True)):
        keep_until_day(MixVessel.objects.get(pk=jar.pk), today + timedelta(days=days))
        assert bool(due_jars()) is reminded
        assert ("near or past its day" in visitor.get("/").content.decode()) is reminded
    assert due_jars(today + timedelta(days=400)), "past its day it is still said"
    with pytest.raises(Refusal, match="past"):
        keep_until_day(jar, today - timedelta(days=1))
    undo(Act.objects.filter(undo_name="jars.until").latest("pk").pk)
    assert MixVessel.objects.get(pk=jar.pk).keep_until == today + timedelta(days=30)
    assert visitor.post(f"/jars/{jar.pk}/until/", {"until": "2020-01-01"}).status_code == 422
