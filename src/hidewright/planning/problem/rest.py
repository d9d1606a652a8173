"""The rest of the job: what a job takes besides coating, from receiving to loading, in minutes a job, a colour, a piece and a day.

Common practice, no source, all of it: wide starting values, each with the range within which shops differ, for the shop to edit and to learn from its own log. What is done to a piece becomes
work of that piece before it first lies on a table or after it last did; what is done once becomes work of a mark of its own; what every day takes is kept free of other work.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from hidewright.refusals import Refusal

from .calendar import DAY, NIGHT, Person, Stretch, Week
from .chains import runs
from .kinds import Kind
from .model import NAMED, OWN, Job, Operation, Problem
from .routes import MOST_AT_ONCE, in_parts

THE_JOB = "the job"
"""The mark of what is done once, for the whole job."""
COLOUR_OF = "colour"
"""How the marks begin of what is done once for each colour."""
BEFORE_OPENING = 10 * 60
"""min by which a wait of whole days ends sooner than to the minute: what was sent in working hours is back before the shop opens on that day."""
FIRST_COLOUR = frozenset({Kind.WIPE_IN, Kind.SPRAY, Kind.SECOND})


class Per(StrEnum):
    """How often something is done."""

    JOB = "a job"
    COLOUR = "a colour"
    PIECE = "a piece"
    DAY = "a person and day"


class When(StrEnum):
    """When it is done."""

    FIRST = "before anything else"
    COLOUR = "before the first colour"
    LAST = "when the coats are done"
    MORNING = "in the morning"
    EVENING = "in the evening"


@dataclass(frozen=True, slots=True)
class RestItem:
    """One thing that the job takes besides coating.

    `minutes` each time (0 to 4800) and `each` min more for every piece (only where it is done once a job); between `low` and `high` min lie most shops; `days` (0 to 90) to wait for others
    after it. `kind` one of the shop's own kinds (`kinds.OWN`), which gives its family of work.
    """

    key: str
    name: str
    per: Per
    when: When
    minutes: float
    kind: Kind = Kind.OWN_PREP
    each: float = 0.0
    low: float = 0.0
    high: float = 0.0
    days: int = 0

    def __post_init__(self) -> None:
        if not self.key.strip() or not self.name.strip():
            raise Refusal("It needs a name.", where="what else the job takes")
        if "/" in self.name or NAMED.strip() in self.name or len(self.name) > 40:
            raise Refusal(
                "A name has no “/” or “·”, and 40 letters at most.",
                where=self.name[:40],
                remedy="Write it in plain words.",
            )
        if not (0 <= self.minutes <= 4800 and 0 <= self.each <= 480):
            raise Refusal(
                f"{self.minutes:g} min and {self.each:g} min a piece cannot be.",
                where=self.name,
                remedy="0 to 4800 min, and 0 to 480 min a piece.",
            )
        if not 0 <= self.days <= 90:
            raise Refusal(f"{self.days} days of waiting cannot be.", where=self.name, remedy="Enter 0 to 90.")
        if self.kind not in OWN:
            raise Refusal("It belongs to no family of the shop’s own work.", where=self.name)
        daily = self.when in (When.MORNING, When.EVENING)
        if daily != (self.per is Per.DAY):
            raise Refusal(
                "What is done every day is done in the morning or in the evening, and nothing else is.",
                where=self.name,
            )
        if (self.per is Per.COLOUR) != (self.when is When.COLOUR):
            raise Refusal("What is done for a colour is done before it.", where=self.name)

    def total(self, pieces: int, colours: int) -> float:
        """min for a job of so many pieces and colours; what every day takes is not in it."""
        times = {Per.JOB: 1, Per.COLOUR: colours, Per.PIECE: pieces, Per.DAY: 0}[self.per]
        return times * self.minutes + (self.each * pieces if self.per is Per.JOB else 0.0)


def _item(
    key: str, name: str, per: Per, when: When, minutes: float, low: float, high: float, **more: object
) -> RestItem:
    return RestItem(key, name, per, when, minutes, low=low, high=high, **more)  # type: ignore[arg-type]


STARTING = (
    _item("receive", "receive and count", Per.JOB, When.FIRST, 60, 30, 180, each=4.0),
    _item("dismantle", "take apart", Per.PIECE, When.FIRST, 20, 5, 60),
    _item("mend", "mend small damage", Per.PIECE, When.FIRST, 15, 5, 60),
    _item("match", "match the colour", Per.COLOUR, When.COLOUR, 240, 60, 720, kind=Kind.OWN_COLOUR),
    _item("sample", "make the sample", Per.COLOUR, When.COLOUR, 90, 30, 240, kind=Kind.OWN_COLOUR, days=3),
    _item("assemble", "put together", Per.PIECE, When.LAST, 20, 5, 60, kind=Kind.OWN_FINISH),
    _item("detail", "detail", Per.PIECE, When.LAST, 15, 5, 45, kind=Kind.OWN_FINISH),
    _item("pack", "pack", Per.PIECE, When.LAST, 10, 3, 30, kind=Kind.OWN_FINISH),
    _item("final", "final inspection", Per.JOB, When.LAST, 45, 20, 180, kind=Kind.OWN_FINISH, each=3.0),
    _item("load", "load", Per.JOB, When.LAST, 60, 30, 240, kind=Kind.OWN_FINISH, each=2.0),
    _item("open", "set up the room", Per.DAY, When.MORNING, 20, 10, 45),
    _item("clean", "clean guns and room", Per.DAY, When.EVENING, 30, 15, 60),
)
"""What a job takes besides coating: starting values with the range within which shops differ. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Rest:
    """What the job takes besides coating: `items`, and what the log has `learned` of them: name → factor on the minutes."""

    items: tuple[RestItem, ...] = STARTING
    learned: Mapping[str, float] = field(default_factory=dict)

    def of(self, per: Per, when: When) -> tuple[RestItem, ...]:
        """The items of that kind that take any time, in order."""
        return tuple(i for i in self.items if i.per is per and i.when is when and i.minutes + i.each > 0)

    def whole(self, item: RestItem, pieces: int = 0) -> int:
        """Whole minutes of one time, learned: 1 or more."""
        return max(1, round(self.learned.get(item.name, 1.0) * (item.minutes + item.each * pieces)))

    def hands(self, pieces: int, colours: int) -> float:
        """min of hands for a job of so many pieces and colours, without what every day takes."""
        return sum(self.learned.get(i.name, 1.0) * i.total(pieces, colours) for i in self.items)

    @property
    def daily(self) -> tuple[int, int]:
        """(morning, evening) whole minutes that every person's day takes."""
        sums = [
            sum(self.learned.get(i.name, 1.0) * i.minutes for i in self.of(Per.DAY, when))
            for when in (When.MORNING, When.EVENING)
        ]
        return round(sums[0]), round(sums[1])


def shortened(person: Person, morning: int, evening: int) -> Person:
    """The person with what every day takes kept free of other work; refuses a day that has no time left."""
    hours: dict[int, tuple[Stretch, ...]] = dict.fromkeys(person.week.hours, ())
    for shift in _shifts(person.week):
        left = list(shift)
        for at_end, minutes in ((False, morning), (True, evening)):
            while minutes and left:
                start, end = left.pop(-1 if at_end else 0)
                used = min(minutes, end - start)
                minutes -= used
                if end - start > used:
                    rest = (start, end - used) if at_end else (start + used, end)
                    left.insert(len(left) if at_end else 0, rest)
        for start, end in left:
            day = start // DAY
            hours[day % 7] = tuple(sorted((*hours.get(day % 7, ()), (start - day * DAY, end - day * DAY))))
    if any(person.week.hours.values()) and not any(hours.values()):
        raise Refusal(
            f"Setting up and cleaning take {morning + evening} min a day, and {person.name} is there no longer than that.",
            where="what else the job takes",
            remedy="Shorten what every day takes, or lengthen the hours.",
        )
    return replace(person, week=Week(hours))


def _shifts(week: Week) -> list[list[Stretch]]:
    """The days of work of a week, in minutes since its Monday: a shift that goes on after midnight is one of them, also from Sunday to Monday (which then begins below 0)."""
    flat = sorted((day * DAY + a, day * DAY + b) for day, each in week.hours.items() for a, b in each)
    shifts: list[list[Stretch]] = []
    for start, end in flat:
        if shifts and start - shifts[-1][-1][1] < NIGHT:
            shifts[-1].append((start, end))
        else:
            shifts.append([(start, end)])
    if len(shifts) > 1 and flat[0][0] + 7 * DAY - flat[-1][1] < NIGHT:
        shifts[0] = [*((a - 7 * DAY, b - 7 * DAY) for a, b in shifts.pop()), *shifts[0]]
    return shifts


def shortened_all(people: Iterable[Person], rest: Rest) -> tuple[Person, ...]:
    """All people with what every day takes kept free."""
    morning, evening = rest.daily
    return tuple(shortened(p, morning, evening) if morning + evening else p for p in people)


def with_rest(problem: Problem, rest: Rest, most: int = MOST_AT_ONCE) -> Problem:
    """The problem with all that the job takes besides coating; work longer than `most` min comes in parts. The hours are shortened apart (`shortened_all`)."""
    marks = {job.piece for job in problem.jobs}
    colours = tuple(dict.fromkeys(job.colour for job in problem.jobs))
    once = _once(rest, problem.jobs, _free(THE_JOB, marks), most)
    arrived = next((o.key for o in reversed(once.operations) if o.pass_key == "start"), "") if once else ""
    prepared = {
        colour: _colour_job(rest, colour, _free(f"{COLOUR_OF} {colour}".strip(), marks), most)
        for colour in colours
    }
    jobs = [
        _piece(job, rest, arrived, prepared[job.colour].operations[-1].key if prepared[job.colour] else "")  # type: ignore[union-attr]
        for job in problem.jobs
    ]
    more = [job for job in (once, *prepared.values()) if job is not None]
    return replace(problem, jobs=(*jobs, *more))


def _free(mark: str, taken: set[str]) -> str:
    """The mark, or one like it that no piece has."""
    while mark in taken:
        mark = f"whole {mark}"
    return mark


def once_for(mark: str) -> str | None:
    """What is done once, by its mark: the name of a colour, "" for the whole job or the only colour; None for the mark of a piece."""
    bare = mark
    while bare.startswith("whole "):
        bare = bare.removeprefix("whole ")
    if bare in (THE_JOB, COLOUR_OF):
        return ""
    return bare.removeprefix(f"{COLOUR_OF} ") if bare.startswith(f"{COLOUR_OF} ") else None


def _operations(
    mark: str, pass_key: str, items: Sequence[RestItem], rest: Rest, most: int, pieces: int = 0
) -> Iterator[Operation]:
    for item in items:
        whole = Operation(
            f"{mark}/{pass_key}/{item.name}{NAMED}{item.kind}",
            item.kind,
            "front",
            pass_key,
            rest.whole(item, pieces),
            dry=max(0, item.days * DAY - BEFORE_OPENING),
            name=item.name,
        )
        yield from in_parts(whole, most)


def _once(rest: Rest, jobs: Sequence[Job], mark: str, most: int) -> Job | None:
    """What is done once for the whole job, before all pieces and after all of them."""
    first = list(_operations(mark, "start", rest.of(Per.JOB, When.FIRST), rest, most, len(jobs)))
    last = list(_operations(mark, "end", rest.of(Per.JOB, When.LAST), rest, most, len(jobs)))
    if last:
        last[0] = replace(last[0], after=tuple(job.piece for job in jobs))
    if not first and not last:
        return None
    return _by_itself(mark, "The whole job", (*first, *last))


def _colour_job(rest: Rest, colour: str, mark: str, most: int) -> Job | None:
    """What is done once for a colour, before it is used."""
    operations = tuple(_operations(mark, "start", rest.of(Per.COLOUR, When.COLOUR), rest, most))
    if not operations:
        return None
    return replace(
        _by_itself(mark, f"The colour {colour}".strip(), operations),
        colour=colour,
    )


def _by_itself(mark: str, name: str, operations: tuple[Operation, ...]) -> Job:
    return Job(mark, name, "", 0.01, 0.01, operations)


def _piece(job: Job, rest: Rest, arrived: str, colour: str) -> Job:
    """The piece with what is done to it before and after its coats; it waits until all has arrived, and its first colour until that is matched and approved."""
    first = list(_operations(job.piece, "start", rest.of(Per.PIECE, When.FIRST), rest, 10**9))
    if any(o.kind is Kind.REPAIR for o in job.operations):
        first = [o for o in first if o.name != "mend small damage"]
    last = list(_operations(job.piece, "end", rest.of(Per.PIECE, When.LAST), rest, 10**9))
    middle = _coloured_after(job.operations, colour) if colour else job.operations
    whole = (*first, *_with_last(middle, last))
    if arrived:
        whole = (replace(whole[0], after=(*whole[0].after, arrived)), *whole[1:])
    return replace(job, operations=whole)


def _coloured_after(operations: tuple[Operation, ...], name: str) -> tuple[Operation, ...]:
    """The operations, the first run that lays colour waiting for what must be over before it."""
    at = 0
    for run in runs(operations):
        if any(o.kind in FIRST_COLOUR for o in run):
            first = replace(run[0], after=(*run[0].after, name))
            return (*operations[:at], first, *operations[at + 1 :])
        at += len(run)
    return operations


def _with_last(operations: tuple[Operation, ...], last: Sequence[Operation]) -> tuple[Operation, ...]:
    """What is done to a piece at the end: all but packing goes before the inspection, where there is one."""
    at = next(
        (n for n, o in enumerate(operations) if o.kind is Kind.INSPECT and o.pass_key == "end"),
        len(operations),
    )
    before = [o for o in last if o.name != "pack"]
    return (*operations[:at], *before, *operations[at:], *(o for o in last if o.name == "pack"))
