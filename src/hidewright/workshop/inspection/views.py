"""Inspection: checks piece by piece, certificates of burn tests, signatures."""

import re
from dataclasses import replace
from datetime import date
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.papers.record import record_pdf
from hidewright.refusals import Refusal
from hidewright.safety import burn
from hidewright.safety.finish import EYES, NAMES, WRITE, Check
from hidewright.workshop.frame.acts import NotDone, once, submitted
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
from hidewright.workshop.inspection import actions as steps
from hidewright.workshop.inspection import queries as gather
from hidewright.workshop.inspection import row_forms
from hidewright.workshop.inspection.models import BurnRecord, CheckEntry, Signature
from hidewright.workshop.inspection.paper_queries import inspection_record
from hidewright.workshop.inspection.sign_off_queries import hindrances
from hidewright.workshop.shop.models import Job, Person

BY_READING = (Check.COLOUR, Check.COLOUR_EYE)
FIGURE_CHECKS = [
    (kind.value, f"{NAMES[kind]}: {WRITE[kind]}") for kind in Check if kind not in (*EYES, *BY_READING)
]
WORDS = "All pieces looked at, in sunlight and under the lamp"
LIST = {"list": "pieces", "autocomplete": "off"}


class PersonField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """Somebody of the shop."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(queryset=Person.objects.filter(active=True), empty_label="choose", **kwargs)


class FigureForm(forms.Form):
    """A check with a figure."""

    piece = forms.CharField(label="Piece", max_length=120, widget=forms.TextInput(attrs=LIST))
    kind = forms.ChoiceField(label="Check", choices=FIGURE_CHECKS)
    value = forms.CharField(label="Found", max_length=40)
    result = forms.ChoiceField(
        label="Result", choices=[("noted", "noted"), ("good", "good"), ("again", "to be done again")]
    )
    note = forms.CharField(label="Note", max_length=240, required=False)


class BurnForm(forms.Form):
    """A certificate with the figures that are on it."""

    test = forms.ChoiceField(label="Test", choices=list(gather.BURN_TESTS.items()))
    certificate = forms.CharField(label="Number of the certificate", max_length=120)
    house = forms.CharField(label="Test house", max_length=120, required=False)
    tested = forms.DateField(
        label="Tested on", required=False, widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )
    specimen = forms.CharField(
        label="What was tested",
        max_length=160,
        help_text="Leather, coats and products, as they were built up.",
    )
    length = forms.CharField(
        label="Burn lengths, mm",
        required=False,
        help_text="12 s vertical: one number a specimen, 150 160 155",
    )
    after = forms.CharField(label="After-flames, s", required=False)
    drip = forms.CharField(label="Drip flames, s", required=False)
    conditioning = forms.CharField(
        label="Kept before at °F, % humidity, hours",
        required=False,
        help_text=f"Such as 70 50 24; or 70 50 {gather.SETTLED}, where they were kept until moisture equilibrium.",
    )
    run = forms.CharField(
        label="Horizontal: distance mm and time s", required=False, help_text="Such as 254 180."
    )
    stopped = forms.BooleanField(label="It went out by itself", required=False)
    note = forms.CharField(label="Note", max_length=240, required=False)

    def figures(self) -> dict[str, Any]:
        """The figures as they are kept; refuses what is no number."""
        data = self.cleaned_data
        if data["test"] == "vertical":
            columns = {name: _numbers(data[name], name) for name in ("length", "after", "drip")}
            return {**columns, "conditioning": _kept_before(data["conditioning"])}
        if data["test"] == "horizontal":
            run = _numbers(data["run"], "run")
            if len(run) != 2:
                raise Refusal("Write the distance in mm and the time in s.", where="run", remedy="254 180.")
            return {"run": run, "stopped": data["stopped"]}
        return {}


def _kept_before(text: str) -> list[float | str]:
    """°F, % humidity and hours, or the word for “until moisture equilibrium” in place of the hours."""
    words = text.lower().split()
    settled = words[-1:] == [gather.SETTLED]
    numbers = _numbers(" ".join(words[:-1]) if settled else text, "conditioning")
    if settled and len(numbers) != 2:
        raise Refusal(
            "Write °F and % humidity before it.", where="conditioning", remedy=f"70 50 {gather.SETTLED}."
        )
    return [*numbers, gather.SETTLED] if settled else [*numbers]


def _numbers(text: str, where: str) -> list[float]:
    try:
        return [float(part) for part in re.split(r"[\s;,]+", text.strip()) if part]
    except ValueError:
        raise Refusal(
            "These are not all numbers.", where=where, remedy="Write them with spaces between."
        ) from None


class SignForm(forms.Form):
    """A signature."""

    person = PersonField(label="Who signs")
    words = forms.CharField(label="For", max_length=240, initial=WORDS)
    final = forms.BooleanField(
        label="This is the final sign-off",
        required=False,
        help_text="Refused while anything blocks or is not done.",
    )


class StrikeForm(forms.Form):
    """A counter-entry."""

    person = PersonField(label="Who strikes it out")
    reason = forms.CharField(label="Why", max_length=240)


def inspection_page(request: HttpRequest, job: Job, *, status: int = 200, **sent: Any) -> HttpResponse:
    """The page, with the forms that were sent in place of the empty ones."""
    shown = gather.pieces(job)
    start = {"person": holder_of(request)}
    context = {
        "pieces": shown,
        "groups": gather.groups(shown),
        "standing": gather.standing(job, shown),
        "figures": [c for c in gather.checks(job) if c.row.kind not in EYES],
        "burn": gather.burn_records(job),
        "judges": burn.JUDGES,
        "signatures": [
            (s, StrikeForm(prefix="strike", initial=start, auto_id=f"strike{s.row.pk}-%s"))
            for s in gather.signatures(job)
        ],
        "people": Person.objects.filter(active=True).exists(),
        "figure_form": FigureForm(prefix="figure"),
        "burn_form": BurnForm(prefix="burn"),
        "sign_form": SignForm(prefix="sign", initial=start),
        "hindrances": hindrances(job),
        **row_forms.forms_of(job),
        **sent,
    }
    return job_page(request, job, "inspection", "inspection/page.html", context, status=status)


@require_http_methods(["GET"])
def inspection(request: HttpRequest, job_id: int) -> HttpResponse:
    """How the inspection stands."""
    return inspection_page(request, get_object_or_404(Job, pk=job_id))


@require_POST
@once
def by_eye(request: HttpRequest, job_id: int) -> HttpResponse:
    """Note a look in sunlight or under the lamp for the marked pieces."""
    job = get_object_or_404(Job, pk=job_id)
    kind, _, result = request.POST.get("look", "").partition("-")
    try:
        if kind not in EYES:
            raise Refusal("Say in which light you looked.", where="Check")
        steps.note_checks(
            job,
            request.POST.getlist("piece"),
            kind,
            result=result,
            note=request.POST.get("note", "")[:240],
            person=holder_of(request),
            device=device_of(request),
        )
    except Refusal as refusal:
        marked = request.POST.getlist("piece")
        raise NotDone(
            inspection_page, request, job, status=422, wrong=str(refusal), marked=marked
        ) from refusal
    toast_last(request, job)
    return redirect("inspection", job_id=job.pk)


@require_POST
@once
def figure(request: HttpRequest, job_id: int) -> HttpResponse:
    """Note a check with a figure."""
    job = get_object_or_404(Job, pk=job_id)
    form = FigureForm(request.POST, prefix="figure")
    return submitted(
        form,
        lambda told: steps.note_checks(
            job,
            [told["piece"]],
            told["kind"],
            value=told["value"],
            result=told["result"],
            note=told["note"],
            person=holder_of(request),
            device=device_of(request),
        ),
        lambda _: went(request, job, "inspection", job_id=job.pk),
        lambda: inspection_page(request, job, status=422, figure_form=form),
        {"Found": "value", "Piece": "piece"},
    )


@require_POST
@once
def strike_check(request: HttpRequest, job_id: int, check_id: int) -> HttpResponse:
    """Strike out a check by a counter-entry."""
    row = get_object_or_404(CheckEntry, pk=check_id, job_id=job_id, strikes=None)
    try:
        steps.strike_check(row, note=request.POST.get("reason", ""), person=holder_of(request))
    except Refusal as refusal:
        raise NotDone(inspection_page, request, row.job, status=422, wrong=str(refusal)) from refusal
    toast(request, f"Struck out a check of {row.piece}")
    return redirect("inspection", job_id=job_id)


@require_POST
@once
def certificate(request: HttpRequest, job_id: int) -> HttpResponse:
    """Keep a burn-test certificate."""
    job = get_object_or_404(Job, pk=job_id)
    form = BurnForm(request.POST, prefix="burn")

    def keep(told: dict[str, Any]) -> None:
        facts = {key: told[key] for key in ("specimen", "certificate", "house", "tested", "note")}
        steps.keep_certificate(job, told["test"], figures=form.figures(), person=holder_of(request), **facts)

    return submitted(
        form,
        keep,
        lambda _: went(request, job, "inspection", job_id=job.pk),
        lambda: inspection_page(request, job, status=422, burn_form=form),
        {name: name for name in form.fields},
    )


@require_POST
@once
def strike_certificate(request: HttpRequest, job_id: int, record_id: int) -> HttpResponse:
    """Strike out a certificate by a counter-entry."""
    row = get_object_or_404(BurnRecord, pk=record_id, job_id=job_id, strikes=None)
    try:
        steps.strike_certificate(row, note=request.POST.get("reason", ""), person=holder_of(request))
    except Refusal as refusal:
        raise NotDone(inspection_page, request, row.job, status=422, wrong=str(refusal)) from refusal
    toast(request, f"Struck out the certificate {row.certificate}")
    return redirect("inspection", job_id=job_id)


@require_POST
@once
def sign(request: HttpRequest, job_id: int) -> HttpResponse:
    """Sign."""
    job = get_object_or_404(Job, pk=job_id)
    form = SignForm(request.POST, prefix="sign")
    return submitted(
        form,
        lambda told: steps.sign(job, told["person"], told["words"], device_of(request), final=told["final"]),
        lambda _: went(request, job, "inspection", job_id=job.pk),
        lambda: inspection_page(request, job, status=422, sign_form=form),
        {"For": "words", "Who": "person"},
    )


@require_POST
@once
def strike_signature(request: HttpRequest, job_id: int, signature_id: int) -> HttpResponse:
    """Strike out a signature by a counter-entry."""
    row = get_object_or_404(Signature, pk=signature_id, job_id=job_id, strikes=None)
    form = StrikeForm(request.POST, prefix="strike")
    if not form.is_valid():
        wrong = "Say who strikes the signature out, and why."
        raise NotDone(inspection_page, request, row.job, status=422, wrong=wrong, strike_form=form)
    try:
        steps.strike_signature(
            row,
            person=form.cleaned_data["person"],
            reason=form.cleaned_data["reason"],
            device=device_of(request),
        )
    except Refusal as refusal:
        raise NotDone(inspection_page, request, row.job, status=422, wrong=str(refusal)) from refusal
    toast_last(request, row.job)
    return redirect("inspection", job_id=job_id)


@require_http_methods(["GET"])
def paper(request: HttpRequest, job_id: int) -> HttpResponse:
    """The inspection as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    address = request.build_absolute_uri(reverse("inspection", args=[job.pk]))
    made = inspection_record(job, made_on=date.today(), page_url=address)
    record = replace(made, paper=paper_of(request))
    return pdf_answer(record_pdf(record), f"{job.name} inspection")


urlpatterns = [
    path("jobs/<int:job_id>/inspection/paper.pdf", paper, name="inspection_pdf"),
    path("jobs/<int:job_id>/inspection/", inspection, name="inspection"),
    path("jobs/<int:job_id>/inspection/eye/", by_eye, name="check_by_eye"),
    path("jobs/<int:job_id>/inspection/figure/", figure, name="check_figure"),
    path("jobs/<int:job_id>/inspection/checks/<int:check_id>/strike/", strike_check, name="strike_check"),
    path("jobs/<int:job_id>/inspection/certificates/", certificate, name="keep_certificate"),
    path(
        "jobs/<int:job_id>/inspection/certificates/<int:record_id>/strike/",
        strike_certificate,
        name="strike_certificate",
    ),
    path("jobs/<int:job_id>/inspection/sign/", sign, name="sign"),
    path(
        "jobs/<int:job_id>/inspection/signatures/<int:signature_id>/strike/",
        strike_signature,
        name="strike_signature",
    ),
]
