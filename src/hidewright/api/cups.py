"""A cup that is a little off: what to add, from what was weighed and what was read."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from hidewright.colour.cups.adjust import Addition, AdjustProblem, as_if
from hidewright.colour.cups.adjust import Advice as Alternatives
from hidewright.colour.cups.adjust import adjust as alternatives
from hidewright.colour.learning.cup import BASE, Pour
from hidewright.colour.learning.cup_rows import CupRow, cup_at_hand, dry_only, stock_for
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.lots import Stock, stock_of
from hidewright.colour.light.cie import LightLike, delta_e00, lab
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.generic import SPREAD
from hidewright.colour.pigments.wet import look_dry
from hidewright.colour.reading.readings import Reading
from hidewright.colour.reading.shine import read_alike
from hidewright.defaults import LOAD, TOLERANCE
from hidewright.refusals import Refusal

from .pigments import Pigments
from .tables import html_of


def stock_before(rows: Sequence[CupRow], pigments: Pigments) -> Stock:
    """What can be poured, as it was drawn down: a lot of each pigment and every lot of the cups. An illustrative one may be off much further."""
    surface = pigments.learned.stock.surface if pigments.learned else pigments.surface
    drawn = pigments.drawn
    plain = stock_of(drawn, pigments.base, surface=Surface(surface.k1, surface.k2, pigments.surface.specular))
    return stock_for(rows, drawn, plain, {p.key: SPREAD for p in drawn if p.illustrative})


def pours_of(grams: Mapping[str, float]) -> list[Pour]:
    """Grams by key as pours."""
    return [Pour(key, value) for key, value in grams.items() if value > 0]


def known_cup(
    pours: Sequence[Pour], pigments: Pigments, read: Reading | None, facts: Mapping[str, Any]
) -> AdjustProblem:
    """A cup of known content: what was read of it, if anything, is learned from first, on top of what earlier cups taught. `facts` are fields of `AdjustProblem`."""
    start = pigments.learned or Knowledge.fresh(stock_before((), pigments))
    if read is not None and not read.is_spectrum:
        dry_only(read)
    rows = [CupRow("cup", tuple(pours), read, struck=False)] if read else []
    opened = start.open(cup_at_hand("cup", pours, rows, start.stock))
    volumes = opened.volumes()
    clear = volumes.pop(BASE, 0.0)
    known = opened.knowledge
    return AdjustProblem(
        Contents(volumes, clear),
        pigments=known.pigments(),
        base=known.stock.base,
        surface=known.surface,
        spread_of=lambda grams: opened.forecast(pours_of(grams)).spread(),
        **facts,
    )


def unknown_cup(
    volume_ml: float, pigments: Pigments, read: Reading, facts: Mapping[str, Any]
) -> tuple[AdjustProblem, float]:
    """A cup of unknown content, taken for the mix nearest to its reading; and how near that comes in ΔE00."""
    held = as_if(
        dry_only(read).reflectance, volume_ml, pigments.pigments, pigments.base, sum(facts["load"]) / 2
    )
    near = delta_e00(lab(look_dry(held, pigments.pigments, pigments.surface)), lab(read.reflectance))
    guessed = tuple(dict.fromkeys((*facts["guessed"], *read.guessed((facts["light"],)))))
    problem = AdjustProblem(
        held,
        pigments=pigments.pigments,
        base=pigments.base,
        surface=pigments.surface,
        **(dict(facts) | {"guessed": guessed}),
    )
    return problem, float(near)


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One way to go on. `why` it is offered, `add_g` g by key in the order to pour, `delta_e` ΔE00 at the end, `spread` by how much that may be off, `growth` share by which the cup grows.

    >>> from hidewright import api
    >>> api.Way("least volume", {"PW6": 1.5}, 0.4, 0.8, 0.01).words
    'Least volume: PW6 1.50 g. Then ΔE00 0.40 ± 0.8, 1.0% more in the cup.'
    """

    why: str
    add_g: Mapping[str, float]
    delta_e: float
    spread: float
    growth: float

    @classmethod
    def of(cls, addition: Addition) -> "Way":
        """The addition as its figures."""
        return cls(addition.why, dict(addition.grams), addition.delta_e, addition.spread, addition.growth)

    @property
    def words(self) -> str:
        """What to pour, and what comes of it."""
        pours = ", ".join(f"{key} {grams:.2f} g" for key, grams in self.add_g.items())
        return f"{self.why.capitalize()}: {pours}. Then ΔE00 {self.delta_e:.2f} ± {self.spread:.1f}, {self.growth:.1%} more in the cup."


@dataclass(frozen=True, slots=True, eq=False)
class Advice:
    """What to add to a cup: a sequence of ways, best first. `now` ΔE00 to the target; `stop` True where no pour is worth it; `contents_ml` what the cup is taken to hold;
    `within` for a cup of unknown content how near the mix that it is taken for comes to its reading, ΔE00 (None for a cup of known content).

    >>> from hidewright import api
    >>> pigments = api.generic_pigments("PW6", "PBk7")
    >>> advice = api.adjust({"PW6": 60, "PBk7": 1, "base": 300}, api.colour("grey", (45, 0, 0)), pigments)
    >>> advice.stop, len(advice) > 0, [key for way in advice for key in way.add_g][0]
    (False, True, 'PBk7')
    """

    alternatives: Alternatives
    contents_ml: Mapping[str, float]
    notes: tuple[str, ...] = ()
    within: float | None = None

    @property
    def now(self) -> float:
        """ΔE00 between cup and target as it is."""
        return self.alternatives.now

    @property
    def stop(self) -> bool:
        """True where the rest is not worth a pour."""
        return self.alternatives.stop

    @property
    def guessed(self) -> bool:
        """True where the target was never seen under the light, so that every ΔE00 here is a guess."""
        return bool(self.alternatives.guessed)

    def __len__(self) -> int:
        return len(self.alternatives.additions)

    def __getitem__(self, which: int) -> Way:
        return Way.of(self.alternatives.additions[which])

    def __iter__(self) -> Iterator[Way]:
        return map(Way.of, self.alternatives.additions)

    @property
    def words(self) -> str:
        """How far off it is, and each way to go on."""
        lines = [f"The cup is ΔE00 {self.now:.2f} from the target."]
        if self.within is not None:
            lines.append(
                f"It is taken for a mix that comes within ΔE00 {self.within:.2f} of its reading: pour in small steps, and read after each."
            )
        if self.guessed:
            lines.append("The target was never seen under this light: ΔE00 is a guess.")
        if self.stop:
            lines.append(self.alternatives.words)
        return "\n".join([*lines, *(way.words for way in self), *self.notes])

    def _repr_html_(self) -> str:
        rows = (
            (
                way.why,
                ", ".join(f"{key} {grams:.2f} g" for key, grams in way.add_g.items()),
                f"{way.delta_e:.2f} ± {way.spread:.1f}",
                f"{way.growth:.1%}",
            )
            for way in self
        )
        return html_of(
            self.words.splitlines()[0], ("Way", "Add, in this order", "ΔE00 then", "Grows by"), rows
        )


def adjust(
    cup_g: Mapping[str, float] | None,
    target: Reading,
    pigments: Pigments,
    *,
    read: Reading | None = None,
    cup_ml: float | None = None,
    light: LightLike = "D65",
    vessel_ml: float = 1e6,
    load: tuple[float, float] = LOAD,
    step_g: float = 0.05,
    tolerance: float = TOLERANCE,
    must_not_use: Collection[str] = (),
) -> Advice:
    """What to add to a cup so that it comes to the target: two or three ways, or stop.

    `cup_g` g by key as weighed, the base under “base”; `read` a reading of the cup, dry (or wet, as a spectrum), is learned from first. With `cup_g` None the contents are unknown: then
    `read` and `cup_ml` are needed. `step_g` is what can be weighed or dropped. Raises `Refusal`. See docs/science/match-and-adjust.md.

    >>> from hidewright import api
    >>> pigments = api.generic_pigments("PW6", "PY42", "PR101", "PBk7")
    >>> target = api.colour("tan", (58, 10, 24))
    >>> cup = api.match(target, pigments, lights=("D65",), keep=1).best.grams(200)
    >>> api.adjust(cup, target, pigments).stop  # as weighed, it is there
    True
    >>> cup["PY42"] /= 2
    >>> advice = api.adjust(cup, target, pigments)
    >>> advice.now > 1, "PY42" in advice[0].add_g, advice[0].delta_e < advice.now
    (True, True, True)
    """
    wanted, notes = read_alike(target, pigments.surface)
    available = {p.key for p in pigments.pigments}
    facts: dict[str, Any] = {
        "target": wanted.reflectance,
        "light": light,
        "vessel_ml": vessel_ml,
        "load": load,
        "step_g": step_g,
        "tolerance": tolerance,
        "guessed": wanted.guessed((light,)),
        "must_not_use": frozenset(must_not_use) | (set(pigments.keys) - available),
    }
    within = None
    if cup_g is not None:
        strange = sorted(set(cup_g) - {*pigments.keys, BASE})
        if strange:
            raise Refusal(
                f"{', '.join(strange)} is in the cup but not among the pigments.",
                where="cup",
                remedy=f"Known are {', '.join((*pigments.keys, BASE))}.",
            )
        problem = known_cup(pours_of(cup_g), pigments, read, facts)
    elif read is None or cup_ml is None:
        raise Refusal(
            "A cup of unknown content needs its reading and its volume.",
            where="cup",
            remedy="Give cup_g, or read and cup_ml.",
        )
    else:
        problem, within = unknown_cup(cup_ml, pigments, read, facts)
    held = dict(problem.contents.volumes) | {BASE: problem.contents.base_ml}
    return Advice(alternatives(problem), held, notes, within)
