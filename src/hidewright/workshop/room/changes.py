"""What a plan knew of the room: kept beside it as plain data, so that the page can say in words what is different now."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Any

from hidewright.dates import short_day
from hidewright.planning.problem.absences import DAY, Absence, absences_of, days_of
from hidewright.units import counted
from hidewright.workshop.room.absence_queries import closures, early_closings
from hidewright.workshop.room.drying_queries import stretched_by_air
from hidewright.workshop.room.queries import (
    fan_words,
    planning_people,
    planning_tables,
    rack_holds,
    room_rules,
)
from hidewright.workshop.room.work_queries import WORK_RULES, keyed_work_lines
from hidewright.workshop.shop.models import Job

SLOWER = 0.02
"""Relative change of the drying factor below which nothing is said."""


def room_told(job: Job) -> dict[str, Any]:
    """People, tables, rules, closed days and the air, as a plan of `job` takes them now."""
    rules = room_rules()
    early = early_closings()
    return {
        "people": {
            person.name: {
                "week": {
                    str(day): [list(s) for s in found] for day, found in sorted(person.week.hours.items())
                },
                "off": _plain(a for a in person.absences if a not in early),
                "skills": sorted(str(kind) for kind in person.skills) if person.skills is not None else None,
            }
            for person in planning_people()
        },
        "tables": {t.name: [t.length, t.depth, sorted(t.not_for)] for t in planning_tables()},
        "closed": _plain(closures()),
        "guns": rules.guns,
        "work": {key: [words, number] for key, words, number in keyed_work_lines()},
        "fan_off": sorted(rules.fan_off),
        "rack": rack_holds(),
        "factor": round(stretched_by_air() * rules.drying.get("factor", 1.0), 4),
        "promised": job.promised.isoformat() if job.promised else "",
    }


def differences(then: Mapping[str, Any], now: Mapping[str, Any], today: date) -> Iterator[str]:
    """In words, what is different; days off that are past are passed over."""
    yield from _people(then["people"], now["people"], today)
    gone, back = _days_apart(then["closed"], now["closed"], today)
    yield from (f"nobody works {words}" for words in gone)
    yield from (f"there is work {words} after all" for words in back)
    for name in sorted({*then["tables"], *now["tables"]}):
        if name not in now["tables"]:
            yield f"the table {name} is gone"
        elif name not in then["tables"]:
            yield f"the table {name} is new"
        elif then["tables"][name] != now["tables"][name]:
            yield f"the table {name} was changed"
    if then["guns"] != now["guns"]:
        yield f"{counted(now['guns'], 'spray gun')} in use at once, not {then['guns']}"
    yield from _work(then.get("work"), now.get("work", {}))
    if then["fan_off"] != now["fan_off"]:
        yield fan_words(now["fan_off"])
    if then["rack"] != now["rack"]:
        yield "the racks hold " + ("any number" if now["rack"] is None else str(now["rack"]))
    if abs(now["factor"] / then["factor"] - 1) > SLOWER:
        yield f"things dry in {now['factor']:.2f} times their usual time, not {then['factor']:.2f}"
    if then["promised"] != now["promised"]:
        day = now["promised"] and short_day(date.fromisoformat(now["promised"]))
        yield f"it must leave on {day}" if day else "no day is promised any more"


def _people(then: Mapping[str, Any], now: Mapping[str, Any], today: date) -> Iterator[str]:
    for name in sorted({*then, *now}):
        if name not in now:
            yield f"{name} does not work here any more"
        elif name not in then:
            yield f"{name} works here too"
        else:
            one, two = then[name], now[name]
            gone, back = _days_apart(one["off"], two["off"], today)
            yield from (f"{name} is away {words}" for words in gone)
            yield from (f"{name} is there {words} after all" for words in back)
            if one["week"] != two["week"]:
                yield f"{name} works other hours"
            if one["skills"] != two["skills"]:
                yield f"{name} does other kinds of work"


def _work(then: Mapping[str, Any] | None, now: Mapping[str, Any]) -> Iterator[str]:
    """Rules of which the number is another. A plan of 0.1.0 kept them by the words of then: a rule that is called otherwise today is passed over there."""
    if then is None:
        return
    rules = {rule.name for rule in WORK_RULES}
    for key, (words, number) in now.items():
        kept = then.get(key, then.get(words))
        known = kept[1] if isinstance(kept, list) else kept
        if known != number and not (kept is None and key in rules):
            yield f"{words[:1].lower()}{words[1:]}: {number}"


Plain = list[Any]
"""Absences as plain data: [first day, last day, minute from which the first counts]; in plans kept before absences had a last day, a day each."""


def _plain(absences: Iterable[Absence]) -> Plain:
    return sorted([a.first.isoformat(), a.last.isoformat(), a.since] for a in absences)


def _value(entry: Any) -> Absence:
    if isinstance(entry, str):
        return Absence(date.fromisoformat(entry), date.fromisoformat(entry))
    return Absence(date.fromisoformat(entry[0]), date.fromisoformat(entry[1]), entry[2])


def _days_apart(then: Plain, now: Plain, today: date) -> tuple[list[str], list[str]]:
    """In words, the days from today on that are without work now, and those that are with work again."""
    before, after = days_of(map(_value, then)), days_of(map(_value, now))
    gone = {day: s for day, s in after.items() if day >= today and s < before.get(day, DAY)}
    back = {day: s for day, s in before.items() if day >= today and s < after.get(day, DAY)}
    return [_stretch(a) for a in absences_of(gone.items())], [_stretch(a) for a in absences_of(back.items())]


def _stretch(absence: Absence) -> str:
    """ "on Mon 9 Mar", "on Mon 9 Mar from 13:00", "from Mon 9 Mar to Fri 20 Mar"."""
    if absence.first == absence.last:
        return f"on {short_day(absence.first)}{absence.clock}"
    return f"from {short_day(absence.first)}{absence.clock} to {short_day(absence.last)}"
