"""The page What was used: what hands used up is logged, drawn from stock, learned, struck out; yields stand with their entries."""

from dataclasses import replace
from datetime import date

import pytest
from django.test import Client

from hidewright import demo
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.papers import price_queries as price
from hidewright.workshop.pieces import actions as survey
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.quantities import used_queries as used
from hidewright.workshop.quantities.models import HandUse
from hidewright.workshop.shelf import actions as product_steps
from hidewright.workshop.shelf import queries as products
from hidewright.workshop.shelf.models import Product
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo


@pytest.fixture
def filled(job: Job) -> Job:
    survey.import_csv(job, demo.text("pieces.csv"))
    product_steps.import_csv(demo.text("products.csv"))
    return job


def post(visitor: Client, job: Job, **told: str) -> int:
    facts = {"what": "stripper", "amount": "5 L", "share": "100", **told}
    return visitor.post(f"/jobs/{job.pk}/used/by-hand/", facts).status_code


def test_without_pieces_it_leads_to_the_survey(visitor: Client, job: Job) -> None:
    assert "Go to the survey" in visitor.get(f"/jobs/{job.pk}/used/").content.decode()
    assert post(visitor, job) != 302
    assert not HandUse.objects.exists()


def test_stripper_is_drawn_learned_and_no_longer_bought(visitor: Client, filled: Job) -> None:
    before = quantities.quantities(filled)
    assert before
    whole = before.takeoff.stripper.p50
    strip = Product.objects.get(role="stripper")
    product_steps.receive(strip, 20_000, lot="S1")
    lot = strip.lots.get()
    assert post(visitor, filled, amount=f"{0.75 * whole:.0f} mL", share="50", lot=str(lot.pk)) == 302
    assert products.stock()[strip.key] == pytest.approx(20_000 - 0.75 * whole, abs=1)
    now = quantities.quantities(filled)
    assert now
    factor = now.takeoff.stripper.p50 / whole
    assert 1 < factor < 1.5, "half of the way from the starting value to what one job took"
    assert now.takeoff.stripper.p90 / now.takeoff.stripper.p50 < before.takeoff.stripper.p90 / whole
    assert now.sourced.sources["strip_ml"] == "what the shop used"
    lines = {line.what: line for line in quantities.shopping(filled, {0: now}, 0.9)}
    assert lines["Stripper"].likely == pytest.approx(0.5 * now.takeoff.stripper.p50)
    page = visitor.get(f"/jobs/{filled.pk}/used/").content.decode()
    for words in ("× 1.50", "lot S1", "Strike out", "nine times in ten"):
        assert words in page
    visitor.post(f"/jobs/{filled.pk}/used/by-hand/{HandUse.objects.get().pk}/strike/")
    assert products.stock()[strip.key] == pytest.approx(20_000)
    assert quantities.quantities(filled).takeoff.stripper.p50 == pytest.approx(whole)  # type: ignore[union-attr]
    undo(Act.objects.latest("id").pk)
    assert used.shares(filled) == {"stripper": 0.5}
    assert products.stock()[strip.key] == pytest.approx(20_000 - 0.75 * whole, abs=1)


def test_sundries_learn_from_job_to_job_and_what_is_set_here_wins(visitor: Client, filled: Job) -> None:
    option = price.options(filled)[0]
    gloves = next(line for line in option.sundries if line.rule.key == "gloves")
    for n in range(4):
        other = open_job(f"Job {n}", starts=date(2026, 4, 6), promised=None)
        survey.import_csv(other, demo.text("pieces.csv"))
        base = used.base_of(quantities.forecast(other), _work(other), "gloves")  # type: ignore[arg-type]
        assert post(visitor, other, what="gloves", amount=f"{2 * base:g}") == 302
    amount = used.rule_amounts({})["gloves"]
    assert 1.6 * 3 < amount < 2 * 3, "four jobs took twice the starting three pairs"
    after = next(line for line in price.options(filled)[0].sundries if line.rule.key == "gloves")
    assert after.quantity > 1.6 * gloves.quantity
    assert used.rule_amounts({"gloves": 3.5})["gloves"] == 3.5


def _work(job: Job) -> dict[str, float]:
    from hidewright.takeoff.sundries import work_of
    from hidewright.workshop.pieces.queries import pieces

    return work_of(pieces(job), quantities.forecast(job))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "told",
    [
        {"amount": ""},
        {"amount": "-3 L"},
        {"amount": "1e9 mL"},
        {"amount": "2 mL"},
        {"share": "0"},
        {"share": "101"},
        {"what": "magic"},
        {"what": "gloves", "amount": "many"},
        {"what": "tape-18", "amount": "5 L"},
    ],
)
def test_what_cannot_be_is_refused(visitor: Client, filled: Job, told: dict[str, str]) -> None:
    assert post(visitor, filled, **told) == 422
    assert not HandUse.objects.exists()


def test_no_more_than_the_whole_work_is_logged(visitor: Client, filled: Job) -> None:
    assert post(visitor, filled, share="60") == 302
    assert post(visitor, filled, share="60") == 422
    assert post(visitor, filled, share="40") == 302
    assert len(used.lessons()) == 1
    assert used.lessons()[0].found.jobs == 1


def test_stock_goes_back_to_the_product_it_came_from(visitor: Client, filled: Job) -> None:
    mine = Product.objects.get(role="stripper")
    product_steps.receive(mine, 20_000)
    other = product_steps.add_product(
        replace(products.products()[mine.key], key="other", name="Another stripper")
    )
    assert post(visitor, filled, amount="5 L", share="50") == 302
    logged = Act.objects.latest("id")
    product_steps.remove_product(mine)
    undo(logged.pk)
    assert products.stock()[mine.key] == pytest.approx(20_000)
    assert not products.stock().get(other.key)
