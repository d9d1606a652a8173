"""The shop's how-to cards and checklists."""

from typing import Any

from django import forms
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.planning.problem.kinds import Kind
from hidewright.refusals import Refusal
from hidewright.workshop.cards import actions as steps
from hidewright.workshop.cards import queries as gather
from hidewright.workshop.cards.models import Card, CardPicture, Checklist, When
from hidewright.workshop.frame.acts import once, submitted, tried
from hidewright.workshop.frame.pages import device_of, holder_of, went
from hidewright.workshop.frame.pictures import keep_picture, picture_path

STEPS = [("", "every step"), *((str(kind), str(kind)) for kind in Kind)]


class CardForm(forms.Form):
    """A card."""

    title = forms.CharField(label="Title", max_length=80)
    step = forms.ChoiceField(label="For which step?", choices=STEPS, required=False)
    words = forms.CharField(
        label="For which pieces?",
        max_length=120,
        required=False,
        help_text="Words of their name or group, with commas: seat, settee. Empty: every piece.",
    )
    cover = forms.CharField(
        label="What to cover", max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    tape = forms.CharField(label="Which tape", max_length=200, required=False)
    grit = forms.CharField(label="Which grit", max_length=200, required=False)
    cloth = forms.CharField(label="How damp the cloth", max_length=200, required=False)
    notes = forms.CharField(label="Notes", required=False, widget=forms.Textarea(attrs={"rows": 3}))
    version = forms.IntegerField(widget=forms.HiddenInput, initial=0)


class PictureForm(forms.Form):
    """A picture for a card."""

    picture = forms.FileField(label="Picture", widget=forms.FileInput(attrs={"accept": "image/*"}))
    caption = forms.CharField(label="What it shows", max_length=120, required=False)


class ListForm(forms.Form):
    """A checklist."""

    title = forms.CharField(label="Title", max_length=80)
    when = forms.ChoiceField(label="When", choices=When.choices)
    lines = forms.CharField(label="Lines, one under the other", widget=forms.Textarea(attrs={"rows": 6}))
    version = forms.IntegerField(widget=forms.HiddenInput, initial=0)


class RoundForm(forms.Form):
    """Going through a list."""

    good = forms.TypedMultipleChoiceField(label="In order", coerce=int, required=False)
    note = forms.CharField(label="Note", max_length=240, required=False)

    def __init__(self, *args: Any, items: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["good"].choices = list(enumerate(items))  # type: ignore[attr-defined]


WHERE = {"Title": "title", "Step": "step", "Notes": "notes", "When": "when", "Lines": "lines", "Note": "note"}


def _cards_page(request: HttpRequest, form: CardForm | None = None, status: int = 200) -> HttpResponse:
    shown = {"cards": gather.cards(), "form": form or CardForm(prefix="card")}
    return render(request, "cards/list.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def cards(request: HttpRequest) -> HttpResponse:
    """The shop's cards; posting writes a new one."""
    if request.method == "GET":
        return _cards_page(request)
    form = CardForm(request.POST, prefix="card")
    return submitted(
        form,
        lambda cleaned: steps.add_card(**_facts(cleaned)),
        lambda _: went(request, None, "cards"),
        lambda: _cards_page(request, form, 422),
        WHERE,
    )


def _facts(cleaned: dict[str, Any]) -> dict[str, str]:
    return {name: cleaned[name] for name in steps.FIELDS}


@require_POST
@once
def starting_cards(request: HttpRequest) -> HttpResponse:
    """Take in the starting cards and lists."""

    def refused(refusal: Refusal) -> HttpResponse:
        form = CardForm(prefix="card")
        form.cleaned_data = {}
        return render(
            request,
            "cards/list.html",
            {"cards": gather.cards(), "form": form, "wrong": str(refusal)},
            status=422,
        )

    return tried(steps.begin_with_starting_cards, lambda _: went(request, None, "cards"), refused)


def _card_page(
    request: HttpRequest,
    row: Card,
    form: CardForm | None = None,
    picture: PictureForm | None = None,
    status: int = 200,
) -> HttpResponse:
    facts = {name: getattr(row, name) for name in (*steps.FIELDS, "version")}
    shown = {
        "card": row,
        "pictures": row.pictures.filter(removed=None),
        "form": form or CardForm(prefix="card", initial=facts),
        "picture_form": picture or PictureForm(prefix="picture"),
    }
    return render(request, "cards/card.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def card(request: HttpRequest, card_id: int) -> HttpResponse:
    """One card: read and change it."""
    row = get_object_or_404(Card, pk=card_id, removed=None)
    if request.method == "GET":
        return _card_page(request, row)
    form = CardForm(request.POST, prefix="card")
    return submitted(
        form,
        lambda cleaned: steps.edit_card(row, cleaned["version"], **_facts(cleaned)),
        lambda _: went(request, None, "cards"),
        lambda: _card_page(request, row, form=form, status=422),
        WHERE,
    )


@require_POST
@once
def remove_card(request: HttpRequest, card_id: int) -> HttpResponse:
    """Take a card away."""
    steps.remove_card(get_object_or_404(Card, pk=card_id, removed=None))
    return went(request, None, "cards")


@require_POST
@once
def add_card_picture(request: HttpRequest, card_id: int) -> HttpResponse:
    """Put a picture on a card."""
    row = get_object_or_404(Card, pk=card_id, removed=None)
    form = PictureForm(request.POST, request.FILES, prefix="picture")
    brought = request.FILES.get("picture-picture")
    return submitted(
        form,
        lambda cleaned: steps.add_picture(row, keep_picture(cleaned["picture"]), cleaned["caption"]),
        lambda _: went(request, None, "card", row.pk),
        lambda: _card_page(request, row, picture=form, status=422),
        {str(brought.name) if brought else "": "picture"},
    )


@require_http_methods(["GET"])
def card_picture(request: HttpRequest, picture_id: int) -> HttpResponseBase:
    """A picture of a card."""
    row = get_object_or_404(CardPicture, pk=picture_id, removed=None)
    try:
        where = picture_path(row.picture)
    except Refusal as refusal:
        raise Http404(refusal.what) from None
    answer = FileResponse(where.open("rb"), content_type="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=86400"
    return answer


def _lists_page(
    request: HttpRequest,
    form: ListForm | None = None,
    sent: tuple[int, forms.Form] | None = None,
    status: int = 200,
) -> HttpResponse:
    kept = dict([sent]) if sent else {}
    shown = {
        "lists": [(one, kept.get(one.row.pk)) for one in gather.checklists()],
        "form": form or ListForm(prefix="list"),
    }
    return render(request, "cards/checklists.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def checklists(request: HttpRequest) -> HttpResponse:
    """The shop's lists; posting writes a new one."""
    if request.method == "GET":
        return _lists_page(request)
    form = ListForm(request.POST, prefix="list")
    return submitted(
        form,
        lambda cleaned: steps.write_list(cleaned["title"], cleaned["when"], cleaned["lines"]),
        lambda _: went(request, None, "checklists"),
        lambda: _lists_page(request, form, status=422),
        WHERE,
    )


@require_POST
@once
def checklist_round(request: HttpRequest, list_id: int) -> HttpResponse:
    """Go through a list."""
    row = get_object_or_404(Checklist, pk=list_id, removed=None)
    form = RoundForm(request.POST, items=row.items)
    return submitted(
        form,
        lambda cleaned: steps.go_through(
            row, cleaned["good"], note=cleaned["note"], person=holder_of(request), device=device_of(request)
        ),
        lambda _: went(request, None, "checklists"),
        lambda: _lists_page(request, sent=(row.pk, form), status=422),
        WHERE,
    )


def _list_page(
    request: HttpRequest, row: Checklist, form: ListForm | None = None, status: int = 200
) -> HttpResponse:
    facts = {"title": row.title, "when": row.when, "lines": "\n".join(row.items), "version": row.version}
    shown = {
        "list": row,
        "rounds": gather.rounds(row),
        "form": form or ListForm(prefix="list", initial=facts),
    }
    return render(request, "cards/checklist.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def checklist(request: HttpRequest, list_id: int) -> HttpResponse:
    """One list: who went through it when; change it."""
    row = get_object_or_404(Checklist, pk=list_id, removed=None)
    if request.method == "GET":
        return _list_page(request, row)
    form = ListForm(request.POST, prefix="list")
    return submitted(
        form,
        lambda cleaned: steps.write_list(
            cleaned["title"], cleaned["when"], cleaned["lines"], row, cleaned["version"]
        ),
        lambda _: went(request, None, "checklists"),
        lambda: _list_page(request, row, form, 422),
        WHERE,
    )


@require_POST
@once
def remove_checklist(request: HttpRequest, list_id: int) -> HttpResponse:
    """Take a list away."""
    steps.remove_list(get_object_or_404(Checklist, pk=list_id, removed=None))
    return went(request, None, "checklists")


urlpatterns = [
    path("cards/", cards, name="cards"),
    path("cards/starting/", starting_cards, name="starting_cards"),
    path("cards/<int:card_id>/", card, name="card"),
    path("cards/<int:card_id>/remove/", remove_card, name="remove_card"),
    path("cards/<int:card_id>/pictures/", add_card_picture, name="add_card_picture"),
    path("cards/pictures/<int:picture_id>/", card_picture, name="card_picture"),
    path("checklists/", checklists, name="checklists"),
    path("checklists/<int:list_id>/", checklist, name="checklist"),
    path("checklists/<int:list_id>/round/", checklist_round, name="checklist_round"),
    path("checklists/<int:list_id>/remove/", remove_checklist, name="remove_checklist"),
]
