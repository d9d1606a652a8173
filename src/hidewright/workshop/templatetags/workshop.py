"""Template tags of our own: tokens that count a form once, and quantities in the shop's units."""

import uuid

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from hidewright import units
from hidewright.workshop.days.lists import Group

register = template.Library()


@register.simple_tag(takes_context=True)
def act_token(context: template.Context) -> SafeString:
    """A hidden token: a form carrying it counts once, however often it is tapped. With it goes which of the job's colours the page is about."""
    token = format_html('<input type="hidden" name="act" value="{}">', uuid.uuid4().hex)
    of = context.get("of")
    return token + format_html('<input type="hidden" name="of" value="{}">', of) if of else token


@register.filter
def undo_id(tags: str) -> str:
    """The id of the act that a toast offers to undo, from the message's tags; empty if none."""
    found = [tag.removeprefix("undo-") for tag in (tags or "").split() if tag.startswith("undo-")]
    return found[0] if found else ""


@register.filter
def qr(text: str) -> SafeString:
    """A QR code of `text` as inline SVG."""
    import segno

    return mark_safe(segno.make(text, error="m").svg_inline(scale=5, border=3))  # noqa: S308


@register.filter
def device_guess(agent: str) -> str:
    """A first name for a device from its browser's own words."""
    words = agent or ""
    for mark, name in (
        ("iPad", "Tablet"),
        ("iPhone", "Phone"),
        ("Android", "Phone or tablet"),
        ("Mobile", "Phone"),
    ):
        if mark in words:
            return name
    return "Computer"


@register.filter
def minutes(value: float | None) -> str:
    """Minutes as hours and minutes."""
    return "" if value is None else units.show_minutes(float(value))


@register.filter
def volume(millilitres: float | None, shown_in: str = "metric") -> str:
    """A volume (mL) in the shop's units."""
    return "" if millilitres is None else units.show_volume(float(millilitres), shown_in)


@register.filter
def spread(millilitres_a_square_metre: float | None, shown_in: str = "metric") -> str:
    """How much goes on an area (mL/m²) in the shop's units."""
    if millilitres_a_square_metre is None:
        return ""
    if shown_in == "us":
        return f"{millilitres_a_square_metre * units.FOOT**2 / units.US_FL_OZ_ML:.3g} fl oz a sq ft"
    return f"{millilitres_a_square_metre:.1f} mL a m²"


@register.filter
def place(group: Group, shown_in: str = "metric") -> str:
    """Where a group of acts happens, in the shop's units."""
    return group.place_in("ft" if shown_in == "us" else "m")


@register.filter
def metres(value: float | None, shown_in: str = "metric") -> str:
    """A length (m) in the shop's units."""
    return "" if value is None else units.show_length(float(value), shown_in)


@register.filter
def area(square_metres: float | None, shown_in: str = "metric") -> str:
    """An area (m²) in the shop's units."""
    return "" if square_metres is None else units.show_area(float(square_metres), shown_in)


@register.filter
def mass(grams: float | None, shown_in: str = "metric") -> str:
    """A mass (g) in the shop's units."""
    return "" if grams is None else units.show_mass(float(grams), shown_in)
