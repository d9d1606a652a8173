"""One drawdown entered by hand: in grams and a wet film, with what it becomes beside it."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.http import require_GET, require_http_methods

from hidewright.colour.pigments.shop_films import turned
from hidewright.refusals import Refusal
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import went
from hidewright.workshop.pigments import drawdown_actions as steps
from hidewright.workshop.pigments import drawdown_queries as gather
from hidewright.workshop.pigments.drawdown_forms import PLACES, DrawdownForm, FilmForm
from hidewright.workshop.pigments.find_actions import start_characterising
from hidewright.workshop.pigments.values import things
from hidewright.workshop.shop.door import the_shop


def _given() -> dict[str, Any]:
    return {"things": gather.things_offered(), "units": the_shop().units}


def _becomes(form: FilmForm) -> dict[str, object]:
    """What is in the form becomes, or what is still in the way of that."""
    form.is_valid()
    if not hasattr(form, "entry"):
        return {"wrong": [error for errors in form.errors.values() for error in errors][:2]}
    try:
        return {"made": turned(form.entry, things())}
    except Refusal as refusal:
        return {"wrong": [refusal]}


def _page(request: HttpRequest, form: DrawdownForm, status: int = 200) -> HttpResponse:
    shown = {"form": form, "carded": bool(gather.last_card()), **(_becomes(form) if form.is_bound else {})}
    return render(request, "pigments/drawdown.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def new_drawdown(request: HttpRequest) -> HttpResponse:
    """Enter one drawdown."""
    if request.method == "GET":
        return _page(request, DrawdownForm(initial=gather.begun(request.GET.get("of", "")), **_given()))
    form = DrawdownForm(request.POST, request.FILES, **_given())

    def enter(cleaned: dict[str, Any]) -> None:
        steps.enter_drawdown(cleaned["name"], form.entry, cleaned["readings"])
        start_characterising()

    return submitted(
        form,
        enter,
        lambda _: went(request, None, "pigments"),
        lambda: _page(request, form, 422),
        PLACES,
    )


@require_GET
def drawdown_becomes(request: HttpRequest) -> HttpResponse:
    """What the figures of the form become, as a piece of its page."""
    return render(request, "pigments/_becomes.html", _becomes(FilmForm(request.GET, **_given())))


urlpatterns = [
    path("pigments/drawdowns/new/", new_drawdown, name="new_drawdown"),
    path("pigments/drawdowns/becomes/", drawdown_becomes, name="drawdown_becomes"),
]
