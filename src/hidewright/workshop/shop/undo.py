"""Acts and their undoing.

A step that can be undone calls `record(job, "Removed 3 pieces", undo="survey.restore", undo_with={...})` inside its
transaction; the function that undoes it is registered with `@undoes("survey.restore")` and takes that dictionary.
"""

from collections.abc import Callable
from typing import Any

from django.db import transaction
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.shop.models import Act, Device, Job

Undoer = Callable[[dict[str, Any]], None]
_UNDOERS: dict[str, Undoer] = {}


def undoes(name: str) -> Callable[[Undoer], Undoer]:
    """Register the function that undoes acts recorded under `name`."""

    def register(function: Undoer) -> Undoer:
        _UNDOERS[name] = function
        return function

    return register


def undoers() -> frozenset[str]:
    """The names under which acts can be undone."""
    return frozenset(_UNDOERS)


def undo_recorded(name: str, data: dict[str, Any]) -> None:
    """Do what is registered under `name`: for an act that stands within another."""
    _UNDOERS[name](data)


def record(
    job: Job | None,
    text: str,
    *,
    undo: str = "",
    undo_with: dict[str, Any] | None = None,
    device: Device | None = None,
) -> Act:
    """Write down what was done; with `undo`, the page offers to undo it."""
    if undo and undo not in _UNDOERS:
        raise KeyError(f"no function is registered to undo {undo}")
    return Act.objects.create(
        job=job, text=text[:240], undo_name=undo, undo_with=undo_with or {}, device=device
    )


def undo(act_id: int) -> Act:
    """Undo one act, once; refuses when it cannot be or was undone already."""
    with transaction.atomic():
        claimed = (
            Act.objects.filter(pk=act_id, undone=None).exclude(undo_name="").update(undone=timezone.now())
        )
        if claimed != 1:
            raise Refusal(
                "This was undone already, or cannot be undone.",
                remedy="Reload the page to see how things are now.",
            )
        act = Act.objects.get(pk=act_id)
        _UNDOERS[act.undo_name](act.undo_with)
        return act
