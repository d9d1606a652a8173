"""Words of a form that name an amount: in the shop's units, read when the form is shown."""

from django.utils.functional import lazy

from hidewright.workshop.shop.door import the_shop


def _words(metric: str, us: str) -> str:
    return us if the_shop().units == "us" else metric


by_units = lazy(_words, str)
"""The first text in a metric shop, the second in one with US units: for labels and hints that are written once, when the form's class is made."""
