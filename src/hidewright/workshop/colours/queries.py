"""Colour rows as values: pigments, readings, the target in force, the recipes found and the one chosen."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light import cie
from hidewright.colour.light.cie import LightLike
from hidewright.colour.light.smooth import smoothest
from hidewright.colour.reading.conditions import never_seen
from hidewright.colour.reading.repeats import Repeats, lab_sd, repeats
from hidewright.colour.recipes.recipe import Part, Recipe, Setting
from hidewright.workshop.colours import models as rows
from hidewright.workshop.pigments.values import CLEAR_HEX, LIGHTS, base, pigments, setup, surface
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

Array = NDArray[np.float64]
BY_HAND = "by hand"
"""How a recipe came that is a cup of one's own."""
UNTOLD = rows.Reading._meta.get_field("spread").default
"""The spread of a reading of which none was told."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadingValue:
    """A reading of a job. `reflectance` (31,) as read, or the smoothest with the colour where `assumed`; `labs` by light; `hex` for the screen."""

    id: int
    name: str
    reflectance: Array
    labs: Mapping[str, tuple[float, float, float]]
    hex: str
    source: str
    state: str
    assumed: bool
    readings: int = 1
    """How many readings of an instrument it is the mean of, as far as is known."""
    seen_under: tuple[str, str] = ("D65", "10")
    """Light and observer of a colour without a spectrum."""
    note: str = ""
    """How it was taken, and what speaks against it, in words."""

    def guessed(self, lights: Iterable[LightLike]) -> tuple[str, ...]:
        """The names of those lights under which its colour is a guess; none for a spectrum."""
        return never_seen(lights, *self.seen_under) if self.assumed else ()

    @property
    def noise(self) -> Repeats | None:
        """How far one reading of it may be off, and how many it wants; None where no instrument read its spectrum."""
        return repeats(self.reflectance) if self.source == "file" and not self.assumed else None

    @property
    def off(self) -> float:
        """ΔE00 by which it may be off by the instrument's noise; 0 where no instrument read its spectrum."""
        return self.noise.after(self.readings) if self.noise else 0.0

    @property
    def too_seldom(self) -> bool:
        """True where it is so dark that it wants more readings than it had."""
        return self.noise is not None and self.readings < self.noise.count


@dataclass(frozen=True, slots=True, eq=False)
class TargetValue:
    """What is aimed at, over which old colour (None: not known), within how much (ΔE00)."""

    id: int
    target: ReadingValue
    old: ReadingValue | None
    tolerance: float


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """The chosen recipe; see `chosen_recipe`."""

    row: rows.Recipe
    recipe: Recipe
    hexes: Mapping[str, str]
    hex: str
    target: ReadingValue
    old: ReadingValue | None
    chosen: datetime

    @property
    def components(self) -> tuple[Part, ...]:
        """Every part, base last: key, name, mL and g per litre of mix, density."""
        return self.recipe.parts

    @property
    def data(self) -> dict[str, Any]:
        """The plain data that the papers take."""
        return dict(self.row.data)

    @property
    def name(self) -> str:
        """“Recipe 2”."""
        return self.row.name


@lru_cache(maxsize=256)
def _stand_in(colour: tuple[float, float, float], light: str, observer: str) -> Array:
    return smoothest(colour, light, observer)


def reading_value(row: rows.Reading) -> ReadingValue:
    """One reading; a colour without a spectrum gets the smoothest spectrum that has it, and says so."""
    assumed = row.reflectance is None
    if assumed:
        l, a, b = (float(v) for v in row.lab or ())  # noqa: E741
        reflectance = _stand_in((l, a, b), row.light, row.observer)
    else:
        reflectance = np.array(row.reflectance)
    labs = {light: _triple(cie.lab(reflectance, light)) for light in LIGHTS}
    return ReadingValue(
        row.pk,
        row.name,
        reflectance,
        labs,
        cie.hex_from_lab(labs["D65"]),
        row.source,
        row.state,
        assumed,
        1 if assumed else _averaged(row, reflectance),
        (row.light, row.observer),
        row.note,
    )


def _averaged(row: rows.Reading, reflectance: Array) -> int:
    """How many readings a spectrum is the mean of: its noise falls with the root of their number. 1 where its spread was never told."""
    if row.source != "file" or row.spread == UNTOLD:
        return 1
    return max(1, round((lab_sd(reflectance) / row.spread) ** 2))


def lab_under(reflectance: Array, light: str) -> tuple[float, float, float]:
    """Lab of a spectrum (31,) under a light."""
    return _triple(cie.lab(reflectance, light))


def _triple(values: Array) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])


def readings(job: Job) -> list[ReadingValue]:
    """The job's readings that were not struck out, oldest first."""
    return [reading_value(row) for row in rows.Reading.objects.filter(job=job, struck=None)]


def target_row(job: Job, number: int = 0) -> rows.Target | None:
    """The target in force of one of the job's colours, as its row."""
    found = rows.Target.objects.filter(job=job, colour_number=number, withdrawn=None)
    return found.select_related("reading", "old").first()


def with_target(job: Job) -> set[int]:
    """Numbers of the job's colours that have a target in force."""
    found = rows.Target.objects.filter(job=job, withdrawn=None)
    return set(found.values_list("colour_number", flat=True))


def with_recipe(job: Job) -> set[int]:
    """Numbers of the job's colours for which a recipe is chosen."""
    found = rows.Choice.objects.filter(job=job, withdrawn=None)
    return set(found.values_list("recipe__target__colour_number", flat=True))


def readings_in_use(job: Job) -> set[int]:
    """Keys of the readings that are the target or the old colour of one of the job's colours now."""
    found: dict[int, tuple[int, int | None]] = {}
    listed = rows.Target.objects.filter(job=job, withdrawn=None).order_by("id")
    for number, reading, old in listed.values_list("colour_number", "reading_id", "old_id"):
        found[number] = (reading, old)
    return {key for pair in found.values() for key in pair if key}


def target_value(row: rows.Target) -> TargetValue:
    """A target as values."""
    return TargetValue(
        row.pk, reading_value(row.reading), reading_value(row.old) if row.old else None, row.tolerance
    )


def target(job: Job, number: int = 0) -> TargetValue | None:
    """The target in force of one of the job's colours, or None."""
    row = target_row(job, number)
    return target_value(row) if row else None


def recipe_value(data: Mapping[str, Any]) -> Recipe:
    """A recipe as the engine gave it, from its kept data."""
    parts = tuple(
        Part(p["key"], p["name"], float(p["volume_ml_per_l"]), float(p["mass_g_per_l"]))
        for p in data["parts"]
    )
    return Recipe(
        parts,
        float(data["load"]),
        np.array(data["reflectance"]),
        {light: (float(v[0]), float(v[1]), float(v[2])) for light, v in data["labs"].items()},
        {light: float(v) for light, v in data["delta_e"].items()},
        data["coats"],
        Decimal(data["cost_per_l"]),
        float(data["drop"]),
        data["drop_of"],
        tuple(data.get("guessed", ())),
    )


def pours_of_recipe(data: Mapping[str, Any]) -> tuple[Part, ...]:
    """What is weighed for a litre of a kept recipe where leftover jars are in it; empty where it is its own parts."""
    return tuple(
        Part(p["key"], p["name"], float(p["volume_ml_per_l"]), float(p["mass_g_per_l"]))
        for p in data.get("pours", ())
    )


@remembered
def choice_row(job: Job, number: int = 0) -> rows.Choice | None:
    """The choice in force for one of the job's colours, as its row."""
    return (
        rows.Choice.objects.filter(job=job, recipe__target__colour_number=number, withdrawn=None)
        .select_related("recipe__target__reading", "recipe__target__old")
        .first()
    )


@remembered
def chosen_recipe(job: Job, number: int = 0) -> Chosen | None:
    """The recipe that was chosen last for one of the job's colours and not undone, with the target it was found for; None before that."""
    choice = choice_row(job, number)
    if choice is None:
        return None
    row = choice.recipe
    aimed = target_value(row.target)
    shown = {p["key"]: p.get("hex") or CLEAR_HEX for p in row.data["parts"]}
    return Chosen(row, recipe_value(row.data), shown, row.data["hex"], aimed.target, aimed.old, choice.made)


def newest_recipes(job: Job, number: int = 0) -> list[rows.Recipe]:
    """The recipes of the newest search for one of the job's colours, best first. A cup that was liked is no search."""
    searched = rows.Recipe.objects.filter(job=job, target__colour_number=number).exclude(way=BY_HAND)
    newest = searched.first()
    if newest is None:
        return []
    return list(
        rows.Recipe.objects.filter(job=job, batch=newest.batch).select_related(
            "target__reading", "target__old"
        )
    )


def setting(job: Job, number: int = 0) -> Setting | None:
    """What any cup of one of the job's colours is judged in; None without a target."""
    aimed = target(job, number)
    if aimed is None:
        return None
    return Setting(
        aimed.target.reflectance,
        {p.key: p for p in pigments()},
        base(),
        LIGHTS,
        aimed.old.reflectance if aimed.old else None,
        surface(),
        setup().coat,
        guessed=aimed.target.guessed(LIGHTS),
    )
