"""How far a colour is off, in words, with the figure one tap away: a tap, a key or the mouse on the words shows it (colour.css, app.css)."""

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from hidewright.colour.light import far as steps

register = template.Library()


@register.filter
def far(delta_e: float | None) -> SafeString | str:
    """A ΔE00 as what it is to an eye."""
    return "" if delta_e is None else _shown(steps.how_far(delta_e), delta_e)


@register.filter
def off_by(delta_e: float | None) -> SafeString | str:
    """A ΔE00 as an amount, for “off by …”."""
    return "" if delta_e is None else _shown(steps.off_by(delta_e), delta_e)


@register.filter
def off_words(delta_e: float | None) -> str:
    """The amount in words alone, for a line that is a button itself."""
    return "" if delta_e is None else steps.off_by(delta_e)


@register.filter
def flip(delta_e_ab: float | None) -> SafeString | str:
    """How far a pair that was made alike in daylight is apart under the lamp: CIE 15's special metamerism index (ΔE*ab), in the words of ΔE00."""
    if delta_e_ab is None:
        return ""
    figure = f"special metamerism index (CIE 15), ΔE*ab {delta_e_ab:.2f}"
    return format_html(
        '<span class="far" tabindex="0" title="{}">{}</span>', figure, steps.off_by(delta_e_ab)
    )


def _shown(words: str, delta_e: float) -> SafeString:
    return format_html('<span class="far" tabindex="0" title="ΔE00 {}">{}</span>', f"{delta_e:.2f}", words)
