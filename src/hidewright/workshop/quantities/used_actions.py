"""What hands used up: log it (and draw it from stock), strike a slip out."""

from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.takeoff.byhand import FIGURE, Used
from hidewright.takeoff.sundries import work_of
from hidewright.workshop.pieces import queries as survey
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.quantities import used_queries as gather
from hidewright.workshop.quantities.models import HandUse
from hidewright.workshop.room import queries as portions
from hidewright.workshop.shelf.models import Product, ProductLot, StockMove
from hidewright.workshop.shop.models import Device, Job
from hidewright.workshop.shop.undo import record, undoes


def log_by_hand(
    job: Job,
    what: str,
    amount: float,
    share: float,
    *,
    lot: ProductLot | None = None,
    note: str = "",
    device: Device | None = None,
) -> HandUse:
    """Log `amount` (mL, or units of the rule) of a role of products or a sundry for `share` of the job's work of that kind.

    A product's amount is drawn from its stock. Refuses what was not reckoned with, more than the whole of the work, and what is far off.
    """
    takeoff = quantities.forecast(job)
    if takeoff is None:
        raise Refusal("There is no piece yet.", where="what", remedy="Enter the pieces first.")
    if not 0 < share <= 1:
        raise Refusal("A share of the work lies above 0 and up to 100 %.", where="share")
    before = gather.shares(job).get(what, 0.0)
    if before + share > 1.001:
        raise Refusal(
            f"With this, {100 * (before + share):.0f} % of the work would be logged.",
            where="share",
            remedy=f"{100 * (1 - before):.0f} % is left; strike a slip out first.",
        )
    whole = gather.base_of(takeoff, work_of(survey.pieces(job), takeoff, portions.gun().cup), what)
    if whole <= 0:
        raise Refusal("This job was not expected to take any of it.", where="what")
    Used(amount, whole * share)
    words, unit = gather.named(what)
    with transaction.atomic():
        row = HandUse.objects.create(
            job=job,
            what=what,
            amount=amount,
            share=share,
            base=whole * share,
            product=_product(what, lot),
            lot=lot,
            note=note[:120],
            device=device,
        )
        _move(row, -amount, f"used on {job.name}"[:120])
        record(
            job,
            f"Logged {amount:g} {unit} of {words.lower()}",
            undo="used.strike",
            undo_with={"use": row.pk},
            device=device,
        )
    return row


def _move(row: HandUse, millilitres: float, why: str) -> None:
    """Move the stock of the product that the entry drew on when it was made, whatever has become of the list since."""
    if row.product is not None:
        StockMove.objects.create(product=row.product, lot=row.lot, millilitres=millilitres, why=why)


def _product(what: str, lot: ProductLot | None) -> Product | None:
    if lot is not None:
        return lot.product
    return Product.objects.filter(active=True, role=what).first() if what in FIGURE else None


@undoes("used.strike")
def _strike(old: dict[str, Any]) -> None:
    if HandUse.objects.filter(pk=old["use"], struck=None).update(struck=timezone.now()):
        row = HandUse.objects.get(pk=old["use"])
        _move(row, row.amount, "put right: struck out")


@undoes("used.keep")
def _keep(old: dict[str, Any]) -> None:
    if HandUse.objects.filter(pk=old["use"]).exclude(struck=None).update(struck=None):
        row = HandUse.objects.get(pk=old["use"])
        _move(row, -row.amount, "put right: counts again")


def strike_by_hand(row: HandUse) -> None:
    """Strike an entry out: it stays readable, counts no more, and its stock is given back."""
    with transaction.atomic():
        if HandUse.objects.filter(pk=row.pk, struck=None).update(struck=timezone.now()):
            _move(row, row.amount, "put right: struck out")
            record(
                row.job,
                f"Struck out {gather.named(row.what)[0]}",
                undo="used.keep",
                undo_with={"use": row.pk},
            )
