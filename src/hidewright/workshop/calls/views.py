"""First calls: count, hear a ballpark, and make a job of it in one tap."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from hidewright.survey.typical import FURNITURE, MOST
from hidewright.workshop.calls import actions as steps
from hidewright.workshop.calls import queries as gather
from hidewright.workshop.calls.models import Call
from hidewright.workshop.frame.acts import once, submitted, tried
from hidewright.workshop.frame.pages import device_of, paged, toast_last, went


class CallForm(forms.Form):
    """What is counted on the telephone."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for kind in FURNITURE.values():
            self.fields[kind.key] = forms.IntegerField(
                label=f"{kind.several[:1].upper()}{kind.several[1:]}",
                min_value=0,
                max_value=MOST,
                required=False,
                widget=forms.NumberInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
            )
        self.fields["material"] = forms.ChoiceField(
            label="Made of", choices=[(m.value, m.value) for m in gather.MATERIALS]
        )
        self.fields["strip"] = forms.ChoiceField(
            label="Does an old coat come off first?",
            choices=[("unknown", "not known yet"), ("yes", "yes"), ("no", "no")],
        )
        self.fields["who"] = forms.CharField(label="Who calls?", max_length=120)
        self.fields["reach"] = forms.CharField(label="How to reach them", max_length=120, required=False)
        self.fields["what"] = forms.CharField(
            label="What is it?", max_length=120, required=False, help_text="Such as saloon of a motor yacht."
        )

    def counted(self) -> dict[str, int]:
        """Kind → how many."""
        return {key: self.cleaned_data[key] or 0 for key in FURNITURE}


@require_http_methods(["GET", "POST"])
@once
def calls(request: HttpRequest) -> HttpResponse:
    """The first calls; posting keeps one with its ballpark."""
    form = CallForm(request.POST if request.method == "POST" else None)
    if request.method == "GET":
        return _page(request, form)

    def kept(row: Call) -> HttpResponse:
        toast_last(request, None)
        return redirect("call", row.pk)

    return submitted(
        form,
        lambda cleaned: steps.keep_call(
            cleaned["who"],
            form.counted(),
            material=cleaned["material"],
            strip=cleaned["strip"],
            reach=cleaned["reach"],
            what=cleaned["what"],
            device=device_of(request),
        ),
        kept,
        lambda: _page(request, form, 422),
        {"Who": "who", **{key: key for key in FURNITURE}},
    )


def _page(request: HttpRequest, form: CallForm, status: int = 200) -> HttpResponse:
    page = paged(request, gather.calls())
    rows = [(row, gather.counted_words(row.counts)) for row in page]
    return render(request, "calls/list.html", {"form": form, "rows": rows, "page": page}, status=status)


@require_GET
def call(request: HttpRequest, call_id: int) -> HttpResponse:
    """One call: what was counted, and what was said."""
    row = get_object_or_404(Call, pk=call_id, withdrawn=None)
    shown = {"row": row, "ballpark": gather.ballpark_of(row), "counted": gather.counted_words(row.counts)}
    return render(request, "calls/call.html", shown)


@require_POST
@once
def begin_survey(request: HttpRequest, call_id: int) -> HttpResponse:
    """Make a job of a call, and go to its list of pieces."""
    row = get_object_or_404(Call, pk=call_id, withdrawn=None)
    return tried(
        lambda: steps.begin_survey(row, timezone.localdate(), device_of(request)),
        lambda job: went(request, job, "survey", job.pk),
        lambda refusal: render(
            request, "refused.html", {"refusal": refusal, "items": (refusal,)}, status=422
        ),
    )


urlpatterns = [
    path("calls/", calls, name="calls"),
    path("calls/<int:call_id>/", call, name="call"),
    path("calls/<int:call_id>/begin/", begin_survey, name="begin_survey"),
]
