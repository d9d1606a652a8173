"""Recipes: parts of a mix, and what they are worth once weighed, dried and laid over the old colour."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import LightLike, delta_e00, lab
from hidewright.colour.light.spectra import amounts, within
from hidewright.colour.pigments.film import Surface, below, film, opaque, seen
from hidewright.colour.pigments.pigment import Base, Pigment, dry_shares, mixed
from hidewright.refusals import Refusal

Array = NDArray[np.float64]

HIDDEN = 0.5
"""ΔE00 to the opaque colour below which the old colour counts as hidden: under what an eye sees side by side (convention of this tool)."""
MOST_COATS = 12
COAT_UM = 7.5
"""Dry µm of one coat: 30 g/m² wet at 25 % volume solids. From memory; a starting value that the shop edits."""
DROP_ML = 0.05
"""One drop: USP <1101> gives about 20 drops of water a mL; not valid for dispersions, so calibrate or weigh."""


@dataclass(frozen=True, slots=True)
class Part:
    """One thing to pour: `volume` mL per litre of mix and `mass` g per litre of mix."""

    key: str
    name: str
    volume: float
    mass: float

    @property
    def density(self) -> float:
        """g/mL."""
        return self.mass / self.volume


def in_steps(grams: float, step_g: float) -> float:
    """g (0 to ten tonnes) in whole steps of a balance with a last digit of `step_g` g (0.0001 to 1000): at least one of whatever there is."""
    within(grams, 0.0, 1e7, "A mass in g", "balance")
    if not 1e-4 <= step_g <= 1e3:
        raise Refusal(
            f"A balance with a step of {step_g} g is no use here.",
            where="balance",
            remedy="Write its last digit, such as 0.1.",
        )
    return round(max(round(grams / step_g), int(grams > 0)) * step_g, 6)


@dataclass(frozen=True, slots=True, eq=False)
class Recipe:
    """A recipe for one litre of mix, and what it will look like.

    `parts` base last; `load` pigment volume per mix volume; `reflectance` (31,) of the dry film (opaque, or the asked coats) as an instrument reads it; `labs`
    and `delta_e` by light against the target; `coats` to hide the old colour (None: more than twelve); `cost` money per litre; `drop`
    the largest ΔE00 that one drop too many in 150 mL of any pigment makes; `drop_of` that pigment's key; `guessed` the lights whose ΔE00 is a guess, since the target was
    never seen under them: only its colour under another light is known.
    """

    parts: tuple[Part, ...]
    load: float
    reflectance: Array
    labs: Mapping[str, tuple[float, float, float]]
    delta_e: Mapping[str, float]
    coats: int | None
    cost: Decimal
    drop: float
    drop_of: str
    guessed: tuple[str, ...] = ()

    @property
    def pigments(self) -> tuple[Part, ...]:
        """The parts that are pigments."""
        return self.parts[:-1]

    @property
    def density(self) -> float:
        """g/mL of the mix."""
        return sum(p.mass for p in self.parts) / sum(p.volume for p in self.parts)

    def scaled(self, millilitres: float, step_g: float = 0.1) -> tuple[Part, ...]:
        """The parts of a batch of `millilitres` (1 mL to 1000 L), masses `in_steps` of a balance of `step_g` g (volumes follow the masses)."""
        total = sum(p.volume for p in self.parts)
        if not 1.0 <= millilitres <= 1e6:
            raise Refusal(
                f"A batch of {millilitres} mL cannot be weighed out.",
                where="batch",
                remedy="Choose 1 mL to 1000 L.",
            )
        parts = []
        for part in self.parts:
            grams = in_steps(part.mass * millilitres / total, step_g)
            parts.append(Part(part.key, part.name, grams / part.density, grams))
        return tuple(parts)


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """What a recipe is judged in: the target reading, the lights, the old colour, the pigments, the base, the surface and a coat's build."""

    target: Array
    pigments: Mapping[str, Pigment]
    base: Base
    lights: tuple[LightLike, ...] = ("D65", "A", "FL11")
    old: Array | None = None
    surface: Surface = field(default_factory=Surface)
    coat_um: float = COAT_UM
    coats: int | None = None
    """Coats over the old colour that the colour is judged at; None judges the opaque colour."""
    guessed: tuple[str, ...] = ()
    """Names of the lights under which the target is a guess (`Reading.guessed`)."""


def volumes_of(grams: Mapping[str, float], setting: Setting) -> dict[str, float]:
    """mL of each pigment from its grams."""
    amounts(grams, "recipe")
    return {key: mass / setting.pigments[key].density for key, mass in grams.items()}


def opaque_of(volumes: Mapping[str, float], base_ml: float, setting: Setting) -> Array:
    """The reading (31,) of the opaque dry film of a mix."""
    k, s = mixed(dry_shares(volumes, setting.pigments, setting.base, base_ml), setting.pigments)
    return seen(opaque(k, s), setting.surface)


def dry_of(volumes: Mapping[str, float], base_ml: float, setting: Setting) -> Array:
    """The reading (31,) of the dry mix as the setting lays it out: opaque, or its number of coats over the old colour."""
    if setting.coats is None or setting.old is None:
        return opaque_of(volumes, base_ml, setting)
    k, s = mixed(dry_shares(volumes, setting.pigments, setting.base, base_ml), setting.pigments)
    ground = below(setting.old, setting.surface)
    return seen(film(k, s, setting.coat_um * setting.coats, ground), setting.surface)


def coats_to_hide(volumes: Mapping[str, float], base_ml: float, setting: Setting) -> int | None:
    """How many coats until the old colour is hidden (ΔE00 ≤ 0.5 from the opaque colour under D65); None if twelve do not do it."""
    if setting.old is None:
        return None
    k, s = mixed(dry_shares(volumes, setting.pigments, setting.base, base_ml), setting.pigments)
    ground = below(setting.old, setting.surface)
    x = setting.coat_um * np.arange(1, MOST_COATS + 1)[:, None]
    over = lab(seen(film(k, s, x, ground), setting.surface))
    off = delta_e00(over, lab(seen(opaque(k, s), setting.surface)))
    hidden = np.flatnonzero(off <= HIDDEN)
    return int(hidden[0]) + 1 if hidden.size else None


def drop_error(volumes: Mapping[str, float], base_ml: float, setting: Setting) -> tuple[float, str]:
    """The largest ΔE00 (D65) from one drop too many in a 150 mL cup, and of which pigment."""
    amounts(volumes, "recipe")
    total = base_ml + sum(volumes.values())
    here = lab(opaque_of(volumes, base_ml, setting))
    found = []
    for key in volumes:
        more = {**volumes, key: volumes[key] + DROP_ML * total / 150.0}
        found.append((float(delta_e00(here, lab(opaque_of(more, base_ml, setting)))), key))
    return max(found)


def judge(grams: Mapping[str, float], base_g: float, setting: Setting) -> Recipe:
    """Work out everything about a recipe from what is weighed: grams of each pigment and of base per litre of mix."""
    volumes = volumes_of(grams, setting)
    base_ml = base_g / setting.base.density
    total = base_ml + sum(volumes.values())
    reflectance = dry_of(volumes, base_ml, setting)
    labs = {str(light): lab(reflectance, light) for light in setting.lights}
    delta = {
        str(light): float(delta_e00(labs[str(light)], lab(setting.target, light))) for light in setting.lights
    }
    drop, drop_of = drop_error(volumes, base_ml, setting)
    ordered: Sequence[str] = sorted(grams, key=lambda key: -grams[key])
    parts = [
        Part(key, setting.pigments[key].name, volumes[key] * 1000 / total, grams[key] * 1000 / total)
        for key in ordered
    ]
    parts.append(Part(setting.base.key, setting.base.name, base_ml * 1000 / total, base_g * 1000 / total))
    cost = sum(
        (setting.pigments[p.key].price * Decimal(str(round(p.volume, 4))) for p in parts[:-1]), Decimal(0)
    )
    cost += setting.base.price * Decimal(str(round(parts[-1].volume, 4)))
    return Recipe(
        tuple(parts),
        sum(v * setting.pigments[key].load for key, v in volumes.items()) / total,
        reflectance,
        {light: (float(v[0]), float(v[1]), float(v[2])) for light, v in labs.items()},
        delta,
        coats_to_hide(volumes, base_ml, setting),
        cost.quantize(Decimal("0.01")),
        drop,
        drop_of,
        tuple(light for light in labs if light in setting.guessed),
    )
