"""Fields that the colour pages' forms share."""

from typing import Any

from django import forms

DECIMAL = {"inputmode": "decimal", "step": "any"}


def number(label: str, **more: Any) -> forms.FloatField:
    """A field for a decimal number."""
    return forms.FloatField(label=label, widget=forms.NumberInput(attrs=dict(DECIMAL)), **more)
