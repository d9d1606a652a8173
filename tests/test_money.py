"""Money is written one way: docs/decisions/0018."""

from decimal import Decimal

import pytest

from hidewright.money import show_money
from hidewright.refusals import Refusal


@pytest.mark.parametrize(
    ("amount", "sign", "whole", "written"),
    [
        (Decimal("12480.5"), "$", False, "$12,480.50"),
        (0, "$", False, "$0.00"),
        (Decimal("999.995"), "€", False, "€1,000.00"),
        ("1234567.891", "", False, "1,234,567.89"),
        (-50.25, "$", False, "−$50.25"),
        (12480.5, "$", True, "$12,481"),
        (Decimal("0.5"), "kr", True, "kr\N{NO-BREAK SPACE}1"),
        (Decimal("-0.001"), "$", False, "$0.00"),
    ],
)
def test_money_has_commas_and_two_places(
    amount: Decimal | float | str, sign: str, whole: bool, written: str
) -> None:
    assert show_money(amount, sign, whole=whole) == written


@pytest.mark.parametrize("wrong", ["", "a lot", float("nan"), float("inf")])
def test_what_is_no_amount_is_refused(wrong: object) -> None:
    with pytest.raises(Refusal, match="amount"):
        show_money(wrong)  # type: ignore[arg-type]
