"""The days of a job: the plan in force, today's list, and how the work stands."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache

from django.db.models import Count, Max
from django.utils import timezone

from hidewright.charts.moves import Moves, moves_between
from hidewright.charts.plan import (
    ActShown,
    PlanShown,
    acts_of,
    hours_words,
)
from hidewright.charts.plan_json import plan_from_data
from hidewright.planning.change.replan import redo, with_job
from hidewright.planning.plan.schedule import Plan as Schedule
from hidewright.planning.plan.schedule import plan_from_data as schedule_from_data
from hidewright.planning.problem.model import Job as WorkJob
from hidewright.planning.problem.model import Kind, Problem
from hidewright.planning.problem.pace import LEAST, MOST, Learned, Took, learn, learn_pace
from hidewright.planning.problem.repairs import is_repair, with_repair
from hidewright.planning.problem.route import Route
from hidewright.planning.problem.routes import PACE, Pace, held
from hidewright.planning.problem.work import Coats, WorkPiece, work_pieces
from hidewright.planning.problem.work import Hold as WorkHold
from hidewright.planning.solve.build import build_problem
from hidewright.planning.solve.planner import Outcome, PlanResult
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.days.lists import DayList, Line, PersonDay
from hidewright.workshop.days.models import Hold, Plan, Redo, Tap, TapKind
from hidewright.workshop.days.progress_queries import NOT_STARTED, standings
from hidewright.workshop.days.request_queries import (
    came_up,
    goes_on,
    hold_words,
    hurrying,
    redos,
    repair_of,
    repairs,
    waiting,
)
from hidewright.workshop.days.rest_queries import rest_of, waiting_for_others
from hidewright.workshop.pieces.colour_queries import job_colours, several
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pieces.queries import piece_names, pieces
from hidewright.workshop.pieces.route_queries import chosen_routes, shop_routes
from hidewright.workshop.quantities.queries import sourced
from hidewright.workshop.room.drying_queries import planning_drying
from hidewright.workshop.room.models import Hours, WorkTable
from hidewright.workshop.room.queries import (
    planning_calendar,
    planning_people,
    planning_tables,
    pot_life,
    rack_holds,
    room_rules,
)
from hidewright.workshop.room.work_queries import planning_rules
from hidewright.workshop.shop.models import Job, Person
from hidewright.workshop.shop.page_cache import remembered

LearnedAll = tuple[dict[Kind, Pace], dict[Kind, Learned], dict[str, Learned]]
"""The shop's pace, what was learned of each kind, and of each name."""


@remembered
def plan_row(job: Job) -> Plan | None:
    """The plan in force, or None."""
    return Plan.objects.filter(job=job, withdrawn=None).defer("data").first()


def plan_in_force(job: Job) -> PlanShown | None:
    """The plan in force as it is shown, or None."""
    row = plan_row(job)
    return shown_of(row.pk, row.made) if row else None


@lru_cache(maxsize=16)
def shown_of(pk: int, made: datetime) -> PlanShown:
    """A kept plan as it is shown; a plan is never changed, so it is read once. `made` guards a reused number."""
    return plan_from_data(Plan.objects.values_list("data", flat=True).get(pk=pk, made=made)["shown"])


def moved(job: Job) -> Moves | None:
    """What moved between the plan in force and the one before it; None when there is only one."""
    rows = list(Plan.objects.filter(job=job, withdrawn=None).only("pk", "made")[:2])
    if len(rows) < 2:
        return None
    after, before = (shown_of(row.pk, row.made) for row in rows)
    done = frozenset(key for key, standing in standings(job, until=rows[0].made).items() if standing.done)
    return moves_between(before, after, left_out=done)


@remembered
def problem_of(job: Job) -> Problem:
    """All that a plan of `job` depends on, out of the rows, at the shop's own pace; refuses in words what makes a plan impossible."""
    factors = {name: found.factor for name, found in learned_names().items()}
    return problem_with(job, learned()[0], factors)


def problem_with(job: Job, pace: Mapping[Kind, Pace], factors: Mapping[str, float] | None = None) -> Problem:
    """The same at another pace; `factors` on the minutes of what has a name of its own."""
    problem = _built(job, pace, factors, job.starts, job.promised)
    done = {key: standing.at for key, standing in standings(job).items() if standing.done}
    for row in redos(job):
        old = next((one for one in problem.jobs if one.piece == row.piece), None)
        if old is not None:
            again = redo(old, tuple(Kind(kind) for kind in row.kinds), done)
            problem = with_job(problem, _released(again, row, problem))
    for row in repairs(job):
        old = next((one for one in problem.jobs if one.piece == row.piece), None)
        if old is not None:
            problem = with_job(problem, with_repair(old, repair_of(row), done))
    return _with_waiting(job, waiting_for_others(job, problem, done), done)


def _released(again: WorkJob, row: Redo, problem: Problem) -> WorkJob:
    """The work that a piece goes through again, not before the day of its touch-up session where it has one."""
    if row.not_before is None:
        return again
    newest = [key for key in again.passes if key.startswith("redo")][-1]
    release = problem.calendar.minutes_of(row.not_before)
    return replace(
        again,
        operations=tuple(
            replace(o, release=max(o.release, release)) if o.pass_key == newest else o
            for o in again.operations
        ),
    )


def problem_of_copy(job: Job, start: date) -> Problem:
    """Another interior like `job`, from the day `start` on: its pieces, routes and other work, with nothing done, waiting or promised."""
    factors = {name: found.factor for name, found in learned_names().items()}
    return _built(job, learned()[0], factors, start, None, copied=True)


def _built(
    job: Job,
    pace: Mapping[Kind, Pace],
    factors: Mapping[str, float] | None,
    start: date,
    promised: date | None,
    *,
    copied: bool = False,
) -> Problem:
    rules = room_rules()
    own = chosen_routes(job, [piece.key for piece in pieces(job)])
    return build_problem(
        _work(job, own, copied=copied),
        planning_people(),
        planning_tables(),
        planning_calendar(start),
        guns=rules.guns,
        fan_off=rules.fan_off,
        drying=planning_drying(),
        pot_life=pot_life(),
        pace=pace,
        promised=promised,
        routes=shop_routes(),
        rack=rack_holds(),
        rules=planning_rules(),
        rest=rest_of(job, factors),
        named=factors,
    )


@dataclass(frozen=True, slots=True)
class CoatsTold:
    """How many coats the days are planned with, and where each number comes from."""

    coats: Coats
    colour_from: str
    clear_from: str

    @property
    def figures(self) -> list[int]:
        """Coats of colour, of clear, and 1 where colour is wiped in first: what a plan keeps of it."""
        return [self.coats.colour, self.coats.clear, int(self.coats.wiped)]

    @property
    def words(self) -> str:
        """“3 coats of colour (the recipe), 2 of clear (usual figure); colour is wiped in first where it is sat on”."""
        colour = f"{counted(self.coats.colour, 'coat')} of colour"
        told = f"{colour} ({self.colour_from}), {self.coats.clear} of clear ({self.clear_from})"
        return f"{told}; colour is wiped in first where it is sat on" if self.coats.wiped else told


@remembered
def coats_of(job: Job, number: int = 0) -> CoatsTold:
    """How many coats a piece of one of the job's colours gets: the same numbers from which its litres are worked out."""
    found = sourced(job, None, number)
    assumed = found.assumed
    told = [found.sources.get(name, "usual figure") for name in ("colour_coats", "clear_coats")]
    return CoatsTold(Coats(assumed.colour_coats, assumed.clear_coats, assumed.wiped), told[0], told[1])


def _work(job: Job, own: Mapping[str, Route], *, copied: bool = False) -> tuple[WorkPiece, ...]:
    """The pieces as the planner takes them, each with the coats of its colour, in the order of the survey."""
    holds, dues = ({}, {}) if copied else (_holds(job), _dues(job))
    found: list[WorkPiece] = []
    for each in job_colours(job):
        coats = coats_of(job, each.number).coats
        made = work_pieces(pieces(job, each.number), holds, dues, coats=coats, routes=own)
        found += [replace(piece, colour=each.label) for piece in made] if several(job) else made
    place = {piece.key: n for n, piece in enumerate(pieces(job))}
    return tuple(sorted(found, key=lambda piece: place[piece.key]))


def _holds(job: Job) -> dict[str, tuple[WorkHold, ...]]:
    """Piece → the steps of it that wait; what waits as a whole comes later."""
    found: dict[str, tuple[WorkHold, ...]] = {}
    for row in waiting(job):
        if row.before:
            found[row.piece] = (*found.get(row.piece, ()), WorkHold(row.before, goes_on(row), row.why))
    return found


def _dues(job: Job) -> dict[str, date]:
    """Piece → the day of its own by which it must be done."""
    rows = sorted(hurrying(job), key=lambda row: row.day, reverse=True)
    return {row.piece: row.day for row in rows}


def _with_waiting(job: Job, problem: Problem, done: Collection[str]) -> Problem:
    """The problem with the pieces that wait as a whole: whatever comes next on them waits."""
    rows = [row for row in waiting(job) if not row.before]
    for row in rows:
        old = next((one for one in problem.jobs if one.piece == row.piece), None)
        if old is not None:
            release = problem.calendar.minutes_of(goes_on(row))
            problem = with_job(problem, held(old, done, release))
    return problem


@remembered
def learned() -> tuple[dict[Kind, Pace], dict[Kind, Learned]]:
    """The shop's own pace from every tap that told its minutes, and what was learned of each kind."""
    return _learned_now()[:2]


@remembered
def learned_names() -> dict[str, Learned]:
    """What was learned of work that has a name of its own: the shop's own steps, and the rest of the job."""
    return _learned_now()[2]


@remembered
def _learned_now() -> LearnedAll:
    told = Tap.objects.aggregate(newest=Max("id"), kept=Max("kept"), count=Count("id"))
    return _learned(told["newest"], told["kept"], told["count"])


@lru_cache(maxsize=4)
def _learned(newest: int | None, kept: datetime | None, count: int) -> LearnedAll:
    """Learned anew only when there is a new tap."""
    told = Tap.objects.filter(kind=TapKind.DONE, minutes__isnull=False).values("job")
    jobs = Job.objects.filter(pk__in=told) if count else []
    entries = [entry for each in jobs for entry in _took(each)]
    names = sorted({entry.kind for entry in entries} - {str(kind) for kind in Kind})
    return *learn_pace(entries), {name: learn(name, entries) for name in names}


def _took(job: Job) -> Iterator[Took]:
    """The log of a job: what each act took, against the starting values; slips of the finger are left out."""
    stands = {key: s.minutes for key, s in standings(job).items() if s.done and s.minutes}
    if not stands or not plannable(job):
        return
    try:
        problem = problem_with(job, PACE)
    except Refusal:
        # A job that cannot be planned today (a route taken away, a day long past) tells nothing of the pace.
        return
    for _, operation in problem.operations():
        # What a repair takes says nothing of the next one.
        minutes = None if is_repair(operation.key) else stands.get(operation.key)
        if minutes and LEAST <= minutes / operation.minutes <= MOST:
            yield Took(operation.work, operation.minutes, minutes)


def plannable(job: Job) -> bool:
    """Whether everything that a plan needs is there."""
    return all(check.ok for check in readiness(job))


def now_in(problem: Problem, moment: datetime | None = None) -> int:
    """The minute of `moment` (default: now) in the problem's calendar; 0 before its first day."""
    clock = timezone.localtime(moment).replace(tzinfo=None)
    return max(0, problem.calendar.minutes(clock))


def done_in(job: Job, problem: Problem, now: int) -> dict[str, tuple[int, int]]:
    """Operation key → (start, end) minutes of what was tapped done, as it really was; what the problem no longer has is left out."""
    minutes = {operation.key: operation.minutes for _, operation in problem.operations()}
    found = {}
    for key, standing in standings(job).items():
        if standing.done and standing.at is not None and key in minutes:
            end = min(now_in(problem, standing.at), now)
            found[key] = (end - round(standing.minutes or minutes[key]), end)
    return found


def schedule_in_force(row: Plan) -> Schedule:
    """The kept plan as the planner takes it."""
    return schedule_from_data(row.data["plan"])


def result_in_force(row: Plan, problem: Problem) -> PlanResult:
    """The kept plan as the planner's own result, to compare others with it."""
    plan = schedule_in_force(row)
    return PlanResult(
        Outcome(row.facts["outcome"]),
        plan,
        finish=plan.finish,
        finish_day=problem.calendar.day(plan.finish),
        bound_day=row.bound,
        bound_why=row.facts["bound_why"],
        bottleneck=row.facts["bottleneck"],
    )


def lines_of(job: Job, acts: Iterable[ActShown]) -> Iterator[Line]:
    """Acts with how they stand, and what their pieces wait for."""
    stands = standings(job)
    holds: dict[str, list[Hold]] = {}
    for row in waiting(job):
        holds.setdefault(row.piece, []).append(row)
    names = piece_names(job)
    for act in acts:
        standing = stands.get(act.key, NOT_STARTED)
        waits = [row for row in holds.get(act.piece, ()) if not standing.done and _is_for(row, act)]
        yield Line(act, standing, "; ".join(hold_words(row) for row in waits), names.get(act.piece, ""))


def _is_for(row: Hold, act: ActShown) -> bool:
    """Whether it is this act that waits: any when the piece waits as a whole, else that of the kind (or of the pass and kind) told."""
    pass_and_kind = "/".join(act.key.rsplit("/", 2)[1:])
    return not row.before or row.before in (pass_and_kind, pass_and_kind.partition("/")[2])


def day_list(job: Job, plan: PlanShown, day: date) -> DayList:
    """The lists of `day`, with what was left over from the days before."""
    people = tuple(
        PersonDay(person, tuple(lines_of(job, acts_of(plan, day, person))), hours_words(plan, day, person))
        for person in plan.people
    )
    before = sorted((act for act in plan.acts if act.start.date() < day), key=lambda act: act.start)
    return DayList(day, people, tuple(line for line in lines_of(job, before) if not line.standing.done))


def day_to_show(plan: PlanShown, today: date) -> date:
    """Today if somebody works today, else the next day with work, else the last."""
    coming = [day for day in plan.days if day >= today]
    return coming[0] if coming else plan.days[-1]


def left_over(job: Job, on: date | None = None) -> int:
    """How many steps of days before are not done; 0 without a plan."""
    plan = plan_in_force(job)
    if plan is None:
        return 0
    stands, day = standings(job), on or date.today()
    return sum(act.start.date() < day and not stands.get(act.key, NOT_STARTED).done for act in plan.acts)


def unplanned(job: Job) -> int:
    """How many pieces the plan in force does not know, or does not know to go again or to be repaired; 0 without a plan."""
    row = plan_row(job)
    known = set(row.facts.get("slack") or ()) if row else set()
    if row is None or not known:
        return 0
    ours = {piece.key for piece in pieces(job)}
    again = {each.piece for each in came_up(job) if each.made > row.made}
    return len((ours - known) | (again & ours))


def today(job: Job, on: date | None = None) -> tuple[int, int, str] | None:
    """(done, planned, what comes next) of the day to show; None without a plan."""
    plan = plan_in_force(job)
    if plan is None:
        return None
    listed = day_list(job, plan, day_to_show(plan, on or date.today()))
    coming = sorted(
        (group for person in listed.people for group in person.open_groups),
        key=lambda group: group.first.start,
    )
    following = coming[0].words if coming else ""
    return listed.done, listed.total, following


def other_day(job: Job, on: date | None = None) -> date | None:
    """The day that `today` is about, where it is not today: the next with work, else the last of the plan; None without a plan."""
    plan, on = plan_in_force(job), on or date.today()
    day = day_to_show(plan, on) if plan else on
    return day if day != on else None


def finish_day(job: Job) -> date | None:
    """The day on which the plan in force ends, or None without one."""
    row = plan_row(job)
    return row.finish if row else None


def days_left(job: Job, on: date | None = None) -> int | None:
    """Days from today to the promised day; None when none is promised."""
    return (job.promised - (on or date.today())).days if job.promised else None


def done_keys(job: Job) -> dict[str, bool]:
    """Act key → whether it is done, for the papers."""
    return {key: standing.done for key, standing in standings(job).items()}


@dataclass(frozen=True, slots=True)
class Check:
    """One thing a plan needs: whether it is there, in words, and the name of the page where it is entered."""

    ok: bool
    words: str
    page: str
    of_job: bool = False


def readiness(job: Job) -> list[Check]:
    """What a plan of `job` needs."""
    tables = WorkTable.objects.filter(active=True).count()
    people = Person.objects.filter(active=True).count()
    hours = Hours.objects.filter(person=None).exists()
    pieces = Piece.objects.filter(job=job, removed=None, by_us=True).count()
    return [
        Check(
            pieces > 0,
            f"{counted(pieces, 'piece')}." if pieces else "Enter the pieces first.",
            "survey",
            True,
        ),
        Check(tables > 0, f"{counted(tables, 'table')}." if tables else "Enter a table first.", "tables"),
        Check(hours, "Hours are set." if hours else "Set the hours of the shop first.", "hours"),
        Check(
            people > 0,
            f"{counted(people, 'person', 'people')}." if people else "Enter who works first.",
            "people",
        ),
    ]
