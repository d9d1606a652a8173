"""Amounts as a person is told of them in toasts, in the book and in refusals: in the shop's units. The ledger itself stays in mL."""

import re

from hidewright.refusals import Refusal
from hidewright.units import Units, show_volume
from hidewright.workshop.shop.models import Shop

_VOLUME = re.compile(r"(\d[\d,]*(?:\.\d+)?) mL\b")


def shop_units() -> str:
    """The units that the shop is told in; metric before there is a shop."""
    shop = Shop.objects.filter(pk=1).first()
    return shop.units if shop else Units.METRIC.value


def shown_volume(millilitres: float) -> str:
    """A volume in the shop's units, to three figures as pages show it."""
    return show_volume(millilitres, shop_units())


def said_volume(millilitres: float) -> str:
    """A volume in the shop's units as a log tells it: under metric units in mL to the hundredth, as it is poured."""
    units = shop_units()
    if units != Units.METRIC.value:
        return show_volume(millilitres, units)
    return f"{millilitres:.2f}".rstrip("0").rstrip(".") + " mL"


def in_shop_units(refusal: Refusal) -> Refusal:
    """A refusal of the ledger, which counts in mL, with its volumes in the shop's units."""
    units = shop_units()
    if units == Units.METRIC.value:
        return refusal

    def told(text: str) -> str:
        return _VOLUME.sub(lambda found: show_volume(float(found[1].replace(",", "")), units), text)

    return Refusal(told(refusal.what), where=refusal.where, remedy=told(refusal.remedy))
