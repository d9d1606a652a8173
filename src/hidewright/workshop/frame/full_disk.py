"""A full disk: the shop can still be read, nothing is half written, and the page says what to do."""

import sys
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.defaults import server_error

from hidewright.workshop.shop.disk import NO_ROOM, free_space, is_full

Handler = Callable[[HttpRequest], HttpResponse]

WORDS = "The disk of the shop's computer is full, so nothing was written. What was saved before is there and can be read."
REMEDY = "Make room on that disk, then send this once more."


def read_only_without_room(get_response: Handler) -> Handler:
    """Refuse to write where next to no room is left, before anything is begun; pages are still shown."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if request.method not in ("GET", "HEAD", "OPTIONS") and free_space() < NO_ROOM:
            return no_room(request)
        return get_response(request)

    return middleware


def broke(request: HttpRequest) -> HttpResponse:
    """The answer to a fault that no page took: a full disk is said in words, all else is ours."""
    error = sys.exc_info()[1]
    while error is not None:
        if is_full(error):
            return no_room(request)
        error = error.__cause__ or error.__context__
    return server_error(request)


def no_room(request: HttpRequest) -> HttpResponse:
    """507, as a page or for a tap."""
    if "application/json" in request.headers.get("Accept", ""):
        return JsonResponse({"error": f"{WORDS} {REMEDY}"}, status=507)
    return render(request, "no_room.html", {"words": WORDS, "remedy": REMEDY}, status=507)
