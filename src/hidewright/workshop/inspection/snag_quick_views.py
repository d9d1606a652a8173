"""A snag from any page: one tap opens this, a picture, one tap keeps it."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods

from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import device_of, holder_of, toast_last, whole
from hidewright.workshop.frame.pictures import keep_picture
from hidewright.workshop.inspection import snag_actions as steps
from hidewright.workshop.inspection.models import SnagKind, Weight
from hidewright.workshop.inspection.snag_queries import piece_marks
from hidewright.workshop.shop.models import Job


class QuickForm(forms.Form):
    """As little as a snag needs: the job, a picture or a word. The button says whether it blocks."""

    picture = forms.FileField(
        label="Picture",
        required=False,
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )
    what = forms.CharField(label="What is wrong? (a picture alone will do)", max_length=240, required=False)
    piece = forms.CharField(
        label="Which piece?",
        max_length=120,
        required=False,
        widget=forms.TextInput(attrs={"list": "pieces", "autocomplete": "off"}),
    )
    job = forms.ModelChoiceField(label="Job", queryset=Job.objects.filter(put_away=None), empty_label=None)
    weight = forms.ChoiceField(choices=Weight.choices, widget=forms.HiddenInput, required=False)
    back = forms.CharField(max_length=400, required=False, widget=forms.HiddenInput)


def _page(request: HttpRequest, form: QuickForm, job: Job | None, status: int = 200) -> HttpResponse:
    shown = {"form": form, "marks": piece_marks(job) if job else [], "quick_job": job}
    return render(request, "snags/quick.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def quick_snag(request: HttpRequest) -> HttpResponse:
    """Note a snag from anywhere; afterwards the page where it was seen comes back."""
    if request.method == "GET":
        open_jobs = Job.objects.filter(put_away=None)
        job = open_jobs.filter(pk=whole(request.GET.get("job", ""), 0)).first() or open_jobs.first()
        initial = {
            "job": job,
            "piece": request.GET.get("piece", "")[:120],
            "back": request.headers.get("Referer", "")[:400],
        }
        return _page(request, QuickForm(initial=initial), job)
    form = QuickForm(request.POST, request.FILES)
    brought = request.FILES.get("picture")

    def keep(cleaned: dict[str, Any]) -> Job:
        steps.add(
            cleaned["job"],
            cleaned["what"],
            kind=SnagKind.OTHER,
            piece=cleaned["piece"],
            picture=keep_picture(cleaned["picture"]) if cleaned["picture"] else "",
            weight=cleaned["weight"] or Weight.BLOCKS,
            person=holder_of(request),
            device=device_of(request),
        )
        job: Job = cleaned["job"]
        return job

    return submitted(
        form,
        keep,
        lambda job: _back(request, job),
        lambda: _page(
            request, form, Job.objects.filter(pk=whole(request.POST.get("job", ""), 0)).first(), 422
        ),
        {"What": "what", str(brought.name) if brought else "": "picture"},
    )


def _back(request: HttpRequest, job: Job) -> HttpResponse:
    toast_last(request, job)
    back = request.POST.get("back", "")
    here = url_has_allowed_host_and_scheme(back, request.get_host())
    return HttpResponseRedirect(back if here else f"/jobs/{job.pk}/snags/")


urlpatterns = [path("snag/", quick_snag, name="quick_snag")]
