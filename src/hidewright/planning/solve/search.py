"""The search: many runs of the bench with other urgencies and habits, keeping the best.

First a few characters (strict least slack, finish what has been begun, begin only what can be ended today, other lot sizes), then a local search: some lots
are made more or less urgent, habits are changed a little, and what does not make the plan later is kept. Every run keeps all rules of the shop; the search only
chooses what goes first.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from hidewright.refusals import Refusal

from ..problem.calendar import DAY
from ..problem.model import Problem
from .dispatch import PLAIN, Habits, Room, Run
from .listplan import deadline_of, latest_starts
from .lots import LotRules, lots_of

Grid = tuple[tuple[float, ...], ...]
"""A number for each lot and stop."""

Score = tuple[int, float, int]
"""(last day, work left for the last days, finish): smaller is better. The work left, each day counting a quarter of the day after it, leads the search downhill
where the finish alone would not change."""


@dataclass(frozen=True, slots=True)
class Character:
    """A way of working: `begun` min by which a stop gains urgency for each stop done before it in its pass; `late` min by which a pass gains for each
    pass before it; and the habits."""

    begun: float = 0.0
    late: float = 0.0
    habits: Habits = PLAIN


@dataclass(frozen=True, slots=True)
class Found:
    """A run with what made it, so that it can be searched further: `bias` min of urgency added to each lot and stop."""

    room: Room
    run: Run
    score: Score
    character: Character = Character()
    bias: Grid = ()
    not_before: tuple[tuple[int, ...], ...] | None = None


FIRST: tuple[tuple[LotRules, Character], ...] = (
    (LotRules(4), Character(begun=120.0)),
    (LotRules(3), Character(60.0, habits=Habits(best_fit=True))),
    (LotRules(3), Character(120.0, 600.0, Habits(best_fit=True, coat_today=1.3))),
    (LotRules(2), Character(120.0)),
    (LotRules(4), Character(30.0, 600.0)),
    (LotRules(3), Character(60.0, -600.0, Habits(coat_today=1.2))),
    (LotRules(3), Character(300.0, 1440.0, Habits(prep_today=1.2, coat_today=1.2))),
    (LotRules(2), Character(300.0, 600.0, Habits(best_fit=True, prep_today=1.0, coat_today=1.4))),
    (LotRules(4), Character(60.0, -300.0, Habits(prep_today=1.5, coat_today=1.6))),
    (LotRules(3), Character(0.0, -300.0)),
    (LotRules(1), Character(60.0)),
)
"""Lot sizes and characters that are tried first."""


def worked(room: Room, minute: int) -> int:
    """Minutes of open hours before `minute`."""
    return sum(min(b, minute) - a for a, b in room.open if a < minute)


def score_of(room: Room, run: Run) -> Score:
    """The run's score."""
    last = (run.finish - 1) // DAY
    days = [a // DAY for a, _ in room.open if a < run.finish]
    rank = {day: len(set(days)) - 1 - number for number, day in enumerate(dict.fromkeys(days))}
    left = 0.0
    for done in run.done:
        back = rank.get(done.start // DAY, 99)
        if back < 6:
            left += room.lots[done.lot].stops[done.stop].minutes * 0.25**back
    return (last, left, run.finish)


def urgency_of(room: Room, character: Character, bias: Sequence[Sequence[float]] = ()) -> list[list[float]]:
    """The urgency of a character: least slack, with its gains and biases."""
    starts = room.latest_starts or latest_starts(room, deadline_of(room.problem))
    room.latest_starts = starts
    found = []
    for number, (lot, row) in enumerate(zip(room.lots, starts, strict=True)):
        keys: list[float] = []
        inside = passes = 0
        for index, (stop, start) in enumerate(zip(lot.stops, row, strict=True)):
            if stop.opens:
                inside, passes = 0, passes + 1
            more = bias[number][index] if bias else 0.0
            keys.append(start - character.begun * inside - character.late * passes + more)
            inside += 1
        found.append(keys)
    return found


Stop = Callable[[], bool]


def try_out(
    room: Room,
    character: Character,
    bias: Grid = (),
    limit: int | None = None,
    not_before: tuple[tuple[int, ...], ...] | None = None,
) -> Found | None:
    """One run; None when it goes on after `limit`, or never ends: lots may be too large for the hours, where single pieces are not."""
    give_up = None if limit is None else limit.__lt__
    try:
        run = room.run(
            urgency_of(room, character, bias), character.habits, not_before=not_before, give_up=give_up
        )
    except Refusal:
        return None
    return None if run is None else Found(room, run, score_of(room, run), character, bias, not_before)


class Rooms:
    """The rooms of a problem by lot rules, each made once."""

    def __init__(self, problem: Problem, make: Callable[[LotRules], Room] | None = None) -> None:
        self.make = make or (lambda rules: Room(problem, lots_of(problem, rules)))
        self.made: dict[LotRules, Room] = {}

    def __call__(self, rules: LotRules) -> Room:
        """The room with lots made by these rules."""
        if rules not in self.made:
            self.made[rules] = self.make(rules)
        return self.made[rules]


def first_plans(rooms: Rooms) -> Iterator[Found]:
    """One run for each of the first characters."""
    for rules, character in FIRST:
        found = try_out(rooms(rules), character)
        if found is not None:
            yield found


def chance_plans(rooms: Rooms, rng: random.Random, limit: Callable[[], int]) -> Iterator[Found | None]:
    """One run after the other with lot sizes and characters by chance; None for a run that went on after the limit."""
    while True:
        rules = LotRules(rng.choice((1, 2, 2, 3, 3, 4)), rng.choice((1.6, 2.2, 2.8)))
        times = (0.0, 0.0, rng.uniform(0.9, 1.8), rng.uniform(0.9, 1.8))
        habits = Habits(False, rng.random() < 0.5, rng.choice(times), rng.choice(times))
        begun = rng.choice((0.0, 30.0, 120.0, 300.0, 600.0))
        yield try_out(rooms(rules), Character(begun, rng.gauss(300.0, 900.0), habits), limit=limit())


def improve(found: Found, rng: random.Random, rounds: int, stop: Stop, reach: float = 600.0) -> Found:
    """Local search around a run: shift a few lots (whole, or from one pass on) or a habit, and keep what is not worse."""
    best = found
    if not found.room.lots:
        return best
    for _ in range(rounds):
        if stop():
            break
        character = _other(best.character, rng) if rng.random() < 0.4 else best.character
        bias = _shifted(best, rng, reach) if character is best.character or rng.random() < 0.3 else best.bias
        other = try_out(found.room, character, bias, best.run.finish, best.not_before)
        if other is not None and other.score <= best.score:
            best = other
    return best


def _other(character: Character, rng: random.Random) -> Character:
    habits = character.habits
    what = rng.randrange(5)
    if what == 0:
        return replace(character, begun=max(0.0, character.begun + rng.gauss(0, 120)))
    if what == 1:
        return replace(character, late=character.late + rng.gauss(0, 600))
    if what == 2:
        return replace(character, habits=replace(habits, best_fit=not habits.best_fit))
    times = rng.choice((0.0, rng.uniform(0.8, 2.0)))
    if what == 3:
        return replace(character, habits=replace(habits, prep_today=times))
    return replace(character, habits=replace(habits, coat_today=times))


def _shifted(found: Found, rng: random.Random, reach: float) -> Grid:
    lots = found.room.lots
    bias = list(found.bias) or [(0.0,) * len(lot.stops) for lot in lots]
    for lot in rng.sample(range(len(lots)), min(len(lots), rng.choice((1, 1, 2, 3, 5)))):
        stops = lots[lot].stops
        openings = [0, *(i for i, stop in enumerate(stops) if stop.opens and i)]
        begin = rng.choice(openings)
        later = [i for i in openings if i > begin]
        end = later[0] if later and rng.random() < 0.5 else len(stops)
        by = rng.gauss(0.0, reach)
        bias[lot] = tuple(b + by if begin <= i < end else b for i, b in enumerate(bias[lot]))
    return tuple(bias)


def spread(founds: Sequence[Found], keep: int) -> list[Found]:
    """The best few runs to search further."""
    chosen: list[Found] = []
    for found in sorted(founds, key=lambda f: f.score):
        if all(found.score != other.score for other in chosen):
            chosen.append(found)
    return chosen[:keep]
