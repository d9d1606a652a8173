"""What a plan knew of the room: kept beside it as plain data, so that the page can say in words what is different now."""

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from hidewright.dates import short_day
from hidewright.units import counted
from hidewright.workshop.room.drying_queries import stretched_by_air
from hidewright.workshop.room.queries import (
    fan_words,
    planning_calendar,
    planning_people,
    planning_tables,
    rack_holds,
    room_rules,
)
from hidewright.workshop.room.work_queries import work_lines
from hidewright.workshop.shop.models import Job

SLOWER = 0.02
"""Relative change of the drying factor below which nothing is said."""


def room_told(job: Job) -> dict[str, Any]:
    """People, tables, rules, closed days and the air, as a plan of `job` takes them now."""
    rules = room_rules()
    return {
        "people": {
            person.name: {
                "week": {
                    str(day): [list(s) for s in found] for day, found in sorted(person.week.hours.items())
                },
                "off": sorted(day.isoformat() for day in person.off),
                "skills": sorted(str(kind) for kind in person.skills) if person.skills is not None else None,
            }
            for person in planning_people()
        },
        "tables": {t.name: [t.length, t.depth, sorted(t.not_for)] for t in planning_tables()},
        "closed": sorted(day.isoformat() for day in planning_calendar(job.starts).holidays),
        "guns": rules.guns,
        "work": dict(work_lines()),
        "fan_off": sorted(rules.fan_off),
        "rack": rack_holds(),
        "factor": round(stretched_by_air() * room_rules().drying.get("factor", 1.0), 4),
        "promised": job.promised.isoformat() if job.promised else "",
    }


def differences(then: Mapping[str, Any], now: Mapping[str, Any], today: date) -> Iterator[str]:
    """In words, what is different; days off that are past are passed over."""
    yield from _people(then["people"], now["people"], today)
    for day in _coming(now["closed"], then["closed"], today):
        yield f"nobody works on {day}"
    for day in _coming(then["closed"], now["closed"], today):
        yield f"there is work on {day} after all"
    for name in sorted({*then["tables"], *now["tables"]}):
        if name not in now["tables"]:
            yield f"the table {name} is gone"
        elif name not in then["tables"]:
            yield f"the table {name} is new"
        elif then["tables"][name] != now["tables"][name]:
            yield f"the table {name} was changed"
    if then["guns"] != now["guns"]:
        yield f"{counted(now['guns'], 'spray gun')} in use at once, not {then['guns']}"
    for words, number in now.get("work", {}).items():
        if then.get("work", now["work"]).get(words) != number:
            yield f"{words[:1].lower()}{words[1:]}: {number}"
    if then["fan_off"] != now["fan_off"]:
        yield fan_words(now["fan_off"])
    if then["rack"] != now["rack"]:
        yield "the racks hold " + ("any number" if now["rack"] is None else str(now["rack"]))
    if abs(now["factor"] / then["factor"] - 1) > SLOWER:
        yield f"things dry in {now['factor']:.2f} times their usual time, not {then['factor']:.2f}"
    if then["promised"] != now["promised"]:
        yield (
            f"it must leave on {_day(now['promised'])}" if now["promised"] else "no day is promised any more"
        )


def _people(then: Mapping[str, Any], now: Mapping[str, Any], today: date) -> Iterator[str]:
    for name in sorted({*then, *now}):
        if name not in now:
            yield f"{name} does not work here any more"
        elif name not in then:
            yield f"{name} works here too"
        else:
            one, two = then[name], now[name]
            for day in _coming(two["off"], one["off"], today):
                yield f"{name} is away on {day}"
            for day in _coming(one["off"], two["off"], today):
                yield f"{name} is there on {day} after all"
            if one["week"] != two["week"]:
                yield f"{name} works other hours"
            if one["skills"] != two["skills"]:
                yield f"{name} does other kinds of work"


def _coming(days: list[str], known: list[str], today: date) -> list[str]:
    return [_day(day) for day in days if day not in known and day >= today.isoformat()]


def _day(text: str) -> str:
    day = date.fromisoformat(text)
    return short_day(day)
