"""What a page does with a sent form: the act, or the refusal beside the field it is about."""

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from django import forms

from hidewright.refusals import Refusal, Refusals

_Made = TypeVar("_Made")


def made(
    form: forms.Form, act: Callable[[dict[str, Any]], _Made], fields: Mapping[str, str] | None = None
) -> _Made | None:
    """What the act made of what the form tells; None where the form is not in order or the act refuses, which then is the form's error."""
    if not form.is_valid():
        return None
    try:
        return act(form.cleaned_data)
    except Refusal as refusal:
        refuse(form, refusal, fields)
        return None


def acted(
    form: forms.Form, act: Callable[[dict[str, Any]], object], fields: Mapping[str, str] | None = None
) -> bool:
    """Whether the form is in order and the act was done with what it tells; what the act refuses becomes the form's error."""
    return made(form, lambda told: (act(told),), fields) is not None


def refuse(form: forms.Form, refusal: Refusal, fields: Mapping[str, str] | None = None) -> None:
    """Put a refusal beside the field it is about, or above the form; one line for each thing to put right."""
    items = refusal.items if isinstance(refusal, Refusals) else (refusal,)
    if isinstance(refusal, Refusals):
        form.add_error(None, refusal.what)
    for item in items:
        field = (fields or {}).get(item.where)
        if field:
            form.add_error(field, f"{item.what} {item.remedy}".strip())
        else:
            form.add_error(None, str(item))
