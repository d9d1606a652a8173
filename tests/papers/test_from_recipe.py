"""Mixing cards out of recipes."""

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.colour.recipes.recipe import Part, Recipe
from hidewright.mixing.grain import BALANCE_STEPS
from hidewright.papers.from_recipe import mixing_card_from_match, mixing_card_of, recipe_to_data
from hidewright.papers.mixing_card import CardLine, MixingCard, mixing_card_pdf
from hidewright.refusals import Refusal

DAY = date(2026, 3, 2)
RECIPE = Recipe(
    parts=(
        Part("PW6", "White", 150.0, 292.5),
        Part("PBk7", "Black", 20.0, 23.0),
        Part("base", "Base", 830.0, 854.9),
    ),
    load=0.17,
    reflectance=np.full(31, 0.3),
    labs={"D65": (61.0, 0.1, -0.2), "A": (61.0, 0.2, 0.0)},
    delta_e={"D65": 0.42, "A": 0.81},
    coats=2,
    cost=Decimal("21.40"),
    drop=0.9,
    drop_of="PBk7",
)


def match_data() -> dict[str, object]:
    target = {"name": "Biscuit #1", "hex": "#939495", "lab": [61.2, 0.0, -0.1]}
    return json.loads(json.dumps({"target": target, "recipes": [recipe_to_data(RECIPE, {"PW6": "#f4f4f4"})]}))


def card(**changed: object):
    facts = {"rank": 1, "job": "Rail car", "vessel": "1 L pot", "batch_ml": 500.0, "made_on": DAY, **changed}
    return mixing_card_from_match(match_data(), **facts)  # type: ignore[arg-type]


def test_the_card_scales_the_recipe_to_the_vessel() -> None:
    made = card()
    assert [line.grams for line in made.lines] == pytest.approx([427.45, 146.25, 11.5]), (
        "base first, as the cup is poured"
    )
    assert made.total_g == pytest.approx(500 * RECIPE.density, abs=0.2)
    assert made.lines[1].hex == "#f4f4f4"
    assert made.colour == "Biscuit #1"
    assert dict(made.facts)["D65, daylight"] == "an eye hardly sees it (ΔE00 0.4)"
    assert dict(made.facts)["Coats to hide the old colour"] == "2"
    assert mixing_card_pdf(made).startswith(b"%PDF")


def test_the_card_agrees_with_the_recipe_s_own_rounding() -> None:
    content = card().content()
    *pigments, base = [part.mass for part in RECIPE.scaled(500)]
    shown = [float(row["grams"]) for row in content["lines"]]
    assert shown == pytest.approx([base, *pigments], abs=0.051)


def test_what_is_no_match_is_refused_in_words() -> None:
    with pytest.raises(Refusal, match="no recipe 2"):
        card(rank=2)
    with pytest.raises(Refusal, match="no match"):
        mixing_card_from_match({}, rank=1, job="x", vessel="x", batch_ml=5, made_on=DAY)
    rubbish = {**recipe_to_data(RECIPE), "parts": [{"name": "x"}]}
    with pytest.raises(Refusal, match="no recipe"):
        mixing_card_of(rubbish, target_hex="", job="x", colour="x", vessel="x", batch_ml=5, made_on=DAY)
    with pytest.raises(Refusal, match="batch must hold"):
        card(batch_ml=-5)


def test_an_old_colour_that_cannot_be_hidden_is_told() -> None:
    data = recipe_to_data(replace(RECIPE, coats=None))
    made = mixing_card_of(data, target_hex="", job="x", colour="x", vessel="x", batch_ml=500, made_on=DAY)
    assert dict(made.facts)["Coats to hide the old colour"].startswith("more than twelve")


@given(st.lists(st.floats(0.001, 900.0), min_size=2, max_size=5), st.sampled_from(BALANCE_STEPS))
def test_a_card_asks_for_whole_steps_of_the_balance_and_says_when_the_batch_is_small(
    masses: list[float], step: float
) -> None:
    """By hand: half a step of the part that weighs least, against the twentieth of it that is honest."""
    lines = tuple(CardLine(f"Part {n}", mass) for n, mass in enumerate(masses))
    card = MixingCard("job", "colour", "pot", 500, lines, DAY, step_g=step)
    running = 0.0
    for row, line in zip(card.content()["lines"], lines, strict=True):
        count = float(row["grams"]) / step
        assert count == pytest.approx(max(1, round(line.grams / step)), abs=1e-6)
        running += float(row["grams"])
        assert float(row["running"]) == pytest.approx(running, abs=1e-6)
    assert ("small for the balance" in card.content()["advice"]) == (
        0.5 * step > 0.05 * min(masses) * (1 + 1e-9)
    )
