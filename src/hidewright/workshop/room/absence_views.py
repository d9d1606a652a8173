"""Absences: noted beside a person or among the room's facts, and taken back."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import path
from django.views.decorators.http import require_POST

from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import went, whole
from hidewright.workshop.room import absence_actions as steps
from hidewright.workshop.room.absence_forms import AbsenceForm
from hidewright.workshop.room.models import DayOff
from hidewright.workshop.room.views import hours_page, tables_page
from hidewright.workshop.shop.models import Person


@require_POST
@once
def day_off(request: HttpRequest) -> HttpResponse:
    """Note an absence, beside its person or for anybody."""
    beside = _beside(request)
    form = AbsenceForm(request.POST, prefix="off", person=beside)
    return submitted(
        form,
        lambda told: steps.add_absence(form.person(), told["day"], told["last"], told["hour"], told["note"]),
        lambda _: _back(request, beside),
        lambda: (
            hours_page(request, beside, off=form, status=422)
            if beside
            else tables_page(request, status=422, off=form)
        ),
        {"to": "last"},
    )


@require_POST
@once
def remove_day_off(request: HttpRequest, row_id: int) -> HttpResponse:
    """Take back an absence."""
    row = get_object_or_404(DayOff.objects.select_related("person"), pk=row_id)
    steps.remove_absence(row)
    return _back(request, row.person if request.POST.get("off-beside") else None)


def _beside(request: HttpRequest) -> Person | None:
    """The person beside whom the form was filled in."""
    if not request.POST.get("off-beside"):
        return None
    return Person.objects.filter(pk=whole(request.POST.get("off-who", ""), 0)).first()


def _back(request: HttpRequest, person: Person | None) -> HttpResponse:
    if person is not None:
        return went(request, None, "person_hours", person_id=person.pk)
    return went(request, None, "tables")


urlpatterns = [
    path("days-off/", day_off, name="day_off"),
    path("days-off/<int:row_id>/remove/", remove_day_off, name="remove_day_off"),
]
