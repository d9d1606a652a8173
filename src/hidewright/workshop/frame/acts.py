"""The one path of every act: the form's token, the step and the answer are one transaction.

A view of an act is written so:

    @require_POST
    @once
    def add_rack(request: HttpRequest) -> HttpResponse:
        form = StorageForm(request.POST, prefix="rack")
        return submitted(
            form,
            lambda cleaned: steps.add_storage(**cleaned),
            lambda _: went(request, None, "tables"),
            lambda: _page(request, status=422, rack=form),
        )

`once` opens the transaction and claims the token; `submitted` reads the form and calls the one action. What the action wrote, the token
and where the answer leads come to be together or not at all: after a kill nothing is done, and the form can be sent again at once.
A second send gets the answer of the first. Of two at the same time one does it; the other waits for it (SQLite holds it back at the
start of its transaction, PostgreSQL at the token's row) and then gets the same answer.
A refusal rolls everything back, leaves the token free, and is shown outside the transaction, on a page that gathers each thing once:
a view of another shape ends with `raise NotDone(_page, request, status=422, rack=form)` and does not make the page itself.
"""

from collections.abc import Callable, Mapping
from functools import partial, wraps
from typing import Any, ParamSpec, TypeVar

from django import forms
from django.db import IntegrityError, transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.utils.http import url_has_allowed_host_and_scheme

from hidewright.refusals import Refusal
from hidewright.workshop.frame.forms import refuse
from hidewright.workshop.shop.models import Token
from hidewright.workshop.shop.page_cache import remembering

View = Callable[..., HttpResponse]
Page = Callable[[], HttpResponse]
_Made = TypeVar("_Made")
_Takes = ParamSpec("_Takes")


class NotDone(Exception):
    """Ends an act without a trace; `page` with what it takes shows why, and is made when everything was rolled back."""

    def __init__(
        self, page: Callable[_Takes, HttpResponse], *args: _Takes.args, **kwargs: _Takes.kwargs
    ) -> None:
        super().__init__("nothing was done")
        self.page: Page = partial(page, *args, **kwargs)


def once(view: View) -> View:
    """Carry out what is posted in one transaction, and count a form once: its hidden token (`{% act_token %}`) belongs to that transaction.

    What the view answers with 200 to a whole page, or with 400 and above, is a refusal: nothing is kept, and the token stays free.
    """

    @wraps(view)
    def wrapped(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        key = request.POST.get("act", "")[:64]
        try:
            with transaction.atomic():
                if key and not _claim(key):
                    return _answer_again(request, key)
                response = view(request, *args, **kwargs)
                if _refuses(request, response):
                    raise NotDone(lambda: response)
                if key:
                    _keep_answer(key, response)
                _keep_session(request)
                return response
        except NotDone as refused:
            with remembering():
                return refused.page()

    return wrapped


def submitted(
    form: forms.Form,
    step: Callable[[dict[str, Any]], _Made],
    done: Callable[[_Made], HttpResponse],
    refused: Page,
    fields: Mapping[str, str] | None = None,
) -> HttpResponse:
    """Do the step with what the form says and answer with `done`; else the page `refused`, its form holding what is wrong.

    `fields`: where a refusal of the step belongs, as `where` → name of the form's field. Only inside `once`.
    """
    if not form.is_valid():
        raise NotDone(refused)
    try:
        made = step(form.cleaned_data)
    except Refusal as refusal:
        refuse(form, refusal, fields)
        raise NotDone(refused) from refusal
    return done(made)


def tried(
    step: Callable[[], _Made],
    done: Callable[[_Made], HttpResponse],
    refused: Callable[[Refusal], HttpResponse],
) -> HttpResponse:
    """Do a step that needs no form and answer with `done`; else the page `refused` of the refusal. Only inside `once`."""
    try:
        made = step()
    except Refusal as refusal:
        wrong = refusal
        raise NotDone(lambda: refused(wrong)) from refusal
    return done(made)


def _claim(key: str) -> bool:
    """Whether the token was free; waits for another that is at work with it."""
    try:
        with transaction.atomic():
            Token.objects.create(key=key)
    except IntegrityError:
        return False
    return True


def _refuses(request: HttpRequest, response: HttpResponse) -> bool:
    whole_page = response.status_code == 200 and not getattr(request, "htmx", False)
    return whole_page or response.status_code >= 400


def _keep_answer(key: str, response: HttpResponse) -> None:
    Token.objects.filter(pk=key).update(
        answer_status=response.status_code, answer_location=response.headers.get("Location", "")
    )


def _keep_session(request: HttpRequest) -> None:
    """What the act put into the session (the device at the door, a new link) is part of it."""
    if request.session.modified and not request.session.is_empty():
        request.session.save()


def _answer_again(request: HttpRequest, key: str) -> HttpResponse:
    location = Token.objects.values_list("answer_location", flat=True).get(pk=key)
    if location:
        return HttpResponseRedirect(location)
    if getattr(request, "htmx", False):
        response = HttpResponse(status=204)
        response.headers["HX-Refresh"] = "true"
        return response
    came_from = request.META.get("HTTP_REFERER", "")
    if url_has_allowed_host_and_scheme(came_from, request.get_host()):
        return HttpResponseRedirect(came_from)
    return HttpResponseRedirect(request.path)
