"""Template tags of our own: tokens that count a form once, and quantities in the shop's units."""

import uuid

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

register = template.Library()


@register.simple_tag
def act_token() -> SafeString:
    """A hidden token: a form carrying it counts once, however often it is tapped."""
    return format_html('<input type="hidden" name="act" value="{}">', uuid.uuid4().hex)


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
