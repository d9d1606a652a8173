"""What stays from job to job: the bottles by every reading and every comparison, the base's milk, and each person's eye.

Worked out anew from what is on record, so that a comparison that is struck out, or a lot that is learned anew, is forgotten at once: first the readings of cups, then the looks of one
colour after the other in the order in which they began. Targets, cameras and pours of each are summed out.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from hidewright.colour.cups.estimate import estimate
from hidewright.colour.cups.memory import Eye, Memory
from hidewright.colour.learning.cup import BASE
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.lots import Prior
from hidewright.workshop.pigments.comparisons import Colour, colour_of, job_of, standing_comparisons
from hidewright.workshop.pigments.knowledge import knowledge, reading_mark, straying
from hidewright.workshop.pigments.models import CupSight, Forgetting
from hidewright.workshop.shelf.models import MixVessel

EYE = ":eye"
"""What a `Forgetting` of the eyes is about, in place of a lot."""


@dataclass(frozen=True, slots=True)
class _Link:
    """The looks of one colour: whose eye, which comparisons, and how often eyes were begun anew before its last look."""

    person: int | None
    looks: tuple[int, ...]
    anew: int


@dataclass(frozen=True, slots=True, eq=False)
class Remembered:
    """The memory, and every person's eye (None: nobody was named)."""

    memory: Memory
    eyes: dict[int | None, Eye]
    anew: int = 0

    def seen_by(self, person: int | None, anew: int) -> Memory:
        """The memory with this person's eye in it; an eye that was never tried before the eyes were last begun anew is anybody's."""
        eyes = self.eyes if anew == self.anew else {}
        return self.memory.with_eye(eyes.get(person))


def _anew() -> list[Forgetting]:
    return list(Forgetting.objects.filter(withdrawn=None, lot=EYE).order_by("id"))


def _links(rows: Iterable[CupSight], without: Colour | None) -> tuple[_Link, ...]:
    by_colour: dict[Colour, list[CupSight]] = {}
    for row in rows:
        by_colour.setdefault(colour_of(row), []).append(row)
    begun = [one.made for one in _anew()]
    return tuple(
        _Link(
            looks[-1].person_id,
            tuple(row.pk for row in looks),
            sum(made < looks[-1].made for made in begun),
        )
        for colour, looks in by_colour.items()
        if colour != without
    )


Start = tuple[tuple[object, ...], tuple[str, ...], int, Prior]
"""What the bottles' readings are known by: the mark, the lots, the vessel left out, and how far bottles stray."""


@lru_cache(maxsize=128)
def _after(start: Start, chain: tuple[_Link, ...]) -> Remembered:
    _, more, without, stray = start
    if not chain:
        vessel = MixVessel.objects.filter(pk=without).first() if without else None
        return Remembered(Memory.of(knowledge(more, without=vessel, stray=stray)), {})
    before, last = _after(start, chain[:-1]), chain[-1]
    there = {lot.key for lot in before.memory.knowledge.stock.lots} | {BASE}
    rows = {row.pk: row for row in standing_comparisons()}
    looks = [rows[pk] for pk in last.looks if pk in rows]
    looks = [row for row in looks if {str(lot) for lot, _ in (*row.pours, *row.beside_pours)} <= there]
    if not looks:
        return before
    eyes = dict(before.eyes) if before.anew == last.anew else {}
    now = estimate(job_of(looks).job, before.seen_by(last.person, last.anew)).closed()
    eyes[last.person] = now.own_eye
    return Remembered(now, eyes, last.anew)


def remembered_by_all(
    more: Iterable[str] = (), *, without: MixVessel | None = None, stray: Prior | None = None
) -> Remembered:
    """What is remembered; `more` lots that must be in it. `without` a vessel, its own readings and all looks of its colour are left out."""
    rows = standing_comparisons()
    lots = {str(lot) for row in rows for lot, _ in (*row.pours, *row.beside_pours)} - {BASE}
    away = (without.job_id or 0, without.colour_number) if without is not None else None
    start = (
        reading_mark(),
        tuple(sorted({*more, *lots})),
        without.pk if without is not None else 0,
        stray or straying(),
    )
    chain = _links(rows, away)
    for length in range(
        len(chain)
    ):  # shorter ones first: each step rests on the one before, and stays cached
        _after(start, chain[:length])
    return _after(start, chain)


def memory_for(person: int | None, more: Iterable[str] = (), *, without: MixVessel | None = None) -> Memory:
    """What a person's next look starts from."""
    return remembered_by_all(more, without=without).seen_by(person, len(_anew()))


def known(
    more: Iterable[str] = (), *, without: MixVessel | None = None, stray: Prior | None = None
) -> Knowledge:
    """What readings and looks together tell of the lots; see `remembered_by_all`."""
    return remembered_by_all(more, without=without, stray=stray).memory.knowledge


@dataclass(frozen=True, slots=True)
class PersonsEye:
    """How many times as large a difference looks to a person as usual, its relative sd in per cent, and from how many looks. `person` is None where nobody was named."""

    person: int | None
    times: float
    percent: float
    looks: int


def eyes() -> list[PersonsEye]:
    """Every eye that was tried since the eyes were last begun anew."""
    found = remembered_by_all()
    anew = len(_anew())
    if found.anew != anew:
        return []
    last = _anew()[-1].made if anew else None
    looks: dict[int | None, int] = {}
    for row in standing_comparisons():
        if row.said is not None and (last is None or row.made > last):
            looks[row.person_id] = looks.get(row.person_id, 0) + 1
    return [
        PersonsEye(person, eye.times, 100 * eye.sd, looks.get(person, 0))
        for person, eye in found.eyes.items()
    ]
