"""The shop's pigments: listing them, bringing their drawdowns, lots, how the shop reads and coats."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from hidewright.colour.pigments.drawdowns import Drawdown as DrawdownValue
from hidewright.colour.reading.readings import read_drawdowns
from hidewright.dates import show_day
from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import MOST_READINGS, Row, read_each, read_sheet
from hidewright.units import counted, read_number
from hidewright.workshop.pigments import saving as keep
from hidewright.workshop.pigments import values as gather
from hidewright.workshop.pigments.models import ColourSetup, Drawdown
from hidewright.workshop.pigments.queries import names_taken
from hidewright.workshop.shelf.models import Pigment, PigmentLot
from hidewright.workshop.shop.models import Act
from hidewright.workshop.shop.undo import record, undoes
from hidewright.workshop.shop.units import said_volume

FACTS = ("name", "index", "density", "solids", "price", "note")


def check_facts(name: str, density: float, solids: float, price: Decimal) -> None:
    """Refuse facts that no dispersion can have."""
    if not name.strip():
        raise Refusal("A pigment needs a name.", where="Name")
    if not 0.5 <= density <= 6.0:
        raise Refusal("A dispersion weighs 0.5 to 6 g/mL.", where="Density", remedy="Look on its data sheet.")
    if not 0.01 <= solids <= 1.0:
        raise Refusal(
            "The share that stays when dry lies from 0.01 to 1.", where="Solids", remedy="40 % is 0.40."
        )
    if price < 0:
        raise Refusal("A price is not below nothing.", where="Price")


def facts_of_row(row: Row) -> tuple[str, dict[str, Any]]:
    """A pigment's key and its facts out of a row with key, name, index, density, solids, price_per_litre and note; refuses by column."""
    key = row.get("key")
    if not key:
        raise Refusal("The key is missing.", where="key", remedy="Such as PW6.")
    facts: dict[str, Any] = {
        "name": row.get("name") or key,
        "index": row.get("index"),
        "note": row.get("note")[:160],
    }
    for column, default in (("density", 1.2), ("solids", 0.4)):
        text = row.get(column)
        try:
            facts[column] = read_number(text) if text else default
        except Refusal as refusal:
            raise Refusal(refusal.what, where=column, remedy=refusal.remedy) from None
    price = row.get("price_per_litre") or "0"
    try:
        facts["price"] = Decimal(price).quantize(Decimal("0.01"))
        check_facts(facts["name"], facts["density"], facts["solids"], facts["price"])
    except InvalidOperation:
        raise Refusal(
            f"The price “{price[:30]}” cannot be read.",
            where="price_per_litre",
            remedy="Write it like 46.00.",
        ) from None
    except Refusal as refusal:
        raise Refusal(refusal.what, where=refusal.where.lower(), remedy=refusal.remedy) from None
    return key[:40], facts


def import_pigments(text: str) -> int:
    """List pigments from a CSV (key, name, index, density, solids, price_per_litre, note); known keys are brought up to date.

    Returns how many; raises `Refusals` naming every line that must be put right, and then changes nothing.
    """
    sheet = read_sheet(text, most=MOST_READINGS)
    if "key" not in sheet.columns:
        raise Refusal("There is no column called key.", where="line 1", remedy="Name each pigment by a key.")
    facts = dict(read_each(sheet.rows, facts_of_row))
    list_pigments(facts, "a file")
    return len(facts)


def list_pigments(facts: Mapping[str, Mapping[str, Any]], source: str) -> Act:
    """List pigments by their keys, or bring known ones up to date; returns the act."""
    with transaction.atomic():
        before = [_state(row) for row in Pigment.objects.filter(key__in=facts)]
        for key, values in facts.items():
            Pigment.objects.update_or_create(key=key, defaults={**values, "active": True})
        new = sorted(set(facts) - {state["key"] for state in before})
        return record(
            None,
            f"Listed {counted(len(facts), 'pigment')} from {source}",
            undo="pigments.facts",
            undo_with={"before": before, "new": new},
        )


def _state(row: Pigment) -> dict[str, Any]:
    state = {field: getattr(row, field) for field in FACTS}
    return {**state, "price": str(row.price), "key": row.key, "active": row.active}


@undoes("pigments.facts")
def _restore_facts(data: dict[str, Any]) -> None:
    Pigment.objects.filter(key__in=data.get("new", ())).update(active=False)
    for state in data["before"]:
        Pigment.objects.filter(key=state["key"]).update(
            **{k: v for k, v in state.items() if k != "key"}, version=F("version") + 1
        )


def edit_pigment(row: Pigment, *, version: int, **facts: Any) -> None:
    """Change a pigment's facts; refuses when somebody changed it since it was shown."""
    check_facts(facts["name"], facts["density"], facts["solids"], facts["price"])
    with transaction.atomic():
        before = _state(row)
        changed = Pigment.objects.filter(pk=row.pk, version=version).update(**facts, version=F("version") + 1)
        if changed != 1:
            raise Refusal(
                "Somebody changed this pigment meanwhile.", remedy="Look at it again before you change it."
            )
        record(
            None, f"Changed {facts['name']}", undo="pigments.facts", undo_with={"before": [before], "new": []}
        )


def add_pigment(key: str, **facts: Any) -> Pigment:
    """List one pigment by hand."""
    key = key.strip()
    if not key or any(mark.isspace() or mark == "=" for mark in key):
        raise Refusal("A key is one word.", where="Key", remedy="Such as PW6, or WHITE.")
    check_facts(facts["name"], facts["density"], facts["solids"], facts["price"])
    with transaction.atomic():
        known = Pigment.objects.filter(key=key).first()
        if known is not None and known.active:
            raise Refusal(f"{known} is listed already.", where="Key")
        before = [_state(known)] if known else []
        row, _ = Pigment.objects.update_or_create(key=key, defaults={**facts, "active": True})
        undo_with = {"before": before, "new": [] if known else [key]}
        record(None, f"Listed {row}", undo="pigments.facts", undo_with=undo_with)
        return row


def remove_pigment(row: Pigment) -> None:
    """Take a pigment off the list; what was read of it stays."""
    with transaction.atomic():
        before = _state(row)
        if Pigment.objects.filter(pk=row.pk, active=True).update(active=False):
            record(
                None,
                f"Took {row} off the list",
                undo="pigments.facts",
                undo_with={"before": [before], "new": []},
            )


def put_on_shelf(row: Pigment, on_shelf: bool) -> None:
    """Say whether a pigment is there to be poured."""
    with transaction.atomic():
        if Pigment.objects.filter(pk=row.pk).exclude(on_shelf=on_shelf).update(on_shelf=on_shelf):
            words = "is on the shelf" if on_shelf else "has run out"
            undo_with = {"id": row.pk, "on_shelf": not on_shelf}
            record(None, f"{row.name} {words}", undo="pigments.shelf", undo_with=undo_with)


@undoes("pigments.shelf")
def _restore_shelf(data: dict[str, Any]) -> None:
    Pigment.objects.filter(pk=data["id"]).update(on_shelf=data["on_shelf"])


def import_drawdowns(text: str) -> int:
    """Keep the drawdowns of a CSV; see `keep_drawdowns`. Returns how many; raises `Refusals` naming every row that must be put right."""
    found = read_drawdowns(text, gather.things())
    keep_drawdowns(found)
    return len(found)


def keep_drawdowns(found: Sequence[DrawdownValue], source: str = "", text: str = "") -> Act:
    """Keep drawdowns; pigments that are not listed yet are listed by their key. Refuses names that are there already. Does not find K and S."""
    twice = names_taken(found)
    if twice:
        raise Refusals(
            Refusal(
                "A drawdown of this name is there already.", where=name, remedy="Rename one, or set it aside."
            )
            for name in twice
        )
    with transaction.atomic():
        keys = {key for drawdown in found for key in drawdown.shares}
        new = sorted(keys - set(Pigment.objects.filter(active=True).values_list("key", flat=True)))
        for key in new:
            Pigment.objects.update_or_create(
                key=key, defaults={"active": True}, create_defaults={"name": key}
            )
        kept = [keep.keep_drawdown(drawdown).pk for drawdown in found]
        return record(
            None,
            text[:240] or f"Kept {counted(len(kept), 'drawdown')}" + (f" from {source}" if source else ""),
            undo="pigments.drawdowns",
            undo_with={"ids": kept, "new": new},
        )


@undoes("pigments.drawdowns")
def _take_back_drawdowns(data: dict[str, Any]) -> None:
    Drawdown.objects.filter(pk__in=data["ids"], aside=None).update(aside=timezone.now())
    Pigment.objects.filter(key__in=data["new"], characterised=None).update(active=False)


def set_aside(row: Drawdown, aside: bool) -> None:
    """Take a drawdown out of the reckoning, or bring it back; K and S change when they are found again."""
    with transaction.atomic():
        try:
            with transaction.atomic():
                stands = Drawdown.objects.filter(pk=row.pk, aside__isnull=aside)
                changed = stands.update(aside=timezone.now() if aside else None)
        except IntegrityError:
            raise Refusal(
                "Another drawdown of this name counts already.",
                where=row.name,
                remedy="Set that aside first.",
            ) from None
        if changed:
            words = "Set aside" if aside else "Brought back"
            undo_with = {"id": row.pk, "aside": not aside}
            record(None, f"{words} the drawdown {row.name}", undo="pigments.aside", undo_with=undo_with)


@undoes("pigments.aside")
def _restore_aside(data: dict[str, Any]) -> None:
    Drawdown.objects.filter(pk=data["id"]).update(aside=timezone.now() if data["aside"] else None)


def change_setup(*, specular: bool, coat: float, load_low: float, load_high: float) -> None:
    """Change how the shop reads and coats; can be undone."""
    if not 0.005 <= load_low <= load_high <= 0.9:
        raise Refusal(
            "The window of pigment in the mix runs from a smaller to a larger share.",
            where="Pigment in the mix",
            remedy="Write it like 16 to 20.",
        )
    if not 0.5 <= coat <= 200:
        raise Refusal("A coat dries to 0.5 to 200 µm.", where="One coat", remedy="Write it in µm.")
    new = {"specular": specular, "coat": coat, "load_low": load_low, "load_high": load_high}
    with transaction.atomic():
        old = gather.setup()
        before = {field: getattr(old, field) for field in new}
        ColourSetup.objects.update_or_create(pk=1, defaults=new)
        record(None, "Changed how the shop reads and coats", undo="pigments.setup", undo_with=before)


@undoes("pigments.setup")
def _restore_setup(before: dict[str, Any]) -> None:
    ColourSetup.objects.update_or_create(pk=1, defaults=before)


def add_lot(
    row: Pigment,
    *,
    name: str,
    volume: float | None,
    received: date | None,
    keep_until: date | None = None,
) -> PigmentLot:
    """Note a new bottle of a pigment, with the day on it until which it keeps."""
    check_day(keep_until, received)
    with transaction.atomic():
        if row.lots.filter(name=name.strip()).exists():
            raise Refusal(f"Lot {name.strip()} is noted already.", where="Lot")
        lot = PigmentLot.objects.create(
            pigment=row, name=name.strip(), volume=volume, received=received, keep_until=keep_until
        )
        record(None, f"Noted lot {lot.name} of {row.name}", undo="pigments.lot", undo_with={"id": lot.pk})
        return lot


def check_day(keep_until: date | None, received: date | None) -> None:
    """Refuse a bottle that would have been past its day when it came."""
    if keep_until and received and keep_until < received:
        raise Refusal(
            "It would have been past its day when it came.",
            where="Keep until",
            remedy="Look at both days on the bottle.",
        )


@undoes("pigments.lot")
def _take_back_lot(data: dict[str, Any]) -> None:
    PigmentLot.objects.filter(pk=data["id"]).delete()


def mark_lot(lot: PigmentLot, what: str) -> None:
    """Note that a lot was opened or finished today."""
    if what not in ("opened", "finished"):
        raise Refusal("A lot is opened or finished.", where="Lot")
    with transaction.atomic():
        if PigmentLot.objects.filter(pk=lot.pk, **{what: None}).update(**{what: timezone.localdate()}):
            undo_with = {"id": lot.pk, "what": what}
            record(None, f"Lot {lot.name} {what}", undo="pigments.lot_mark", undo_with=undo_with)


@undoes("pigments.lot_mark")
def _unmark_lot(data: dict[str, Any]) -> None:
    PigmentLot.objects.filter(pk=data["id"]).update(**{data["what"]: None})


def keep_lot(lot: PigmentLot, keep_until: date | None) -> None:
    """Write down until when a bottle keeps, or that it does not say; can be undone."""
    check_day(keep_until, lot.received)
    with transaction.atomic():
        before = lot.keep_until.isoformat() if lot.keep_until else None
        if PigmentLot.objects.filter(pk=lot.pk).exclude(keep_until=keep_until).update(keep_until=keep_until):
            words = (
                f"keeps until {show_day(keep_until)}" if keep_until else "says no day until which it keeps"
            )
            undo_with = {"id": lot.pk, "keep_until": before}
            record(None, f"Lot {lot.name} {words}", undo="pigments.lot_day", undo_with=undo_with)


@undoes("pigments.lot_day")
def _restore_day(data: dict[str, Any]) -> None:
    PigmentLot.objects.filter(pk=data["id"]).update(keep_until=data["keep_until"])


def count_lot(lot: PigmentLot, left: float) -> None:
    """Note how many mL are left in a bottle now; what is poured afterwards comes off it."""
    if not 0 <= left <= 200_000:
        raise Refusal("A bottle holds nothing to 200 L.", where="Left")
    with transaction.atomic():
        before = {
            "id": lot.pk,
            "left": lot.left,
            "counted": lot.counted.isoformat() if lot.counted else None,
        }
        PigmentLot.objects.filter(pk=lot.pk).update(left=left, counted=timezone.now())
        record(
            None, f"{said_volume(left)} left of lot {lot.name}", undo="pigments.lot_left", undo_with=before
        )


@undoes("pigments.lot_left")
def _uncount_lot(data: dict[str, Any]) -> None:
    PigmentLot.objects.filter(pk=data["id"]).update(left=data["left"], counted=data["counted"])
