"""Four of the demonstration's pigments, characterised once for all page tests: enough for a match, and quick."""

from functools import lru_cache

from hidewright import demo
from hidewright.colour.pigments import Fit, characterise_all
from hidewright.colour.readings import read_drawdowns

FEW = ("PW6", "PBk7", "PY42", "PR101")


def few_drawdowns() -> str:
    """The demonstration's drawdowns of the four, with the bare card."""
    lines = demo.text("drawdowns.csv").splitlines()
    kept = [line for line in lines[1:] if line.split(",")[0].split()[0] in ("card", *FEW)]
    return "\n".join([lines[0], *kept])


@lru_cache(maxsize=1)
def few_fits() -> dict[str, Fit]:
    """K and S of the four."""
    return characterise_all(read_drawdowns(few_drawdowns()))
