"""What every page shares: the shop's facts, the job's header and stages, and toasts."""

from typing import Any, TypeVar

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db.models import Model, QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.text import slugify

from hidewright.workshop.shop.disk import little_room
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Act, Device, Job, Person

Row = TypeVar("Row", bound=Model)
_Else = TypeVar("_Else")

STAGES = (
    ("survey", "Survey"),
    ("colour", "Colour"),
    ("quantities", "Quantities"),
    ("mixing", "Mixing"),
    ("days", "Days"),
    ("snags", "Snags"),
    ("inspection", "Inspection"),
    ("papers", "Papers"),
)
SHOP_PAGES = (
    ("weeks", "Calendar"),
    ("pigments", "Pigments"),
    ("products", "Products"),
    ("tables", "Tables and hours"),
    ("routes", "Routes"),
    ("other_work", "What else a job takes"),
    ("drying", "Drying"),
    ("people", "People"),
    ("credentials", "Credentials"),
    ("cards", "How-to cards"),
    ("checklists", "Checklists"),
    ("shop_colours", "Colours"),
    ("jars", "Jars"),
    ("vessels", "Vessels"),
    ("devices", "Devices"),
    ("copies", "Copies"),
    ("theme", "Light or dark"),
    ("shop", "Settings"),
)
THEMES = ("device", "light", "dark")
"""Light or dark as the device itself has it, or as chosen on it."""
THEME_COOKIE = "hidewright-theme"
"""Where a device keeps its choice: its pages are light or dark from their first moment, before anybody is in, too."""


def shop_context(request: HttpRequest) -> dict[str, Any]:
    """Context for every template: the shop, its units, this device, its theme and the shop's pages."""
    device = device_of(request)
    if device is None:
        return {"theme": theme_of(request)}
    shop = the_shop()
    return {
        "theme": theme_of(request),
        "shop": shop,
        "units": shop.units,
        "device": device,
        "shop_pages": _links(SHOP_PAGES),
        "little_room": little_room(),
    }


def _links(pages: tuple[tuple[str, str], ...], **kwargs: Any) -> list[dict[str, str]]:
    found = []
    for key, label in pages:
        try:
            found.append({"key": key, "label": label, "url": reverse(key, kwargs=kwargs or None)})
        except NoReverseMatch:
            continue
    return found


AT_ONCE = 60
"""Rows of a list on one page."""


def paged(request: HttpRequest, rows: QuerySet[Row], at_once: int = AT_ONCE) -> Page[Row]:
    """The page of a long list that the address asks for (`?page=2`): the first where it asks for none, the last where it asks for one beyond."""
    return Paginator(rows, at_once).get_page(request.GET.get("page"))


def job_page(
    request: HttpRequest,
    job: Job,
    stage: str,
    template: str,
    context: dict[str, Any] | None = None,
    *,
    status: int = 200,
) -> HttpResponse:
    """A page of one stage of a job, under the job's header, which its template asks for."""
    of = (context or {}).get("of", number_of(request))
    stages = _links(STAGES, job_id=job.pk)
    words = the_shop().snag_words.capitalize()
    stages = [{**page, "label": words} if page["key"] == "snags" else page for page in stages]
    if of:
        stages = [
            {**page, "url": f"{page['url']}?of={of}"} if page["key"] in BY_COLOUR else page for page in stages
        ]
    frame = {
        "job": job,
        "stage": stage,
        "stages": stages,
        "of": of,
        "of_query": f"?of={of}" if of else "",
        "by_colour": _splits(request),
    }
    return render(request, template, {**frame, **(context or {})}, status=status)


BY_COLOUR = ("colour", "quantities", "mixing", "papers")
"""The stages that show one of the job's colours at a time."""


SPLIT = ("colour", "quantities", "mixing", "papers")
"""The pages on which one of several colours is chosen, by the names of their addresses."""


def _splits(request: HttpRequest) -> bool:
    match = request.resolver_match
    return match is not None and match.url_name in SPLIT and request.method == "GET"


def whole(text: str, otherwise: _Else) -> int | _Else:
    """The whole number, of nine digits at most, that an address or a hidden field names; `otherwise` where it names none."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else otherwise


def ticked(request: HttpRequest, name: str) -> list[int]:
    """The keys of the rows that are ticked under this name; what is no key is left out."""
    return [key for key in (whole(text, 0) for text in request.POST.getlist(name)) if key]


def number_of(request: HttpRequest) -> int:
    """Which of the job's colours a page or a form is about, by `of` in its address or form; 0, the first, without one."""
    return whole(request.POST.get("of") or request.GET.get("of") or "", 0)


def to_colour_page(request: HttpRequest, page: str, job: Job) -> HttpResponse:
    """Lead to a page of the job, for the colour that this request is about."""
    of = number_of(request)
    return HttpResponseRedirect(reverse(page, args=[job.pk]) + (f"?of={of}" if of else ""))


def theme_of(request: HttpRequest) -> str:
    """The theme chosen on this device, one of `THEMES`."""
    theme = request.COOKIES.get(THEME_COOKIE, "")
    return theme if theme in THEMES else THEMES[0]


def device_of(request: HttpRequest) -> Device | None:
    """The device this request comes from; none where nobody is signed in."""
    return getattr(request, "device", None)


def holder_of(request: HttpRequest) -> Person | None:
    """The person who holds this device, if somebody said so."""
    device = device_of(request)
    return device.person if device else None


def token_of(request: HttpRequest) -> str | None:
    """The token of the form that was sent, under which a pour is logged once."""
    return request.POST.get("act", "")[:64] or None


def toast(request: HttpRequest, text: str, act: Act | None = None) -> None:
    """Say on the next page what was done; with an act that can be undone, offer that."""
    undo = f"undo-{act.pk}" if act is not None and act.undo_name else ""
    messages.success(request, text, extra_tags=undo)


def back_to(request: HttpRequest) -> HttpResponse:
    """Go back to the page that the form names in `back`, if it is one of ours, else to the jobs."""
    back = request.POST.get("back", "")
    return HttpResponseRedirect(back if url_has_allowed_host_and_scheme(back, None) else reverse("jobs"))


def toast_last(request: HttpRequest, job: Job | None) -> None:
    """Say what the newest act of this job was, with its undo."""
    act = Act.objects.filter(job=job).first()
    if act is not None:
        toast(request, act.text, act)


def went(request: HttpRequest, job: Job | None, to: str, *args: Any, **kwargs: Any) -> HttpResponse:
    """Say what the newest act of the job (or of the shop) was, with its undo, and lead to a page."""
    toast_last(request, job)
    return redirect(to, *args, **kwargs)


def pdf_answer(pdf: bytes, name: str) -> HttpResponse:
    """A PDF that the browser shows, and saves under a readable name."""
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer.headers["Content-Disposition"] = f'inline; filename="{slugify(name) or "paper"}.pdf"'
    answer.headers["Cache-Control"] = "no-store"
    return answer
