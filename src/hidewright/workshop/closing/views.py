"""The closing file of a job, and a job that comes in with one."""

from django import forms
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods

from hidewright.workshop.closing import bring_actions, file_actions
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import job_page, pdf_answer
from hidewright.workshop.frame.paper_choice import paper_of
from hidewright.workshop.inspection.sign_off_queries import hindrances
from hidewright.workshop.shop.models import Job


class BringForm(forms.Form):
    """A closing file to bring in."""

    file = forms.FileField(
        label="Closing file", widget=forms.FileInput(attrs={"accept": ".zip,application/zip"})
    )


def _address(request: HttpRequest, job: Job) -> str:
    return request.build_absolute_uri(reverse("closing", args=[job.pk]))


@require_http_methods(["GET"])
def closing(request: HttpRequest, job_id: int) -> HttpResponse:
    """What the closing file of a job holds, what is still open, and where to save it."""
    job = get_object_or_404(Job, pk=job_id)
    held = file_actions.contents_of(job)
    shown = {
        "rows": sum(held.rows.values()),
        "pictures": sum(name.startswith("pictures/") for name in held.members),
        "gone": held.gone,
        "seal": held.seal,
        "size": sum(len(data) for data in held.members.values()) / 2**20,
        "hindrances": hindrances(job),
    }
    return job_page(request, job, "papers", "closing/page.html", shown)


@require_http_methods(["GET"])
def closing_pdf(request: HttpRequest, job_id: int) -> HttpResponse:
    """The closing file as PDF."""
    job = get_object_or_404(Job, pk=job_id)
    held = file_actions.contents_of(job)
    pdf = file_actions.closing_pdf(
        job, held, made=timezone.now(), page_url=_address(request, job), paper=paper_of(request)
    )
    return pdf_answer(pdf, f"{job.name} closing file")


@require_http_methods(["GET"])
def closing_zip(request: HttpRequest, job_id: int) -> FileResponse:
    """The closing file as zip."""
    job = get_object_or_404(Job, pk=job_id)
    name = f"{slugify(job.name) or 'job'}-closing.zip"
    return FileResponse(
        file_actions.closing_zip(job, page_url=_address(request, job)), as_attachment=True, filename=name
    )


def _bring_page(request: HttpRequest, form: BringForm, status: int = 200) -> HttpResponse:
    return render(request, "closing/bring.html", {"form": form}, status=status)


@require_http_methods(["GET", "POST"])
@once
def bring_job(request: HttpRequest) -> HttpResponse:
    """Bring in a job with its closing file."""
    if request.method == "GET":
        return _bring_page(request, BringForm())
    form = BringForm(request.POST, request.FILES)
    return submitted(
        form,
        lambda cleaned: bring_actions.bring_in(cleaned["file"].file),
        lambda job: redirect("job", job_id=job.pk),
        lambda: _bring_page(request, form, 422),
    )


urlpatterns = [
    path("jobs/<int:job_id>/closing/", closing, name="closing"),
    path("jobs/<int:job_id>/closing/paper.pdf", closing_pdf, name="closing_pdf"),
    path("jobs/<int:job_id>/closing/file.zip", closing_zip, name="closing_zip"),
    path("shop/closing-file/", bring_job, name="bring_job"),
]
