"""What cannot be is refused where it comes in: match, adjust, drawdowns, readings. (Comparisons: test_joint_estimate.)"""

from dataclasses import replace

import numpy as np
import pytest

from hidewright.colour.cups.adjust import MOST_GROWTH, AdjustProblem, adjust
from hidewright.colour.learning.cup import Pour, Sight
from hidewright.colour.light.spectra import amounts, each_once, numbers, within
from hidewright.colour.pigments.characterise import characterise_all
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.drawdowns import Drawdown
from hidewright.colour.pigments.generic import generic_set
from hidewright.colour.pigments.pigment import Base
from hidewright.colour.reading.photo import KnownPatch, Patch
from hidewright.colour.reading.readings import Reading, read_csv, resample
from hidewright.colour.recipes.leftovers import leftover
from hidewright.colour.recipes.match import MatchProblem
from hidewright.refusals import Refusal, Refusals

PIGMENTS = [g.pigment for g in generic_set()[:4]]
TARGET = np.full(31, 0.4)
NAN = float("nan")
HELD = Contents({"PW6": 10.0}, 40.0)
FILM = {
    "over_black": np.full(31, 0.2),
    "over_white": np.full(31, 0.4),
    "black": np.full(31, 0.05),
    "white": np.full(31, 0.8),
}


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: AdjustProblem(HELD, np.full(31, NAN), PIGMENTS), "31 finite"),
        (lambda: AdjustProblem(HELD, np.full(3, 0.4), PIGMENTS), "31 finite"),
        (lambda: AdjustProblem(HELD, TARGET, PIGMENTS, vessel_ml=NAN), "vessel"),
        (lambda: AdjustProblem(HELD, TARGET, PIGMENTS, step_g=NAN), "step"),
        (lambda: AdjustProblem(HELD, TARGET, PIGMENTS, step_g=0.0), "step"),
        (lambda: AdjustProblem(HELD, TARGET, PIGMENTS, tolerance=0.0), "tolerance"),
        (lambda: AdjustProblem(HELD, TARGET, PIGMENTS, load=(NAN, 0.2)), "window of pigment"),
        (lambda: AdjustProblem(HELD, TARGET, PIGMENTS, offset=np.full(3, NAN)), "finite"),
        (lambda: AdjustProblem(HELD, TARGET, [*PIGMENTS, PIGMENTS[0]]), "twice"),
        (lambda: Contents({"PW6": 0.0}, 40.0), "no pigment"),
        (lambda: Contents({"PW6": NAN}, 40.0), "no pigment"),
        (lambda: Contents({"PW6": 1.0}, float("inf")), "no pigment"),
        (lambda: Contents({}, 40.0), "no pigment"),
        (lambda: MatchProblem(TARGET, PIGMENTS, keep=0), "number of recipes"),
        (lambda: MatchProblem(TARGET, PIGMENTS, step_g=NAN), "step"),
        (lambda: MatchProblem(TARGET, PIGMENTS, coat_um=NAN), "coat"),
        (lambda: MatchProblem(TARGET, PIGMENTS, shelf_ml={"PW6": NAN}), "PW6 cannot be"),
        (lambda: MatchProblem(TARGET, [PIGMENTS[0], PIGMENTS[0]]), "twice"),
        (lambda: MatchProblem(np.full(30, 0.4), PIGMENTS), "31 finite"),
        (lambda: MatchProblem(TARGET, []), "No pigment"),
        (lambda: characterise_all([]), "no drawdown"),
        (lambda: Drawdown("film", {"PW6": NAN}, 40.0, **FILM), "share above 0"),
        (lambda: Drawdown("film", {"PW6": float("inf")}, 40.0, **FILM), "share above 0"),
        (lambda: Drawdown("film", {"PW6": 1.0}, NAN, **FILM), "dry film"),
        (lambda: Reading("a", TARGET, sd=NAN), "spread above 0"),
        (lambda: Reading("a", TARGET, sd=np.full(31, NAN)), "spread above 0"),
        (lambda: Sight(1, TARGET, NAN), "spread above 0"),
        (lambda: Sight(1, np.array([50.0, 0, 0]), np.full((3, 3), NAN)), "finite"),
        (lambda: Sight(1, np.array([50.0, 0, 0]), -np.eye(3)), "every direction"),
        (lambda: Pour("PW6", 1.0, NAN), "step"),
        (lambda: Pour("PW6", 1.0, -1.0), "step"),
        (lambda: replace(PIGMENTS[0], covariance=np.full((2, 31), NAN)), "finite"),
        (lambda: replace(PIGMENTS[0], covariance=np.full((3, 31), 0.1)), "finite"),
        (lambda: KnownPatch(Patch(0, 0, 1, 1), np.array([50.0, NAN, 0.0])), "finite"),
        (lambda: leftover("jar", "jar", NAN, {"PW6": 1.0}, 4.0, {"PW6": PIGMENTS[0]}, Base()), "no amount"),
        (lambda: numbers("abc", (3,), "Lab"), "finite"),
        (lambda: amounts({}, "cup"), "nothing in it"),
        (lambda: within(NAN, 0.0, 1.0, "A share", "cup"), "cannot be"),
        (lambda: each_once(["a", "a"], "cup"), "twice"),
        (lambda: resample(np.array([400.0, 410.0, 410.0]), np.zeros(3), "file"), "410 nm is there twice"),
    ],
)
def test_it_is_refused_in_words(make: object, words: str) -> None:
    """No crash, no silence, no NaN in an answer."""
    with pytest.raises(Refusal, match=words):
        make()  # type: ignore[operator]


def test_a_band_given_twice_is_named() -> None:
    """It used to be lost in silence."""
    bands = [*range(400, 701, 10)]
    head = ",".join(["name", *map(str, bands), "R400"])
    with pytest.raises((Refusal, Refusals), match="400 nm is there twice"):
        read_csv(head + "\nleather," + ",".join(["0.4"] * 32))


def test_no_addition_makes_a_flood() -> None:
    """A white cup toward black: what would take many times the cup is not offered; a fresh cup is."""
    white = Contents({"PW6": 20.0}, 80.0)
    weak = [p for p in PIGMENTS if p.key in ("PW6", "PBk11")]
    advice = adjust(AdjustProblem(white, np.full(31, 0.045), weak))
    assert all(option.growth <= MOST_GROWTH for option in advice.additions)
    if not advice.additions:
        assert "fresh cup" in advice.words
