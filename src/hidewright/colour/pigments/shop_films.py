"""From what a shop weighs and gauges to what the film model takes: shares of the dry film and its dry thickness, with the doubt that this adds.

With Vᵢ the volume of thing i in the mix (its grams over its density), sᵢ the share of that volume which stays, W = Σ Vᵢ and D = Σ Vᵢsᵢ (volumes add up; nothing is said of air in the film):
cᵢ = Vᵢ / D, and a wet film w dries to x = w·D/W. The film model knows only cᵢ·x, what is laid of a pigment on the card, and that is w·Vᵢ/W: where the wet film is known,
volume solids fall out, and a wrong figure for them does no harm to K and S. Where the dry film is measured they count.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from hidewright.defaults import MIDDLE_LOAD
from hidewright.lists.mixes import Entry, Film, Laid, Mix, Of, Part
from hidewright.refusals import Refusal
from hidewright.units import MIL_UM

from ..light.spectra import amounts, within
from .drawdowns import Doubt
from .pigment import Base
from .shelf import ShelfLine

OF_THE_GAP, GAP_SD = 0.55, 0.09
"""What a bar lays of its gap, and ln sd of that: about half to 0.6 (common practice, no source)."""
OF_THE_WIRE, WIRE_SD = 0.1, 0.10
"""What a wire-wound bar lays of its wire's diameter, and ln sd of that (common practice, no source). The hollows between round wires hold 1/2 − π/8 = 0.107 of it: the most that it can lay."""
GAUGE_SD = 0.06
"""ln sd of a wet film read on a comb whose teeth are a fifth apart: 0.2/√12 (convention of this tool)."""
DRY_SD = 0.03
"""ln sd of a dry film's thickness as a shop measures it (convention of this tool)."""
USUAL_DENSITY, USUAL_SOLIDS = 1.2, 0.4
"""g/mL and volume solids of a dispersion of which nobody has noted them (common practice, no source)."""
DENSITY_SD, SOLIDS_SD = 0.20, 0.25
"""ln sd of those: carbon black pastes weigh about 1.1, white ones 2 g/mL (from memory)."""
BASE_DENSITY_SD, BASE_SOLIDS_SD = 0.03, 0.2
BASE, WATER = "base", "water"
SMALL = 1e-5
"""By how much a figure is moved to see what follows it."""
_BASES = ("base", "clear base", "the base", "binder", "medium")
_NO_PIGMENT = ("thinner", "solvent", "retarder", "hardener", "crosslinker", "linker", "additive", "primer")


@dataclass(frozen=True, slots=True)
class Thing:
    """What can be in a mix: `density` g/mL, `solids` the share of its volume that stays (0..1), and ln sd of both (0: they are known)."""

    key: str
    name: str
    density: float
    solids: float
    pigment: bool = True
    density_sd: float = 0.0
    solids_sd: float = 0.0

    def __post_init__(self) -> None:
        if not 0.5 <= self.density <= 6.0:
            raise Refusal(
                f"{self.name} cannot weigh {self.density:g} g/mL.",
                where="mix",
                remedy="Look on its data sheet: 0.5 to 6.",
            )
        if not 0.0 <= self.solids <= 1.0 or (self.pigment and self.solids <= 0.0):
            raise Refusal(
                f"Nothing says how much of {self.name} stays when it dries.",
                where="mix",
                remedy="Write its volume solids on its own page, 1 to 100 %.",
            )


Things = Callable[[str], Thing]
"""What a key of a mix is; refuses one that is nothing known."""


def shelf_things(lines: Iterable[ShelfLine], base: Base | None = None) -> Things:
    """Things by the lines of a shelf, with the base that was weighed with them (usual figures where none is given)."""
    return things_of(
        {line.key: Thing(line.key, line.name, line.density, line.solids) for line in lines}, base
    )


def usual_pigment(key: str, name: str = "") -> Thing:
    """A dispersion of which nothing was noted."""
    return Thing(key, name or key, USUAL_DENSITY, USUAL_SOLIDS, True, DENSITY_SD, SOLIDS_SD)


def things_of(listed: Mapping[str, Thing], base: Base | None = None) -> Things:
    """Things by their keys or names: those listed, the base (usual figures where none is given), water; any other word is a pigment of which nothing was noted."""
    called = Counter(thing.name.casefold() for thing in listed.values())
    names = {t.name.casefold(): t for t in listed.values() if called[t.name.casefold()] == 1}
    names |= {key.casefold(): thing for key, thing in listed.items()}
    usual = Base()
    clear = base or usual
    vague = base is None
    own_base = Thing(
        BASE,
        clear.name,
        clear.density,
        clear.solids,
        False,
        BASE_DENSITY_SD if vague else 0.0,
        BASE_SOLIDS_SD if vague else 0.0,
    )

    def found(key: str) -> Thing:
        word = " ".join(key.casefold().split())
        if called[word] > 1 and word not in names:
            raise Refusal(
                f"Several things are called {key[:30]}.", where="mix", remedy="Write its key, as on its list."
            )
        if word in names:
            return names[word]
        if word in (*_BASES, clear.key.casefold(), clear.name.casefold()):
            return own_base
        if word == WATER:
            return Thing(WATER, "Water", 1.0, 0.0, False)
        if word in _NO_PIGMENT:
            raise Refusal(
                f"No density is known of {key}, and none is usual.",
                where="mix",
                remedy="List it under Products with its data sheet’s figures, and write its key here.",
            )
        if any(sign.isspace() for sign in key):
            raise Refusal(
                f"No pigment is called “{key[:30]}”.",
                where="mix",
                remedy="Write its key, one word, as on the list of pigments.",
            )
        return usual_pigment(key)

    return found


@dataclass(frozen=True, slots=True)
class Turned:
    """What a shop's entry becomes: `shares` volumes of dispersion in a unit volume of dry film, `microns` dry µm, `wet` µm, `solids` of the mix, and the `doubts`.

    `weight`, `volume`: thing → its share of the mix, 0..1, by name. `usual`: names of the things of which a usual figure was taken.
    """

    shares: Mapping[str, float]
    microns: float
    wet: float
    solids: float
    weight: Mapping[str, float]
    volume: Mapping[str, float]
    doubts: tuple[Doubt, ...]
    usual: tuple[str, ...]
    pigments: Mapping[str, str]
    """Key → name of those that count as pigments."""

    @property
    def sd(self) -> float:
        """ln sd of what is laid of its pigments, the largest of them."""
        squares = [sum((d.sd * d.moves.get(key, 0.0)) ** 2 for d in self.doubts) for key in self.shares]
        return float(np.sqrt(max(squares)))

    @property
    def percent_off(self) -> float:
        """What is laid may be off by so many per cent."""
        return 100.0 * self.sd

    @property
    def both_ways(self) -> str:
        """“White 18 % by volume is 28 % by weight”, a part for each pigment."""
        return "; ".join(
            f"{name} {100 * self.volume[name]:.3g} % by volume is {100 * self.weight[name]:.3g} % by weight"
            for name in self.pigments.values()
        )

    @property
    def plain(self) -> str:
        """What it becomes in the shop’s own terms, and how far that may be off."""
        text = (
            f"{self.both_ways}. Wet {self.wet:.3g} µm, dry {self.microns:.3g} µm ({100 * self.solids:.3g} % of it stays). "
            f"What is laid may be off by {100 * self.sd:.0f} %."
        )
        return f"{text} A usual figure was taken for {', '.join(self.usual)}." if self.usual else text

    @property
    def words(self) -> str:
        """The same, with what the film model takes."""
        shares = ", ".join(f"{self.pigments[key]} {share:.3g}" for key, share in self.shares.items())
        return f"{self.plain} In a unit volume of dry film: {shares}."


def turned(entry: Entry, things: Things | None = None) -> Turned:
    """What the film model takes of a film as a shop wrote it down; `things`: what the keys of its mix are (usual figures without). Refuses what cannot be."""
    made = _mixed(entry, things or things_of({}))
    pigments = {thing.key: thing.name for _, thing, _ in made.parts if thing.pigment}
    if not pigments:
        raise Refusal(
            "There is no pigment in this mix.", where="mix", remedy="Write what you weighed of each."
        )
    microns = made.wet * made.dry / made.whole
    if not 1.0 <= microns <= 1000.0:
        raise Refusal(
            f"This film would be {microns:.3g} µm thick when dry.",
            where="film",
            remedy="It lies from 1 to 1000 µm.",
        )
    weights = [volume * _density(part, thing) for part, thing, volume in made.parts]
    return Turned(
        {thing.key: volume / made.dry for _, thing, volume in made.parts if thing.pigment},
        microns,
        made.wet,
        made.dry / made.whole,
        {
            thing.name: weight / sum(weights)
            for (_, thing, _), weight in zip(made.parts, weights, strict=True)
        },
        {thing.name: volume / made.whole for _, thing, volume in made.parts},
        _doubts(entry, made),
        _usual(entry, made),
        pigments,
    )


@dataclass(frozen=True, slots=True)
class Weighing:
    """How to make a drawdown: `grams` name → g, and `wet` µm to lay."""

    grams: Mapping[str, float]
    wet: float

    @property
    def words(self) -> str:
        """“White 14.7 g, Clear base 35.3 g”."""
        return ", ".join(f"{name} {grams:.3g} g" for name, grams in self.grams.items())


def weighing(
    parts: Mapping[str, float],
    things: Things,
    *,
    microns: float = 40.0,
    load: float = MIDDLE_LOAD,
    grams: float = 50.0,
) -> Weighing:
    """What to weigh for `grams` (0.1 to 10,000) of a mix of pigments in these parts by volume, `load` 0.001..0.999 of its volume pigment and the rest base, and how thick to lay it for `microns` (1 to 1000) dry.

    `parts`: key or name → part above 0; only what they are to each other counts. Refuses what is nothing known.
    """
    amounts(parts, "mix", low=1e-6)
    within(microns, 1.0, 1000.0, "A dry film in µm", "thickness")
    within(load, 0.001, 0.999, "A share of pigment", "mix")
    within(grams, 0.1, 1e4, "A mass in g", "mix")
    of = load / sum(parts.values())
    volumes = [(things(key), of * part) for key, part in parts.items()] + [(things(BASE), 1.0 - load)]
    weight = sum(volume * thing.density for thing, volume in volumes)
    solids = sum(volume * thing.solids for thing, volume in volumes)
    _refuse_dry_of_nothing(solids)
    return Weighing(
        {thing.name: grams * volume * thing.density / weight for thing, volume in volumes}, microns / solids
    )


def _refuse_dry_of_nothing(dry: float) -> None:
    if dry <= 0.0:
        raise Refusal(
            "Nothing of this mix stays when it dries.",
            where="mix",
            remedy="Look at the volume solids of what is in it.",
        )


def _density(part: Part | None, thing: Thing) -> float:
    return part.density if part is not None and part.density is not None else thing.density


@dataclass(frozen=True, slots=True)
class _Mixed:
    """Every part with its thing and its volume (any one unit; base that fills up has no part), their sum, what stays of it, and µm of the wet film."""

    parts: tuple[tuple[Part | None, Thing, float], ...]
    whole: float
    dry: float
    wet: float

    @property
    def laid(self) -> dict[str, float]:
        """Pigment → cᵢ·x, µm of its dispersion on the card."""
        return {t.key: self.wet * volume / self.whole for _, t, volume in self.parts if t.pigment}


def _mixed(entry: Entry, things: Things) -> _Mixed:
    mix = entry.mix
    known = [(part, things(part.key)) for part in mix.parts]
    keys = [thing.key for _, thing in known]
    if len(set(keys)) < len(keys):
        raise Refusal("The same thing is in the mix under two names.", where="mix", remedy="Add both up.")
    parts: list[tuple[Part | None, Thing, float]] = [(p, t, _volume(p, t)) for p, t in known]
    base = things(BASE) if mix.of is not None else None
    if base is not None and base.key not in keys:
        left = _left(mix, known, base)
        if left < -1e-9:
            raise Refusal(
                "This much pigment leaves more than the dry film holds.",
                where="mix",
                remedy="Look at the shares and at the volume solids of the pigments.",
            )
        parts += [(None, base, left)] if left > 1e-9 else []
    whole = sum(volume for _, _, volume in parts)
    dry = sum(volume * thing.solids for _, thing, volume in parts)
    _refuse_dry_of_nothing(dry)
    return _Mixed(tuple(parts), whole, dry, _wet(entry.film, whole / dry))


def _volume(part: Part, thing: Thing) -> float:
    """mL; of a mix in per cent, in any one unit."""
    if part.millilitres is not None:
        return part.millilitres
    if part.grams is not None:
        return part.grams / _density(part, thing)
    return part.amount / (_density(part, thing) if part.unit == Of.WEIGHT else 1.0)


def _left(mix: Mix, known: list[tuple[Part, Thing]], base: Thing) -> float:
    """The volume of base that fills up a mix in per cent."""
    if mix.of is Of.DRY:
        if base.solids <= 0.0:
            raise Refusal(
                "Nothing says how much of the base stays when it dries.",
                where="mix",
                remedy="Write its volume solids under Products.",
            )
        return (1.0 - sum(part.amount * thing.solids for part, thing in known)) / base.solids
    left = 100.0 - sum(part.amount for part in mix.parts)
    return left / base.density if mix.of is Of.WEIGHT else left


def _wet(film: Film, wet_for_dry: float) -> float:
    """µm of the wet film."""
    if film.how is Laid.GAP:
        return film.value * OF_THE_GAP
    if film.how is Laid.WIRE:
        return film.value * MIL_UM * OF_THE_WIRE
    return film.value * wet_for_dry if film.how is Laid.DRY else film.value


def _usual(entry: Entry, made: _Mixed) -> tuple[str, ...]:
    """The names of those things of which a usual figure was taken: a density where it was weighed and none was written, or volume solids."""
    return tuple(
        thing.name
        for part, thing, _ in made.parts
        if (thing.density_sd and _weighed(entry, part)) or thing.solids_sd
    )


def _weighed(entry: Entry, part: Part | None) -> bool:
    """Whether the density that the shop has noted counts for this part."""
    if part is None:
        return entry.mix.of is Of.WEIGHT
    return part.density is None and (part.grams is not None or entry.mix.of is Of.WEIGHT)


def _doubts(entry: Entry, made: _Mixed) -> tuple[Doubt, ...]:
    """What may be off: the film, each density and volume solids that is a usual figure, each reading of the balance. How far what is laid moves with each is tried."""
    cause, sd = {
        Laid.WET: ("", GAUGE_SD),
        Laid.GAP: ("what a bar lays of its gap", GAP_SD),
        Laid.WIRE: ("what a wire-wound bar lays", WIRE_SD),
        Laid.DRY: ("", DRY_SD),
    }[entry.film.how]
    doubts = [Doubt(cause, sd, dict.fromkeys(made.laid, 1.0))]
    for part, thing, _ in made.parts:
        tries = [
            (f"density of {thing.key}", thing.density_sd if _weighed(entry, part) else 0.0, "density"),
            (f"solids of {thing.key}", thing.solids_sd, "solids"),
        ]
        for cause, sd, what in tries:
            if sd:
                moved = replace(thing, **{what: getattr(thing, what) * (1 + SMALL)})
                doubts += _moved(cause, sd, made, _mixed(entry, _with(made, moved)))
        if part is not None and entry.mix.of is None:
            more = replace(part, number=f"{part.amount * (1 + SMALL):.15f}")
            parts = tuple(more if one is part else one for one in entry.mix.parts)
            there = _mixed(replace(entry, mix=Mix(parts)), _with(made, thing))
            doubts += _moved("", part.step / np.sqrt(12.0), made, there)
    return tuple(doubts)


def _with(made: _Mixed, moved: Thing) -> Things:
    """The things of a mix, one of them moved."""
    by = {part.key if part else BASE: moved if t.key == moved.key else t for part, t, _ in made.parts}
    return lambda key: by.get(key) or things_of({})(key)


def _moved(cause: str, sd: float, before: _Mixed, after: _Mixed) -> list[Doubt]:
    """The doubt of a figure that was moved by `SMALL`; none where nothing follows it."""
    moves = {key: float(np.log(after.laid[key] / laid)) / SMALL for key, laid in before.laid.items()}
    return [Doubt(cause, sd, moves)] if max(map(abs, moves.values()), default=0.0) > 1e-4 else []
