"""Colour as it is shown: touching swatches under each light, the words beside them, curves."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.safestring import SafeString
from numpy.typing import NDArray

from hidewright.charts.curves import Curve, reflectance_curves
from hidewright.charts.render import to_svg
from hidewright.charts.swatches import Swatch, touching_swatches
from hidewright.colour.light import cie
from hidewright.colour.light.cie import hex_from_lab
from hidewright.colour.light.far import how_far
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.pigments.wet import Milk, look_wet
from hidewright.colour.reading.conditions import Conditions, unlike
from hidewright.colour.reading.readings import special_metamerism
from hidewright.colour.recipes.recipe import Part, Recipe, in_steps
from hidewright.mixing.grain import USUAL_STEP_G, places_of
from hidewright.workshop.colours import models as rows
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours.queries import ReadingValue, TargetValue
from hidewright.workshop.pigments import values as gather_values
from hidewright.workshop.pigments.knowledge import milk
from hidewright.workshop.pigments.lamp_queries import light_of
from hidewright.workshop.pigments.swatches import safe_svg
from hidewright.workshop.pigments.values import LIGHT_NAMES, LIGHTS
from hidewright.workshop.shop.door import the_shop

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class UnderLight:
    """One difference: the light's name, ΔE00, in words, whether it is within what was agreed, and whether it is a guess: the colour was never seen under that light."""

    light: str
    name: str
    delta: float
    words: str
    ok: bool
    guess: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class RecipeShown:
    """A recipe as the page shows it."""

    row: rows.Recipe
    recipe: Recipe
    under: tuple[UnderLight, ...]
    main: SafeString
    others: tuple[SafeString, ...]
    drop_name: str
    old_known: bool
    stale: bool
    pours: tuple[Part, ...] = ()
    """What is weighed for a litre: the recipe's parts, or leftover jars with what is fresh beside them."""
    jars: tuple[Part, ...] = ()
    wet_delta: float | None = None
    metamerism: float | None = None
    batch: float = 1000.0
    judged_coats: int | None = None
    balance_step: float = USUAL_STEP_G

    @property
    def names(self) -> str:
        """What goes in beside the base, by name, largest first."""
        return ", ".join(part.name for part in self.pours[:-1])

    @property
    def amounts(self) -> list[tuple[Part, float, float]]:
        """Each thing to weigh, with its g (whole steps of the balance, at least one) and mL for the batch that was asked for."""
        scale, step = self.batch / 1000.0, self.balance_step
        return [(part, in_steps(part.mass * scale, step), part.volume * scale) for part in self.pours]

    @property
    def places(self) -> int:
        """Decimals of the balance."""
        return places_of(self.balance_step)

    @property
    def worst(self) -> float:
        """The largest ΔE00 of all lights."""
        return max(line.delta for line in self.under)

    @property
    def ok(self) -> bool:
        """Within what was agreed under the main light."""
        return self.under[0].ok

    @property
    def percent(self) -> float:
        """Pigment in the mix, per cent of its volume."""
        return 100 * self.recipe.load


def lab_words(lab: Sequence[float]) -> str:
    """“L* 48.2 a* 8.1 b* 24.0”."""
    return f"L* {lab[0]:.1f} a* {lab[1]:.1f} b* {lab[2]:.1f}".replace("-", "−")


def light_caption(light: str) -> str:
    """The name of a light at the start of a line: “Daylight (D65)”."""
    name = LIGHT_NAMES.get(light, light)
    return name[:1].upper() + name[1:]


def _lab_short(lab: Sequence[float]) -> str:
    return f"{lab[0]:.1f}, {lab[1]:.1f}, {lab[2]:.1f}".replace("-", "−")


def pair(
    target: ReadingValue,
    recipe: Recipe,
    light: str,
    old: ReadingValue | None = None,
    height: float = 120,
    wet: Array | None = None,
) -> SafeString:
    """Target and recipe touching under one light, the recipe wet (its reading, 31), and the old colour where it is known."""
    aimed = _under(target, light)
    got = recipe.labs[light]
    patches = [
        Swatch(hex_from_lab(aimed), "Target", _lab_short(aimed)),
        Swatch(hex_from_lab(got), "Recipe, dry", how_far(recipe.delta_e[light])),
    ]
    if wet is not None:
        patches.append(Swatch(hex_from_lab(gather.lab_under(wet, "D65")), "Wet", "in the cup"))
    if old is not None:
        under = _under(old, light)
        patches.append(Swatch(hex_from_lab(under), "Old colour", _lab_short(under)))
    return safe_svg(touching_swatches(patches, caption=light_caption(light), height=height))


def _under(reading: ReadingValue, light: str) -> tuple[float, float, float]:
    if light in reading.labs:
        return reading.labs[light]
    lab = cie.lab(reading.reflectance, light_of(light))
    return float(lab[0]), float(lab[1]), float(lab[2])


def target_swatches(aimed: TargetValue) -> list[SafeString]:
    """Target against old colour under each light."""
    shown = []
    for light in LIGHTS:
        patches = [
            Swatch(hex_from_lab(aimed.target.labs[light]), "Target", lab_words(aimed.target.labs[light]))
        ]
        if aimed.old is not None:
            lab = aimed.old.labs[light]
            patches.append(Swatch(hex_from_lab(lab), "Old colour", lab_words(lab)))
        shown.append(safe_svg(touching_swatches(patches, caption=light_caption(light), height=96)))
    return shown


@dataclass(frozen=True, slots=True, eq=False)
class WetCups:
    """What is needed to foretell how mixes look while they are wet."""

    known: tuple[Pigment, ...]
    milk: Milk

    @classmethod
    def now(cls) -> "WetCups":
        """As the shop knows it now."""
        return cls(gather_values.pigments(), milk())

    def look(self, recipe: Recipe) -> Array | None:
        """Reading (31,) of the recipe wet; None when one of its pigments is not known any more."""
        parts = {part.key: part.volume for part in recipe.pigments}
        if not set(parts) <= {p.key for p in self.known}:
            return None
        return look_wet(Contents(parts, recipe.parts[-1].volume), self.known, self.milk)


def recipe_shown(
    row: rows.Recipe, in_force: TargetValue | None, *, height: float = 72, wet: WetCups | None = None
) -> RecipeShown:
    """One kept recipe as the page shows it, against the target it was found for."""
    recipe = gather.recipe_value(row.data)
    aimed = gather.target_value(row.target)
    pours = gather.pours_of_recipe(row.data) or recipe.parts
    names = {part.key: part.name for part in pours}
    under = tuple(
        UnderLight(
            light,
            LIGHT_NAMES.get(light, light),
            delta,
            how_far(delta),
            delta <= aimed.tolerance,
            light in recipe.guessed,
        )
        for light, delta in recipe.delta_e.items()
    )
    lights = list(recipe.labs)
    look = (wet or WetCups.now()).look(recipe)
    off = None if look is None else float(cie.delta_e00(cie.lab(look), cie.lab(recipe.reflectance)))
    index = None
    if not aimed.target.assumed:
        index = special_metamerism(aimed.target.reflectance, recipe.reflectance, "A")
    return RecipeShown(
        row,
        recipe,
        under,
        pair(aimed.target, recipe, lights[0], aimed.old, height, look),
        tuple(pair(aimed.target, recipe, light, aimed.old, height) for light in lights[1:]),
        names.get(recipe.drop_of, recipe.drop_of),
        aimed.old is not None,
        in_force is None or in_force.id != row.target_id,
        pours,
        tuple(part for part in pours if part.key in row.data.get("jars", {})),
        off,
        index,
        float(row.data.get("batch_ml") or 1000.0),
        row.data.get("judged_coats"),
        the_shop().balance_step,
    )


def recipe_curves(row: rows.Recipe) -> SafeString:
    """Reflectance of target, recipe and old colour."""
    aimed = gather.target_value(row.target)
    curves = [
        Curve("Target (assumed)" if aimed.target.assumed else "Target", aimed.target.reflectance),
        Curve(f"{row.name}, dry", np.array(row.data["reflectance"])),
    ]
    if aimed.old is not None:
        curves.append(Curve("Old colour", aimed.old.reflectance))
    return safe_svg(to_svg(reflectance_curves(curves), label=f"Reflectance of the target and of {row.name}"))


def reading_curves(readings: Sequence[ReadingValue]) -> SafeString:
    """Reflectance of up to six readings, each named once."""
    curves = [Curve(f"{n}. {r.name}"[:40], r.reflectance) for n, r in enumerate(readings[:6], 1)]
    return safe_svg(to_svg(reflectance_curves(curves), label="Reflectance of the readings"))


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Two colours side by side: pictures, ΔE00 by light, curves, and why they should not be compared as they are."""

    pictures: tuple[SafeString, ...]
    under: tuple[UnderLight, ...]
    curves: SafeString
    warnings: tuple[str, ...]
    metamerism: float | None = None


def comparison(first: ReadingValue, second: ReadingValue) -> Comparison:
    """Two readings, with the warnings about unlike conditions."""
    pictures, under = [], []
    for light in LIGHTS:
        one, two = first.labs[light], second.labs[light]
        delta = float(cie.delta_e00(np.array(one), np.array(two)))
        patches = [
            Swatch(hex_from_lab(one), first.name, _lab_short(one)),
            Swatch(hex_from_lab(two), second.name, _lab_short(two)),
        ]
        pictures.append(safe_svg(touching_swatches(patches, caption=light_caption(light))))
        guess = bool(first.guessed((light,)) or second.guessed((light,)))
        under.append(UnderLight(light, LIGHT_NAMES[light], delta, how_far(delta), delta <= 1.0, guess))
    warnings = list(unlike(Conditions(state=first.state), Conditions(state=second.state)))
    if first.assumed or second.assumed:
        warnings.append(
            "One is a colour without a spectrum: what it does under other lights is assumed (smoothest spectrum)."
        )
    index = special_metamerism(first.reflectance, second.reflectance, "A") if first.id != second.id else None
    return Comparison(tuple(pictures), tuple(under), reading_curves([first, second]), tuple(warnings), index)


def shift_shown(aimed: TargetValue, shifted: Array, delta_e: Mapping[str, float]) -> Comparison:
    """The target against the target shifted."""
    pictures, under = [], []
    for light in LIGHTS:
        one, two = aimed.target.labs[light], gather.lab_under(shifted, light)
        patches = [
            Swatch(hex_from_lab(one), "Target now", _lab_short(one)),
            Swatch(hex_from_lab(two), "Shifted", _lab_short(two)),
        ]
        if aimed.old is not None:
            patches.append(Swatch(hex_from_lab(aimed.old.labs[light]), "Old colour"))
        pictures.append(safe_svg(touching_swatches(patches, caption=light_caption(light))))
        delta = delta_e[light]
        near, guess = delta <= aimed.tolerance, bool(aimed.target.guessed((light,)))
        under.append(UnderLight(light, LIGHT_NAMES[light], delta, how_far(delta), near, guess))
    curves = [Curve("Target now", aimed.target.reflectance), Curve("Shifted", shifted)]
    svg = safe_svg(
        to_svg(reflectance_curves(curves), label="Reflectance of the target and of the shifted target")
    )
    return Comparison(tuple(pictures), tuple(under), svg, ())
