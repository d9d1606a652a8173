"""Mixing cards out of a recipe, or out of the JSON that `hidewright match --json` writes."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from hidewright.charts.swatches import Swatch
from hidewright.colour.light.cie import hex_from_lab
from hidewright.colour.light.far import off_with_figure, with_figure
from hidewright.colour.recipes.recipe import Recipe
from hidewright.mixing.grain import USUAL_STEP_G
from hidewright.mixing.recipe import pouring_order
from hidewright.papers.figures import fixed, percent, volume
from hidewright.papers.mixing_card import CardLine, MixingCard
from hidewright.refusals import Refusal

LIGHT_NAMES = {"D65": "D65, daylight", "A": "A, lamp light", "FL11": "FL11, shop light"}


def recipe_to_data(recipe: Recipe, hexes: Mapping[str, str] | None = None) -> dict[str, Any]:
    """A recipe as plain data for JSON: masses in g and volumes in mL per litre of mix; `hexes` by pigment key."""
    colours = hexes or {}
    return {
        "parts": [
            {
                "key": part.key,
                "name": part.name,
                "hex": colours.get(part.key, ""),
                "mass_g_per_l": part.mass,
                "volume_ml_per_l": part.volume,
            }
            for part in recipe.parts
        ],
        "load": recipe.load,
        "density": recipe.density,
        "hex": hex_from_lab(recipe.labs["D65"]) if "D65" in recipe.labs else "",
        "labs": {light: list(values) for light, values in recipe.labs.items()},
        "delta_e": dict(recipe.delta_e),
        "coats": recipe.coats,
        "cost_per_l": str(recipe.cost),
        "drop": recipe.drop,
        "drop_of": recipe.drop_of,
        "guessed": list(recipe.guessed),
    }


def _in_pouring_order(parts: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """As the guided cup pours; the base is the last part of a recipe."""
    by_key = {str(part["key"]): part for part in parts}
    volumes = {key: float(part["volume_ml_per_l"]) for key, part in by_key.items()}
    return [by_key[key] for key in pouring_order(volumes, str(parts[-1]["key"]))]


def mixing_card_of(
    recipe: Mapping[str, Any],
    *,
    target_hex: str,
    target_note: str = "",
    job: str,
    colour: str,
    vessel: str,
    batch_ml: float,
    made_on: date,
    page_url: str = "",
    portions: Sequence[str] = (),
    step_g: float = USUAL_STEP_G,
    units: str = "metric",
) -> MixingCard:
    """The card of one recipe (as `recipe_to_data` writes it), scaled to `batch_ml`, in whole steps of a balance of `step_g`; volumes in `units`, metric or us."""
    if not 0 < batch_ml < 1e6:
        raise Refusal("The batch must hold between 0 and 1000 L.", where=colour)
    try:
        parts = recipe.get("pours") or recipe["parts"]
        whole = sum(float(part["volume_ml_per_l"]) for part in parts)
        lines = tuple(
            CardLine(part["name"], float(part["mass_g_per_l"]) * batch_ml / whole, part.get("hex") or "")
            for part in _in_pouring_order(parts)
        )
        swatches = []
        if target_hex:
            swatches.append(Swatch(target_hex, "Target", target_note))
        if recipe.get("hex"):
            told = ", ".join(
                f"{with_figure(v)} under {k}{', a guess' if k in recipe.get('guessed', ()) else ''}"
                for k, v in list(recipe["delta_e"].items())[:1]
            )
            swatches.append(Swatch(recipe["hex"], "Recipe, dry", told))
        facts = _facts(recipe, units)
        density = float(recipe["density"])
    except (KeyError, TypeError, ValueError, ZeroDivisionError) as error:
        if isinstance(error, Refusal):
            raise
        raise Refusal(
            f"This is no recipe: {error!r}.", where="recipe", remedy="Write it with hidewright match --json."
        ) from error
    return MixingCard(
        job=job,
        colour=colour,
        vessel=vessel,
        batch_ml=batch_ml,
        density_g_ml=density,
        lines=lines,
        swatches=tuple(swatches),
        facts=facts,
        made_on=made_on,
        page_url=page_url,
        portions=tuple(portions),
        step_g=step_g,
        units=units,
    )


def mixing_card_from_match(
    data: Mapping[str, Any],
    *,
    rank: int,
    job: str,
    vessel: str,
    batch_ml: float,
    made_on: date,
    page_url: str = "",
    step_g: float | None = None,
) -> MixingCard:
    """The card of the recipe at `rank` (1 is the best) in the JSON of `hidewright match --json`, in whole steps of a balance of `step_g` (None: the one it was matched for)."""
    try:
        recipes, target = data["recipes"], data["target"]
        name = str(target["name"])
    except (KeyError, TypeError) as error:
        raise Refusal(
            f"This is no match: {error!r} is missing.", where="match", remedy="Use hidewright match --json."
        ) from error
    if not 1 <= rank <= len(recipes):
        raise Refusal(f"There is no recipe {rank}.", where="rank", remedy=f"Choose 1 to {len(recipes)}.")
    return mixing_card_of(
        recipes[rank - 1],
        target_hex=target.get("hex") or "",
        target_note=lab_text(target.get("lab")),
        job=job,
        colour=name,
        vessel=vessel,
        batch_ml=batch_ml,
        made_on=made_on,
        page_url=page_url,
        step_g=float(data.get("balance_g", USUAL_STEP_G)) if step_g is None else step_g,
    )


def lab_text(values: Sequence[float] | None) -> str:
    """“L* 48.2 a* 8.1 b* 24.0”, or empty."""
    if not values:
        return ""
    return " ".join(f"{name} {fixed(v, 1)}" for name, v in zip(("L*", "a*", "b*"), values, strict=True))


def _facts(recipe: Mapping[str, Any], units: str) -> tuple[tuple[str, str], ...]:
    facts = [(LIGHT_NAMES.get(light, light), with_figure(v)) for light, v in recipe["delta_e"].items()]
    facts.append(("Pigment in the mix", percent(float(recipe["load"]))))
    coats = recipe.get("coats")
    facts.append(("Coats to hide the old colour", str(coats) if coats else "more than twelve, or not known"))
    if recipe.get("drop_of"):
        facts.append(
            (f"One drop too many in {volume(150, units)}", f"off by {off_with_figure(float(recipe['drop']))}")
        )
    return tuple(facts)
