"""Products as rows."""

from dataclasses import fields
from typing import Any

from hidewright.takeoff.products import Product as Value


def facts(product: Value) -> dict[str, Any]:
    """What is kept of a product: every field of it."""
    found = {field.name: getattr(product, field.name) for field in fields(product)}
    return {**found, "role": str(product.role)}
