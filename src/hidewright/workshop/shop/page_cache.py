"""Rows that a page asks for again and again, read once: for as long as one page is being made, and no longer."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from inspect import signature
from typing import Any, ParamSpec, TypeVar

Given = ParamSpec("Given")
Found = TypeVar("Found")

_found: ContextVar[dict[Any, Any] | None] = ContextVar("found", default=None)


@contextmanager
def remembering() -> Iterator[None]:
    """Remember what is gathered until the end of this block. For pages that only read: what is written meanwhile is not seen."""
    token = _found.set({})
    try:
        yield
    finally:
        _found.reset(token)


def remembered(gather: Callable[Given, Found]) -> Callable[Given, Found]:
    """Gather once for the same arguments (those left to their defaults counted in) while remembering; elsewhere every time. What is given back must not be changed."""

    takes = signature(gather)

    @wraps(gather)
    def wrapped(*args: Given.args, **kwargs: Given.kwargs) -> Found:
        found = _found.get()
        if found is None:
            return gather(*args, **kwargs)
        given = takes.bind(*args, **kwargs)
        given.apply_defaults()
        key = (gather, tuple(given.arguments.items()))
        if key not in found:
            found[key] = gather(*args, **kwargs)
        return found[key]

    return wrapped
