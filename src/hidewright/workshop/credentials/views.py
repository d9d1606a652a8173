"""Credentials of the shop and its people, and of a job with what its rules want."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.refusals import Refusal
from hidewright.safety.rule_sets import JUDGES, RULE_SETS, PaperKind
from hidewright.workshop.credentials import actions as steps
from hidewright.workshop.credentials import queries as gather
from hidewright.workshop.credentials.models import Credential
from hidewright.workshop.frame.acts import once, submitted, tried
from hidewright.workshop.frame.files import file_answer, keep_file
from hidewright.workshop.frame.pages import job_page, went
from hidewright.workshop.shop.models import Job, Person

DAY = {"type": "date"}


class CredentialForm(forms.Form):
    """A credential."""

    kind = forms.ChoiceField(label="What is it?", choices=[(str(kind), str(kind)) for kind in PaperKind])
    title = forms.CharField(
        label="What does it say?", max_length=120, help_text="Such as: course in isocyanates."
    )
    number = forms.CharField(label="Number", max_length=80, required=False)
    issuer = forms.CharField(label="Who gave it?", max_length=120, required=False)
    person = forms.ModelChoiceField(
        label="Whose?", queryset=Person.objects.none(), required=False, empty_label="nobody’s own"
    )
    issued = forms.DateField(
        label="Its day", required=False, widget=forms.DateInput(format="%Y-%m-%d", attrs=DAY)
    )
    expires = forms.DateField(
        label="Good until",
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs=DAY),
        help_text="Its last day. You are reminded 60, 30 and 7 days before. Empty: it does not end.",
    )
    file = forms.FileField(
        label="The paper itself", required=False, widget=forms.FileInput(attrs={"accept": ".pdf,image/*"})
    )
    note = forms.CharField(label="Note", max_length=240, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = Person.objects.filter(active=True)  # type: ignore[attr-defined]


class RulesForm(forms.Form):
    """Which rules a job goes by."""

    rule_set = forms.ChoiceField(label="Rules", choices=[(row.key, row.name) for row in RULE_SETS.values()])


WHERE = {"Title": "title", "Kind": "kind", "Expires": "expires"}


def _page(
    request: HttpRequest,
    job: Job | None,
    *,
    form: CredentialForm | None = None,
    wrong: str = "",
    status: int = 200,
) -> HttpResponse:
    shown: dict[str, Any] = {
        "held": gather.credentials(job),
        "form": form or CredentialForm(prefix="paper"),
        "wrong": wrong,
        "judges": JUDGES,
    }
    if job is None:
        return render(request, "credentials/shop.html", shown, status=status)
    rules = gather.rules_of(job)
    shown |= {
        "rules": rules,
        "wants": gather.wants(job),
        "rules_form": RulesForm(prefix="rules", initial={"rule_set": rules.key}),
    }
    return job_page(request, job, "credentials", "credentials/job.html", shown, status=status)


def _kept(request: HttpRequest, job: Job | None) -> HttpResponse:
    form = CredentialForm(request.POST, request.FILES, prefix="paper")
    brought = request.FILES.get("paper-file")

    def keep(cleaned: dict[str, Any]) -> Credential:
        file = keep_file(cleaned.pop("file")) if cleaned.get("file") else ""
        return steps.keep(job, cleaned.pop("kind"), cleaned.pop("title"), **{**cleaned, "file": file})

    return submitted(
        form,
        keep,
        lambda _: went(request, job, *_where(job)),
        lambda: _page(request, job, form=form, status=422),
        {**WHERE, str(brought.name) if brought else "": "file"},
    )


def _where(job: Job | None) -> tuple[Any, ...]:
    return ("credentials",) if job is None else ("job_credentials", job.pk)


@require_http_methods(["GET", "POST"])
@once
def credentials(request: HttpRequest) -> HttpResponse:
    """What the shop and its people hold; posting keeps one more."""
    return _page(request, None) if request.method == "GET" else _kept(request, None)


@require_http_methods(["GET", "POST"])
@once
def job_credentials(request: HttpRequest, job_id: int) -> HttpResponse:
    """What a job's rules want and what there is; posting keeps one more."""
    job = get_object_or_404(Job, pk=job_id)
    return _page(request, job) if request.method == "GET" else _kept(request, job)


@require_POST
@once
def job_rules(request: HttpRequest, job_id: int) -> HttpResponse:
    """Say which rules a job goes by."""
    job = get_object_or_404(Job, pk=job_id)
    form = RulesForm(request.POST, prefix="rules")
    return submitted(
        form,
        lambda cleaned: steps.set_rules(job, cleaned["rule_set"]),
        lambda _: went(request, job, "job_credentials", job.pk),
        lambda: _page(request, job, wrong="Choose one of the sets of rules.", status=422),
    )


def _struck(request: HttpRequest, row: Credential, job: Job | None) -> HttpResponse:
    return tried(
        lambda: steps.strike(row, request.POST.get("reason", ""), job),
        lambda _: went(request, job, *_where(job)),
        lambda refusal: _page(request, job, wrong=str(refusal), status=422),
    )


@require_POST
@once
def strike_credential(request: HttpRequest, credential_id: int) -> HttpResponse:
    """Strike out a credential of the shop or a person."""
    return _struck(request, get_object_or_404(Credential, pk=credential_id, job=None, struck=None), None)


@require_POST
@once
def strike_job_credential(request: HttpRequest, job_id: int, credential_id: int) -> HttpResponse:
    """Strike out a credential of a job."""
    row = get_object_or_404(Credential, pk=credential_id, job_id=job_id, struck=None)
    return _struck(request, row, row.job)


@require_http_methods(["GET"])
def credential_file(request: HttpRequest, credential_id: int) -> HttpResponseBase:
    """The paper itself."""
    row = get_object_or_404(Credential, pk=credential_id)
    try:
        return file_answer(row.file)
    except Refusal as refusal:
        raise Http404(refusal.what) from None


urlpatterns = [
    path("credentials/", credentials, name="credentials"),
    path("credentials/<int:credential_id>/strike/", strike_credential, name="strike_credential"),
    path("credentials/<int:credential_id>/file/", credential_file, name="credential_file"),
    path("jobs/<int:job_id>/credentials/", job_credentials, name="job_credentials"),
    path("jobs/<int:job_id>/credentials/rules/", job_rules, name="job_rules"),
    path(
        "jobs/<int:job_id>/credentials/<int:credential_id>/strike/",
        strike_job_credential,
        name="strike_job_credential",
    ),
]
