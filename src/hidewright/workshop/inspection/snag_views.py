"""Snags: damage or a missing piece found while working; the work goes on round it."""

from typing import Any

from django import forms
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.refusals import Refusal
from hidewright.workshop.days import queries as gather_days
from hidewright.workshop.days.models import Tap, TapKind
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import device_of, holder_of, job_page, toast, toast_last, went
from hidewright.workshop.frame.pictures import keep_picture, picture_path
from hidewright.workshop.inspection import snag_actions as steps
from hidewright.workshop.inspection import snag_queries as gather
from hidewright.workshop.inspection.models import Decision, Snag, SnagKind
from hidewright.workshop.shop.models import Job


class SnagForm(forms.Form):
    """What was found."""

    what = forms.CharField(label="What is wrong?", max_length=240)
    kind = forms.ChoiceField(label="What is it?", choices=SnagKind.choices)
    piece = forms.CharField(
        label="Which piece, or where?",
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"list": "pieces", "autocomplete": "off"}),
    )
    picture = forms.FileField(
        label="Picture", required=False, widget=forms.FileInput(attrs={"accept": "image/*"})
    )


class DecideForm(forms.Form):
    """What is to be done about it."""

    decision = forms.ChoiceField(label="Decision", choices=Decision.choices, required=False)
    until = forms.DateField(
        label="If it waits: until",
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        help_text="When you expect to know; empty is a week from now. The piece waits in the plan.",
    )
    note = forms.CharField(label="Note", max_length=240, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput)


def _decide_form(snag: gather.SnagShown) -> DecideForm:
    until = snag.waits.until if snag.waits else None
    told = {"decision": snag.row.decision, "version": snag.row.version, "until": until}
    return DecideForm(prefix=f"s{snag.row.pk}", initial=told)


def _page(
    request: HttpRequest,
    job: Job,
    *,
    status: int = 200,
    form: forms.Form | None = None,
    wrong: str = "",
    refused: tuple[int, DecideForm] | None = None,
) -> HttpResponse:
    """The page; `refused` is the form of one snag with what was typed into it."""
    opened, closed = gather.snags(job)
    kept = dict([refused]) if refused else {}
    shown = {
        "open": [(s, kept.get(s.row.pk) or _decide_form(s)) for s in opened],
        "behind": gather_days.plan_row(job) is not None and any(s.waits for s in opened),
        "closed": closed,
        "told": gather.told_on_days(job),
        "marks": gather.piece_marks(job),
        "form": form or SnagForm(),
        "wrong": wrong,
        "caution": gather.PLACARD_CAUTION,
    }
    return job_page(request, job, "snags", "snags/page.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def snags(request: HttpRequest, job_id: int) -> HttpResponse:
    """Open and closed snags; posting notes a new one."""
    job = get_object_or_404(Job, pk=job_id)
    if request.method == "GET":
        return _page(request, job)
    form = SnagForm(request.POST, request.FILES)

    def note(told: dict[str, Any]) -> None:
        steps.add(
            job,
            told["what"],
            kind=told["kind"],
            piece=told["piece"],
            picture=keep_picture(told["picture"]) if told["picture"] else "",
            person=holder_of(request),
            device=device_of(request),
        )

    brought = request.FILES.get("picture")
    return submitted(
        form,
        note,
        lambda _: went(request, job, "snags", job_id=job.pk),
        lambda: _page(request, job, status=422, form=form),
        {"What": "what", str(brought.name) if brought else "": "picture"},
    )


@require_POST
@once
def take_up(request: HttpRequest, job_id: int, tap_id: int) -> HttpResponse:
    """Take up a snag that was tapped on the page Days."""
    tap = get_object_or_404(Tap, pk=tap_id, job_id=job_id, kind=TapKind.SNAG)
    try:
        steps.take_up(tap, device=device_of(request))
    except Refusal as refusal:
        toast(request, str(refusal))
    else:
        toast_last(request, tap.job)
    return redirect("snags", job_id=job_id)


@require_POST
@once
def change(request: HttpRequest, job_id: int, snag_id: int) -> HttpResponse:
    """Decide, note, close or open again."""
    row = get_object_or_404(Snag, pk=snag_id, job_id=job_id, withdrawn=None)
    form = DecideForm(request.POST, prefix=f"s{row.pk}")
    who: dict[str, Any] = {"person": holder_of(request), "device": device_of(request)}

    def change_it(told: dict[str, Any]) -> None:
        version, note = told["version"], told["note"]
        if "close" in request.POST:
            steps.close(row, version=version, note=note, **who)
        elif "reopen" in request.POST:
            steps.reopen(row, version=version, **who)
        else:
            steps.decide(row, told["decision"], version=version, note=note, until=told["until"], **who)

    return submitted(
        form,
        change_it,
        lambda _: went(request, row.job, "snags", job_id=job_id),
        lambda: _refused(request, row, form),
        {"Until": "until", "Note": "note", "Decision": "decision"},
    )


def _refused(request: HttpRequest, row: Snag, form: DecideForm) -> HttpResponse:
    """The page again with what was typed; sent once more, it counts for the snag as it now stands."""
    row.refresh_from_db()
    form.data = {**request.POST.dict(), form.add_prefix("version"): str(row.version)}
    unseen = row.closed is not None or "version" in form.errors
    wrong = " ".join(str(error) for errors in form.errors.values() for error in errors) if unseen else ""
    return _page(request, row.job, status=422, wrong=wrong, refused=(row.pk, form))


@require_http_methods(["GET"])
def picture(request: HttpRequest, job_id: int, snag_id: int) -> HttpResponseBase:
    """The picture of a snag."""
    row = get_object_or_404(Snag, pk=snag_id, job_id=job_id)
    try:
        where = picture_path(row.picture)
    except Refusal as refusal:
        raise Http404(refusal.what) from None
    answer = FileResponse(where.open("rb"), content_type="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=86400"
    return answer


urlpatterns = [
    path("jobs/<int:job_id>/snags/", snags, name="snags"),
    path("jobs/<int:job_id>/snags/taps/<int:tap_id>/", take_up, name="take_up_snag"),
    path("jobs/<int:job_id>/snags/<int:snag_id>/", change, name="change_snag"),
    path("jobs/<int:job_id>/snags/<int:snag_id>/picture/", picture, name="snag_picture"),
]
