"""A bottle of pigment keeps until the day that stands on it: noted, changed, undone, and told wherever it would be poured. Amounts are told in the shop's units."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from hidewright.mixing import MixPart, MixRecipe
from hidewright.refusals import Refusal
from hidewright.workshop.pigments import actions as pigments
from hidewright.workshop.shelf import actions as products
from hidewright.workshop.shelf import stock_queries as stock
from hidewright.workshop.shelf import vessel_actions as mixing
from hidewright.workshop.shelf.models import MixVessel, Pigment, PigmentLot, Product
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop import units as bench
from hidewright.workshop.shop import units as said
from hidewright.workshop.shop.models import Act, Job, Shop

pytestmark = pytest.mark.django_db
RECIPE = MixRecipe("Any", (MixPart("base", "Clear base", 0.8, 1.03), MixPart("PW6", "White", 0.2, 1.9)))
YESTERDAY, TOMORROW = (timezone.localdate() + timedelta(days=n) for n in (-1, 1))


@pytest.fixture
def white(db: None) -> Pigment:
    """White, with a bottle that was opened."""
    row = Pigment.objects.create(key="PW6", name="White", density=1.9)
    PigmentLot.objects.create(pigment=row, name="W1", volume=100, opened=timezone.localdate())
    return row


@pytest.fixture
def cup(job: Job, white: Pigment) -> MixVessel:
    """A cup that white goes into."""
    return mixing.begin_cup(job, RECIPE, 500, capacity=800)


def test_a_new_bottle_is_noted_with_its_day(visitor: Client, white: Pigment) -> None:
    sent = {
        "lot-name": "W2",
        "lot-volume": "8 fl oz",
        "lot-received": "2026-03-02",
        "lot-keep_until": "2027-03-01",
    }
    assert visitor.post(f"/pigments/{white.pk}/lots/", sent).status_code == 302
    lot = PigmentLot.objects.get(name="W2")
    assert lot.keep_until == date(2027, 3, 1)
    assert lot.volume == pytest.approx(8 * 29.5735, rel=1e-4)
    assert "keep until 1 Mar 2027" in visitor.get(f"/pigments/{white.pk}/").content.decode()


def test_a_bottle_that_was_past_its_day_when_it_came_is_refused(visitor: Client, white: Pigment) -> None:
    sent = {"lot-name": "W2", "lot-received": "2026-03-02", "lot-keep_until": "2026-03-01"}
    answer = visitor.post(f"/pigments/{white.pk}/lots/", sent)
    assert answer.status_code == 422
    assert "past its day when it came" in answer.content.decode()
    assert not PigmentLot.objects.filter(name="W2").exists()


def test_the_day_is_written_later_changed_taken_off_and_undone(visitor: Client, white: Pigment) -> None:
    lot = white.lots.get()
    address = f"/pigments/lots/{lot.pk}/left/"
    visitor.post(address, {"left-left": "", "left-keep_until": TOMORROW.isoformat()})
    lot.refresh_from_db()
    assert (lot.keep_until, lot.left) == (TOMORROW, None)
    # a form that asks for the amount only leaves the day alone
    visitor.post(address, {"left-left": "20 mL"})
    lot.refresh_from_db()
    assert (lot.keep_until, lot.left) == (TOMORROW, 20)
    visitor.post(address, {"left-left": "", "left-keep_until": ""})
    lot.refresh_from_db()
    assert lot.keep_until is None
    acts.undo(Act.objects.filter(undo_name="pigments.lot_day").first().pk)  # type: ignore[union-attr]
    lot.refresh_from_db()
    assert lot.keep_until == TOMORROW
    assert visitor.post(address, {"left-left": ""}).status_code == 422
    assert visitor.post(address, {"left-left": "0", "left-keep_until": "2026-02-30"}).status_code == 422


def test_a_bottle_past_its_day_is_told_on_the_shelf_and_at_the_bench(
    visitor: Client, job: Job, cup: MixVessel, white: Pigment
) -> None:
    assert "past its day" not in visitor.get("/pigments/").content.decode()
    pigments.keep_lot(white.lots.get(), YESTERDAY)
    assert stock.lots_held("PW6")[0].past
    assert "a lot past its day" in visitor.get("/pigments/").content.decode()
    assert "past its day" in visitor.get(f"/pigments/{white.pk}/").content.decode()
    mixing.pour(cup, "base", 400_000)
    page = visitor.get(f"/jobs/{job.pk}/mixing/{cup.pk}/").content.decode()
    assert "Lot W1 is past its day." in page
    done = mixing.pour(cup, "PW6", 50_000)
    assert f"Lot W1 was past its day, {YESTERDAY.day} {YESTERDAY:%b %Y}." in done.entry.note


def test_an_empty_or_finished_bottle_warns_nobody(white: Pigment) -> None:
    lot = white.lots.get()
    pigments.keep_lot(lot, YESTERDAY)
    assert stock.past_their_day() == {white.pk}
    pigments.count_lot(lot, 0.0)
    assert stock.past_their_day() == set()
    pigments.count_lot(lot, 5.0)
    pigments.mark_lot(lot, "finished")
    assert stock.past_their_day() == set()
    assert not stock.pigment_lots(white)[0].past


def test_a_day_before_it_came_is_refused_by_the_step_too(white: Pigment) -> None:
    lot = white.lots.get()
    lot.received = timezone.localdate()
    lot.save()
    with pytest.raises(Refusal, match="past its day when it came"):
        pigments.keep_lot(lot, YESTERDAY)


@pytest.mark.parametrize(
    ("units", "poured", "took", "left"),
    [
        ("metric", "118.29 mL", "Took in 1.89 L", "250 mL left"),
        ("us", "4 fl oz", "Took in 2 qt", "8.45 fl oz left"),
    ],
)
def test_the_book_and_the_toasts_speak_the_shop_s_units(
    cup: MixVessel, white: Pigment, units: str, poured: str, took: str, left: str
) -> None:
    Shop.objects.update_or_create(pk=1, defaults={"units": units})
    done = mixing.pour(cup, "PW6", 118_294)
    assert poured in done.entry.text
    assert (" mL" in done.entry.text) == (units == "metric")
    assert (" mL" in done.entry.note) == (units == "metric")
    Product.objects.create(key="base", name="Base 40", role="base", price="30")
    products.receive(Product.objects.get(key="base"), 1892.705892, lot="B1")
    assert Act.objects.filter(text__startswith=took).exists()
    pigments.count_lot(white.lots.get(), 250)
    assert Act.objects.filter(text__startswith=left).exists()
    # the ledger itself stays in µL
    assert done.entry.moves.get().amount == 118_294
    assert bench.shown_volume(1000.0) == said.shown_volume(1000.0)


def test_what_the_ledger_refuses_is_said_in_the_shop_s_units(cup: MixVessel) -> None:
    with pytest.raises(Refusal, match=r"800\.00 mL"):
        mixing.pour(cup, "base", 900_000)
    Shop.objects.update_or_create(pk=1, defaults={"units": "us"})
    with pytest.raises(Refusal, match=r"27\.1 fl oz") as refused:
        mixing.pour(cup, "base", 900_000)
    assert " mL" not in str(refused.value)
