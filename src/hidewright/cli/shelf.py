"""The pigments that a command works with: the shop's library, its drawdowns and shelf, or the shipped illustrative set."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from hidewright.refusals import Refusal

if TYPE_CHECKING:
    from hidewright.api import Pigments


def shelf_of(
    drawdowns: Path | None,
    shelf: Path | None,
    say: Callable[[float, str], None],
    library: Path | None = None,
) -> "Pigments":
    """The pigments that are on the shelf and were drawn down, or those of a library that was written before."""
    from hidewright.api import characterise, example, load_pigments

    if library is not None:
        if drawdowns is not None:
            raise Refusal(
                "Give drawdowns or a library, not both.", where="--pigments", remedy="Leave one out."
            )
        return load_pigments(library, shelf)
    if drawdowns is not None and shelf is None:
        raise Refusal(
            "Drawdowns need the shelf too.",
            where="--shelf",
            remedy="Bring density, solids and price of each pigment.",
        )
    return characterise(
        drawdowns or example("drawdowns.csv"),
        shelf or example("pigments.csv"),
        illustrative=drawdowns is None,
        on_progress=say,
    )
