"""Template tags of our own: tokens that count a form once, and quantities in the shop's units."""

import uuid
from collections.abc import Iterable
from decimal import Decimal

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from hidewright import units
from hidewright.charts.from_planning import act_words
from hidewright.money import show_money
from hidewright.workshop.days.lists import Group
from hidewright.workshop.pieces import queries as names
from hidewright.workshop.shop.models import Job

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
def named(mark: object, job: Job) -> str:
    """A piece's mark with its name: no list shows the one without the other."""
    return names.named(job, str(mark or ""))


@register.filter
def named_step(key: str, job: Job) -> str:
    """What a step of a plan is, by its key: “C1 Seat: spray colour”."""
    mark, _, rest = key.partition("/")
    return names.named(job, mark) + (f": {act_words(key)}" if rest else "")


@register.filter
def all_named(marks: Iterable[str], job: Job) -> str:
    """Marks with their names, in a row."""
    return ", ".join(names.named(job, mark) for mark in marks)


@register.filter
def money(amount: Decimal | float | str | None, sign: str = "") -> str:
    """Money with the shop's sign, as everywhere."""
    return "" if amount is None or amount == "" else show_money(amount, sign)


@register.filter
def rough_money(amount: Decimal | float | None, sign: str = "") -> str:
    """Money that is only roughly known: no cents."""
    return "" if amount is None else show_money(amount, sign, whole=True)


@register.filter
def minutes(value: float | None) -> str:
    """Minutes as hours and minutes."""
    return "" if value is None else units.show_minutes(float(value))


@register.filter
def volume(millilitres: float | None, shown_in: str = "metric") -> str:
    """A volume (mL) in the shop's units."""
    return "" if millilitres is None else units.show_volume(float(millilitres), shown_in)


@register.filter
def film(micrometres: float | None, shown_in: str = "metric") -> str:
    """How thick a film is (µm) in the shop's units."""
    return "" if micrometres is None else units.show_film(float(micrometres), shown_in)


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
