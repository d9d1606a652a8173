"""Contacts of a job: who has a say, who must act."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import job_page, went
from hidewright.workshop.inspection import contact_actions as steps
from hidewright.workshop.inspection import contact_list_actions as contact_list_actions
from hidewright.workshop.inspection.snag_queries import contacts as gather_contacts
from hidewright.workshop.shop.models import Contact, Job


class ContactForm(forms.Form):
    """A contact."""

    name = forms.CharField(label="Name", max_length=120)
    does = forms.CharField(
        label="What for?",
        max_length=80,
        required=False,
        help_text="Such as upholstery, placards, the colour.",
    )
    reach = forms.CharField(label="Mail or telephone", max_length=160, required=False)


def _page(request: HttpRequest, job: Job, form: ContactForm | None = None, status: int = 200) -> HttpResponse:
    shown = {"contacts": gather_contacts(job), "form": form or ContactForm()}
    return job_page(request, job, "snags", "snags/contacts.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def contacts(request: HttpRequest, job_id: int) -> HttpResponse:
    """The contacts; posting adds one."""
    job = get_object_or_404(Job, pk=job_id)
    if request.method == "GET":
        return _page(request, job)
    form = ContactForm(request.POST)
    return submitted(
        form,
        lambda cleaned: steps.add_contact(job, cleaned["name"], does=cleaned["does"], reach=cleaned["reach"]),
        lambda _: went(request, job, "contacts", job.pk),
        lambda: _page(request, job, form, 422),
        {"Name": "name"},
    )


@require_POST
@once
def remove_contact(request: HttpRequest, job_id: int, contact_id: int) -> HttpResponse:
    """Take a contact off the job."""
    row = get_object_or_404(Contact, pk=contact_id, job_id=job_id, removed=None)
    steps.remove_contact(row)
    return went(request, row.job, "contacts", job_id)


urlpatterns = [
    path("jobs/<int:job_id>/contacts/", contacts, name="contacts"),
    path("jobs/<int:job_id>/contacts/<int:contact_id>/remove/", remove_contact, name="remove_contact"),
]
