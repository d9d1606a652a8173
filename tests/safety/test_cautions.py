"""Cautions stand beside every act, take the product's facts, defer, and claim nothing."""

from dataclasses import dataclass

import pytest

from hidewright.safety.cautions import GENERAL, Operation, beside
from hidewright.takeoff.products import Product, Role

THINNER = Product("ipa", "Cleaning alcohol", Role.SOLVENT, density=0.79, flash=12, lel=2.0, limit_ppm=400)
LINKER = Product("xl", "Crosslinker", Role.CROSSLINKER, ratio=0.03, pot_life=120)


@dataclass(frozen=True)
class Bare:
    name: str = "Something"
    role: str = "crosslinker"
    lel: float | None = None
    flash: float | None = None
    limit_ppm: float | None = None
    pot_life: float | None = None


@pytest.mark.parametrize("operation", Operation)
def test_every_operation_has_a_caution_that_defers(operation: Operation) -> None:
    assert GENERAL[operation]
    for caution in beside(operation, [THINNER, LINKER]):
        assert caution.defers
        assert "goes before this" in caution.deference
        assert caution.text.endswith(".")


@pytest.mark.parametrize("operation", Operation)
def test_nothing_is_claimed(operation: Operation) -> None:
    for caution in beside(operation, [THINNER, LINKER]):
        words = caution.words.lower()
        for claim in ("compliant", "airworthy", " safe ", " safe.", "is safe", "certified"):
            assert claim not in words


def test_a_product_that_catches_fire_easily_is_told_with_its_own_figures() -> None:
    told = " ".join(c.words for c in beside(Operation.SPRAY, [THINNER]))
    assert "12 °C" in told
    assert "2 % in air" in told
    assert "400 ppm" in told
    assert "local code" in told


def test_water_borne_products_are_not_cried_wolf_over() -> None:
    assert beside(Operation.SPRAY, [LINKER]) == GENERAL[Operation.SPRAY]


def test_a_crosslinker_tells_its_pot_life_or_that_it_has_none_on_record() -> None:
    assert "120 min" in " ".join(c.words for c in beside(Operation.CROSSLINK, [LINKER]))
    assert "No pot life is entered" in " ".join(c.words for c in beside(Operation.CROSSLINK, [Bare()]))


def test_a_finish_of_a_vehicle_defers_to_an_authorised_person() -> None:
    assert any("authorised" in who for caution in GENERAL[Operation.FINISH] for who in caution.defers)


def test_the_same_caution_is_said_once() -> None:
    told = beside(Operation.SPRAY, [THINNER, THINNER])
    assert len(told) == len(set(told))


@pytest.mark.parametrize("operation", Operation)
def test_fire_is_spoken_of_where_vapour_gets_into_the_air_and_nowhere_else(operation: Operation) -> None:
    """A closed jar, sanding and the talk about the finish do not bring it up again; open liquid in the air does."""
    open_air = {"spray", "wipe", "strip", "dry", "weigh", "repair"}
    spoken = any("catches fire" in caution.words for caution in beside(operation, [THINNER]))
    assert spoken == (operation.value in open_air)
