"""Recipes: what to put in the cup for a target, in grams and millilitres."""

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass

from hidewright.colour.light.cie import LightLike, hex_from_reflectance
from hidewright.colour.reading.readings import Reading
from hidewright.colour.reading.shine import read_alike
from hidewright.colour.recipes.match import MatchProblem, MatchResult, step_per_litre
from hidewright.colour.recipes.match import match as best_recipes
from hidewright.colour.recipes.recipe import COAT_UM, Recipe, Setting
from hidewright.defaults import LOAD
from hidewright.mixing.grain import USUAL_STEP_G, places_of

from .pigments import Pigments
from .tables import html_of


@dataclass(frozen=True, slots=True, eq=False)
class Mix:
    """One recipe, and what it was judged in. `recipe` holds the parts per litre, `setting` target, lights, base and the old colour.

    >>> from hidewright import api
    >>> pigments = api.generic_pigments("PW6", "PBk7")
    >>> grey = api.match(api.colour("grey", (60, 0, 0)), pigments, lights=("D65",), keep=1).best
    >>> sorted(grey.grams(250)) == sorted(grey.millilitres(250))
    True
    >>> round(sum(grey.millilitres(250).values()))
    250
    >>> 0.25 < grey.solids < 0.4  # between those of the base and of the dispersions
    True
    """

    recipe: Recipe
    setting: Setting
    balance_g: float = USUAL_STEP_G

    def grams(self, batch_ml: float) -> dict[str, float]:
        """g to weigh by key for a batch of `batch_ml` (1 mL to 1000 L), in whole steps of the balance, base last: what `adjust` takes as a cup."""
        return {part.key: part.mass for part in self.recipe.scaled(batch_ml, self.balance_g)}

    def millilitres(self, batch_ml: float) -> dict[str, float]:
        """The same in mL by key, as the grams come out."""
        return {part.key: round(part.volume, 2) for part in self.recipe.scaled(batch_ml, self.balance_g)}

    @property
    def pours(self) -> str:
        """What to weigh for a litre, in words."""
        places = places_of(self.balance_g)
        return ", ".join(
            f"{p.name} {p.mass:.{places}f} g" for p in self.recipe.scaled(1000.0, self.balance_g)
        )

    @property
    def delta_e(self) -> Mapping[str, float]:
        """ΔE00 to the target by the name of the light."""
        return self.recipe.delta_e

    @property
    def coats(self) -> int | None:
        """Sprayed coats that hide the old colour; None where there is no old colour, or twelve do not do it."""
        return self.recipe.coats

    @property
    def solids(self) -> float:
        """Share of the mix's volume that stays when dry, 0..1."""
        parts, known = self.recipe.parts, self.setting.pigments
        dry = sum(
            p.volume * (known[p.key].solids if p.key in known else self.setting.base.solids) for p in parts
        )
        return dry / sum(p.volume for p in parts)

    @property
    def coat_um(self) -> float:
        """Dry µm of a coat that it was judged with."""
        return self.setting.coat_um

    @property
    def hex(self) -> str:
        """A colour for the screen, which is no colour standard."""
        return hex_from_reflectance(self.recipe.reflectance)

    @property
    def words(self) -> str:
        """What to weigh for a litre, how near it comes under each light, and the coats."""
        near = ", ".join(
            f"{value:.2f} under {light}{' (a guess)' if light in self.recipe.guessed else ''}"
            for light, value in self.delta_e.items()
        )
        hides = f" {self.coats} coats hide the old colour." if self.coats else ""
        return f"For one litre: {self.pours}. ΔE00 {near}.{hides}"

    def _repr_html_(self) -> str:
        places = places_of(self.balance_g)
        parts = self.recipe.scaled(1000.0, self.balance_g)
        rows = ((p.name, f"{p.mass:.{places}f}", f"{p.volume:.1f}") for p in parts)
        return html_of(self.words, ("For one litre", "g", "mL"), rows)


@dataclass(frozen=True, slots=True, eq=False)
class Mixes:
    """The recipes for a target, best first: a sequence of `Mix`. `result` holds how many sets of pigments were tried and whether somebody stopped it; `notes` what to know about the readings.

    >>> from hidewright import api
    >>> mixes = api.match(api.colour("red", (45, 60, 40)), api.generic_pigments("PW6", "PBk7"), lights=("D65",))
    >>> mixes.reachable  # not from white and black
    False
    >>> mixes.best is not None and len(mixes) >= 1
    True
    """

    result: MatchResult
    setting: Setting
    notes: tuple[str, ...] = ()
    balance_g: float = USUAL_STEP_G

    def __len__(self) -> int:
        return len(self.result.recipes)

    def __getitem__(self, rank: int) -> Mix:
        return Mix(self.result.recipes[rank], self.setting, self.balance_g)

    def __iter__(self) -> Iterator[Mix]:
        return (Mix(recipe, self.setting, self.balance_g) for recipe in self.result.recipes)

    @property
    def best(self) -> Mix:
        """The first of them."""
        return self[0]

    @property
    def reachable(self) -> bool:
        """False where the nearest recipe is more than ΔE00 1 away under the main light; `words` then says which way the target lies outside."""
        return self.result.reachable

    @property
    def words(self) -> str:
        """The best recipe, and what to know about it."""
        lines = [self.best.words, f"{self.result.tried} sets of pigments tried."]
        if self.result.guessed:
            lines.append(
                f"Under {' and '.join(self.result.guessed)} ΔE00 is a guess: the target was never seen there."
            )
        if not self.reachable:
            lines.append(self.result.outside)
        return "\n".join([*lines, *self.notes])

    def _repr_html_(self) -> str:
        lights = [str(light) for light in self.setting.lights]
        rows = (
            (
                rank,
                mix.hex,
                mix.pours,
                *(f"{mix.delta_e[light]:.2f}" for light in lights),
                mix.coats or "",
                f"{mix.recipe.drop:.2f}",
                mix.recipe.cost,
            )
            for rank, mix in enumerate(self, start=1)
        )
        heads = (
            "",
            "",
            "For one litre",
            *(f"ΔE00 {light}" for light in lights),
            "Coats",
            "A drop",
            "Cost a litre",
        )
        return html_of(self.words, heads, rows)


def match(
    target: Reading,
    pigments: Pigments,
    *,
    old: Reading | None = None,
    lights: tuple[LightLike, ...] = ("D65", "A", "FL11"),
    worst: bool = False,
    load: tuple[float, float] = LOAD,
    most: int = 4,
    must_use: Collection[str] = (),
    must_not_use: Collection[str] = (),
    coats: int | None = None,
    coat_um: float = COAT_UM,
    keep: int = 12,
    batch_ml: float = 1000.0,
    balance_g: float = USUAL_STEP_G,
    on_progress: Callable[[float, str], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Mixes:
    """Find recipes of up to `most` (1 to 5) pigments for a target, judged by CIEDE2000 under the first of `lights` (or the `worst` of them).

    `old` is a reading of what lies below, and gives the coats that hide it; `coats` judges so many coats of `coat_um` dry µm over it instead of the opaque colour. `load` is the window
    of pigment volume per mix volume. Where the pigments know what is left of them, no recipe takes more for `batch_ml`. `balance_g` is the last digit of
    the balance in g: amounts are whole steps of it. Raises `Refusal`. See docs/science/match-and-adjust.md.

    >>> from hidewright import api
    >>> pigments = api.generic_pigments("PW6", "PY42", "PR101", "PBk7")
    >>> mixes = api.match(api.colour("tan", (58, 10, 24)), pigments, lights=("D65",), keep=1)
    >>> mixes.reachable, round(mixes.best.delta_e["D65"], 1)
    (True, 0.0)
    >>> list(mixes.best.grams(500))[-1]  # the base is poured last
    'base'
    """
    wanted, notes = read_alike(target, pigments.surface)
    ground, of_old = read_alike(old, pigments.surface) if old else (None, ())
    problem = MatchProblem(
        wanted.reflectance,
        pigments.pigments,
        base=pigments.base,
        old=ground.reflectance if ground else None,
        surface=pigments.surface,
        lights=lights,
        worst=worst,
        load=load,
        most=most,
        must_use=frozenset(must_use),
        must_not_use=frozenset(must_not_use),
        coat_um=coat_um,
        keep=keep,
        coats=coats,
        shelf_ml=pigments.left_ml,
        batch_ml=batch_ml,
        step_g=step_per_litre(balance_g, batch_ml),
        guessed=wanted.guessed(lights),
    )
    result = best_recipes(problem, on_progress=on_progress, should_stop=should_stop)
    return Mixes(result, problem.setting, (*notes, *of_old), balance_g)
