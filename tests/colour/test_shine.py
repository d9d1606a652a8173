"""With the shine or without it: told by the drawdowns themselves, noticed in a target, brought alike."""

from dataclasses import replace

import numpy as np
import pytest

from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.pigments.drawdowns import Drawdown
from hidewright.colour.pigments.film import Surface, below, film, opaque, seen, surface_of_index
from hidewright.colour.pigments.joint import Joint
from hidewright.colour.pigments.misfit import Scales
from hidewright.colour.pigments.pigment import Pigment, mixed
from hidewright.colour.pigments.residual import gain_of, held_back
from hidewright.colour.pigments.shine import shine_of
from hidewright.colour.reading.conditions import Conditions
from hidewright.colour.reading.readings import Reading, colour_reading
from hidewright.colour.reading.shine import darker_than_surface, read_alike
from hidewright.refusals import Refusal

MIXES = (
    {"PW6": 0.6},
    {"PR101": 0.6},
    {"PR101": 0.1, "PW6": 0.5},
    {"PBk7": 0.01, "PW6": 0.6},
    {"PBk7": 0.3},
)


def read(pigments: dict[str, Pigment], surface: Surface, seed: int) -> list[Drawdown]:
    """Five films through a surface, with noise; their cards are matt and read the same either way but for the shine."""
    rng = np.random.default_rng(seed)
    found = []
    for mix in MIXES:
        k, s = mixed(mix, pigments)
        cards = [seen(np.full(31, inside), surface) for inside in (0.02, 0.9)]
        sides = [
            np.clip(
                seen(film(k, s, 45.0, below(card, surface)), surface) + rng.normal(0, 0.0015, 31), 1e-4, None
            )
            for card in cards
        ]
        found.append(Drawdown(str(mix), mix, 45.0, sides[0], sides[1], cards[0], cards[1]))
    return found


@pytest.mark.parametrize("inside", [True, False])
def test_drawdowns_tell_how_they_were_read(pigments: dict[str, Pigment], inside: bool) -> None:
    drawn = read(pigments, surface_of_index(1.5, specular=inside), 5)
    shine = shine_of(drawn, indices=(1.5,))
    assert shine.best.surface.specular is inside
    assert (shine.odds_in > 20.0) is inside
    assert "check the instrument" not in shine.words(declared=inside)
    assert "check the instrument" in shine.words(declared=not inside)


def test_a_way_that_no_film_allows_is_ruled_out_with_its_reason(pigments: dict[str, Pigment]) -> None:
    shine = shine_of(read(pigments, surface_of_index(1.5, specular=False), 6), indices=(1.5,))
    out = next(way for way in shine.ways if way.surface.specular)
    assert not np.isfinite(out.likely)
    assert "darker" in out.reason
    with pytest.raises(Refusal, match="no drawdown"):
        shine_of([], indices=(1.5,))


def test_a_target_darker_than_the_shine_is_noticed(pigments: dict[str, Pigment]) -> None:
    k, s = mixed({"PBk7": 0.4, "PR101": 0.1}, pigments)
    true = opaque(k, s)
    without = Reading("seat", seen(true, Surface(specular=False)), conditions=Conditions(specular=True))
    assert darker_than_surface(without, Surface())
    alike, words = read_alike(without, Surface())
    assert "though it says with" in words[0]
    assert float(delta_e00(lab(alike.reflectance), lab(seen(true, Surface())))) < 1e-6
    assert float(delta_e00(lab(without.reflectance), lab(seen(true, Surface())))) > 4.0, (
        "what was lost silently before"
    )


@pytest.mark.parametrize(("declared", "library"), [(True, False), (False, True)])
def test_a_target_read_the_other_way_is_brought_alike(
    pigments: dict[str, Pigment], declared: bool, library: bool
) -> None:
    true = opaque(*mixed({"PW6": 0.2, "PR101": 0.1}, pigments))
    one = Reading("seat", seen(true, Surface(specular=declared)), conditions=Conditions(specular=declared))
    alike, words = read_alike(one, Surface(specular=library))
    assert float(delta_e00(lab(alike.reflectance), lab(seen(true, Surface(specular=library))))) < 1e-6
    assert "off by" in words[0]
    assert alike.conditions.specular is library
    given = replace(one, conditions=Conditions(specular=library))
    same, silent = read_alike(given, Surface(specular=library))
    assert silent == ()
    assert same is given


def test_colours_without_a_spectrum_have_no_shine_to_turn() -> None:
    typed = colour_reading("typed", np.array([3.0, 0.0, 0.0]), 1.0)
    assert read_alike(typed, Surface()) == (typed, ())


def test_a_wet_black_is_no_wrong_setting() -> None:
    wet = Reading("stick", np.full(31, 0.027), facts={"state": "wet"})
    assert read_alike(wet, Surface()) == (wet, ())


def test_what_the_films_leave_over_is_tried_on_films_held_back(pigments: dict[str, Pigment]) -> None:
    """Ten films that all read a tenth darker than K and S say: the rest learns it from eight and mends the other two; of too few films nothing is said."""
    surface = surface_of_index(1.5)
    mixes = [{"PR101": 0.04 * i, "PW6": 0.5} for i in range(1, 15)]
    films = []
    for number, mix in enumerate(mixes):
        k, s = mixed(mix, pigments)
        cards = [seen(np.full(31, inside), surface) for inside in (0.02, 0.9)]
        sides = [seen(film(k * 1.1, s, 45.0, below(card, surface)), surface) for card in cards]
        films.append(Drawdown(f"{number}", mix, 45.0, sides[0], sides[1], cards[0], cards[1]))
    keys = ("PR101", "PW6")
    theta = np.log([[pigments[key].k, pigments[key].s] for key in keys])
    none = dict.fromkeys([d.name for d in films], 0.0)
    joint = Joint(keys, theta, np.eye(124) * 1e-4, dict.fromkeys(none, (0.0, 0.0)), none, surface, Scales())
    gain = gain_of(held_back(joint, films))
    assert gain is not None
    assert gain.films == len(films)
    assert gain.on < 0.5 * gain.off
    assert gain_of(held_back(joint, films), "PBk7") is None, "no film holds it"
    assert gain_of(held_back(joint, films[:9])) is None
