"""A stick in a photo: the difference comes back through an unknown light and exposure, and each reason to refuse is named.

The pictures are painted from Lab through colour-science's own XYZ and sRGB functions, not through the reader's matrix.
"""

import numpy as np
import pytest
from numpy.typing import NDArray

from hidewright.colour.reading.photo import GREY_ONLY_SD, KnownPatch, Patch, read_photo
from hidewright.colour.reading.stick import Mark, difference_on_stick, marks_found
from hidewright.refusals import Refusal
from own_pictures import png, rgb_of

Array = NDArray[np.float64]
LEFT, RIGHT = Mark(0.3, 0.5), Mark(0.7, 0.5)
NEAR = np.array([55.0, 12.0, 24.0])


def picture(
    first: Array, second: Array, *, light: Array | None = None, high: int = 400, wide: int = 600
) -> Array:
    """Linear RGB (high, wide, 3): the first colour on the left half, the second on the right."""
    out = np.empty((high, wide, 3))
    out[:, : wide // 2], out[:, wide // 2 :] = rgb_of(first), rgb_of(second)
    out *= np.array([1.0, 1.0, 1.0]) if light is None else light
    return out + np.random.default_rng(0).normal(0.0, 0.003, out.shape)


@pytest.mark.parametrize("light", [[1.0, 1.0, 1.0], [0.8, 0.62, 0.45], [0.4, 0.5, 0.6]])
@pytest.mark.parametrize("off", [[3.0, 0.0, 0.0], [-4.0, 2.0, -3.0], [0.0, -5.0, 4.0], [0.0, 0.0, 0.0]])
def test_the_difference_comes_back_in_any_light(light: list[float], off: list[float]) -> None:
    """Within what a diagonal map costs: a fifth of the difference and half a unit."""
    data = png(picture(NEAR + off, NEAR, light=np.array(light)))
    found = difference_on_stick(data, LEFT, RIGHT, NEAR)
    assert np.abs(found.delta - off).max() < 0.4 + 0.1 * np.abs(off).max()
    assert np.all(found.sd < 1.0)
    assert found.doubts == ()


def test_a_wrong_idea_of_the_second_colour_scales_it_and_no_more() -> None:
    """`near` 5 ΔL* off: the difference keeps its direction, and its size to a seventh."""
    data = png(picture(NEAR + np.array([4.0, 0, 0]), NEAR))
    found = difference_on_stick(data, LEFT, RIGHT, NEAR + np.array([5.0, 0.0, 0.0]))
    assert found.delta[0] == pytest.approx(4.0, rel=0.15)


def test_the_two_colours_are_found_by_themselves() -> None:
    """Side by side or one above the other; an even picture is not guessed at."""
    one = picture(NEAR + np.array([5.0, 0, 0]), NEAR)
    marks = marks_found(png(one))
    assert difference_on_stick(png(one), *marks, NEAR).delta[0] == pytest.approx(5.0, abs=0.5)
    upright = np.swapaxes(one, 0, 1)
    assert difference_on_stick(png(upright), *marks_found(png(upright)), NEAR).delta[0] == pytest.approx(
        5.0, abs=0.5
    )
    with pytest.raises(Refusal, match="not found"):
        marks_found(png(picture(NEAR, NEAR)))


def spoilt(how: str) -> bytes:
    """A picture with one thing wrong with it."""
    one = picture(NEAR + np.array([3.0, 0, 0]), NEAR)
    if how == "clipped":
        one[:, :300] *= 12.0
    elif how == "black":
        one[:, 300:] = 0.0
    elif how == "shadow":
        one[:200, :300] *= 0.6
    elif how == "shine":
        one[190:196, 170:190] = 0.9
        one[204:211, 170:190] = 0.9
    elif how == "fall":
        one *= np.linspace(1.0, 0.55, 600)[None, :, None]
    elif how == "small":
        one = one[::4, ::4]
    return png(one)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ("clipped", "clipped"),
        ("black", "black"),
        ("shadow", "edge or a shadow"),
        ("shine", "shines"),
        ("fall", "falls off"),
        ("small", "too small"),
    ],
)
def test_each_reason_to_refuse_is_named(how: str, words: str) -> None:
    """What spoils a picture is found."""
    with pytest.raises(Refusal, match=words):
        difference_on_stick(spoilt(how), LEFT, RIGHT, NEAR)


@pytest.mark.parametrize(
    ("first", "second", "near", "words"),
    [
        (Mark(0.3, 0.5), Mark(0.31, 0.5), NEAR, "overlap"),
        (Mark(0.0, 0.5), RIGHT, NEAR, "too near the edge"),
        (LEFT, RIGHT, np.array([np.nan, 0, 0]), "known roughly"),
        (LEFT, RIGHT, np.zeros(2), "known roughly"),
    ],
)
def test_bad_marks_are_refused(first: Mark, second: Mark, near: Array, words: str) -> None:
    """In words."""
    with pytest.raises(Refusal, match=words):
        difference_on_stick(png(picture(NEAR, NEAR)), first, second, near)
    with pytest.raises(Refusal, match="on the picture"):
        Mark(1.2, float("nan"))


def test_a_gentle_fall_of_light_is_said_and_widens_the_spread() -> None:
    """Seven per cent from side to side: a doubt, and less sure of lightness."""
    even = picture(NEAR + np.array([3.0, 0, 0]), NEAR)
    tilted = even * np.linspace(1.0, 0.84, 600)[None, :, None]
    plain, doubtful = (difference_on_stick(png(one), LEFT, RIGHT, NEAR) for one in (even, tilted))
    assert "falls off" in doubtful.doubts[0]
    assert doubtful.sd[0] > 2 * plain.sd[0]


def test_a_grey_card_says_its_doubt_and_finds_other_light_on_the_piece() -> None:
    """One grey: sd 5 and a card of patches asked for; light that falls off toward the piece is refused."""
    grey = np.array([49.5, 0.0, 0.0])
    card = [KnownPatch(Patch(0.1, 0.3, 0.4, 0.7), grey)]
    flat = picture(grey, NEAR)
    found = read_photo(png(flat), Patch(0.6, 0.3, 0.9, 0.7), card)
    assert "card of known patches" in found.doubts[0]
    assert GREY_ONLY_SD == 5.0
    slanted = flat * np.linspace(1.0, 0.75, 600)[None, :, None]
    with pytest.raises(Refusal, match="between the card and the piece"):
        read_photo(png(slanted), Patch(0.6, 0.3, 0.9, 0.7), card)
