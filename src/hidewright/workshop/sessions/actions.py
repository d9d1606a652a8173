"""One book: “this session was done” is one event. It ticks the work, draws the colour, counts the coats and teaches; one undo takes all of it back.

What happened is never refused: a load that holds too little by the book gives what it has, and the event says so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from django.db import transaction
from django.utils import timezone

from hidewright.mixing import acts as bench
from hidewright.mixing.amounts import microlitres, millilitres
from hidewright.mixing.ledger import contents, volume
from hidewright.refusals import Refusal
from hidewright.takeoff.products import Role
from hidewright.takeoff.yields import Use as UseValue
from hidewright.units import counted
from hidewright.workshop.colours.batch_actions import note_batch
from hidewright.workshop.days.models import TapKind
from hidewright.workshop.days.progress_actions import taps
from hidewright.workshop.days.progress_queries import Standing, standings
from hidewright.workshop.quantities.actions import keep_use
from hidewright.workshop.sessions.draw_queries import Draw, draws
from hidewright.workshop.sessions.models import SessionDone
from hidewright.workshop.shelf import stock_queries as stock
from hidewright.workshop.shelf import vessel_queries as vessels
from hidewright.workshop.shelf.models import MixEntry, MixVessel, Product, StockMove
from hidewright.workshop.shelf.vessel_actions import log, take_back
from hidewright.workshop.shop.models import Device, Job, Person
from hidewright.workshop.shop.undo import record, undoes
from hidewright.workshop.shop.units import shown_volume

LEAST = 0.05
"""mL below which nothing is drawn."""


@dataclass(frozen=True, slots=True)
class Event:
    """What became of a tap: its row, and whether it is new."""

    row: SessionDone
    fresh: bool


def tell(
    job: Job,
    keys: Sequence[str],
    kind: str,
    token: str,
    *,
    amounts: Mapping[str, float] | None = None,
    sources: Mapping[str, MixVessel] | None = None,
    at: datetime | None = None,
    person: Person | None = None,
    device: Device | None = None,
    minutes: float | None = None,
    planned: Mapping[str, float] | None = None,
    note: str = "",
) -> Event:
    """Keep that these acts were done (or not done after all), once for each token.

    `amounts` pot → mL that somebody read; what is not in it is drawn by the forecast. `sources` pot → the vessel it came from; without it, the likeliest.
    `minutes` what they took together. Acts that were done already draw nothing a second time.
    """
    with transaction.atomic():
        Job.objects.select_for_update().get(pk=job.pk)
        known = SessionDone.objects.filter(token=token).first()
        if known is not None:
            return Event(known, False)
        before = standings(job)
        tapped, _ = taps(
            job, list(keys), kind, token,
            at=at, person=person, device=device, minutes=minutes, planned=planned, note=note,
        )  # fmt: skip
        after = standings(job)
        changed = [key for key in keys if _done(before, key) != _done(after, key)]
        row = SessionDone.objects.create(
            job=job, token=token, kind=kind, keys=changed, amounts=dict(amounts or {}), person=person, device=device, at=tapped.at,
        )  # fmt: skip
        if changed and kind == TapKind.DONE:
            drawn = _draw(row, sources or {})
            text = f"{_words(changed)} done" + (f": {drawn}" if drawn else "")
            record(job, text, undo="sessions.withdraw", undo_with={"session": row.pk}, device=device)
        elif changed:
            _give_back(job, set(changed))
        return Event(row, True)


def _done(stands: Mapping[str, Standing], key: str) -> bool:
    return key in stands and stands[key].done


def _words(keys: Sequence[str]) -> str:
    pieces = list(dict.fromkeys(key.rsplit("/", 2)[0] for key in keys))
    steps = list(dict.fromkeys(key.rsplit("/", 1)[-1] for key in keys))
    on = pieces[0] if len(pieces) == 1 else counted(len(pieces), "piece")
    return f"{steps[0].capitalize() if len(steps) == 1 else counted(len(steps), 'step')} on {on}"


def _draw(row: SessionDone, sources: Mapping[str, MixVessel]) -> str:
    """Draw what the event's acts took, and log it; what was drawn, in words."""
    told = []
    for draw in draws(row.job, tuple(row.keys), row.pk):
        amount = float(row.amounts.get(draw.pot, draw.millilitres))
        if amount >= LEAST and draw.parts:
            told.append(
                _of_clear(row, draw, amount)
                if draw.number is None
                else _of_colour(row, draw, amount, sources.get(draw.pot))
            )
    return ", ".join(told)


def _of_colour(row: SessionDone, draw: Draw, amount: float, vessel: MixVessel | None) -> str:
    left, told = amount, []
    for source in [vessel] if vessel is not None else [state.row for state in draw.vessels]:
        entry = _take(source, left, row) if left >= LEAST else None
        if entry is None:
            continue
        linkers = vessels.crosslinkers()
        colour = millilitres(sum(m.amount for m in entry.moves.all() if m.component not in linkers))
        row.entries.add(entry)
        _use(row, draw, colour, amount, entry)
        left -= colour
        told.append(f"{shown_volume(colour)} out of {source.name}")
    if left >= LEAST:
        _use(row, draw, left, amount, None)
        told.append(f"{shown_volume(left)} of {draw.label} out of no vessel that is in the records")
        if row.entries.exists() or vessel is not None:
            _note(row, f"By the records there was {shown_volume(left)} too little in the gun cup.")
    return ", ".join(told)


def _take(source: MixVessel, wanted: float, row: SessionDone) -> MixEntry | None:
    """Draw colour off a vessel for the work, at most what it holds; None where it holds none or was put away."""
    if source.put_away is not None:
        return None
    note_batch(source)
    book = vessels.ledger_of([source])
    held = volume(book, source.key)
    linkers = vessels.crosslinkers()
    linked = sum(amount for (key, _), amount in contents(book, source.key).items() if key in linkers)
    if held <= linked:
        return None
    amount = min(held, microlitres(wanted * held / (held - linked)))
    if not amount:
        return None
    done = log(
        [source],
        lambda ledger: bench.use(ledger, source.key, amount, note=row.note),
        f"{_words(row.keys)}: {shown_volume(millilitres(amount))} out of {source.name}",
        device=row.device,
        told=False,
    )
    return done.entry


def _of_clear(row: SessionDone, draw: Draw, amount: float) -> str:
    product = Product.objects.filter(active=True, role=Role.CLEAR).order_by("id").first()
    _use(row, draw, amount, amount, None)
    if product is None:
        return f"{shown_volume(amount)} of clear"
    lots = stock.lots_held(stock.component_of(product))
    lot = product.lots.filter(name=lots[0].name).first() if lots else None
    why = f"{_words(row.keys)}, {row.job.name}"[:120]
    row.moves.add(StockMove.objects.create(product=product, lot=lot, millilitres=-amount, why=why))
    return f"{shown_volume(amount)} of {product.name}"


def _use(row: SessionDone, draw: Draw, part: float, whole: float, entry: MixEntry | None) -> None:
    """Log `part` mL of the `whole` that a draw took, stage by stage; the coats are shared out as the litres go. What stays in gun and cup counts once."""
    last = draw.parts[-1]
    loss = (
        draw.loss
        if draw.loss < part and not row.uses.filter(cups=1, stage=last.stage.value).exists()
        else 0.0
    )
    expected = sum(each.millilitres for each in draw.parts)
    for each in draw.parts:
        ratio = each.millilitres / expected if expected else 1 / len(draw.parts)
        amount = (part - loss) * ratio + (loss if each is last else 0.0)
        shares = {piece: min(share, share * part / whole) for piece, share in each.shares.items()}
        if amount > 0:
            value = UseValue(each.stage, shares, amount, 0.0)
            made = keep_use(
                row.job,
                value,
                cups=1 if loss and each is last else 0,
                measured=draw.pot in row.amounts,
                entry=entry,
                note=row.note,
                device=row.device,
            )
            row.uses.add(made)


def _note(row: SessionDone, words: str) -> None:
    row.note = f"{row.note} {words}".strip()[:240]
    row.save(update_fields=["note"])


def _give_back(job: Job, gone: set[str]) -> None:
    """Take back what events drew for acts that were not done after all; what is left of an event is drawn anew, with the same reading."""
    for row in SessionDone.objects.filter(job=job, kind=TapKind.DONE, withdrawn=None):
        if not gone & set(row.keys):
            continue
        _withdraw(row)
        left = [key for key in row.keys if key not in gone]
        if left:
            again = SessionDone.objects.create(
                job=job, kind=row.kind, keys=left, amounts=row.amounts, person=row.person, device=row.device, at=row.at
            )  # fmt: skip
            _draw(again, _sources(row))


def _sources(row: SessionDone) -> dict[str, MixVessel]:
    """Pot → the vessel that an event drew it from."""
    found = MixVessel.objects.filter(sequence__entry__in=row.entries.all()).order_by("-pk")
    return {f"colour {vessel.colour_number}": vessel for vessel in found}


def _withdraw(row: SessionDone) -> None:
    """What an event drew goes back where it came from, by counter-entries."""
    SessionDone.objects.filter(pk=row.pk).update(withdrawn=timezone.now())
    row.uses.filter(struck=None).update(struck=timezone.now())
    for entry in row.entries.filter(countered_by=None):
        MixVessel.objects.filter(sequence__entry=entry).update(put_away=None)
        take_back(entry.pk)
    for move in row.moves.all():
        StockMove.objects.create(
            product=move.product,
            lot=move.lot,
            millilitres=-move.millilitres,
            why="put right: not done after all",
        )


@undoes("sessions.withdraw")
def _undo(data: dict[str, Any]) -> None:
    row = SessionDone.objects.get(pk=data["session"])
    stands = standings(row.job)
    keys = [key for key in row.keys if _done(stands, key)]
    if row.withdrawn is not None or not keys:
        raise Refusal("This was taken back already.", remedy="Reload the page to see how things are now.")
    later = max(timezone.now(), row.at + timedelta(milliseconds=1))
    tell(row.job, keys, TapKind.UNDO, uuid4().hex, at=later)
