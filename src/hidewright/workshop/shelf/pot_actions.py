"""The vessels that the shop has. Each act can be undone."""

from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.mixing.amounts import microlitres
from hidewright.mixing.vessels import Pot
from hidewright.refusals import Refusal
from hidewright.workshop.shelf.models import ShopVessel
from hidewright.workshop.shop.undo import record, undoes


def add_pot(name: str, capacity: float, tare: float = 0.0) -> ShopVessel:
    """Add a vessel of `capacity` mL, `tare` g empty; refuses a name that is on the list."""
    amount = microlitres(capacity, where="It holds")
    if not name.strip():
        raise Refusal("The vessel needs a name.", where="Name", remedy="Write what you call it.")
    Pot("new", name, amount, tare)
    with transaction.atomic():
        if ShopVessel.objects.filter(name=name.strip(), removed=None).exists():
            raise Refusal(
                f"{name.strip()} is on the list.",
                where="Name",
                remedy="One line is enough for vessels alike.",
            )
        row = ShopVessel.objects.create(name=name.strip(), capacity=amount, tare=tare)
        record(
            None, f"Added the vessel {row.name}", undo="shelf.pot", undo_with={"id": row.pk, "removed": True}
        )
        return row


def remove_pot(row: ShopVessel) -> None:
    """Take a vessel off the list; cups that stand in one like it are not touched."""
    with transaction.atomic():
        if ShopVessel.objects.filter(pk=row.pk, removed=None).update(removed=timezone.now()) == 1:
            record(
                None,
                f"Took the vessel {row.name} off the list",
                undo="shelf.pot",
                undo_with={"id": row.pk, "removed": False},
            )


@undoes("shelf.pot")
def _pot_back(data: dict[str, Any]) -> None:
    ShopVessel.objects.filter(pk=data["id"]).update(removed=timezone.now() if data["removed"] else None)
