"""Products as rows."""

from typing import Any

from hidewright.takeoff.products import Product as Value

from ..gather.products import FACTS


def facts(product: Value) -> dict[str, Any]:
    """What is kept of a product."""
    found = {name: getattr(product, name) for name in FACTS}
    return {**found, "role": str(product.role)}
