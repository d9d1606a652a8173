"""How the work goes in the room: which tables share their air, what a gun and a session may, and the least coats; as the shop set it, else the usual."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from hidewright.defaults import COLOUR_COATS
from hidewright.planning.problem.rules import RoomRules as PlanRules
from hidewright.workshop.room.queries import room_rules, table_rows

_USUAL = PlanRules()


@dataclass(frozen=True, slots=True)
class WorkRule:
    """One rule: its `name`, what it is in `words`, the `usual` number (common practice, no source), and the `least` and `most` that can be."""

    name: str
    words: str
    usual: int
    least: int
    most: int
    unit: str = "min"
    why: str = ""


WORK_RULES = (
    WorkRule("changes", "Changes of product in one gun a day, at most", _USUAL.changes, 1, 20, "",
             "From colour to clear is one change."),
    WorkRule("flush", "To flush a gun between two products", _USUAL.flush, 0, 120),
    WorkRule("load", "To mix, crosslink and strain a gun cup", _USUAL.load, 0, 120),
    WorkRule("suit", "To suit up for spraying", _USUAL.suit, 0, 120),
    WorkRule("change", "To change from one kind of work to another", _USUAL.change, 0, 120),
    WorkRule("least", "Least work for which a session is begun", _USUAL.least, 0, 120),
    WorkRule("coats", "Sprayed coats of colour, at the least", COLOUR_COATS, 1, 12, "",
             "A recipe that hides with fewer is no reason to spray fewer."),
)  # fmt: skip
"""The rules in the order of the page."""


def work_now() -> dict[str, int]:
    """Name → the number that counts now."""
    kept: Mapping[str, int] = room_rules().work
    return {rule.name: int(kept.get(rule.name, rule.usual)) for rule in WORK_RULES}


def least_coats() -> int:
    """Coats of colour that the shop sprays at the least."""
    return work_now()["coats"]


def airs() -> dict[str, str]:
    """Key of a table → the name of its air, where it has one."""
    return {table.key: table.air for table in table_rows() if table.air}


def planning_rules() -> PlanRules:
    """The rules of the room as the planner takes them."""
    now = work_now()
    return PlanRules(
        air=airs(),
        changes=now["changes"],
        flush=now["flush"],
        load=now["load"],
        change=now["change"],
        suit=now["suit"],
        least=now["least"],
    )


def work_lines() -> Iterator[tuple[str, str]]:
    """The rules in words, and their numbers."""
    for _, words, number in keyed_work_lines():
        yield words, number


def keyed_work_lines() -> Iterator[tuple[str, str, str]]:
    """The rules: what stays the same whatever they are called, their words, and their numbers."""
    now = work_now()
    for rule in WORK_RULES:
        yield rule.name, rule.words, f"{now[rule.name]} {rule.unit}".strip()
    shared: dict[str, list[str]] = {}
    for table in table_rows():
        shared.setdefault(table.air, []).append(table.name)
    for air, names in shared.items() if len(shared) > 1 else ():
        yield f"air {air}", f"Share {f'the air “{air}”' if air else 'one air'}", ", ".join(names)
