"""Differences in words: one function with the steps that docs/guide/words.md lists."""

import re

import pytest

from hidewright.colour.light.far import BEYOND, STEPS, how_far, off_by, with_figure
from hidewright.refusals import Refusal
from word_list import LIST


def test_the_guide_lists_the_steps_as_they_are() -> None:
    table = LIST.read_text(encoding="utf-8").split("| ΔE00 up to |")[1]
    rows = re.findall(r"^\| (\S+) \| ([a-z ]+) \| ([a-z ]+) \|$", table, re.MULTILINE)
    listed = [(f"{limit:g}", far, off) for limit, far, off in STEPS]
    assert rows == [*listed, ("above", *BEYOND)]


def test_a_larger_difference_is_never_called_a_smaller_one() -> None:
    names = [far for _, far, _ in STEPS] + [BEYOND[0]]
    places = [names.index(how_far(n / 100)) for n in range(400)]
    assert places == sorted(places)
    assert set(places) == {0, 1, 2, 3}
    assert (how_far(0.5), how_far(0.51), off_by(2.01)) == ("an eye hardly sees it", "close", BEYOND[1])
    assert with_figure(0.84) == "close (ΔE00 0.8)"


@pytest.mark.parametrize("wrong", [-0.1, float("nan")])
def test_what_is_no_difference_is_refused(wrong: float) -> None:
    with pytest.raises(Refusal, match="cannot be"):
        how_far(wrong)
