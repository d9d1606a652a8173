"""What the benches "by eye" ask of whoever advises, and the one place where the product is put behind it.

An `Advisor` serves one shop and one person for all its jobs. It is told what the shop itself knows: what the bottles are said to hold, how the job starts, what was poured by the
label, and what the eye and the phone said. It never sees the truth.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.util import find_spec
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from bench.eye_jobs import Maker, Way
    from bench.eye_world import Shop
    from hidewright.colour.learning.lots import Stock

Array = NDArray[np.float64]
CUP_G, DROP_G = 150.0, 0.05
PHOTO_SD = (0.5, 0.7, 0.6)
"""What a stick photo's own noise is told to be, a channel of CIELAB."""


@dataclass(frozen=True, slots=True, eq=False)
class Start:
    """How a job starts: what the target's CIELAB (3,) is taken for (D65, 10°), by which `kind` of word ("instrument", "photo", "swatch"), and with which sd a channel."""

    kind: str
    lab: Array
    sd: float


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """One comparison of the present cup with the target, both wet or both dry: the words for the cup, and cup less target off a stick photo (CIELAB (3,)), if one was taken.

    `instrument` is cup less target by a spectrophotometer.
    """

    wet: bool
    words: tuple[tuple[str, str], ...]
    photo: Array | None = None
    instrument: Array | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Advice:
    """What to do next. `act`: "pour" these grams into the cup (or, `fresh`, into a new one), "look" again, look "dry", or "done" / "stop"."""

    act: str
    grams: Mapping[str, float] = field(default_factory=dict)
    fresh: bool = False


class Advisor(Protocol):
    """Who advises; memory from job to job is its own affair."""

    def begin(self, start: Start) -> Mapping[str, float]:
        """A new job: grams of the first cup (150 g, base included)."""
        ...

    def look(self, look: Look) -> None:
        """A comparison of the cup as it now is."""
        ...

    def advice(self) -> Advice:
        """What now."""
        ...

    def poured(self, grams: Mapping[str, float], *, fresh: bool) -> None:
        """These grams went in, by the label."""
        ...

    def target(self) -> tuple[Array, Array]:
        """What the target is now taken for when dry: CIELAB (3,) and its covariance (3, 3)."""
        ...

    def close(self) -> None:
        """The job ends; what it taught is kept."""
        ...


class Product:
    """The engine's own estimate and advice behind `Advisor`, as the pages use them."""

    def __init__(self, stock: "Stock", *, wet: bool = False) -> None:
        from hidewright.colour.cups.memory import Memory
        from hidewright.colour.cups.pours import Table
        from hidewright.colour.learning.learn import Knowledge

        self.memory = Memory.of(Knowledge.fresh(stock))
        self.table = Table(wet=wet)

    def begin(self, start: Start) -> Mapping[str, float]:
        """The engine's first cup, for a target that it takes for as sure as its source."""
        from hidewright.colour.cups.estimate import estimate
        from hidewright.colour.cups.fresh import fresh_cup
        from hidewright.colour.cups.things import PIECE, Job, Swatch

        self.job = Job({PIECE: Swatch.of(start.lab, start.kind)})
        self.now = estimate(self.job, self.memory)
        self.name = 0
        grams = fresh_cup(self.now, CUP_G, self.table).grams
        self._cup(grams)
        return grams

    def _cup(self, grams: Mapping[str, float]) -> None:
        from hidewright.colour.learning.cup import Cup, Pour

        self.name += 1
        self.job = self.job.with_cup(
            Cup(f"cup {self.name}", tuple(Pour(k, g, DROP_G) for k, g in grams.items()))
        )

    def look(self, look: Look) -> None:
        """Words and photo of one look are two comparisons of the same cup."""
        from hidewright.colour.cups.estimate import estimate
        from hidewright.colour.cups.things import Comparison, CupAt, Difference, SwatchAt
        from hidewright.colour.cups.words import Word, Words

        cup = self.job.cup(f"cup {self.name}")
        sides = CupAt(cup.name, len(cup.pours)), SwatchAt()
        for shot, how, sd in ((look.photo, "photo", PHOTO_SD), (look.instrument, "instrument", (0.25,) * 3)):
            if shot is not None:
                own = np.diag(np.array(sd) ** 2)
                self.job = self.job.seen(Comparison(*sides, Difference(shot, own, how), look.wet))
        if look.instrument is None:
            words = Words(tuple(Word(word, strength) for word, strength in look.words))
            self.job = self.job.seen(Comparison(*sides, words, look.wet))
        self.now = estimate(self.job, self.memory)

    def advice(self) -> Advice:
        """The engine's, by its own names."""
        from hidewright.colour.cups.advice import advise

        told = advise(self.now, self.job.cup(f"cup {self.name}"), self.table)
        if told.act == "afresh" and told.fresh is not None:
            return Advice("pour", told.fresh.grams, fresh=True)
        if told.act == "pour":
            return Advice("pour", told.pours[0].grams)
        if told.act == "look dry":
            return Advice("dry")
        return Advice("done" if told.act == "done" else "look")

    def poured(self, grams: Mapping[str, float], *, fresh: bool) -> None:
        """Into the cup, or into a new one."""
        from hidewright.colour.learning.cup import Pour

        if fresh:
            self._cup(grams)
        else:
            cup = self.job.cup(f"cup {self.name}")
            self.job = self.job.with_cup(cup.poured([Pour(k, g, DROP_G) for k, g in grams.items()]))

    def target(self) -> tuple[Array, Array]:
        """The engine's."""
        return self.now.target, self.now.target_covariance

    def close(self) -> None:
        """Bottles and eye stay."""
        self.memory = self.now.closed()


def product() -> "Maker | None":
    """The engine's own advisor as a maker for `eye_jobs` (shop, way) → `Advisor`; None while there is none."""
    if find_spec("hidewright.colour.cups.advice") is None:
        return None

    def made(_shop: "Shop", way: "Way") -> Product:
        from bench.eye_today import stock_from
        from bench.eye_world import CHARACTERISED, book

        return Product(stock_from(book() if way.far is CHARACTERISED else None), wet=way.wet)

    return made
