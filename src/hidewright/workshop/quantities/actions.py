"""Quantities: set what the forecast stands on, log what the coats took, strike a slip out."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.survey import Piece
from hidewright.takeoff.coats import Assumptions, Stage
from hidewright.takeoff.sundries import rules_with
from hidewright.takeoff.yields import Use as UseValue
from hidewright.takeoff.yields import items_of
from hidewright.units import counted
from hidewright.workshop.pieces import queries as survey
from hidewright.workshop.pieces.colour_queries import job_colours, several
from hidewright.workshop.quantities import queries as gather
from hidewright.workshop.quantities.models import Figures, Use
from hidewright.workshop.shelf.models import MixEntry
from hidewright.workshop.shop.models import Device, Job
from hidewright.workshop.shop.undo import record, undoes
from hidewright.workshop.shop.units import shown_volume


def set_figures(
    job: Job,
    changes: Mapping[str, Any],
    *,
    version: int,
    odds: float,
    number: int = 0,
) -> None:
    """Set the figures of a job, as the page of one of its colours asks for them; refuses values that cannot be, and a form that somebody overtook.

    A further colour keeps for itself the figures that are a colour's own; the others are the job's.
    """
    Assumptions(**changes)
    if not 0.5 <= odds <= 0.999:
        raise Refusal("The odds lie from 50 to 99.9 %.", where="odds", remedy="90 or 95 is usual.")
    with transaction.atomic():
        row, _ = Figures.objects.get_or_create(job=job)
        old = {"changes": row.changes, "odds": row.odds, "colour_changes": row.colour_changes}
        changed = Figures.objects.filter(pk=row.pk, version=version).update(
            **_split(row, changes, number), odds=odds, version=F("version") + 1
        )
        if changed != 1:
            raise Refusal(
                "Somebody changed these figures meanwhile.", remedy="Reload the page and look again."
            )
        record(
            job,
            "Changed what the quantities are worked out from",
            undo="quantities.figures",
            undo_with={"job": job.pk, **old},
        )


def _split(row: Figures, changes: Mapping[str, Any], number: int) -> dict[str, Any]:
    """The changes as the row keeps them: a further colour's own beside the job's."""
    if number == 0:
        return {"changes": dict(changes)}
    of_first = {name: value for name, value in row.changes.items() if name in gather.OF_A_COLOUR}
    of_job = {name: value for name, value in changes.items() if name not in gather.OF_A_COLOUR}
    own = {name: value for name, value in changes.items() if name in gather.OF_A_COLOUR}
    return {
        "changes": of_first | of_job,
        "colour_changes": {**row.colour_changes, str(number): own},
    }


@undoes("quantities.figures")
def _figures_back(old: dict[str, Any]) -> None:
    facts = {name: old[name] for name in ("changes", "odds", "colour_changes") if name in old}
    Figures.objects.filter(job_id=old["job"]).update(**facts, version=F("version") + 1)


def log_use(
    job: Job,
    use: UseValue,
    *,
    cups: int = 1,
    entry: MixEntry | None = None,
    note: str = "",
    device: Device | None = None,
) -> Use:
    """Log what a set of pieces took, by the bench's `entry` where it was drawn there; refuses what the model refuses (unknown pieces, more coats than there are)."""
    with transaction.atomic():
        listed, assumed = _stands_on(job, use)
        gather.model(job, listed, assumed).see(
            UseValue(use.stage, use.done, use.millilitres, cups * assumed.cup_loss)
        )
        row = keep_use(job, use, cups=cups, entry=entry, note=note, device=device)
        record(
            job,
            f"Logged {shown_volume(use.millilitres)} of {use.stage.value} on {counted(len(use.done), 'piece')}",
            undo="quantities.strike",
            undo_with={"use": row.pk},
        )
        return row


def keep_use(
    job: Job,
    use: UseValue,
    *,
    cups: int,
    measured: bool = True,
    entry: MixEntry | None = None,
    note: str = "",
    device: Device | None = None,
) -> Use:
    """Keep what a set of pieces took, without asking whether it is likely: it happened. `measured` where somebody read the amount."""
    listed, assumed = _stands_on(job, use)
    with transaction.atomic():
        by_piece = {p.key: p for p in listed}
        items = {
            i.piece: [i.shape, i.base, i.own_sd, _area(by_piece[i.piece], use.stage)]
            for i in items_of(listed, assumed)
            if i.stage is use.stage and i.piece in use.done
        }
        return Use.objects.create(
            job=job, stage=use.stage.value, done=dict(use.done), items=items, millilitres=use.millilitres, cups=cups,
            cup_loss=assumed.cup_loss, measured=measured, entry=entry, note=note[:120], device=device,
        )  # fmt: skip


def _stands_on(job: Job, use: UseValue) -> tuple[Sequence[Piece], Assumptions]:
    """The pieces and figures that a use is held against: those of its colour, or of the whole job for clear; refuses an entry of two colours."""
    listed = survey.pieces(job)
    if use.stage is Stage.CLEAR or not several(job):
        return listed, gather.assumptions(job)
    colours = {c.name: c.number for c in job_colours(job)}
    numbers = {colours.get(p.colour, 0) for p in listed if p.key in use.done}
    if len(numbers) > 1:
        raise Refusal(
            "These pieces get different colours.", where="pieces", remedy="Enter each colour by itself."
        )
    number = numbers.pop() if numbers else 0
    return survey.pieces(job, number), gather.assumptions(job, number)


def _area(piece: Any, stage: Stage) -> float:
    return float(sum(f.area for f in (piece.wiped_faces if stage is Stage.WIPED else piece.faces)))


@undoes("quantities.strike")
def _strike(old: dict[str, Any]) -> None:
    Use.objects.filter(pk=old["use"]).update(struck=timezone.now())


@undoes("quantities.keep")
def _keep(old: dict[str, Any]) -> None:
    Use.objects.filter(pk=old["use"]).update(struck=None)


def strike(row: Use) -> None:
    """Strike an entry out: it stays readable and counts no more."""
    with transaction.atomic():
        if Use.objects.filter(pk=row.pk, struck=None).update(struck=timezone.now()):
            record(row.job, f"Struck out {row}", undo="quantities.keep", undo_with={"use": row.pk})


PRICE_FIGURES = ("hourly", "markup", "price_odds", "tax_name", "tax_rate", "terms")
"""What a price stands on, besides quantities and hours."""


def set_price_figures(job: Job, facts: Mapping[str, Any], *, version: int) -> None:
    """Set what a job's price stands on; refuses what cannot be, and a form that somebody overtook."""
    if facts["hourly"] < 0 or not 0 <= facts["markup"] <= 5 or not 0.5 <= facts["price_odds"] < 1:
        raise Refusal(
            "An hour costs nothing less than nothing, a markup lies from 0 to 500 %, and the odds from 50 to under 100 %."
        )
    if not 0 <= facts["tax_rate"] < 1:
        raise Refusal("A tax lies from 0 to under 100 %.", where="tax_rate")
    with transaction.atomic():
        row, _ = Figures.objects.get_or_create(job=job)
        old = {name: str(getattr(row, name)) for name in PRICE_FIGURES}
        new = {name: facts[name] for name in PRICE_FIGURES}
        if Figures.objects.filter(pk=row.pk, version=version).update(**new, version=F("version") + 1) != 1:
            raise Refusal(
                "Somebody changed these figures meanwhile.", remedy="Reload the page and look again."
            )
        record(
            job,
            "Changed what the price is worked out from",
            undo="quantities.price",
            undo_with={"job": job.pk, **old},
        )


@undoes("quantities.price")
def _price_back(old: dict[str, Any]) -> None:
    was = {name: old[name] for name in ("tax_name", "terms")}
    money = {name: Decimal(old[name]) for name in ("hourly", "tax_rate")}
    shares = {name: float(old[name]) for name in ("markup", "price_odds")}
    Figures.objects.filter(job_id=old["job"]).update(**was, **money, **shares, version=F("version") + 1)


def set_sundries(job: Job, amounts: Mapping[str, float], *, version: int) -> None:
    """Set the shop's own amounts of sundries by rule; a rule left out follows its starting value."""
    rules_with(amounts)
    with transaction.atomic():
        row, _ = Figures.objects.get_or_create(job=job)
        old = dict(row.sundries)
        changed = Figures.objects.filter(pk=row.pk, version=version).update(
            sundries=dict(amounts), version=F("version") + 1
        )
        if changed != 1:
            raise Refusal(
                "Somebody changed these figures meanwhile.", remedy="Reload the page and look again."
            )
        record(
            job,
            "Changed the rules for sundries",
            undo="quantities.sundries",
            undo_with={"job": job.pk, "sundries": old},
        )


@undoes("quantities.sundries")
def _sundries_back(old: dict[str, Any]) -> None:
    Figures.objects.filter(job_id=old["job"]).update(sundries=old["sundries"], version=F("version") + 1)
