"""The search: many runs of the bench with other urgencies, keeping the best.

First a few characters (strict least slack, finish what has been begun, other lot sizes), then a local search: some lots are made more or less urgent, and what
does not make the plan later is kept. Every run keeps all rules of the shop; the search only chooses what goes first.
"""

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from .dispatch import Room, Run
from .listplan import deadline_of, latest_starts
from .lots import LotRules, lots_of
from .problem import Problem

Score = tuple[float, float]
"""(finish in minutes of open hours, mean finish of the lots): smaller is better."""


@dataclass(frozen=True, slots=True)
class Character:
    """A way of working: lot rules; `begun` min by which a stop gains urgency for each stop done before it in its pass; `late` min by which a pass gains
    for each pass before it; `best_fit` lies pieces in the tightest free stretch."""

    rules: LotRules
    begun: float = 0.0
    late: float = 0.0
    best_fit: bool = False


CHARACTERS = (
    Character(LotRules(4)),
    Character(LotRules(4), begun=120.0),
    Character(LotRules(3), begun=60.0, best_fit=True),
    Character(LotRules(2), begun=120.0),
    Character(LotRules(4), begun=30.0, late=600.0),
    Character(LotRules(3), begun=0.0, late=-300.0),
    Character(LotRules(3), begun=300.0, late=1440.0),
    Character(LotRules(1), begun=60.0),
)


@dataclass(frozen=True, slots=True)
class Found:
    """A run with what made it, so that it can be searched further."""

    room: Room
    run: Run
    urgency: tuple[tuple[float, ...], ...]
    score: Score
    best_fit: bool = False


def worked(room: Room, minute: int) -> int:
    """Minutes of open hours before `minute`."""
    return sum(min(b, minute) - a for a, b in room.open if a < minute)


def score_of(room: Room, run: Run) -> Score:
    """The run's score."""
    return (float(worked(room, run.finish)), run.mean)


def urgency_of(room: Room, character: Character) -> list[list[float]]:
    """The urgency of a character: least slack, with its gains."""
    starts = latest_starts(room, deadline_of(room.problem))
    found = []
    for lot, row in zip(room.lots, starts, strict=True):
        keys: list[float] = []
        inside = passes = 0
        for stop, start in zip(lot.stops, row, strict=True):
            if stop.opens:
                inside, passes = 0, passes + 1
            keys.append(start - character.begun * inside - character.late * passes)
            inside += 1
        found.append(keys)
    return found


Stop = Callable[[], bool]
OnBetter = Callable[[Found], None]


def first_plans(problem: Problem, rooms: Callable[[LotRules], Room] | None = None) -> Iterator[Found]:
    """One run for each character."""
    made: dict[LotRules, Room] = {}
    for character in CHARACTERS:
        rules = character.rules
        if rules not in made:
            made[rules] = rooms(rules) if rooms else Room(problem, lots_of(problem, rules))
        room = made[rules]
        urgency = urgency_of(room, character)
        run = room.run(urgency, best_fit=character.best_fit)
        if run is not None:
            yield Found(
                room, run, tuple(tuple(row) for row in urgency), score_of(room, run), character.best_fit
            )


def improve(found: Found, rng: random.Random, rounds: int, stop: Stop, reach: float = 600.0) -> Found:
    """Local search around a run: shift the urgency of a few lots (whole, or from one pass on) and keep what is not worse."""
    best = found
    count = len(found.room.lots)
    if count == 0:
        return best
    for _ in range(rounds):
        if stop():
            break
        urgency = [list(row) for row in best.urgency]
        for lot in rng.sample(range(count), min(count, rng.choice((1, 1, 2, 3, 5)))):
            _shift(found.room, urgency, lot, rng, reach)
        run = found.room.run(urgency, best_fit=best.best_fit, give_up=best.run.finish.__lt__)
        if run is None:
            continue
        score = score_of(found.room, run)
        if score <= best.score:
            best = Found(found.room, run, tuple(tuple(r) for r in urgency), score, best.best_fit)
    return best


def _shift(room: Room, urgency: list[list[float]], lot: int, rng: random.Random, reach: float) -> None:
    stops = room.lots[lot].stops
    openings = [0, *(i for i, stop in enumerate(stops) if stop.opens and i)]
    begin = rng.choice(openings)
    end = len(stops)
    if rng.random() < 0.5:
        later = [i for i in openings if i > begin]
        end = later[0] if later else end
    by = rng.gauss(0.0, reach)
    for index in range(begin, end):
        urgency[lot][index] += by


def spread(problem: Problem, founds: Sequence[Found], keep: int) -> list[Found]:
    """The best few runs to search further, each from another room where there are enough."""
    ordered = sorted(founds, key=lambda f: f.score)
    chosen: list[Found] = []
    for found in ordered:
        if all(found.score != other.score for other in chosen):
            chosen.append(found)
    return chosen[:keep]
