"""Routes: the shop's lists of steps as lines that are added, moved and changed; and the routes that a job's pieces take."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.planning.problem.kinds import OWN
from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.route import Route, RouteStep, Where
from hidewright.refusals import Refusal
from hidewright.survey import Condition, Material
from hidewright.workshop.frame.acts import NotDone, once, submitted, tried
from hidewright.workshop.frame.forms import NumberField, acted
from hidewright.workshop.frame.pages import job_page, toast_last, went, whole
from hidewright.workshop.pieces import route_actions as steps
from hidewright.workshop.pieces import route_queries as gather
from hidewright.workshop.pieces.models import RouteChoice, ShopRoute
from hidewright.workshop.pieces.queries import named
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.words import by_units

STRIP = (("", "stripped or not"), ("yes", "stripped"), ("no", "not stripped"))
FAMILY_WORDS = {
    Kind.OWN_PREP: "Preparation",
    Kind.OWN_MASK: "Masking",
    Kind.OWN_COLOUR: "Colour",
    Kind.OWN_CLEAR: "Clear",
    Kind.OWN_TURN: "Turning",
    Kind.OWN_FINISH: "Unmasking and finishing",
}
"""What the families of the shop's own work are called."""


def _choices(kinds: Any) -> list[tuple[str, str]]:
    return [(str(each), str(each).capitalize()) for each in kinds]


class HeadForm(forms.Form):
    """What a route is for."""

    name = forms.CharField(label="Name", max_length=60)
    materials = forms.MultipleChoiceField(
        label="For pieces of",
        choices=_choices(Material),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: any material.",
    )
    conditions = forms.MultipleChoiceField(
        label="That arrive",
        choices=_choices(Condition),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: in any condition.",
    )
    strip = forms.ChoiceField(label="And are", choices=STRIP, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput)

    def changes(self) -> dict[str, Any]:
        """What was filled in, as the act takes it."""
        cleaned = {name: value for name, value in self.cleaned_data.items() if name != "version"}
        return {**cleaned, "strip": {"yes": True, "no": False}.get(cleaned["strip"])}


class StepForm(forms.Form):
    """Where a step is done, and minutes of its own."""

    where = forms.ChoiceField(label="Where it is done", choices=_choices(Where))
    fixed = NumberField(label="Minutes a piece", required=False, min_value=0, max_value=480)
    per_area = NumberField(label="Minutes a m²", required=False, min_value=0, max_value=2000)
    dry = NumberField(
        label=by_units("Dries, minutes at 20 °C and 50 %", "Dries, minutes at 68 °F and 50 %"),
        required=False,
        min_value=0,
        max_value=14 * 24 * 60,
    )
    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, units: str, own: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.square, sign = gather.AREA[units]
        self.fields["per_area"].label = f"Minutes a {sign}"
        self.own = own
        if own:
            name = forms.CharField(label="What is done", max_length=40, required=False)
            self.fields = {"name": name, **self.fields}

    def changes(self) -> dict[str, Any]:
        """What was filled in, as the act takes it; a step of the shop's own has minutes, so none a m² means 0."""
        cleaned = self.cleaned_data
        per_area = cleaned["per_area"]
        per_m2 = None if per_area is None else per_area / self.square
        if self.own and per_m2 is None:
            per_m2 = 0.0
        numbers = {"fixed": cleaned["fixed"], "per_m2": per_m2, "dry": cleaned["dry"]}
        return {"where": cleaned["where"], **numbers, "name": cleaned.get("name", "")}


class AddForm(forms.Form):
    """A usual step and its place."""

    what = forms.ChoiceField(
        label="Which step", choices=[(str(k), str(k).capitalize()) for k in Kind if k not in OWN]
    )
    place = forms.ChoiceField(label="Where it comes")
    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, route: Route, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _place_field(self, route)


class OwnStepForm(StepForm):
    """A step of the shop's own and its place."""

    place = forms.ChoiceField(label="Where it comes")
    family = forms.ChoiceField(
        label="What kind of work it is",
        required=False,
        choices=[("", "as the step before it"), *((str(k), w) for k, w in FAMILY_WORDS.items())],
        help_text="Work of one kind is done together.",
    )
    field_order = ("name", "place", "fixed", "per_area", "dry", "where", "family", "version")

    def __init__(self, *args: Any, route: Route, units: str, **kwargs: Any) -> None:
        super().__init__(*args, units=units, own=True, **kwargs)
        self.fields["name"].required = True
        self.fields["name"].help_text = "Such as: degrease the hardware."
        self.fields["fixed"].required = True
        self.fields["dry"].help_text = "Empty: nothing dries after it."
        _place_field(self, route)
        self.order_fields(self.field_order)


def _place_field(form: forms.Form, route: Route) -> None:
    field = form.fields["place"]
    assert isinstance(field, forms.ChoiceField)
    groups = gather.places(route)
    field.choices = groups
    field.initial = groups[1][1][-1][0]


def _place(value: str) -> tuple[str, int]:
    """Part of the route, and the number that the step gets."""
    part, _, at = value.partition("|")
    return part, int(at)


class ChoiceForm(forms.Form):
    """A route for some pieces of a job, or for all of them."""

    pieces = forms.MultipleChoiceField(
        label="Which pieces", required=False, widget=forms.CheckboxSelectMultiple
    )
    everything = forms.BooleanField(label="All pieces of the job", required=False)
    route = forms.ChoiceField(label="Take the route", required=False)

    def __init__(self, *args: Any, marks: dict[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, choices in (
            ("pieces", list(marks.items())),
            ("route", [("", "that the shop’s list says"), *((r.key, r.name) for r in gather.shop_routes())]),
        ):
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)
            field.choices = choices

    def marks(self) -> list[str]:
        """The marks of the pieces; an empty one stands for all of them."""
        return [""] if self.cleaned_data["everything"] else list(self.cleaned_data["pieces"])


@require_http_methods(["GET"])
def routes(request: HttpRequest) -> HttpResponse:
    """The shop's routes in the order in which they are asked."""
    units = the_shop().units
    jobs = [(job, gather.served(job)) for job in Job.objects.order_by("-pk")[:3]]
    lines = [
        (
            gather.shown(route.key, units),
            [(job.name, len(found[route.key])) for job, found in jobs if route.key in found],
        )
        for route in gather.shop_routes()
    ]
    nothing = [(job.name, found[""]) for job, found in jobs if "" in found]
    return render(request, "routes/list.html", {"lines": lines, "nothing": nothing})


def _page(
    request: HttpRequest,
    key: str,
    *,
    status: int = 200,
    head: HeadForm | None = None,
    add: AddForm | None = None,
    own: OwnStepForm | None = None,
    wrong: str = "",
    wrong_step: tuple[int, StepForm] | None = None,
    name: str = "",
) -> HttpResponse:
    units = the_shop().units
    try:
        shown = gather.shown(key, units)
    except KeyError:
        raise Http404("no such route") from None
    data = {**gather.data_of(shown.route), "version": shown.version}
    data["strip"] = {True: "yes", False: "no"}.get(data["strip"], "")
    asked = request.GET.get("step", "")
    number = wrong_step[0] if wrong_step else whole(asked, -1)
    opened = shown.route.steps[number] if 0 <= number < len(shown.route.steps) else None
    version = {"version": shown.version}
    context = {
        "shown": shown,
        "opened": number if opened else -1,
        "step_form": wrong_step[1] if wrong_step else opened and _step_form(opened, shown.version, units),
        "head": head or HeadForm(initial=data),
        "add": add or AddForm(initial=version, route=shown.route, auto_id="add_%s"),
        "own": own or OwnStepForm(initial=version, route=shown.route, units=units, auto_id="own_%s"),
        "wrong": wrong,
        "wrong_copy": bool(name),
        "copy_name": name or f"{shown.route.name}, our own",
    }
    return render(request, "routes/route.html", context, status=status)


def _step_form(step: RouteStep, version: int, units: str) -> StepForm:
    square, _ = gather.AREA[units]
    per_area = None if step.per_m2 is None else round(step.per_m2 * square, 3)
    initial = {"where": str(step.where), "fixed": step.fixed, "per_area": per_area, "dry": step.dry}
    initial |= {"name": step.name, "version": version}
    return StepForm(initial=initial, units=units, own=bool(step.name), auto_id="step_%s")


@require_http_methods(["GET"])
def route(request: HttpRequest, key: str) -> HttpResponse:
    """One route as a list of lines, one of them open to be changed."""
    return _page(request, key)


def _route_of(key: str) -> Route:
    try:
        return gather.shown(key, the_shop().units).route
    except KeyError:
        raise Http404("no such route") from None


def _version(request: HttpRequest) -> int:
    return whole(request.POST.get("version", ""), -1)


def _acted(request: HttpRequest, key: str, act: Callable[[], object], anchor: str = "") -> HttpResponse:
    """Do it, say so, and lead back to the line; a refusal is shown on the page as it is now."""

    def done(at: object) -> HttpResponse:
        toast_last(request, None)
        where = f"?step={at}#step-{at}" if isinstance(at, int) else anchor
        return redirect(reverse("route", args=[key]) + where)

    return tried(act, done, lambda refusal: _page(request, key, status=422, wrong=str(refusal)))


@require_POST
@once
def head(request: HttpRequest, key: str) -> HttpResponse:
    """Change what a route is for."""
    form = HeadForm(request.POST)
    return submitted(
        form,
        lambda cleaned: steps.change_head(key, cleaned["version"], **form.changes()),
        lambda _: went(request, None, "route", key=key),
        lambda: _page(request, key, status=422, head=form),
    )


@require_POST
@once
def step(request: HttpRequest, key: str, number: int) -> HttpResponse:
    """Move a step, take it out, or change it."""
    version = _version(request)
    if "up" in request.POST or "down" in request.POST:
        by = -1 if "up" in request.POST else 1
        return _acted(request, key, lambda: steps.move_step(key, version, number, by))
    if "out" in request.POST:
        return _acted(request, key, lambda: steps.remove_step(key, version, number), "#steps")
    listed = _route_of(key).steps
    own = number < len(listed) and bool(listed[number].name)
    form = StepForm(request.POST, units=the_shop().units, own=own, auto_id="step_%s")
    return submitted(
        form,
        lambda _: steps.change_step(key, version, number, **form.changes()),
        lambda _: went(request, None, f"{reverse('route', args=[key])}#step-{number}"),
        lambda: _page(request, key, status=422, wrong_step=(number, form)),
    )


@require_POST
@once
def add(request: HttpRequest, key: str) -> HttpResponse:
    """Add a usual step, or one of the shop's own, at its place."""
    if "name" in request.POST:
        return _add_own(request, key)
    form = AddForm(request.POST, route=_route_of(key), auto_id="add_%s")

    def added(cleaned: dict[str, Any]) -> int:
        part, at = _place(cleaned["place"])
        return steps.add_step(key, cleaned["version"], cleaned["what"], part, at)

    return submitted(
        form,
        added,
        lambda at: went(request, None, f"{reverse('route', args=[key])}#step-{at}"),
        lambda: _page(request, key, status=422, add=form),
    )


def _add_own(request: HttpRequest, key: str) -> HttpResponse:
    form = OwnStepForm(request.POST, route=_route_of(key), units=the_shop().units, auto_id="own_%s")

    def added(cleaned: dict[str, Any]) -> int:
        part, at = _place(cleaned["place"])
        kind = cleaned["family"] or str(steps.own_kind_at(key, at))
        return steps.add_step(key, cleaned["version"], kind, part, at, **form.changes())

    return submitted(
        form,
        added,
        lambda at: went(request, None, f"{reverse('route', args=[key])}#step-{at}"),
        lambda: _page(request, key, status=422, own=form),
    )


@require_POST
@once
def settle(request: HttpRequest, key: str) -> HttpResponse:
    """Take the changes into use, throw them away, reset, copy, ask first or take away."""
    version = _version(request)
    if "copy" in request.POST:
        name = request.POST.get("name", "")[:60]
        try:
            row = steps.copy(key, name)
        except Refusal as refusal:
            raise NotDone(_page, request, key, status=422, wrong=str(refusal), name=name) from refusal
        toast_last(request, None)
        return redirect("route", key=row.key)
    if "away" in request.POST:
        steps.take_away(key)
        toast_last(request, None)
        return redirect("routes")
    acts: dict[str, Callable[[], object]] = {
        "use": lambda: steps.use(key, version),
        "throw": lambda: steps.throw_away(key, version),
        "reset": lambda: steps.reset(key, version),
        "first": lambda: steps.ask_first(key),
    }
    act = next((acts[name] for name in acts if name in request.POST), None)
    if act is None:
        return redirect("route", key=key)
    return _acted(request, key, act)


@require_http_methods(["GET", "POST"])
@once
def job_routes(request: HttpRequest, job_id: int) -> HttpResponse:
    """Which route each piece of a job takes; posting chooses one."""
    job = get_object_or_404(Job, pk=job_id)
    found = gather.served(job)
    marks = {mark: named(job, mark) for listed in found.values() for mark in listed}
    form = ChoiceForm(request.POST if request.method == "POST" else None, marks=marks)
    if request.method == "POST" and acted(form, lambda told: steps.choose(job, form.marks(), told["route"])):
        toast_last(request, job)
        return redirect("job_routes", job_id=job.pk)
    names = {each.key: each.name for each in gather.shop_routes()}
    context = {
        "form": form,
        "lines": [(key, names.get(key, ""), listed) for key, listed in found.items()],
        "choices": [
            (row, names.get(row.route, "a route that was taken away"))
            for row in RouteChoice.objects.filter(job=job, withdrawn=None)
        ],
        "drafts": ShopRoute.objects.filter(removed=None).exclude(draft=None),
    }
    return job_page(request, job, "days", "routes/job.html", context, status=422 if form.errors else 200)


@require_POST
@once
def give_back(request: HttpRequest, job_id: int, choice_id: int) -> HttpResponse:
    """Give a piece back to the shop's list."""
    row = get_object_or_404(RouteChoice, pk=choice_id, job_id=job_id)
    if row.withdrawn is None:
        steps.choose(row.job, [row.piece], "")
        toast_last(request, row.job)
    return redirect("job_routes", job_id=job_id)


urlpatterns = [
    path("routes/", routes, name="routes"),
    path("routes/<slug:key>/", route, name="route"),
    path("routes/<slug:key>/head/", head, name="route_head"),
    path("routes/<slug:key>/add/", add, name="add_route_step"),
    path("routes/<slug:key>/settle/", settle, name="settle_route"),
    path("routes/<slug:key>/steps/<int:number>/", step, name="route_step"),
    path("jobs/<int:job_id>/routes/", job_routes, name="job_routes"),
    path("jobs/<int:job_id>/routes/<int:choice_id>/give-back/", give_back, name="give_back_route"),
]
