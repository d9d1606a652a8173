"""The room: tables and hours, as the shop has them."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.planning.problem.calendar import EVERY_NIGHT, NO_NIGHT
from hidewright.planning.problem.model import Kind
from hidewright.survey import Material
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.forms import NumberField, acted
from hidewright.workshop.frame.pages import toast_last, went
from hidewright.workshop.room import actions as steps
from hidewright.workshop.room import list_actions as list_actions
from hidewright.workshop.room.absence_forms import AbsenceForm
from hidewright.workshop.room.absence_queries import absence_lines, away_soon, past_absences
from hidewright.workshop.room.drying_queries import air_factor, drying_in_force, drying_names
from hidewright.workshop.room.drying_views import celsius_of, degrees, warmth_of
from hidewright.workshop.room.hours_forms import WEEKDAYS, WeekForm
from hidewright.workshop.room.models import Storage, WorkTable
from hidewright.workshop.room.queries import (
    FOOT,
    fan_words,
    length_text,
    room_picture,
    room_rules,
    skills_of,
    week_of,
)
from hidewright.workshop.room.work_queries import work_lines
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Person

METRES = {"metric": 1.0, "us": FOOT}
"""Metres in the unit in which the shop writes the length of a table."""


class TableForm(forms.Form):
    """A table; its size in the shop's unit."""

    name = forms.CharField(label="Name", max_length=60, help_text="What the shop calls it.")
    length = NumberField(label="Length", min_value=0)
    depth = NumberField(label="Depth", min_value=0)
    not_for = forms.MultipleChoiceField(
        label="What may not lie on it",
        choices=[(str(m), str(m).capitalize()) for m in Material],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Bare metal, for instance, scratches a hard top.",
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        name = "feet" if unit == "us" else "metres"
        for field in ("length", "depth"):
            self.fields[field].label = f"{self.fields[field].label}, {name}"
        self.metres = METRES[unit]

    def size(self) -> tuple[float, float]:
        """Length and depth in m."""
        return self.cleaned_data["length"] * self.metres, self.cleaned_data["depth"] * self.metres


class RulesForm(forms.Form):
    """The rules of the room."""

    guns = forms.IntegerField(label="Spray guns in use at once", min_value=1, max_value=9)
    fan_off = forms.BooleanField(
        label="The fan is off at night: nothing wet may be left then", required=False
    )
    fan_nights = forms.TypedMultipleChoiceField(
        label="Only on the evenings of",
        choices=list(enumerate(WEEKDAYS)),
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: every evening. It then stays off until somebody comes again, over a week-end too.",
    )
    warmth = NumberField(label="Warmth of the room, °C")
    humidity = NumberField(
        label="Humidity of the room, %",
        min_value=1,
        max_value=100,
        help_text="As you expect them while the job dries. Damp or cold air makes everything dry longer.",
    )
    factor = NumberField(
        label="Beyond that, drying takes so many times as long",
        min_value=0.1,
        max_value=10,
        help_text="1, unless you know better than the thermometer.",
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, units: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["warmth"].label = f"Warmth of the room, {degrees(units)}"
        for name, words, minutes in drying_names():
            self.fields[f"dry_{name}"] = forms.IntegerField(
                label=f"{words}, minutes",
                min_value=0,
                max_value=14 * 24 * 60,
                required=False,
                widget=forms.NumberInput(attrs={"placeholder": str(minutes), "inputmode": "numeric"}),
            )

    def nights(self) -> frozenset[int]:
        """The weekdays on whose evenings the fan goes off."""
        if not self.cleaned_data["fan_off"]:
            return NO_NIGHT
        return frozenset(self.cleaned_data["fan_nights"]) or EVERY_NIGHT

    def drying(self) -> dict[str, float]:
        """Minutes by name, where they were entered, and the factor where it is not 1."""
        told = {name: self.cleaned_data[f"dry_{name}"] for name, _, _ in drying_names()}
        entered = {name: minutes for name, minutes in told.items() if minutes is not None}
        return (
            entered
            if self.cleaned_data["factor"] == 1
            else {**entered, "factor": self.cleaned_data["factor"]}
        )


class StorageForm(forms.Form):
    """A rack or shelf for coated pieces."""

    name = forms.CharField(label="Name", max_length=60)
    pieces = forms.IntegerField(
        label="How many pieces it holds", min_value=1, max_value=500, help_text="Of the usual size."
    )


class SkillsForm(forms.Form):
    """What kinds of work a person does."""

    kinds = forms.MultipleChoiceField(
        label="What they do",
        choices=[(str(kind), str(kind).capitalize()) for kind in Kind],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )


def tables_page(
    request: HttpRequest,
    *,
    status: int = 200,
    form: TableForm | None = None,
    off: AbsenceForm | None = None,
    rack: StorageForm | None = None,
) -> HttpResponse:
    """The page of tables and hours, with the forms that hold what is wrong."""
    tables = WorkTable.objects.filter(active=True)
    unit = the_shop().units
    people = Person.objects.filter(active=True).prefetch_related("hours")
    absences = absence_lines()
    away = away_soon(absences)
    shown = {
        "tables": [(t, length_text(t.length, unit), length_text(t.depth, unit)) for t in tables],
        "picture": room_picture(unit),
        "form": form or TableForm(unit=unit),
        "week": [(name, week_of(None)[number]) for number, name in enumerate(WEEKDAYS)],
        "people": [(p, away.get(p.pk, "")) for p in people],
        "absences": absences,
        "past": past_absences(),
        "off_form": off or AbsenceForm(prefix="off"),
        "racks": Storage.objects.filter(active=True),
        "rack_form": rack or StorageForm(prefix="rack"),
        "rules": room_rules(),
        "fan": fan_words(room_rules().fan_off),
        "factor": room_rules().drying.get("factor", 1),
        "drying": [(w, m) for _, w, m in drying_in_force()],
        "warmth": warmth_of(room_rules().celsius, unit),
        "humidity": round(100 * room_rules().humidity),
        "degrees": degrees(unit),
        "air_factor": air_factor(),
        "work": list(work_lines()),
        "total": length_text(sum(table.length for table in tables), unit),
    }
    return render(request, "room/page.html", shown, status=status)


@require_http_methods(["GET", "POST"])
@once
def tables(request: HttpRequest) -> HttpResponse:
    """Tables and hours; posting adds a table."""
    if request.method == "GET":
        return tables_page(request)
    form = TableForm(request.POST, unit=the_shop().units)
    return submitted(
        form,
        lambda told: steps.add_table(told["name"], *form.size(), not_for=told["not_for"]),
        lambda _: went(request, None, "tables"),
        lambda: tables_page(request, status=422, form=form),
    )


@require_http_methods(["GET", "POST"])
@once
def edit_table(request: HttpRequest, table_id: int) -> HttpResponse:
    """Change a table."""
    table = get_object_or_404(WorkTable, pk=table_id, active=True)
    unit = the_shop().units
    shown = {key: round(getattr(table, key) / METRES[unit], 3) for key in ("length", "depth")}
    initial = {"name": table.name, "version": table.version, "not_for": table.not_for, **shown}
    form = TableForm(request.POST or None, unit=unit, initial=initial)

    def change(told: dict[str, Any]) -> None:
        length, depth = form.size()
        steps.edit_table(
            table,
            name=told["name"],
            length=length,
            depth=depth,
            version=told["version"] or 0,
            not_for=told["not_for"],
        )

    if request.method == "POST" and acted(form, change):
        toast_last(request, None)
        return redirect("tables")
    status = 422 if form.errors else 200
    return render(request, "room/table.html", {"form": form, "table": table}, status=status)


@require_POST
@once
def remove_table(request: HttpRequest, table_id: int) -> HttpResponse:
    """Take a table out of the room."""
    steps.remove_table(get_object_or_404(WorkTable, pk=table_id))
    toast_last(request, None)
    return redirect("tables")


@require_POST
@once
def add_rack(request: HttpRequest) -> HttpResponse:
    """Add a rack or shelf for coated pieces."""
    form = StorageForm(request.POST, prefix="rack")
    return submitted(
        form,
        lambda told: steps.add_storage(**told),
        lambda _: went(request, None, "tables"),
        lambda: tables_page(request, status=422, rack=form),
    )


@require_POST
@once
def remove_rack(request: HttpRequest, rack_id: int) -> HttpResponse:
    """Take a rack out of the room."""
    steps.remove_storage(get_object_or_404(Storage, pk=rack_id))
    toast_last(request, None)
    return redirect("tables")


@require_http_methods(["GET", "POST"])
@once
def hours(request: HttpRequest, person_id: int = 0) -> HttpResponse:
    """The weekly hours of the shop, or of one person."""
    person = get_object_or_404(Person, pk=person_id) if person_id else None
    initial = {f"day{number}": text for number, text in week_of(person).items()}
    told = request.POST.dict() if request.method == "POST" else None
    if told and "like_monday" in told:
        told |= {f"day{number}": told.get("day0", "") for number in range(1, 5)}
    form = WeekForm(told, initial=initial)
    if request.method == "POST":
        if person and "as_shop" in request.POST:
            steps.set_week(person, {})
            toast_last(request, None)
            return redirect("tables")
        if acted(form, lambda _: steps.set_week(person, form.week)):
            toast_last(request, None)
            return redirect("tables")
    return hours_page(request, person, form, status=422 if form.errors else 200)


def hours_page(
    request: HttpRequest,
    person: Person | None,
    form: WeekForm | None = None,
    off: AbsenceForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page of a week's hours, of the shop or of a person with their absences, with the forms that hold what is wrong."""
    initial = {f"day{number}": text for number, text in week_of(person).items()}
    context: dict[str, Any] = {"form": form or WeekForm(initial=initial), "person": person}
    if person:
        now = skills_of(person)
        ticked = [str(kind) for kind in Kind if now is None or kind in now]
        context |= {
            "skills_form": SkillsForm(initial={"kinds": ticked}),
            "absences": absence_lines(person),
            "past": past_absences(person),
            "off_form": off or AbsenceForm(prefix="off", person=person),
        }
    return render(request, "room/hours.html", context, status=status)


@require_POST
@once
def skills(request: HttpRequest, person_id: int) -> HttpResponse:
    """What kinds of work a person does; everything ticked means every kind."""
    person = get_object_or_404(Person, pk=person_id)
    form = SkillsForm(request.POST)
    if form.is_valid():
        kinds = form.cleaned_data["kinds"]
        steps.set_skills(person, None if len(kinds) == len(Kind) else kinds)
        toast_last(request, None)
    return redirect("person_hours", person_id=person.pk)


@require_http_methods(["GET", "POST"])
@once
def rules(request: HttpRequest) -> HttpResponse:
    """The rules of the room: guns, the night, how long things dry."""
    row = room_rules()
    dry = {f"dry_{name}": minutes for name, minutes in row.drying.items()}
    dry["factor"] = row.drying.get("factor", 1)
    units = the_shop().units
    air = {"warmth": warmth_of(row.celsius, units), "humidity": round(100 * row.humidity, 1)}
    some = set(row.fan_off) != EVERY_NIGHT
    fan = {"fan_off": bool(row.fan_off), "fan_nights": row.fan_off if some else []}
    initial = {"guns": row.guns, **fan, "version": row.version, **dry, **air}
    form = RulesForm(request.POST if request.method == "POST" else None, initial=initial, units=units)
    if request.method == "POST" and acted(
        form,
        lambda told: steps.set_rules(
            guns=told["guns"],
            fan_off=form.nights(),
            drying=form.drying(),
            celsius=celsius_of(told["warmth"], units),
            humidity=told["humidity"] / 100,
            version=told["version"] or 0,
        ),
    ):
        toast_last(request, None)
        return redirect("tables")
    status = 422 if form.errors else 200
    return render(request, "room/rules.html", {"form": form}, status=status)


urlpatterns = [
    path("tables/", tables, name="tables"),
    path("tables/<int:table_id>/", edit_table, name="edit_table"),
    path("tables/<int:table_id>/remove/", remove_table, name="remove_table"),
    path("tables/racks/", add_rack, name="add_rack"),
    path("tables/racks/<int:rack_id>/remove/", remove_rack, name="remove_rack"),
    path("tables/rules/", rules, name="room_rules"),
    path("hours/", hours, name="hours"),
    path("hours/<int:person_id>/", hours, name="person_hours"),
    path("hours/<int:person_id>/skills/", skills, name="person_skills"),
]
