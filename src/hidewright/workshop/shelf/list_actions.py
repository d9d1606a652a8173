"""How a brought list of products is taken: known ones (by key, else by name) are changed, the others are added."""

from dataclasses import replace

from hidewright.lists.draft import Draft
from hidewright.takeoff.products import Product as Value
from hidewright.takeoff.products_in import PRODUCTS
from hidewright.workshop.lists.queries import Prospect, Taker, added_and_changed, by_shop_key, takes
from hidewright.workshop.shelf.actions import put_in
from hidewright.workshop.shelf.models import Product
from hidewright.workshop.shop.models import Job


def _named(draft: Draft) -> dict[str, Value]:
    """The products by the keys they get: one without a key of its own that the shop has under this name keeps the shop's key."""
    known = {row.name.casefold(): row.key for row in Product.objects.filter(active=True)}
    return {key: replace(product, key=key) for key, product in by_shop_key(draft, known).items()}


def _prospect(job: Job | None, draft: Draft, units: str) -> Prospect:
    named = _named(draft)
    known = Product.objects.filter(key__in=named, active=True).count()
    doubt = (
        "What is written here replaces what the shop has of these products; check it against the data sheets."
    )
    return added_and_changed(len(named), known, "product", doubts=(doubt,) if known else ())


takes(
    Taker(
        PRODUCTS,
        of_job=False,
        to="products",
        take=lambda job, draft, how, name: put_in(_named(draft), name),
        prospect=_prospect,
    )
)
