"""Days: what goes on which table on which day, with the odds of the last one."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from hidewright.dates import dated_day, short_day, short_moment
from hidewright.planning.plan.sessions import Session
from hidewright.planning.problem.calendar import NO_NIGHT, Calendar, Person
from hidewright.planning.problem.csv_in import read_hours, read_people, read_tables
from hidewright.planning.problem.drying import drying_of, pot_life_of
from hidewright.planning.problem.lists_in import HOURS, PEOPLE, TABLES, people_of, weeks_of
from hidewright.planning.problem.model import Problem, Table
from hidewright.planning.problem.routes import Drying
from hidewright.planning.problem.work import Coats, work_pieces
from hidewright.planning.solve.build import build_problem
from hidewright.planning.solve.planner import Outcome, PlanResult, Progress
from hidewright.planning.solve.planner import plan as best_plan
from hidewright.survey import Piece
from hidewright.takeoff.products import Product
from hidewright.units import counted

from .files import Source, list_source
from .quantities import Litres
from .tables import html_of


@dataclass(frozen=True, slots=True)
class Room:
    """Where and by whom it is done: `tables`, `people` with their hours, `guns`, and `rack` places for pieces off the tables (None: enough).

    >>> from hidewright import api
    >>> hours, people = "weekday,hours\\nMonday,08:00-16:00\\n", "key,name\\nr,Rowan\\n"
    >>> room = api.load_room("key,name,length,depth\\nlong,Long table,4.8,1\\n", people, hours, guns=2)
    >>> room.tables[0].length, room.people[0].name, room.guns
    (4.8, 'Rowan', 2)
    """

    tables: tuple[Table, ...]
    people: tuple[Person, ...]
    guns: int = 1
    rack: int | None = None


def load_room(
    tables: Source, people: Source, hours: Source, *, guns: int = 1, rack: int | None = None
) -> Room:
    """The room from three lists: tables (key, name, length, depth in m), people (key, name), hours (weekday, hours like 08:00-12:00 + 12:30-17:00), or other columns for them.

    Raises `Refusals`.

    >>> from hidewright import api
    >>> room = api.load_room(*(api.example(f"{name}.csv") for name in ("tables", "people", "hours")))
    >>> len(room.tables), [person.key for person in room.people]
    (4, ['imre', 'rowan'])
    """
    weeks = list_source(hours, HOURS, read_hours, lambda draft: weeks_of(draft.values))
    return Room(
        list_source(tables, TABLES, read_tables, lambda draft: draft.values),
        list_source(
            people,
            PEOPLE,
            lambda text: read_people(text, weeks),
            lambda draft: people_of(draft.values, weeks),
        ),
        guns,
        rack,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Days:
    """A plan that passed its audit. `result` all that planning came to, `problem` what was planned; a sequence of its sessions in order of time.

    >>> from datetime import date
    >>> from hidewright import api
    >>> room = api.load_room(*(api.example(f"{name}.csv") for name in ("tables", "people", "hours")))
    >>> panel = api.load_pieces("key,name,shape,length,width\\nA,panel,panel,600,500\\n")
    >>> days = api.plan(panel, room, start=date(2026, 3, 2), seconds=0)
    >>> days.not_before <= days.ends, [session.family for session in days][-1]
    (True, 'finish')
    """

    result: PlanResult
    problem: Problem

    def __len__(self) -> int:
        return len(self.result.sessions)

    def __getitem__(self, which: int) -> Session:
        return self.result.sessions[which]

    def __iter__(self) -> Iterator[Session]:
        return iter(self.result.sessions)

    @property
    def ends(self) -> date:
        """The last day if all goes as planned."""
        assert self.result.finish_day is not None
        return self.result.finish_day

    @property
    def likely(self) -> date | None:
        """The first day by which it is done one time in two or more often; None where there was no time to simulate."""
        return self.result.odds.likely if self.result.odds else None

    @property
    def sure(self) -> date | None:
        """The first day by which it is done nine times in ten or more often; None where there was no time to simulate."""
        return self.result.odds.sure if self.result.odds else None

    @property
    def not_before(self) -> date | None:
        """No plan can end before this day; None where it was not worked out."""
        return self.result.bound_day

    @property
    def words(self) -> str:
        """When it ends and how sure that is, what holds it up, and a line for each day."""
        result, lines = self.result, []
        if result.odds and self.likely and self.sure:
            odds = result.odds
            lines.append(
                f"Likely {short_day(self.likely)} ({odds.likely_times}), {odds.sure_times} {dated_day(self.sure)}."
            )
        bound = f"; at the very earliest {short_day(self.not_before)}" if self.not_before else ""
        lines.append(f"If all goes as planned it ends {dated_day(self.ends)}{bound}.")
        if self.problem.promised:
            late = f"{counted(result.late_days, 'day')} late" if result.late_days else "in time"
            lines.append(f"Promised {dated_day(self.problem.promised)}: {late}.")
        return "\n".join([*filter(None, (*lines, result.bottleneck, result.note)), *self._day_lines()])

    def _day_lines(self) -> Iterator[str]:
        by_day: dict[date, dict[str, set[str]]] = {}
        for session in self:
            families = by_day.setdefault(self.problem.calendar.day(session.start), {})
            families.setdefault(session.family, set()).update(session.pieces)
        for day, families in by_day.items():
            work = ", ".join(
                f"{family} {counted(len(pieces), 'piece')}" for family, pieces in families.items()
            )
            yield f"{short_day(day)}: {work}."

    def _repr_html_(self) -> str:
        moment = self.problem.calendar.moment
        rows = (
            (
                short_moment(moment(s.start)),
                f"{moment(s.end):%H:%M}",
                ", ".join(s.people),
                s.family,
                len(s.pieces),
            )
            for s in self
        )
        lead = "\n".join(self.words.splitlines()[:2])
        return html_of(lead, ("From", "To", "Who", "Session", "Pieces"), rows)


def plan(
    pieces: Sequence[Piece],
    room: Room,
    coats: Litres | Coats | None = None,
    *,
    products: Mapping[str, Product] | None = None,
    start: date | None = None,
    promised: date | None = None,
    damp: float = 1.0,
    fan_off: Collection[int] = NO_NIGHT,
    seconds: float = 20.0,
    seed: int = 0,
    on_progress: Callable[[Progress], None] = lambda _: None,
    should_stop: Callable[[], bool] = lambda: False,
) -> Days:
    """Plan the work on the pieces within `seconds`; the plan is audited by code that knows nothing of the planner.

    `coats` from `litres` bring its products along, and those their drying times and pot life. `start` first day (the coming Monday where none is given); `damp` drying takes so many times as
    long (0.1 to 10); `fan_off` weekdays (0 is Monday) on whose evenings the fan goes off. Needs OR-Tools only for bare job shops. Raises `Refusal` where no plan can do it, with the rule and
    the piece. See docs/science/planning.md.

    >>> from datetime import date
    >>> from hidewright import api
    >>> room = api.load_room(*(api.example(f"{name}.csv") for name in ("tables", "people", "hours")))
    >>> pieces = api.load_pieces(api.example("pieces.csv"))[:3]
    >>> days = api.plan(pieces, room, start=date(2026, 3, 2), seconds=0)
    >>> days.ends >= days.not_before, days[0].family
    (True, 'prep')
    """
    if isinstance(coats, Litres):
        products = products if products is not None else coats.products
        coats = coats.coats
    today = date.today()
    shelf = products or {}
    problem = build_problem(
        work_pieces(pieces, coats=coats),
        room.people,
        room.tables,
        Calendar(start or today + timedelta(days=-today.weekday() % 7)),
        guns=room.guns,
        drying=drying_of(shelf, Drying(factor=damp)),
        promised=promised,
        pot_life=pot_life_of(shelf),
        fan_off=fan_off,
        rack=room.rack,
    )
    result = best_plan(problem, seconds=seconds, seed=seed, on_progress=on_progress, should_stop=should_stop)
    if result.outcome is Outcome.IMPOSSIBLE:
        assert result.reason is not None
        raise result.reason
    return Days(result, problem)
