"""Days: the plan, the day's lists with their taps, and the tables seen from above."""

from datetime import date, datetime
from functools import lru_cache
from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path, register_converter, reverse
from django.urls.converters import StringConverter
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.charts.plan import (
    ClockChart,
    PlanShown,
    Unit,
    clock_chart,
    clock_charts,
    moments_of,
    tables_at,
    tables_in_use,
)
from hidewright.charts.racks import Rack, racks_on
from hidewright.refusals import Refusal
from hidewright.workshop.days import actions as steps
from hidewright.workshop.days import comparison_queries as verdicts
from hidewright.workshop.days import queries as gather
from hidewright.workshop.days import request_queries as asked
from hidewright.workshop.days.changes import changed_since
from hidewright.workshop.days.forms import AgainForm, DueForm, HoldForm, PlanForm, ReplanForm
from hidewright.workshop.days.gap_queries import gaps
from hidewright.workshop.days.lists import in_parts
from hidewright.workshop.days.models import Due, Hold, Plan
from hidewright.workshop.days.piece_queries import piece_days
from hidewright.workshop.days.promise_queries import promise_of
from hidewright.workshop.days.queries import readiness
from hidewright.workshop.days.sharing_queries import clash_lines_of, owed_lines
from hidewright.workshop.days.what_if_actions import WHAT_IF_RUN
from hidewright.workshop.frame.acts import NotDone, once, submitted
from hidewright.workshop.frame.forms import acted
from hidewright.workshop.frame.pages import holder_of, job_page, toast, toast_last, went
from hidewright.workshop.pieces.queries import named, piece_names
from hidewright.workshop.room.clock_queries import clock_changes
from hidewright.workshop.room.queries import racks
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job, Person, Run
from hidewright.workshop.shop.runs import start_run

SECONDS_EACH = 4
"""How long each what-if is planned for."""

LINES_A_PAGE = 80
"""How many lines of what was left over stand on a page: with them it weighs about half of what a page may."""


def unit_of_shop() -> Unit:
    """The unit in which the shop measures its tables."""
    return "ft" if the_shop().units == "us" else "m"


@require_http_methods(["GET"])
def days(request: HttpRequest, job_id: int, day: str = "") -> HttpResponse:
    """The plan of a job, with the lists of one day."""
    return _page(request, get_object_or_404(Job, pk=job_id), day)


def _page(
    request: HttpRequest,
    job: Job,
    day: str = "",
    *,
    form: forms.Form | None = None,
    again: AgainForm | None = None,
    wait: HoldForm | None = None,
    due: DueForm | None = None,
    status: int = 200,
) -> HttpResponse:
    row = gather.plan_row(job)
    context: dict[str, Any] = {
        "form": form or (ReplanForm() if row else PlanForm()),
        "run": job.runs.filter(kind__in=(steps.PLAN_RUN, steps.REPLAN_RUN)).first(),
        "ready": [] if row else readiness(job),
        "holds": [(hold, asked.goes_on(hold)) for hold in asked.waiting(job)],
        "dues": asked.hurrying(job),
        "what_if": job.runs.filter(kind=WHAT_IF_RUN).first(),
    }
    if row is not None:
        plan = gather.plan_in_force(job)
        assert plan is not None
        context |= _plan_context(job, row, plan, _chosen(plan, day))
        context["verdict"] = verdicts.verdict(job, row, plan)
        context["rack"] = verdicts.rack(plan)
        context["row"] = row
        context["clashes"] = clash_lines_of(job)
        context["owed"] = [line for line in owed_lines() if line.job.pk != job.pk]
        context["odds"] = promise_of(row, job.promised)
        context["everyone"] = "everyone" in request.GET
        context["people"] = list(Person.objects.filter(active=True))
        context["ask_who"] = len(context["people"]) > 1 and holder_of(request) is None
        taught = (*gather.learned()[1].values(), *gather.learned_names().values())
        context["learned"] = [one for one in taught if one.entries]
        context["kept"] = verdicts.kept_words(row)
        context["held_up"] = held = verdicts.held_up(row)
        context["held_up_words"] = verdicts.held_up_words(held)
        context["behind"] = changed_since(job, row)
        marks = _pieces_of(plan, job)
        context["due_form"] = due or DueForm(pieces=marks, prefix="due")
        context["hold_form"] = wait or HoldForm(pieces=marks, prefix="hold")
        context["again_form"] = again or AgainForm(pieces=marks, prefix="again")
        context["coats"] = gather.coats_of(job)
        context["moves"] = gather.moved(job)
        context["tightest"] = verdicts.tightest(row)
        context["gaps"] = gaps(job, plan)
        context["clock_changes"] = clock_changes(plan.days)
        context["what_if_rows"] = _what_if_rows(context["what_if"], row.pk)
    return job_page(request, job, "days", "days/page.html", context, status=status)


def _pieces_of(plan: PlanShown, job: Job) -> dict[str, str]:
    """The pieces of the plan by mark, with what they are called; without what is done once a job or a colour."""
    names = piece_names(job)
    marks = sorted({act.piece for act in plan.acts if act.piece in names or not names})
    return {mark: named(job, mark) for mark in marks}


def _what_if_rows(run: Run | None, plan_id: int) -> list[dict[str, Any]]:
    """What the last what-ifs found, if they were asked of the plan in force."""
    if run is None or not run.result or run.result["plan"] != plan_id:
        return []
    return [{**each, "day": date.fromisoformat(each["finish"])} for each in run.result["rows"]]


def _chosen(plan: PlanShown, day: str) -> date:
    try:
        wanted = date.fromisoformat(day)
    except ValueError:
        return gather.day_to_show(plan, date.today())
    return wanted if wanted in plan.days else gather.day_to_show(plan, wanted)


def _plan_context(job: Job, row: Plan, plan: PlanShown, day: date) -> dict[str, Any]:
    return {
        "plan": plan,
        "day": day,
        "list": gather.day_list(job, plan, day),
        "day_number": plan.days.index(day) + 1,
        "is_today": day == date.today(),
    }


@require_http_methods(["GET"])
def pictures(request: HttpRequest, job_id: int, day: str) -> HttpResponse:
    """A day in pictures: its tables from above at each moment, the racks, and the clock; the day's page fetches it when it is unfolded."""
    job = get_object_or_404(Job, pk=job_id)
    plan, row = _plan_of(job), gather.plan_row(job)
    assert row is not None
    chosen = _chosen(plan, day)
    tables, chart = _drawn(row.pk, row.made, chosen, unit_of_shop())
    used = tables_in_use(plan, chosen)
    context = {
        "day": chosen,
        "pictures": tables,
        "empty_tables": [t.name for t in plan.tables if t not in used],
        "day_chart": chart,
        "racks_picture": mark_safe(_racks_drawn(row.pk, row.made, chosen, racks())),  # noqa: S308 - our own SVG, text escaped
    }
    return job_page(request, job, "days", "days/pictures.html", context)


@lru_cache(maxsize=64)
def _racks_drawn(plan_id: int, made: datetime, day: date, listed: tuple[Rack, ...]) -> str:
    """What stands in the racks on a day; a kept plan never changes, so once will do."""
    return racks_on(gather.shown_of(plan_id, made), listed, day)


@lru_cache(maxsize=64)
def _drawn(
    plan_id: int, made: datetime, day: date, unit: Unit
) -> tuple[list[tuple[datetime, SafeString]], SafeString]:
    """The tables of a day at its moments, and the day against the clock; a kept plan never changes, so once will do."""
    plan = gather.shown_of(plan_id, made)
    used = tables_in_use(plan, day)
    pictures = [
        (
            moment,
            mark_safe(  # noqa: S308 - our own SVG, text escaped
                tables_at(plan, moment, unit=unit, title=False, key=index == 0, tables=used)
            ),
        )
        for index, moment in enumerate(moments_of(plan, day))
    ]
    return pictures, _clock(clock_chart(plan, [day]))


@require_http_methods(["GET"])
def left_over(request: HttpRequest, job_id: int, day: str) -> HttpResponse:
    """What the days before left over, to be tapped after all, a part at a time."""
    job = get_object_or_404(Job, pk=job_id)
    plan = _plan_of(job)
    chosen = _chosen(plan, day)
    groups = gather.day_list(job, plan, chosen).left_over_groups
    part = Paginator(in_parts(groups, LINES_A_PAGE), 1).get_page(request.GET.get("part"))
    context = {"day": chosen, "groups": part[0], "part": part, "total": len(groups)}
    return job_page(request, job, "days", "days/left_over.html", context)


@require_http_methods(["GET"])
def piece(request: HttpRequest, job_id: int, mark: str) -> HttpResponse:
    """The days of one piece: its steps with their taps, what it waits for, what is drying on it."""
    job = get_object_or_404(Job, pk=job_id)
    plan = _plan_of(job)
    one = piece_days(job, plan, mark)
    if not one.lines:
        raise Http404("no such piece in the plan")
    context = {"one": one, "day": gather.day_to_show(plan, date.today())}
    return job_page(request, job, "days", "days/piece.html", context)


@require_http_methods(["GET"])
def whole(request: HttpRequest, job_id: int) -> HttpResponse:
    """The whole plan against the clock, and the tables of each evening."""
    job = get_object_or_404(Job, pk=job_id)
    plan = _plan_of(job)
    unit = unit_of_shop()
    evenings = [
        (
            day,
            mark_safe(tables_at(plan, moments_of(plan, day)[-1], unit=unit, title=False, key=False)),  # noqa: S308
        )
        for day in plan.days
    ]
    charts = [(chart.days, _clock(chart)) for chart in clock_charts(plan)]
    return job_page(request, job, "days", "days/whole.html", {"charts": charts, "evenings": evenings})


def _clock(chart: ClockChart) -> SafeString:
    """A time chart with the names of its rows beside it."""
    return mark_safe(chart.names + chart.chart)  # noqa: S308 - our own SVG, text escaped


def _plan_of(job: Job) -> PlanShown:
    plan = gather.plan_in_force(job)
    if plan is None:
        raise Refusal("There is no plan yet.", remedy="Make one on the page Days.")
    return plan


@require_POST
@once
def plan_days(request: HttpRequest, job_id: int) -> HttpResponse:
    """Start planning; the page shows how it gets on."""
    job = get_object_or_404(Job, pk=job_id)
    going_on = gather.plan_row(job) is not None
    form = (ReplanForm if going_on else PlanForm)(request.POST)
    if not form.is_valid():
        raise NotDone(_page, request, job, form=form, status=422)
    lacking = [check for check in readiness(job) if not check.ok]
    if lacking:
        form.add_error(None, " ".join(check.words for check in lacking))
        raise NotDone(_page, request, job, form=form, status=422)
    told = form.cleaned_data
    how = told.get("how", "anew")
    asked = {"seconds": told["seconds"], "because": told.get("because", "")}
    if how == "anew":
        start_run(job, steps.PLAN_RUN, {**asked, "not_before": timezone.now().isoformat()})
    else:
        start_run(job, steps.REPLAN_RUN, {**asked, "keep_days": how == "keep"})
    toast(request, "Planning. You can go on working; the plan appears here.")
    return redirect("days", job_id=job.pk)


@require_POST
@once
def do_again(request: HttpRequest, job_id: int) -> HttpResponse:
    """Send a piece through some steps again, and plan again round it."""
    job = get_object_or_404(Job, pk=job_id)
    form = AgainForm(request.POST, pieces=_pieces_of(_plan_of(job), job), prefix="again")
    if not acted(form, lambda told: steps.do_again(job, told["piece"], told["kinds"], told["why"])):
        raise NotDone(_page, request, job, again=form, status=422)
    toast_last(request, job)
    start_run(job, steps.REPLAN_RUN, {"seconds": 10, "because": f"{form.cleaned_data['piece']} again"})
    return redirect("days", job_id=job.pk)


@require_POST
@once
def hold(request: HttpRequest, job_id: int) -> HttpResponse:
    """Let a piece wait; it counts from the next plan on."""
    job = get_object_or_404(Job, pk=job_id)
    form = HoldForm(request.POST, pieces=_pieces_of(_plan_of(job), job), prefix="hold")
    return submitted(
        form,
        lambda told: steps.hold(job, **told),
        lambda _: went(request, job, "days", job_id=job.pk),
        lambda: _page(request, job, wait=form, status=422),
    )


@require_POST
@once
def lift(request: HttpRequest, job_id: int, hold_id: int) -> HttpResponse:
    """What a piece waited for is there."""
    steps.lift(get_object_or_404(Hold, pk=hold_id, job_id=job_id))
    toast_last(request, get_object_or_404(Job, pk=job_id))
    return redirect("days", job_id=job_id)


@require_POST
@once
def set_due(request: HttpRequest, job_id: int) -> HttpResponse:
    """Let a piece be done by a day of its own; it counts from the next plan on."""
    job = get_object_or_404(Job, pk=job_id)
    form = DueForm(request.POST, pieces=_pieces_of(_plan_of(job), job), prefix="due")
    return submitted(
        form,
        lambda told: steps.set_due(job, **told),
        lambda _: went(request, job, "days", job_id=job.pk),
        lambda: _page(request, job, due=form, status=422),
    )


@require_POST
@once
def lift_due(request: HttpRequest, job_id: int, due_id: int) -> HttpResponse:
    """A piece has no day of its own any more."""
    row = get_object_or_404(Due, pk=due_id, job_id=job_id)
    steps.lift_due(row)
    toast_last(request, row.job)
    return redirect("days", job_id=job_id)


@require_POST
@once
def what_if(request: HttpRequest, job_id: int) -> HttpResponse:
    """Try the usual changes side by side."""
    job = get_object_or_404(Job, pk=job_id)
    if gather.plan_row(job) is None:
        raise Refusal("There is no plan to compare with.", remedy="Plan the days first.")
    start_run(job, WHAT_IF_RUN, {"seconds": SECONDS_EACH})
    return redirect(f"{reverse('days', args=[job.pk])}#what-if-h")


@require_POST
@once
def withdraw(request: HttpRequest, job_id: int) -> HttpResponse:
    """Go back to the plan before this one."""
    job = get_object_or_404(Job, pk=job_id)
    row = gather.plan_row(job)
    if row is not None:
        steps.withdraw_plan(row)
        toast_last(request, job)
    return redirect("days", job_id=job.pk)


class DayInAddress(StringConverter):
    """A day in an address, such as 2026-03-02; any other word leads to the next day with work, but that of the taps."""

    regex = r"(?!tap/)[^/]+"


register_converter(DayInAddress, "day_or_word")
urlpatterns = [
    path("jobs/<int:job_id>/days/", days, name="days"),
    path("jobs/<int:job_id>/days/plan/", plan_days, name="plan_days"),
    path("jobs/<int:job_id>/days/again/", do_again, name="do_again"),
    path("jobs/<int:job_id>/days/hold/", hold, name="hold"),
    path("jobs/<int:job_id>/days/hold/<int:hold_id>/lift/", lift, name="lift_hold"),
    path("jobs/<int:job_id>/days/due/", set_due, name="set_due"),
    path("jobs/<int:job_id>/days/due/<int:due_id>/lift/", lift_due, name="lift_due"),
    path("jobs/<int:job_id>/days/what-if/", what_if, name="what_if"),
    path("jobs/<int:job_id>/days/withdraw/", withdraw, name="withdraw_plan"),
    path("jobs/<int:job_id>/days/pieces/<str:mark>/", piece, name="piece_days"),
    path("jobs/<int:job_id>/days/whole/", whole, name="whole_plan"),
    path("jobs/<int:job_id>/days/<day_or_word:day>/", days, name="day"),
    path("jobs/<int:job_id>/days/<day_or_word:day>/left-over/", left_over, name="left_over"),
    path("jobs/<int:job_id>/days/<day_or_word:day>/pictures/", pictures, name="day_pictures"),
]
