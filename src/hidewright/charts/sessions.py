"""The acts of a plan as sessions: what one person does in one go, of one family of work, for lists and sheets."""

from collections.abc import Iterable, Sequence

from hidewright.charts.plan import ActShown
from hidewright.planning.problem.kinds import Kind
from hidewright.planning.problem.model import NAMED, OWN
from hidewright.planning.problem.rules import FAMILIES

WORDS = {
    "prep": "Strip and prepare",
    "mask": "Mask",
    "turn": "Turn",
    "colour": "Colour",
    "clear": "Clear coat",
    "finish": "Unmask and inspect",
}
"""What a session of each family is called on lists and sheets."""


SIDES = ("first side", "second side")
"""Which side of a piece is worked on; any other words name a zone of it."""
PART = ", part "
"""Before the number of a part, in the key and the words of work that comes in several."""


def kind_of(key: str) -> Kind | None:
    """The kind of work in an act's key (piece/pass/kind, perhaps with a number or a part); None where it names none."""
    tail = key.rsplit("/", 1)[-1].partition(PART)[0].rstrip("0123456789 ").rpartition(NAMED)[2]
    return next((kind for kind in Kind if str(kind) == tail), None)


def family_of(act: ActShown) -> str:
    """The family of work of an act; its own words where its key names no kind."""
    kind = kind_of(act.key)
    return FAMILIES[kind] if kind is not None else act.act


def session_runs(acts: Iterable[ActShown]) -> list[list[ActShown]]:
    """Acts in the given order as sessions: a new one begins where the person, the day or the family of work changes."""
    runs: list[list[ActShown]] = []
    for act in acts:
        last = runs[-1][-1] if runs else None
        same = last is not None and (last.person, last.start.date(), family_of(last)) == (
            act.person,
            act.start.date(),
            family_of(act),
        )
        if same:
            runs[-1].append(act)
        else:
            runs.append([act])
    return runs


def session_name(run: Sequence[ActShown]) -> str:
    """What a session is called: "Colour", or the words of its act where all of it is one work in parts, one of the shop's own, or of no known family."""
    works = {_work(act) for act in run}
    if len(works) == 1 and (kind_of(run[0].key) in OWN or len({act.act for act in run}) > 1):
        (work,) = works
        return work[:1].upper() + work[1:]
    family = family_of(run[0])
    return WORDS.get(family, family[:1].upper() + family[1:])


def step_words(run: Sequence[ActShown]) -> str:
    """The steps of a session in their order, each once whatever parts it comes in: "wipe down, wipe in colour, spray colour"."""
    return ", ".join(dict.fromkeys(map(_work, run)))


def _work(act: ActShown) -> str:
    """What is done, without the number of its part."""
    return act.act.partition(PART)[0]


def zone_of(act: ActShown) -> str:
    """The name of the zone that is worked on; empty where the piece is coated in one go or side by side."""
    return "" if act.part in SIDES else act.part


def with_zone(name: str, act: ActShown) -> str:
    """A piece's name with the zone that is worked on: “Seat 3: back and face”."""
    return ": ".join(filter(None, (name, zone_of(act))))


def pieces_of(run: Sequence[ActShown]) -> list[str]:
    """The marks of the pieces of a session in their order, each once."""
    return list(dict.fromkeys(act.piece for act in run))
