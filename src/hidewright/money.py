"""Money as it is written, one way for pages, papers and commands (docs/decisions/0018)."""

from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

from hidewright.refusals import Refusal

CENT, WHOLE = Decimal("0.01"), Decimal(1)


def show_money(amount: Decimal | float | int | str, sign: str = "", *, whole: bool = False) -> str:
    """Money with the shop's `sign` before it: commas between thousands and two places behind the point; with `whole`, none: for what is only roughly known.

    A sign that ends in a letter is set off by a space. What is below nothing has its minus first. Halves are rounded up. Refuses what is no amount.

    >>> show_money(Decimal("12480.5"), "$"), show_money(-50, "EUR"), show_money(12480.5, "$", whole=True)
    ('$12,480.50', '−EUR\\xa050.00', '$12,481')
    """
    try:
        exact = Decimal(str(amount)).quantize(WHOLE if whole else CENT, ROUND_HALF_UP)
    except InvalidOperation as error:
        raise Refusal(f"“{str(amount)[:20]}” is no amount of money.", where="money") from error
    if not exact.is_finite():
        raise Refusal("An amount of money is a figure.", where="money")
    gap = "\N{NO-BREAK SPACE}" if sign and sign[-1].isalpha() else ""
    return f"{'−' if exact < 0 else ''}{sign}{gap}{abs(exact):,}"
