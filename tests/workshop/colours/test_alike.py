"""Recipes that no eye could tell apart stand in one row, and only those."""

from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from hidewright.workshop.colours.alike import alike, in_rows

LABS = {"D65": (50.0, 2.5, 0.0), "A": (52.0, 6.0, 9.0)}


def shown(pk: int, **changes: Any) -> Any:
    """A recipe as the page has it, with what the rows ask of it."""
    facts = {"labs": LABS, "guessed": (), "coats": 2, "drop": 0.2, "cost": Decimal(20), **changes}
    jars = facts.pop("jars", ())
    ok = facts.pop("ok", True)
    return SimpleNamespace(
        row=SimpleNamespace(pk=pk, name=f"Recipe {pk}"), recipe=SimpleNamespace(**facts), jars=jars, ok=ok
    )


@pytest.mark.parametrize(
    "changes",
    [
        {"labs": {**LABS, "A": (52.0, 6.0, 10.5)}},
        {"labs": {"D65": LABS["D65"]}},
        {"coats": 3},
        {"coats": None},
        {"drop": 0.35},
        {"cost": Decimal(25)},
        {"guessed": ("A",)},
        {"jars": ("a jar",)},
        {"ok": False},
    ],
)
def test_whatever_decides_between_two_recipes_keeps_them_apart(changes: dict[str, Any]) -> None:
    assert alike(shown(1), shown(2, labs={**LABS, "A": (52.0, 6.0, 9.3)}, cost=Decimal(21)))
    assert not alike(shown(1), shown(2, **changes))


def test_the_best_ranked_stands_for_its_like_and_the_chosen_one_by_itself() -> None:
    recipes = [shown(1), shown(2, coats=3), shown(3), shown(4)]
    assert [(row.first.row.pk, row.names) for row in in_rows(recipes)] == [(1, "Recipe 3, Recipe 4"), (2, "")]
    assert [row.first.row.pk for row in in_rows(recipes, chosen=3)] == [1, 2, 3]
    assert [row.first.row.pk for row in in_rows(recipes, chosen=1)] == [1, 2, 3]


def test_likeness_is_measured_from_the_first_of_a_row() -> None:
    """Three in a chain, each hardly different from the next: the ends can be told apart, so the last does not join."""
    chain = [shown(n, labs={"D65": (50.0 + 0.4 * n, 0.0, 0.0)}) for n in range(3)]
    assert [row.names for row in in_rows(chain)] == ["Recipe 1", ""]
