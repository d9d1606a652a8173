"""Snags: damage or a missing piece found while working; the work goes on round it."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from django import forms
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.papers.record import record_pdf
from hidewright.refusals import Refusal
from hidewright.workshop.days import queries as gather_days
from hidewright.workshop.days.models import Tap, TapKind
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import (
    device_of,
    holder_of,
    job_page,
    pdf_answer,
    toast,
    toast_last,
    went,
)
from hidewright.workshop.frame.paper_choice import paper_of
from hidewright.workshop.frame.pictures import keep_picture, picture_path
from hidewright.workshop.inspection import session_actions
from hidewright.workshop.inspection import snag_actions as steps
from hidewright.workshop.inspection import snag_queries as gather
from hidewright.workshop.inspection.letter_queries import snag_letter
from hidewright.workshop.inspection.models import Decision, Snag, SnagKind, Stage, Weight
from hidewright.workshop.inspection.repair_actions import STARTING, RepairWork
from hidewright.workshop.pieces.route_views import FAMILY_WORDS
from hidewright.workshop.shop.models import Contact, Job


class SnagForm(forms.Form):
    """What was found."""

    what = forms.CharField(label="What is wrong?", max_length=240, required=False)
    weight = forms.ChoiceField(
        label="Does it block?", choices=Weight.choices, initial=Weight.BLOCKS, required=False
    )
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
    minutes = forms.IntegerField(
        label="If it is repaired: minutes", required=False, min_value=1, max_value=480
    )
    dry = forms.FloatField(
        label="and h to dry",
        required=False,
        min_value=0,
        max_value=14 * 24,
        help_text="It is done before the next coat of the piece, once the days are planned again.",
    )
    family = forms.ChoiceField(
        label="as which work",
        choices=[(str(kind), words) for kind, words in FAMILY_WORDS.items()],
        required=False,
    )
    note = forms.CharField(label="Note", max_length=240, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput)

    def work(self) -> RepairWork:
        """What a repair takes, by what was typed; what is empty has its starting value."""
        minutes, dry = self.cleaned_data["minutes"], self.cleaned_data["dry"]
        return RepairWork(
            minutes or STARTING.minutes,
            self.cleaned_data["family"] or STARTING.kind,
            STARTING.dry if dry is None else round(60 * dry),
        )


class GatherForm(forms.Form):
    """The day of a touch-up session."""

    day = forms.DateField(label="Day", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))


class PassOnForm(forms.Form):
    """Who must act, and how far that has come."""

    weight = forms.ChoiceField(label="Does it block?", choices=Weight.choices)
    acts = forms.ModelChoiceField(
        label="Who does it wait for?",
        queryset=Contact.objects.none(),
        required=False,
        empty_label="nobody yet",
    )
    stage = forms.ChoiceField(label="How far?", choices=Stage.choices, required=False)
    expected = forms.DateField(
        label="Expected on",
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        help_text="The answer, or the part. You are reminded once the day is past.",
    )
    note = forms.CharField(label="Note", max_length=240, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, row: Snag, sent: Any = None) -> None:
        facts = {name: getattr(row, name) for name in ("weight", "acts", "stage", "expected", "version")}
        super().__init__(sent, prefix=f"p{row.pk}", initial=facts)
        self.fields["acts"].queryset = Contact.objects.filter(job=row.job_id, removed=None)  # type: ignore[attr-defined]


def _decide_form(snag: gather.SnagShown) -> DecideForm:
    until = snag.waits.until if snag.waits else None
    asked = snag.row.repair
    work = RepairWork(asked.minutes, asked.kinds[0], asked.dry) if asked else STARTING
    told = {"decision": snag.row.decision, "version": snag.row.version, "until": until}
    told |= {"minutes": work.minutes, "dry": f"{work.dry / 60:g}", "family": work.kind}
    return DecideForm(prefix=f"s{snag.row.pk}", initial=told)


def _page(
    request: HttpRequest,
    job: Job,
    *,
    status: int = 200,
    form: forms.Form | None = None,
    wrong: str = "",
    refused: tuple[int, DecideForm] | None = None,
    passed: tuple[int, PassOnForm] | None = None,
    gathering: GatherForm | None = None,
) -> HttpResponse:
    """The page; `refused` and `passed` are the forms of one snag with what was typed into them."""
    opened, closed = gather.snags(job)
    kept = dict([refused]) if refused else {}
    sent = dict([passed]) if passed else {}
    people = gather.contacts(job)
    shown = {
        "open": [
            (
                s,
                kept.get(s.row.pk) or _decide_form(s),
                sent.get(s.row.pk) or _pass_form(s.row, people),
                _letter(s.row),
            )
            for s in opened
        ],
        "contacts": people,
        "later": gather.to_gather(job) if any(s.row.weight == Weight.LATER for s in opened) else (),
        "gathering": gathering or GatherForm(prefix="session", initial={"day": _touch_up_day(job)}),
        "behind": gather_days.plan_row(job) is not None and any(s.waits for s in opened),
        "unplanned": _unplanned(job, opened),
        "closed": closed,
        "told": gather.told_on_days(job),
        "marks": gather.piece_marks(job),
        "form": form or SnagForm(),
        "wrong": wrong,
        "caution": gather.PLACARD_CAUTION,
    }
    return job_page(request, job, "snags", "snags/page.html", shown, status=status)


def _unplanned(job: Job, opened: list[gather.SnagShown]) -> set[int]:
    """The repairs that the plan in force does not know of yet."""
    plan = gather_days.plan_row(job) if any(s.repaired for s in opened) else None
    asked = [s.row.repair for s in opened if s.row.repair is not None]
    return {row.pk for row in asked if plan is not None and row.made > plan.made}


def _touch_up_day(job: Job) -> date:
    """The day that is offered for a touch-up session: the plan's last, where it is still to come, else tomorrow."""
    last, tomorrow = gather_days.finish_day(job), timezone.localdate() + timedelta(days=1)
    return max(last, tomorrow) if last else tomorrow


def _pass_form(row: Snag, people: tuple[Contact, ...]) -> PassOnForm:
    """The form with its choices read once for all of them."""
    form = PassOnForm(row)
    form.fields["acts"].choices = [("", "nobody yet"), *((one.pk, str(one)) for one in people)]  # type: ignore[attr-defined]
    return form


def _letter(row: Snag) -> dict[str, str]:
    """The letter about a snag as text, and its subject."""
    letter = snag_letter(row, made_on=date.today(), with_picture=False)
    return {"subject": letter.subject, "text": letter.text()}


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
            weight=told["weight"] or Weight.BLOCKS,
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
            work = form.work()
            steps.decide(
                row, told["decision"], version=version, note=note, until=told["until"], work=work, **who
            )

    return submitted(
        form,
        change_it,
        lambda _: went(request, row.job, "snags", job_id=job_id),
        lambda: _refused(request, row, form),
        {
            "Until": "until",
            "Note": "note",
            "Decision": "decision",
            "Minutes": "minutes",
            "Drying": "dry",
            "Family": "family",
        },
    )


def _refused(request: HttpRequest, row: Snag, form: DecideForm) -> HttpResponse:
    """The page again with what was typed; sent once more, it counts for the snag as it now stands."""
    row.refresh_from_db()
    form.data = {**request.POST.dict(), form.add_prefix("version"): str(row.version)}
    unseen = row.closed is not None or "version" in form.errors
    wrong = " ".join(str(error) for errors in form.errors.values() for error in errors) if unseen else ""
    return _page(request, row.job, status=422, wrong=wrong, refused=(row.pk, form))


@require_POST
@once
def gather_touch_ups(request: HttpRequest, job_id: int) -> HttpResponse:
    """Gather what is to be touched up later into one session of the plan."""
    job = get_object_or_404(Job, pk=job_id)
    form = GatherForm(request.POST, prefix="session")
    return submitted(
        form,
        lambda cleaned: session_actions.gather_touch_ups(
            job, cleaned["day"], person=holder_of(request), device=device_of(request)
        ),
        lambda _: went(request, job, "snags", job_id=job.pk),
        lambda: _page(request, job, status=422, gathering=form),
        {"Day": "day"},
    )


@require_POST
@once
def pass_on(request: HttpRequest, job_id: int, snag_id: int) -> HttpResponse:
    """Say whether it blocks, who must act, and how far that has come."""
    row = get_object_or_404(Snag.objects.select_related("job"), pk=snag_id, job_id=job_id, withdrawn=None)
    form = PassOnForm(row, request.POST)
    who: dict[str, Any] = {"person": holder_of(request), "device": device_of(request)}
    return submitted(
        form,
        lambda cleaned: steps.pass_on(row, **cleaned, **who),
        lambda _: went(request, row.job, "snags", job_id=job_id),
        lambda: _page(request, row.job, status=422, passed=(row.pk, form)),
        {"Waits for": "acts", "Weight": "weight"},
    )


@require_http_methods(["GET"])
def letter(request: HttpRequest, job_id: int, snag_id: int) -> HttpResponse:
    """The letter to whoever must act, as PDF."""
    row = get_object_or_404(Snag.objects.select_related("job", "acts"), pk=snag_id, job_id=job_id)
    found = replace(snag_letter(row, made_on=date.today()), paper=paper_of(request))
    return pdf_answer(record_pdf(found.record()), f"{row.job.name} letter {row.pk}")


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
    path("jobs/<int:job_id>/snags/touch-ups/", gather_touch_ups, name="gather_touch_ups"),
    path("jobs/<int:job_id>/snags/taps/<int:tap_id>/", take_up, name="take_up_snag"),
    path("jobs/<int:job_id>/snags/<int:snag_id>/", change, name="change_snag"),
    path("jobs/<int:job_id>/snags/<int:snag_id>/acts/", pass_on, name="pass_on_snag"),
    path("jobs/<int:job_id>/snags/<int:snag_id>/letter.pdf", letter, name="snag_letter_pdf"),
    path("jobs/<int:job_id>/snags/<int:snag_id>/picture/", picture, name="snag_picture"),
]
