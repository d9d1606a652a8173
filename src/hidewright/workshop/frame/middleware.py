"""Middleware: the door, the page policy, and refusals shown as pages."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.crypto import salted_hmac

from hidewright.refusals import Refusal, Refusals
from hidewright.workshop.frame.roles import devices_in, may, role_of
from hidewright.workshop.shop.models import Device
from hidewright.workshop.shop.page_cache import remembering

Handler = Callable[[HttpRequest], HttpResponse]

OPEN_PREFIXES = ("/static/", "/door/")
POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; style-src 'self'; script-src 'self'; object-src 'none'; "
    "base-uri 'none'; frame-ancestors 'none'; form-action 'self'"
)


def page_policy(get_response: Handler) -> Handler:
    """Send a strict content policy with every page: nothing from elsewhere, no inline script or style."""

    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Content-Security-Policy", POLICY)
        response.headers.setdefault("Referrer-Policy", "same-origin")
        return response

    return middleware


def answer_head(get_response: Handler) -> Handler:
    """Answer HEAD as GET, without the body: no view needs to know of it."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if request.method != "HEAD":
            return get_response(request)
        request.method = "GET"
        response = get_response(request)
        request.method = "HEAD"
        if response.streaming:
            response.close()
            return HttpResponse(status=response.status_code, headers=dict(response.headers))
        response.headers.setdefault("Content-Length", str(len(response.content)))
        response.content = b""
        return response

    return middleware


def holder(device: Device) -> str:
    """A word for this device in this person's hands, which changes when they do and says nothing about either."""
    words = f"{device.pk} {device.person_id} {device.signed_in}"
    return salted_hmac("hidewright.kept-for", words).hexdigest()[:16]


def kept_for(response: HttpResponse, who: str) -> HttpResponse:
    """Say for whom the device's worker may keep the page; the worker drops what it kept for another."""
    response.headers["Hidewright-Kept-For"] = who
    return response


def door(get_response: Handler) -> Handler:
    """Refuse every request from a device that did not come in through a one-time link."""

    def middleware(request: HttpRequest) -> HttpResponse:
        request.device = None  # type: ignore[attr-defined]
        if request.path.startswith(OPEN_PREFIXES):
            return get_response(request)
        key = request.session.get("device")
        device = devices_in().filter(pk=key).first() if key else None
        if device is None:
            return kept_for(render(request, "door/shut.html", status=403), "nobody")
        request.device = device  # type: ignore[attr-defined]
        role = role_of(device)
        if not may(role, request.path, str(request.method)):
            return render(request, "door/not_yours.html", {"role": role}, status=403)
        return kept_for(get_response(request), holder(device))

    return middleware


def remember(get_response: Handler) -> Handler:
    """Let a page that only reads gather each thing once."""

    def middleware(request: HttpRequest) -> HttpResponse:
        if request.method not in ("GET", "HEAD"):
            return get_response(request)
        with remembering():
            return get_response(request)

    return middleware


class RefusalPages:
    """Turn a `Refusal` that a page let through into a page (or fragment) that says what to do."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on unchanged."""
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: object, args: object, kwargs: object
    ) -> HttpResponse | None:
        """Refuse what nobody can type and no database keeps, before any page sees it."""
        sent = [request.GET] if request.method in ("GET", "HEAD") else [request.GET, request.POST]
        if not any("\0" in text for told in sent for _, texts in told.lists() for text in texts):
            return None
        refusal = Refusal(
            "What was sent holds a mark that is no text.", remedy="Type it again, or copy it as plain text."
        )
        if "application/json" in request.headers.get("Accept", ""):
            return JsonResponse({"error": str(refusal)}, status=422)
        return self.process_exception(request, refusal)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Answer 422 with the refusal in words; any other exception goes on."""
        if not isinstance(exception, Refusal):
            return None
        items = exception.items if isinstance(exception, Refusals) else (exception,)
        template = "parts/refusal.html" if getattr(request, "htmx", False) else "refused.html"
        return render(request, template, {"refusal": exception, "items": items}, status=422)
