"""Finding recipes: reached colours, windows, lights, jars, the shelf, and what is refused."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from hidewright.colour.light.cie import WAVELENGTHS, Light, delta_e00, lab, light_from_spectrum, weights
from hidewright.colour.pigments.film import Surface, below, film, opaque, seen
from hidewright.colour.pigments.pigment import Base, Pigment, dry_shares, mixed
from hidewright.colour.recipes.leftovers import jar
from hidewright.colour.recipes.match import MatchProblem, match, nearest
from hidewright.colour.recipes.recipe import judge
from hidewright.refusals import Refusal


def mix(parts: dict[str, float], pigments: dict[str, Pigment]) -> np.ndarray:
    """Reading of the opaque mix of these volumes."""
    k, s = mixed(parts, pigments)
    return seen(opaque(k, s), Surface())


TAN = {"PW6": 1.0, "PBr7": 0.36, "PY42": 0.42, "PR101": 0.1}


def test_a_mix_of_the_pigments_is_found_again(pigments: dict[str, Pigment]) -> None:
    target = mix(TAN, pigments)
    off, parts = nearest(MatchProblem(target, list(pigments.values())))
    assert off < 0.005
    read = mix(parts, pigments)
    assert float(delta_e00(lab(read), lab(target))) == pytest.approx(off, abs=1e-6)


def test_what_a_recipe_says_is_what_its_grams_do(pigments: dict[str, Pigment]) -> None:
    target = mix(TAN, pigments)
    problem = MatchProblem(target, list(pigments.values()), old=np.full(31, 0.2), keep=4)
    for recipe in match(problem).recipes:
        grams = {p.key: p.mass for p in recipe.pigments}
        again = judge(grams, recipe.parts[-1].mass, problem.setting)
        assert again.delta_e["D65"] == pytest.approx(recipe.delta_e["D65"], abs=1e-9)
        assert 0.16 <= recipe.load <= 0.20
        assert recipe.coats == again.coats
        assert len(recipe.pigments) <= 4


def test_the_worst_light_is_better_when_asked_for(pigments: dict[str, Pigment]) -> None:
    target = mix({"PW6": 1.0, "PV23": 0.05, "PY154": 0.3, "PG7": 0.01}, pigments)
    rest = [p for k, p in pigments.items() if k not in ("PV23",)]
    lights = ("D65", "A", "FL11")
    first = nearest(MatchProblem(target, rest, lights=lights))[1]
    worst = nearest(MatchProblem(target, rest, lights=lights, worst=True))

    def off(parts: dict[str, float]) -> float:
        read = mix(parts, pigments)
        return max(float(delta_e00(lab(read, v), lab(target, v))) for v in lights)

    assert off(worst[1]) == pytest.approx(worst[0], abs=1e-6)
    assert worst[0] < off(first)


def test_a_film_over_the_old_colour_is_matched_as_laid(pigments: dict[str, Pigment]) -> None:
    base = Base()
    shares = dry_shares({k: 0.18 * v / sum(TAN.values()) for k, v in TAN.items()}, pigments, base, 0.82)
    k, s = mixed(shares, pigments)
    old = np.full(31, 0.08)
    target = seen(film(k, s, 15.0, below(old, Surface())), Surface())
    result = match(MatchProblem(target, list(pigments.values()), base, old=old, coats=2, keep=3))
    assert result.recipes[0].delta_e["D65"] < 0.15


def test_must_use_and_must_not_use_hold(pigments: dict[str, Pigment]) -> None:
    problem = MatchProblem(
        mix(TAN, pigments),
        list(pigments.values()),
        must_use=frozenset({"PBr6"}),
        must_not_use=frozenset({"PBr7", "PR101"}),
        keep=6,
    )
    for recipe in match(problem).recipes:
        keys = {p.key for p in recipe.pigments}
        assert "PBr6" in keys
        assert not keys & {"PBr7", "PR101"}


def test_a_leftover_jar_of_the_colour_is_used_whole(pigments: dict[str, Pigment]) -> None:
    leftover = jar("J7", "Jar 7", {k: 18 * v for k, v in TAN.items()}, 154.0, pigments, Base())
    assert leftover.load == pytest.approx(18 * sum(TAN.values()) / (154 + 18 * sum(TAN.values())))
    result = match(MatchProblem(mix(TAN, pigments), [*pigments.values(), leftover], most=1, keep=2))
    best = result.recipes[0]
    assert best.pigments[0].key == "J7"
    assert best.delta_e["D65"] < 0.01


def test_the_shelf_limits_the_batch(pigments: dict[str, Pigment]) -> None:
    problem = MatchProblem(
        mix(TAN, pigments), list(pigments.values()), shelf_ml={"PBr7": 1.0, "PBr6": 0.0}, batch_ml=500, keep=8
    )
    result = match(problem)
    for recipe in result.recipes:
        amounts = {p.key: p.volume * 0.5 for p in recipe.pigments}
        assert amounts.get("PBr7", 0.0) <= 1.0
        assert "PBr6" not in amounts
    with pytest.raises(Refusal, match="shelf"):
        match(
            MatchProblem(mix(TAN, pigments), list(pigments.values()), shelf_ml=dict.fromkeys(pigments, 0.01))
        )


def test_what_is_short_is_used_up_and_the_rest_made_up_around_it(pigments: dict[str, Pigment]) -> None:
    """A half jar of the colour serves a batch of three times its size: all of it goes in, and no more."""
    leftover = jar("J7", "Jar 7", {k: 18 * v for k, v in TAN.items()}, 154.0, pigments, Base())
    for lights in ({}, {"worst": True}, {"importance": {"D65": 2.0, "A": 1.0}}):
        problem = MatchProblem(
            mix(TAN, pigments),
            [*pigments.values(), leftover],
            shelf_ml={"J7": 150.0, "PW6": 1000.0},
            batch_ml=450.0,
            use_up=frozenset({"J7"}),
            most=5,
            keep=4,
            **lights,  # type: ignore[arg-type]
        )
        best = match(problem).recipes[0]
        used = {p.key: p.volume * 0.45 for p in best.pigments}
        assert 140.0 < used["J7"] <= 150.0
        assert best.delta_e["D65"] < 0.2
        assert 0.16 <= best.load <= 0.20


def test_the_cheaper_of_two_alike_goes_first(pigments: dict[str, Pigment]) -> None:
    dear = replace(pigments["PW6"], key="PW6-dear", price=Decimal("5"))
    target = mix(TAN, pigments)
    rest = [p for k, p in pigments.items() if k in ("PBr7", "PY42", "PR101", "PW6")]
    found = match(MatchProblem(target, [dear, *rest], keep=8)).recipes
    first = next(r for r in found if r.delta_e["D65"] < 0.1)
    assert "PW6-dear" not in {p.key for p in first.pigments}


def test_a_stop_keeps_the_best_so_far(pigments: dict[str, Pigment]) -> None:
    result = match(MatchProblem(mix(TAN, pigments), list(pigments.values())), should_stop=lambda: True)
    assert result.stopped
    assert result.recipes


def test_out_of_reach_says_which_way(pigments: dict[str, Pigment]) -> None:
    glow = np.where((WAVELENGTHS > 500) & (WAVELENGTHS < 570), 0.95, 0.02)
    result = match(MatchProblem(glow, list(pigments.values()), most=2, keep=2))
    assert not result.reachable
    assert "greener" in result.outside


def test_an_imported_light_is_as_good_as_a_known_one(pigments: dict[str, Pigment]) -> None:
    nm = np.arange(360.0, 781.0, 5.0)
    equal = light_from_spectrum("Equal energy", nm, np.ones(nm.size))
    assert equal.table.sum(axis=0) == pytest.approx([100, 100, 100], abs=0.05)
    result = match(MatchProblem(mix(TAN, pigments), list(pigments.values()), lights=("D65", equal), keep=2))
    assert set(result.recipes[0].delta_e) == {"D65", "Equal energy"}
    with pytest.raises(Refusal):
        Light("Dim", weights("D65") * 0.5)


@pytest.mark.parametrize(
    ("wrong", "where"),
    [
        ({"load": (0.3, 0.2)}, "load"),
        ({"most": 6}, "most"),
        ({"must_use": frozenset({"nothing"})}, "pigments"),
        ({"coats": 2}, "old colour"),
        ({"importance": {"B": 1.0}}, "light"),
        ({"lights": ()}, "light"),
    ],
)
def test_refused_problems_say_where(
    pigments: dict[str, Pigment], wrong: dict[str, object], where: str
) -> None:
    with pytest.raises(Refusal) as refused:
        MatchProblem(np.full(31, 0.3), list(pigments.values()), **wrong)  # type: ignore[arg-type]
    assert refused.value.where == where
