"""One source of defaults: where nobody says anything, litres, days, the command and the pages start from the same coats and times."""

import importlib
from typing import Any

import pytest

from hidewright import defaults
from hidewright.planning.problem.drying import drying_of
from hidewright.planning.problem.routes import Drying
from hidewright.planning.problem.work import Coats, WorkPiece
from hidewright.takeoff.coats import Assumptions
from hidewright.takeoff.products import Product, Role


def option(command: str, name: str) -> Any:
    """The default of a command's option."""
    params = importlib.import_module(f"hidewright.cli.{command}").command.params
    return next(param.default for param in params if param.name == name)


def bare(role: Role) -> Product:
    """A product of which no data sheet was copied."""
    return Product(str(role), str(role), role, ratio=0.03 if role is Role.CROSSLINKER else 0.0)


def test_litres_and_days_are_worked_out_for_the_same_coats() -> None:
    litres, days = Assumptions(), Coats()
    assert (litres.colour_coats, litres.clear_coats, litres.wiped) == (days.colour, days.clear, days.wiped)
    piece = WorkPiece("a", "A", "g", "leather", "sound", 1.0, 1.0, 1.0)
    assert (piece.colour_coats, piece.clear_coats, piece.wiped) == (days.colour, days.clear, days.wiped)


def test_the_command_plans_the_coats_that_it_takes_litres_for() -> None:
    litres = Assumptions()
    assert option("plan", "coats") == litres.colour_coats
    assert option("plan", "clear_coats") == litres.clear_coats
    assert option("takeoff", "base_share") == pytest.approx(defaults.BASE_SHARE)


def test_products_without_a_data_sheet_dry_as_in_a_shop_without_products() -> None:
    bases = {str(role): bare(role) for role in (Role.BASE, Role.CLEAR, Role.PRIMER)}
    assert drying_of(bases) == Drying()


def test_the_rows_of_the_shop_start_from_the_same_figures() -> None:
    from hidewright.workshop.colours.models import Target
    from hidewright.workshop.pigments.models import ColourSetup
    from hidewright.workshop.shelf.models import Product as Row

    def default(model: Any, name: str) -> Any:
        return model._meta.get_field(name).default

    plain = bare(Role.CLEAR)
    assert (default(Row, "touch_dry"), default(Row, "cure")) == (plain.touch_dry, plain.cure)
    assert (default(ColourSetup, "load_low"), default(ColourSetup, "load_high")) == defaults.LOAD
    assert default(Target, "tolerance") == defaults.TOLERANCE


def test_the_base_share_is_what_the_middle_of_the_load_leaves() -> None:
    low, high = defaults.LOAD
    assert pytest.approx((low + high) / 2) == defaults.MIDDLE_LOAD
    assert pytest.approx(1 - defaults.MIDDLE_LOAD) == defaults.BASE_SHARE
