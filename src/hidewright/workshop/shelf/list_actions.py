"""How a brought list of products is taken: known ones (by key, else by name) are changed, the others are added."""

from dataclasses import replace

from hidewright.lists.draft import Draft
from hidewright.takeoff.products import Product as Value
from hidewright.takeoff.products_in import PRODUCTS
from hidewright.units import counted
from hidewright.workshop.lists.queries import Prospect, Taker, Way, takes
from hidewright.workshop.shelf.actions import put_in
from hidewright.workshop.shelf.models import Product
from hidewright.workshop.shop.models import Job


def _named(draft: Draft) -> dict[str, Value]:
    """The products by the keys they get: one without a key of its own that the shop has under this name keeps the shop's key."""
    known = {row.name.casefold(): row.key for row in Product.objects.filter(active=True)}
    found = {}
    for line in draft.lines:
        for product in line.values:
            key = product.key if line.written.get("key") else known.get(product.name.casefold(), product.key)
            found[key] = replace(product, key=key)
    return found


def _prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    named = _named(draft)
    known = Product.objects.filter(key__in=named, active=True).count()
    return Prospect(
        (Way("take", f"Take the {counted(len(named), 'product')}"),),
        (("New", str(len(named) - known)), ("Known already: changed", str(known))),
        (
            (
                "What is written here replaces what the shop has of these products; check it against the data sheets.",
            )
            if known
            else ()
        ),
    )


takes(
    Taker(
        PRODUCTS,
        of_job=False,
        to="products",
        take=lambda job, draft, how, name: put_in(_named(draft), name),
        prospect=_prospect,
    )
)
