"""Routes as values: the shop's list, one route as its cards, and which route each piece of a job takes."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.planning.problem.calendar import Calendar
from hidewright.planning.problem.model import COATS, SPRAYED, Kind
from hidewright.planning.problem.route import Part, Route, RouteStep, Where, faults_of, route_for
from hidewright.planning.problem.routes import MOST_AT_ONCE, PACE, Drying, Pace, Times, job_of
from hidewright.planning.problem.shipped_routes import SHIPPED
from hidewright.planning.problem.work import Coats, WorkPiece
from hidewright.refusals import Refusal
from hidewright.units import FOOT
from hidewright.workshop.pieces.models import RouteChoice, ShopRoute
from hidewright.workshop.pieces.queries import pieces
from hidewright.workshop.room.drying_queries import planning_drying
from hidewright.workshop.room.queries import skills_of
from hidewright.workshop.shop.models import Job, Person
from hidewright.workshop.shop.page_cache import remembered

AREA = {"metric": (1.0, "m²"), "us": (FOOT**2, "ft²")}
"""The shop's unit of area in m², and its sign."""


def data_of(route: Route) -> dict[str, Any]:
    """A route as it is kept, JSON-able; how many coats the pieces get is said by the quantities of each job, and nowhere else."""
    return {
        "name": route.name,
        "materials": sorted(route.materials),
        "strip": route.strip,
        "conditions": sorted(route.conditions),
        "steps": [step_data(step) for step in route.steps],
    }


def step_data(step: RouteStep) -> dict[str, Any]:
    """A step as it is kept, JSON-able."""
    return {
        "part": str(step.part),
        "kind": str(step.kind),
        "where": str(step.where),
        "fixed": step.fixed,
        "per_m2": step.per_m2,
        "dry": step.dry,
        "name": step.name,
    }


def route_of_data(key: str, data: Mapping[str, Any]) -> Route:
    """A kept route as the planner takes it."""
    return Route(
        key,
        data["name"],
        tuple(_step_of(step) for step in data["steps"]),
        frozenset(data["materials"]),
        data["strip"],
        frozenset(data["conditions"]),
    )


def _step_of(kept: Mapping[str, Any]) -> RouteStep:
    numbers = (kept["fixed"], kept["per_m2"], kept["dry"])
    return RouteStep(
        Part(kept["part"]), Kind(kept["kind"]), Where(kept["where"]), *numbers, kept.get("name", "")
    )


SHIPPED_BY_KEY = {route.key: route for route in SHIPPED}


def shop_routes() -> tuple[Route, ...]:
    """The routes in the order in which they are asked: the shop's own, then those that came with it (as the shop changed them)."""
    rows = {row.key: row for row in ShopRoute.objects.filter(removed=None)}
    own = [route_of_data(row.key, row.now) for key, row in rows.items() if key not in SHIPPED_BY_KEY]
    shipped = [
        route_of_data(key, rows[key].now) if key in rows else route for key, route in SHIPPED_BY_KEY.items()
    ]
    return (*own, *shipped)


@remembered
def route_choices(job: Job) -> tuple[RouteChoice, ...]:
    """The routes chosen for this job or its pieces, those that were withdrawn too."""
    return tuple(RouteChoice.objects.filter(job=job))


def chosen_routes(job: Job, marks: Iterable[str]) -> dict[str, Route]:
    """Piece → the route chosen for it, or for all pieces of the job; pieces without a choice are left out."""
    known = {route.key: route for route in shop_routes()}
    rows = [row for row in route_choices(job) if row.withdrawn is None]
    told = {row.piece: known[row.route] for row in rows if row.route in known}
    return {mark: told.get(mark) or told[""] for mark in marks if mark in told or "" in told}


def served(job: Job) -> dict[str, list[str]]:
    """Route key → the marks of the job's pieces that take it; pieces for which there is none stand under an empty key."""
    listed = pieces(job)
    chosen, routes = chosen_routes(job, [p.key for p in listed]), shop_routes()
    found: dict[str, list[str]] = {}
    for piece in listed:
        route = chosen.get(piece.key)
        try:
            route = route or route_for(str(piece.material), str(piece.condition), piece.strip, routes)
        except Refusal:
            route = None
        found.setdefault(route.key if route else "", []).append(piece.key)
    return found


@dataclass(frozen=True, slots=True)
class Line:
    """One step of a route as it is read aloud: its `words`, `minutes` and drying (`dries`); `hands` who alone does it, `needs` what must be free besides; `nobody` where nobody here does it."""

    number: int
    step: RouteStep
    words: str
    minutes: str
    dries: str
    hands: str
    needs: str
    nobody: bool
    first: bool
    last: bool


@dataclass(frozen=True, slots=True)
class Section:
    """The lines of one part of a route."""

    part: Part
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Sample:
    """What a piece of half a square metre goes through: steps, minutes of hands, hours of drying."""

    words: str
    steps: int
    minutes: int
    hours: float


@dataclass(frozen=True, slots=True)
class RouteShown:
    """One route with its lines. `row` is None while it is as it was shipped."""

    route: Route
    row: ShopRoute | None
    sections: tuple[Section, ...]
    faults: tuple[Refusal, ...]
    samples: tuple[Sample, ...]

    @property
    def version(self) -> int:
        """The version that a form must name."""
        return self.row.version if self.row else 0

    @property
    def usual(self) -> Coats:
        """The coats where neither the route nor a job says how many."""
        return Coats()

    @property
    def is_draft(self) -> bool:
        """True while changes are not yet in use."""
        return self.row is not None and self.row.draft is not None

    @property
    def is_shipped(self) -> bool:
        """True for a route that came with it, changed or not."""
        return self.route.key in SHIPPED_BY_KEY

    @property
    def differs(self) -> bool:
        """True when a shipped route is not as it was shipped."""
        return self.is_shipped and self.route != SHIPPED_BY_KEY[self.route.key]


def shown(key: str, units: str) -> RouteShown:
    """One route, its draft where there is one; KeyError when there is no such route."""
    row = ShopRoute.objects.filter(key=key, removed=None).first()
    route = route_of_data(key, row.draft or row.now) if row else SHIPPED_BY_KEY[key]
    drying = planning_drying()
    return RouteShown(
        route,
        row,
        _sections(route, drying, units),
        faults_of(route, cure=drying.cure),
        _samples(route, drying) if not faults_of(route, cure=drying.cure) else (),
    )


def _sections(route: Route, drying: Drying, units: str) -> tuple[Section, ...]:
    people = {p.name: skills_of(p) for p in Person.objects.filter(active=True).select_related("skills")}
    last_coat = [n for n, s in enumerate(route.steps) if s.part is Part.SIDE and s.kind in COATS][-1:]
    sections = []
    for part in Part:
        numbers = [n for n, step in enumerate(route.steps) if step.part is part]
        lines = [
            Line(
                n,
                route.steps[n],
                step_words(route.steps[n]),
                _minutes_words(route.steps[n], units),
                _dries_words(route.steps[n], drying, last=n in last_coat),
                _hands(route.steps[n], people),
                _needs(route.steps[n]),
                bool(people) and not any(_can(route.steps[n].kind, known) for known in people.values()),
                n == numbers[0],
                n == numbers[-1],
            )
            for n in numbers
        ]
        sections.append(Section(part, tuple(lines)))
    return tuple(sections)


def step_words(step: RouteStep) -> str:
    """What the step is: its own name, or its kind; how many coats, the quantities of the job say."""
    words = {
        Kind.SECOND: "spray second coat, and further ones where the job has more",
        Kind.TURN: "turn, before the second side",
        Kind.MASK: "mask, before the first side",
        Kind.CLEAR: "spray clear, as many coats as the job has",
    }
    label = step.name or words.get(step.kind, str(step.kind))
    return label[:1].upper() + label[1:]


def places(route: Route) -> list[tuple[str, list[tuple[str, str]]]]:
    """Where a step can be put in: for each part, its places as (“part|number it gets”, words)."""
    groups, start = [], 0
    for part in Part:
        steps = route.part(part)
        after = [
            (f"{part}|{start + n + 1}", f"after {n + 1}. {step_words(step)}") for n, step in enumerate(steps)
        ]
        groups.append((str(part).capitalize(), [(f"{part}|{start}", "as the first"), *after]))
        start += len(steps)
    return groups


def _minutes_words(step: RouteStep, units: str) -> str:
    square, sign = AREA[units]
    own = step.fixed is not None and step.per_m2 is not None
    pace = Pace(step.fixed or 0, step.per_m2 or 0) if own else PACE[step.kind]
    parts = [f"{pace.fixed:g} min a piece"] if pace.fixed else []
    parts += [f"{pace.per_m2 * square:.2g} min a {sign}"] if pace.per_m2 else []
    return " and ".join(parts) + (" of this route’s own" if own and not step.name else "")


def _dries_words(step: RouteStep, drying: Drying, *, last: bool) -> str:
    own = step.dry is not None
    minutes = step.dry if step.dry is not None else (drying.last if last else drying.after)(step.kind)[0]
    if not minutes:
        return ""
    if own:
        minutes = (step.dry or 0) * drying.stretch("")
    words = f"dries {minutes:.0f} min" + (" before it is turned or moved" if last else "")
    return words + (" (this route’s own)" if own and not step.name else "")


def _can(kind: Kind, skills: frozenset[Kind] | None) -> bool:
    return skills is None or kind in skills


def _needs(step: RouteStep) -> str:
    """What must be free for it besides hands."""
    table = "no table" if step.part is Part.END else "a table"
    return f"{table} and a spray gun" if step.kind in SPRAYED else table


def _hands(step: RouteStep, people: Mapping[str, frozenset[Kind] | None]) -> str:
    """Who alone does it; empty where everybody or nobody does."""
    able = [name for name, skills in people.items() if _can(step.kind, skills)]
    return " or ".join(able) if 0 < len(able) < len(people) else ""


def _samples(route: Route, drying: Drying) -> tuple[Sample, ...]:
    """What three pieces of half a square metre would go through."""
    material = min(route.materials, default="leather")
    strips = [route.strip] if route.strip is not None else [False, True]
    found = []
    for strip in strips:
        for back in (0.0, 0.2):
            piece = WorkPiece(
                "sample", "sample", "", material, "worn", 0.6, 0.5, 0.5 - back, back, front_sat=True,
                strip=strip, mask=True, route=route,
                colour_coats=Coats().colour if route.colour_coats is None else route.colour_coats,
                clear_coats=Coats().clear if route.clear_coats is None else route.clear_coats,
            )  # fmt: skip
            job = job_of(piece, Times(PACE, drying, MOST_AT_ONCE), Calendar(date(2026, 1, 5)))
            words = f"{'stripped' if strip else 'not stripped'}, {'both sides' if back else 'one side'}"
            found.append(
                Sample(words, len(job.operations), job.minutes, sum(o.dry for o in job.operations) / 60)
            )
    return tuple(found)
