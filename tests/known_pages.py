"""Every address of the app, read from its URL conf, with how it may be asked for."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver

FRAGMENTS = frozenset(
    {
        "run_panel",
        "snag_picture",
        "card_picture",
        "credential_file",
        "picture",
        "picture_state",
        "offline",
        "drawdown_becomes",
    }
)
"""Addresses that answer with a piece of a page: what htmx asks for, the user's own pictures, and the worker's script."""


@dataclass(frozen=True)
class KnownPage:
    """One address: its name, its route with `N`, `DAY` and the like for what varies, and the methods it answers."""

    name: str
    route: str
    methods: frozenset[str]

    @property
    def is_paper(self) -> bool:
        """Whether it answers with a file instead of a page."""
        return bool(re.search(r"\.\w+$", self.route))

    @property
    def is_shown(self) -> bool:
        """Whether a person can open it as a page or a file of its own."""
        return "GET" in self.methods and self.name not in FRAGMENTS


def methods_of(view: Callable[..., Any]) -> frozenset[str]:
    """The methods that Django's `require_http_methods` lets through to a view; GET and POST where it says nothing."""
    seen: Any = view
    while seen is not None:
        cells = dict(zip(seen.__code__.co_freevars, seen.__closure__ or (), strict=True))
        if "request_method_list" in cells:
            return frozenset(cells["request_method_list"].cell_contents)
        seen = getattr(seen, "__wrapped__", None)
    return frozenset({"GET", "POST"})


def route_in_words(route: str) -> str:
    """`jobs/<int:job_id>/days/<str:day>/` as `/jobs/N/days/DAY/`."""
    return "/" + re.sub(r"<(?:(\w+):)?(\w+)>", lambda m: "N" if m[1] == "int" else m[2].upper(), route)


def known_pages() -> list[KnownPage]:
    """All addresses, in the order of the URL conf; Django must have been set up."""
    return list(_pages(get_resolver().url_patterns, ""))


def _pages(patterns: list[URLPattern | URLResolver], before: str) -> Any:
    for pattern in patterns:
        route = before + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from _pages(pattern.url_patterns, route)
        else:
            yield KnownPage(str(pattern.name), route_in_words(route), methods_of(pattern.callback))
