"""Template tags of the job file: signatures as pictures, what a variant takes in words."""

from collections.abc import Mapping
from typing import Any

from django import template
from django.utils.safestring import SafeString, mark_safe

from hidewright.charts.signature import signature_of
from hidewright.workshop.approvals.paper_queries import facts

register = template.Library()


@register.filter
def signature(strokes: object) -> SafeString:
    """A kept signature as SVG."""
    return mark_safe(signature_of(strokes).svg())  # noqa: S308 - our own SVG out of whole numbers


@register.filter
def takes_words(takes: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """What a variant takes: label and words."""
    return facts(takes)
