"""Four of the demonstration's pigments, characterised once for all page tests: enough for a match, and quick."""

from functools import lru_cache

from hidewright import demo
from hidewright.colour.pigments.characterise import characterise_all
from hidewright.colour.pigments.drawdowns import Fit
from hidewright.colour.reading.readings import read_drawdowns
from hidewright.colour.recipes.match import match
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import search_queries as shelf
from hidewright.workshop.pigments import actions as steps_actions
from hidewright.workshop.pigments import saving as keep
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.runs import run_here

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


ASKED = {"load": [0.16, 0.20], "most": 4, "lights": ["D65", "A", "FL11"]}
"""What a search for recipes is asked in these tests."""


def know_the_few() -> None:
    """List the demonstration's pigments, of which the four are known."""
    steps_actions.import_pigments(demo.text("pigments.csv"))
    for key, fit in few_fits().items():
        keep.keep_fit(key, fit)


def find_the_few() -> None:
    """As the demonstration does with all its pigments: their drawdowns come in, and a run finds K and S of the four."""
    steps_actions.import_pigments(demo.text("pigments.csv"))
    steps_actions.import_drawdowns(few_drawdowns())
    run_here(None, "colour.characterise", {}, lambda _fraction, _words: None)


def choose_the_best(job: Job) -> None:
    """Search recipes of the four for the job's target, and choose the first."""
    steps.choose(steps.keep_match(job, match(shelf.problem(job, ASKED)))[0])
