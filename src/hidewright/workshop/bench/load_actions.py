"""Portions: gun loads drawn off, crosslinked, sprayed and discarded; cups boxed. Each act is one entry of the bench's book."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from hidewright.mixing import acts as bench
from hidewright.mixing.amounts import microlitres, millilitres, some_microlitres
from hidewright.mixing.ledger import volume
from hidewright.mixing.portions import crosslinker_for
from hidewright.mixing.vessels import Way
from hidewright.refusals import Refusal
from hidewright.takeoff.coats import Stage
from hidewright.takeoff.yields import Use as UseValue
from hidewright.units import counted, show_minutes
from hidewright.workshop.colours.batch_actions import note_batch
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.quantities.actions import log_use, strike
from hidewright.workshop.quantities.models import Use
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixComponent, MixEntry, MixVessel
from hidewright.workshop.shelf.vessel_actions import (
    Logged,
    drawn_from,
    hold,
    log,
    next_name,
    shown,
    take_back,
)
from hidewright.workshop.shop.models import Device
from hidewright.workshop.shop.undo import record, undoes


def draw_off(
    source: MixVessel,
    amount: float,
    *,
    name: str = "",
    capacity: float | None = None,
    token: str | None = None,
    device: Device | None = None,
) -> MixVessel:
    """Draw `amount` mL off into a gun load of its own (strained on the way)."""
    amount_ul = some_microlitres(amount, where="How much")
    with transaction.atomic():
        known = MixEntry.objects.filter(token=token).first() if token else None
        if known is not None:
            return MixVessel.objects.filter(sequence__entry=known).exclude(pk=source.pk).get()
        note_batch(source)
        count = MixVessel.objects.filter(job=source.job, kind=MixVessel.Kind.PORTION).count()
        load = MixVessel.objects.create(
            job=source.job,
            colour_number=source.colour_number,
            kind=MixVessel.Kind.PORTION,
            name=name.strip() or f"Gun cup {count + 1}",
            capacity=some_microlitres(capacity if capacity is not None else amount * 1.2, where="Vessel"),
            plan={"name": (source.plan or {}).get("name", ""), "hex": (source.plan or {}).get("hex", ""), "parts": []},
        )  # fmt: skip
        log(
            [source, load],
            lambda book: bench.split(book, source.key, load.key, amount_ul),
            f"Drew {shown(amount_ul)} off {source.name} into {load.name}",
            token=token,
            device=device,
            also={"away": load.pk},
        )
    return load


def crosslink(
    row: MixVessel,
    product: str,
    ratio: float,
    pot_life: float,
    *,
    amount: float | None = None,
    density: float = 1.1,
    lot: str = "",
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Add crosslinker (`ratio` parts by volume to one of colour, or `amount` mL as poured); starts the pot life of `pot_life` min."""
    if not product.strip():
        raise Refusal("Say which crosslinker.", where="Crosslinker", remedy="Write what is on its label.")
    if not 1 <= pot_life <= 20_000:
        raise Refusal(
            "A pot life is from a minute to two weeks.",
            where="Pot life",
            remedy="Write the minutes from the data sheet of the crosslinker.",
        )
    key = f"crosslinker:{slugify(product)[:40]}"
    with transaction.atomic():
        MixComponent.objects.update_or_create(
            key=key,
            defaults={
                "name": product.strip()[:80],
                "density": density,
                "hex": "#d8d2c4",
                "crosslinker": True,
            },
        )
        held = gather.ledger_of([row])
        dose = microlitres(amount) if amount is not None else crosslinker_for(volume(held, row.key), ratio)
        from_lot, note, also = drawn_from(key, dose, lot)
        done = log(
            [row],
            lambda book: bench.crosslink(book, row.key, key, dose, lot=from_lot, note=note),
            f"Crosslinked {row.name} with {shown(dose)} of {product.strip()}; pot life {show_minutes(pot_life)}",
            token=token,
            device=device,
            also=also,
        )
        if done.fresh:
            MixVessel.objects.filter(pk=row.pk).update(pot_life=pot_life)
    return done


def use(
    row: MixVessel, amount: float, *, note: str = "", token: str | None = None, device: Device | None = None
) -> Logged:
    """Log that `amount` mL went through the gun."""
    amount_ul = microlitres(amount, where="How much")
    with transaction.atomic():
        note_batch(row)
        return log(
            [row],
            lambda book: bench.use(book, row.key, amount_ul, note=note),
            f"Sprayed {shown(amount_ul)} out of {row.name}",
            token=token,
            device=device,
        )


def spray(
    row: MixVessel,
    amount: float,
    pieces: Mapping[str, float],
    *,
    note: str = "",
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Log what was sprayed and on which pieces (piece → share of its coats): the book and the yield learn of it together.

    What the pieces took is the colour alone, without the crosslinker. Both are taken back by one undo.
    """
    if not row.job or not pieces:
        return use(row, amount, note=note, token=token, device=device)
    amount_ul = microlitres(amount, where="How much")
    with transaction.atomic():
        note_batch(row)
        done = log(
            [row],
            lambda book: bench.use(book, row.key, amount_ul, note=note),
            f"Sprayed {shown(amount_ul)} out of {row.name} on {counted(len(pieces), 'piece')}",
            token=token,
            device=device,
            told=False,
        )
        if done.fresh:
            linkers = gather.crosslinkers()
            colour = sum(m.amount for m in done.entry.moves.all() if m.component not in linkers)
            loss = quantities.assumptions(row.job, row.colour_number).cup_loss
            taken = log_use(
                row.job,
                UseValue(Stage.COLOUR, pieces, millilitres(colour), loss),
                entry=done.entry,
                note=note,
                device=device,
            )
            both = {"entry": done.entry.pk, "use": taken.pk}
            record(row.job, done.entry.text, undo="mixing.unspray", undo_with=both, device=device)
    return done


@undoes("mixing.unspray")
def _unspray(data: dict[str, Any]) -> None:
    take_back(int(data["entry"]))
    strike(Use.objects.get(pk=data["use"]))


def discard(
    row: MixVessel,
    amount: float | None = None,
    *,
    note: str = "",
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Log that `amount` mL went to waste; all that is in the vessel without it."""
    held = volume(gather.ledger_of([row]), row.key)
    amount_ul = held if amount is None else microlitres(amount, where="How much")
    return log(
        [row],
        lambda book: bench.discard(book, row.key, amount_ul, note=note),
        f"Discarded {shown(amount_ul)} of {row.name}",
        token=token,
        device=device,
    )


def box(
    sources: Sequence[MixVessel],
    target: MixVessel,
    *,
    token: str | None = None,
    device: Device | None = None,
) -> Logged:
    """Box: pour all of the sources into the target. The target then is a batch of its own, as it stands; of several pot lives the shortest holds."""
    names = " and ".join(row.name for row in sources)
    with transaction.atomic():
        held = {row.pk: row for row in hold([row.pk for row in (*sources, target)])}
        also: dict[str, Any] = {} if held[target.pk].accepted is not None else {"unaccept": target.pk}
        own = held[target.pk].pot_life
        life = min((row.pot_life for row in held.values() if row.pot_life is not None), default=None)
        if life != own:
            also["pot_life"] = [target.pk, own]
        done = log(
            [*sources, target],
            lambda book: bench.box(book, [row.key for row in sources], target.key),
            f"Boxed {names} with {target.name}",
            token=token,
            device=device,
            also=also,
        )
        if done.fresh:
            MixVessel.objects.filter(pk=target.pk).update(pot_life=life)
            MixVessel.objects.filter(pk=target.pk, accepted=None).update(accepted=timezone.now())
    return done


def box_by(
    row: MixVessel,
    other: MixVessel,
    way: Way,
    capacity: int,
    *,
    token: str | None = None,
    device: Device | None = None,
) -> MixVessel:
    """Box two cups of a job in one of the ways that the page offered; answers with the vessel that holds both.

    `capacity` µL of the third vessel, for `Way.NEW`.
    """
    if way is not Way.NEW:
        source, target = (other, row) if way is Way.HERE else (row, other)
        box([source], target, token=token, device=device)
        return target
    with transaction.atomic():
        known = MixEntry.objects.filter(token=token).first() if token else None
        if known is not None:
            return MixVessel.objects.filter(sequence__entry=known).exclude(pk__in=[row.pk, other.pk]).get()
        lives = [each.pot_life for each in (row, other) if each.pot_life is not None]
        both = MixVessel.objects.create(
            job=row.job,
            colour_number=row.colour_number,
            like=row.like,
            pot_life=min(lives, default=None),
            kind=row.kind,
            name=next_name(row.job, (row.plan or {}).get("name") or "Boxed") if row.job else row.name,
            capacity=capacity,
            measure=row.measure,
            grain=row.grain,
            plan=row.plan,
            recipe_id=row.recipe_id,
        )
        box([row, other], both, token=token, device=device)
    return both
