"""Photos and sticks: what a picture tells and how sure it is, worked out a second time from how it was painted; and each limit from both sides.

The pictures go in as they are painted, without a file of 256 steps between: test_stick_photo.py and test_reading_files.py bring files.
"""

from collections.abc import Iterator

import colour
import numpy as np
import pytest

from hidewright.colour.light.cie import delta_e00
from hidewright.colour.reading import photo, stick
from hidewright.colour.reading.photo import KnownPatch, Patch, PhotoColour, linear, read_photo
from hidewright.colour.reading.stick import Mark, StickDifference, difference_on_stick, marks_found
from hidewright.refusals import Refusal
from own_pictures import Array, coded, lab_of, rgb_of

NEAR = np.array([55.0, 12.0, 24.0])
ONE, TWO = NEAR + np.array([3.0, -2.0, 1.0]), NEAR
FIRST, SECOND = Mark(0.3, 0.5), Mark(0.7, 0.5)
HIGH, WIDE, REACH = 200, 300, 6
SIDE = 2 * REACH + 1
"""A picture's size, and half of a patch's side in it: 3 % of the shorter one."""


@pytest.fixture(autouse=True, scope="module")
def as_painted() -> Iterator[None]:
    """Pixels instead of a file of them."""
    with pytest.MonkeyPatch.context() as patch:
        for module in (photo, stick):
            patch.setattr(module, "pixels_of", lambda data: data)
        yield


def painted() -> Array:
    """The first colour on the left half, the second on the right, without noise."""
    out = np.empty((HIGH, WIDE, 3))
    out[:, : WIDE // 2], out[:, WIDE // 2 :] = 0.8 * rgb_of(ONE), 0.8 * rgb_of(TWO)
    return out


def spot(picture: Array, mark: Mark) -> Array:
    """The pixels that are looked at round a mark: a view into the picture."""
    x, y = round(mark.x * (WIDE - 1)), round(mark.y * (HIGH - 1))
    return picture[y - REACH : y + REACH + 1, x - REACH : x + REACH + 1]


def found(picture: Array, first: Mark = FIRST, second: Mark = SECOND) -> StickDifference:
    return difference_on_stick(coded(picture), first, second, NEAR)  # type: ignore[arg-type]


def some(share: float) -> tuple[Array, Array]:
    """Rows and columns of a share of a patch's pixels, drawn so that each has its twin on the other side of the middle: no light falls off by chance."""
    half = np.random.default_rng(3).permutation(SIDE**2 // 2)[: round(share * SIDE**2 / 2)]
    both = np.concatenate([half, SIDE**2 - 1 - half])
    return both // SIDE, both % SIDE


def slopes_of() -> Array:
    """How the first colour's Lab moves with a relative change of each of its channels."""
    rgb = rgb_of(ONE)
    steps = [lab_of(rgb * (1 + 1e-4 * e)) - lab_of(rgb * (1 - 1e-4 * e)) for e in np.eye(3)]
    return np.stack(steps, axis=-1) / 2e-4


def test_grain_widens_the_difference_by_its_own_spread_over_a_sixteenth_of_the_pixels() -> None:
    """A chequered grain of 20, 10 and 5 % in red, green and blue: its variance over one pixel in sixteen, through the slopes of Lab; and .15 along each axis for the file."""
    grain = np.array([0.2, 0.1, 0.05])
    picture = painted()
    turn = np.where(np.indices((HIGH, WIDE)).sum(axis=0) % 2, 1.0, -1.0)
    told = found(picture * (1 + turn[..., None] * grain))
    slopes, counted = slopes_of(), SIDE**2 / 16
    covariance = 2 * slopes @ np.diag(grain**2 / counted) @ slopes.T + 0.15**2 * np.eye(3)
    np.testing.assert_allclose(told.covariance, covariance, atol=0.03 * covariance.max())
    np.testing.assert_allclose(told.sd**2, np.diag(told.covariance))
    plain = found(picture)
    np.testing.assert_allclose(plain.delta, ONE - TWO, atol=0.02)
    np.testing.assert_allclose(plain.covariance, 0.15**2 * np.eye(3), atol=1e-6)


@pytest.mark.parametrize("fall", [0.03, 0.045, 0.056, 0.10, 0.14])
def test_light_that_falls_off_is_said_from_a_twentieth_and_makes_lightness_less_sure(fall: float) -> None:
    """The whole fall between the marks counts as an sd of the light."""
    picture = painted() * (1 - fall * (np.arange(WIDE) - WIDE / 2) / (0.4 * WIDE))[None, :, None]
    told = found(picture)
    assert bool(told.doubts) is (fall > 0.05)
    if told.doubts:
        assert f"{fall:.0%}" in told.doubts[0]
    light = slopes_of() @ np.ones(3) * fall
    extra = told.covariance - 0.15**2 * np.eye(3)
    np.testing.assert_allclose(extra, np.outer(light, light), atol=0.12 * light @ light)


@pytest.mark.parametrize(("fall", "along"), [(0.16, True), (0.2, True), (0.16, False)])
def test_light_that_falls_off_by_more_than_fifteen_in_a_hundred_is_refused(fall: float, along: bool) -> None:
    """From mark to mark; a fall the other way does not matter."""
    across = np.arange(WIDE if along else HIGH) / (WIDE if along else HIGH) - 0.5
    ramp = 1 - fall * across / 0.4
    picture = painted() * (ramp[None, :, None] if along else ramp[:, None, None])
    if along:
        with pytest.raises(Refusal, match="falls off"):
            found(picture)
    else:
        assert found(picture).doubts == ()


@pytest.mark.parametrize(("share", "times", "end"), [(0.02, 1.5, "silent"), (0.05, 1.5, "said"), (0.11, 1.5, "said"), (0.14, 1.5, "refused"), (0.2, 1.3, "silent")])  # fmt: skip
def test_what_shines_is_left_out_said_and_refused(share: float, times: float, end: str) -> None:
    """Pixels 1.35 times as bright as the middle shine: left out of the colour, said from 3 % of a patch on, refused from 12 %."""
    picture = painted()
    spot(picture, SECOND)[some(share)] *= times
    if end == "refused":
        with pytest.raises(Refusal, match="second colour shines"):
            found(picture)
        return
    told = found(picture)
    assert bool(told.doubts) is (end == "said")
    if times > 1.35:
        np.testing.assert_allclose(told.delta, ONE - TWO, atol=0.25)


@pytest.mark.parametrize(("share", "fits"), [(0.015, True), (0.03, False)])
@pytest.mark.parametrize(("level", "words"), [(1.0, "clipped"), (0.0, "black")])
def test_two_in_a_hundred_at_the_end_of_the_scale_are_refused(
    share: float, fits: bool, level: float, words: str
) -> None:
    picture = painted()
    spot(picture, FIRST)[some(share)] = level
    if fits:
        assert found(picture).sd.max() < 2.0
    else:
        with pytest.raises(Refusal, match=f"first colour is .*{words}"):
            found(picture)


@pytest.mark.parametrize(("step", "fits"), [(0.15, True), (0.21, False)])
def test_an_edge_of_eighteen_in_a_hundred_is_an_edge(step: float, fits: bool) -> None:
    """Between the outer thirds of a patch, relative to their mean."""
    picture = painted()
    spot(picture, FIRST)[REACH:] *= (1 - step / 2) / (1 + step / 2)
    if fits:
        assert found(picture).sd.max() < 2.0
    else:
        with pytest.raises(Refusal, match="edge or a shadow"):
            found(picture)


def test_only_the_patch_is_looked_at() -> None:
    """What lies just outside of it does not count; what lies just inside does."""
    clean = found(painted())
    for more, same in ((1, True), (0, False)):
        picture = painted()
        x, y = round(FIRST.x * (WIDE - 1)), round(FIRST.y * (HIGH - 1))
        picture[y - REACH - more, x - REACH : x + REACH + 1] *= 0.5
        told = found(picture)
        assert np.allclose(told.delta, clean.delta, atol=1e-9) is same


@pytest.mark.parametrize(("apart", "fits"), [(12, False), (13, True)])
def test_marks_must_not_overlap(apart: int, fits: bool) -> None:
    one, two = Mark(80 / (WIDE - 1), 0.5), Mark((80 + apart) / (WIDE - 1), 0.5)
    if fits:
        assert found(painted(), one, two).sd.max() < 2.0
    else:
        with pytest.raises(Refusal, match="overlap"):
            found(painted(), one, two)


def test_marks_need_room_round_them() -> None:
    for x, room in ((REACH, True), (REACH - 1, False), (WIDE - 1 - REACH, True), (WIDE - REACH, False)):
        at = Mark(x / (WIDE - 1), 0.5)
        if room:
            assert found(painted(), at, SECOND if x < 150 else FIRST).sd.max() < 2.0
        else:
            with pytest.raises(Refusal, match="near the edge"):
                found(painted(), at, SECOND if x < 150 else FIRST)
    for corner in ((0, 0), (1, 1)):
        assert Mark(*corner).x == corner[0]


@pytest.mark.parametrize(("high", "fits"), [(200, True), (180, False)])
def test_a_picture_has_twelve_pixels_a_patch_at_least(high: int, fits: bool) -> None:
    small = painted()[:high]
    if fits:
        assert found(small).sd.max() < 2.0
    else:
        with pytest.raises(Refusal, match="too small"):
            found(small)


@pytest.mark.parametrize(("lightness", "fits"), [(1.0, True), (99.0, True), (0.9, False), (99.1, False)])
def test_the_second_colour_is_one_of_a_surface(lightness: float, fits: bool) -> None:
    data = coded(painted())
    near = np.array([lightness, 0.0, 0.0])
    if fits:
        assert np.all(np.isfinite(difference_on_stick(data, FIRST, SECOND, near).delta))
    else:
        with pytest.raises(Refusal, match="known roughly"):
            difference_on_stick(data, FIRST, SECOND, near)


@pytest.mark.parametrize("cut", [0.42, 0.5, 0.58])
@pytest.mark.parametrize("upright", [False, True])
def test_marks_are_put_in_the_middle_of_either_colour(cut: float, upright: bool) -> None:
    """Between the end of the picture's middle (three to seven tenths) and the cut, on either side."""
    picture = np.empty((100, 200, 3))
    picture[:], picture[:, round(cut * 200) :] = rgb_of(ONE), rgb_of(TWO + np.array([8.0, 0, 0]))
    one, two = marks_found(coded(np.swapaxes(picture, 0, 1) if upright else picture))
    told = [(0.3 + cut) / 2, (cut + 0.7) / 2]
    assert [m.y if upright else m.x for m in (one, two)] == pytest.approx(told, abs=0.015)
    assert [m.x if upright else m.y for m in (one, two)] == [0.5, 0.5]


# A card in the picture.

CARD = [(96, 0, 1), (66, 0, 0), (35, 0, 0), (42, 52, 28), (56, -38, 32), (30, 16, -44), (80, 4, 78), (52, 48, -14)]  # fmt: skip
LEATHER = np.array([48.0, 12.0, 20.0])


def row(colours: list[Array], ramp: float = 0.0) -> Array:
    """Patches of linear light side by side, 60 pixels each and 90 high; `ramp` the relative fall of the light over the whole width."""
    strip = np.repeat(np.array(colours), 60, axis=0)[None].repeat(90, axis=0)
    return coded(strip * (1 - ramp * (np.arange(strip.shape[1]) / strip.shape[1] - 0.5))[None, :, None])


def places(count: int) -> list[Patch]:
    return [Patch((n + 0.2) / count, 0.1, (n + 0.8) / count, 0.9) for n in range(count)]


def read(
    colours: list[Array], known: list[tuple[float, float, float]], ramp: float = 0.0, sample: int = -1
) -> PhotoColour:
    at = places(len(colours))
    cards = [KnownPatch(p, np.array(c, dtype=float)) for p, c in zip(at, known, strict=False)]
    return read_photo(row(colours, ramp), at[sample], cards)


def test_pixels_are_made_linear_as_the_standard_says() -> None:
    coded = np.linspace(0.0, 1.0, 400)
    np.testing.assert_allclose(linear(coded), colour.cctf_decoding(coded, function="sRGB"), atol=1e-6)


def test_two_greys_that_differ_set_the_light_by_least_squares() -> None:
    """A gain a channel that leaves least of both greys; the colour and what the greys are off by follow from it."""
    greys = [(70.0, 0.0, 0.0), (40.0, 0.0, 0.0)]
    seen = [0.8 * rgb_of(np.array(greys[0])), 0.88 * rgb_of(np.array(greys[1])) * (1.0, 0.97, 1.02)]
    light = 0.8 * rgb_of(LEATHER)
    told = read([*seen, light], greys)
    wanted = np.array([rgb_of(np.array(g)) for g in greys])
    gain = (wanted * seen).sum(axis=0) / np.square(seen).sum(axis=0)
    assert told.reading.colour is not None
    np.testing.assert_allclose(told.reading.colour.lab, lab_of(gain * light), atol=0.03)
    off = [float(delta_e00(lab_of(gain * s), np.array(g))) for s, g in zip(seen, greys, strict=True)]
    assert told.residual == pytest.approx(np.sqrt(np.mean(np.square(off))), abs=0.02)
    assert told.residual > 1.0
    sd = np.hypot(5.0, told.residual)
    np.testing.assert_allclose(told.reading.colour.covariance, sd**2 * np.eye(3), rtol=0.02)
    assert told.method == "grey card only"
    assert (told.reading.colour.light, told.reading.colour.observer) == ("D65", "2")


@pytest.mark.parametrize("count", [4, 5, 8])
def test_five_known_patches_or_more_tell_what_the_camera_does_to_colours(count: int) -> None:
    """A camera whose channels run into each other: its matrix by weighted ridge regression toward sRGB's, solved here with the ridge as further rows."""
    mixing = np.array([[0.75, 0.2, 0.0], [0.08, 0.8, 0.06], [0.02, 0.15, 0.7]])
    known = [CARD[n] for n in (1, 3, 4, 5, 6, 7, 2, 0)][:count]
    seen = [mixing @ rgb_of(np.array(c, dtype=float)) for c in known]
    light = mixing @ rgb_of(LEATHER)
    if count == 4:
        assert read([*seen, light], known).method == "grey card only"
        return
    told = read([*seen, light], known)
    srgb = np.asarray(colour.models.RGB_COLOURSPACE_sRGB.matrix_RGB_to_XYZ) * 100
    aims = np.array([srgb @ rgb_of(np.array(c, dtype=float)) for c in known])
    plain = np.array(seen) @ srgb.T
    start = srgb * np.median(aims[:, 1] / plain[:, 1])
    weight = (1 / (aims[:, 1] + 5.0))[:, None]
    a, b = np.array(seen) * weight, (aims - np.array(seen) @ start.T) * weight
    ridge = np.sqrt(0.003 * np.square(a).sum() / 3) * np.eye(3)
    more = np.linalg.lstsq(np.vstack([a, ridge]), np.vstack([b, np.zeros((3, 3))]), rcond=None)[0].T
    rgb = np.linalg.solve(srgb, (start + more) @ light)
    assert told.reading.colour is not None
    np.testing.assert_allclose(told.reading.colour.lab, lab_of(rgb), atol=0.05)
    assert told.method == f"{count} known patches"
    sd = np.hypot(2.5, told.residual)
    np.testing.assert_allclose(told.reading.colour.covariance, sd**2 * np.eye(3), rtol=0.05)


@pytest.mark.parametrize(("fall", "words"), [(0.03, False), (0.07, True), (0.11, True)])
def test_light_that_falls_from_card_to_piece_makes_the_colour_less_sure(fall: float, words: bool) -> None:
    """A fall of a hundredth is 38 hundredths of an L*, since L* goes as the cube root of light; it is said from a twentieth on."""
    light = [0.8 * rgb_of(np.array([66.0, 0, 0])), 0.8 * rgb_of(LEATHER)]
    told = read(light, [(66, 0, 0)], ramp=2 * fall)
    assert told.reading.colour is not None
    extra = float(np.trace(told.reading.colour.covariance)) / 3 - 5.0**2 - told.residual**2
    assert np.sqrt(max(extra, 0.0)) == pytest.approx(38 * fall, rel=0.06)
    assert any("light seems to differ" in d for d in told.doubts) is words
    assert "card of known patches" in told.doubts[0]


def test_light_that_falls_by_more_than_twelve_in_a_hundred_is_refused() -> None:
    light = [0.8 * rgb_of(np.array([66.0, 0, 0])), 0.8 * rgb_of(LEATHER)]
    with pytest.raises(Refusal, match=r"differs by 1[3-5]% between the card and the piece"):
        read(light, [(66, 0, 0)], ramp=0.28)


@pytest.mark.parametrize(("times", "fits"), [(1.2, True), (1.3, False)])
def test_greys_in_different_light_are_no_card(times: float, fits: bool) -> None:
    """Levels of two greys may differ by 1.12 squared; dark ones are not asked."""
    light = [0.6 * rgb_of(np.array([66.0, 0, 0])), times * 0.6 * rgb_of(np.array([50.0, 0, 0]))]
    dark = 0.9 * rgb_of(np.array([25.0, 0, 0]))
    known = [(66, 0, 0), (50, 0, 0), (25, 0, 0)]
    if fits:
        assert read([*light, dark, 0.6 * rgb_of(LEATHER)], known).residual < 6.0
    else:
        with pytest.raises(Refusal, match="differs across the card"):
            read([*light, dark, 0.6 * rgb_of(LEATHER)], known)


@pytest.mark.parametrize(("share", "fits"), [(0.008, True), (0.013, False)])
def test_one_in_a_hundred_clipped_pixels_spoils_a_patch(share: float, fits: bool) -> None:
    strip = np.empty((100, 200, 3))
    strip[:, :100], strip[:, 100:] = 0.5 * rgb_of(np.array([66.0, 0, 0])), 0.5 * rgb_of(LEATHER)
    part = strip[10:90, 110:190]
    which = np.random.default_rng(2).permutation(6400)[: round(share * 6400)]
    part[which // 80, which % 80] = 1.0
    card, sample = (
        KnownPatch(Patch(0.05, 0.1, 0.45, 0.9), np.array([66.0, 0, 0])),
        Patch(0.55, 0.1, 0.95, 0.9),
    )
    if fits:
        assert read_photo(coded(strip), sample, [card]).residual < 0.5
    else:
        with pytest.raises(Refusal, match="clipped"):
            read_photo(coded(strip), sample, [card])


@pytest.mark.parametrize(("side", "fits"), [(8, True), (7, False)])
def test_a_patch_has_eight_pixels_a_side(side: int, fits: bool) -> None:
    strip = np.empty((100, 200, 3))
    strip[:, :100], strip[:, 100:] = 0.5 * rgb_of(np.array([66.0, 0, 0])), 0.5 * rgb_of(LEATHER)
    card = KnownPatch(Patch(0.05, 0.1, 0.45, 0.9), np.array([66.0, 0, 0]))
    for sample in (Patch(0.6, 0.2, 0.6 + side / 200, 0.8), Patch(0.6, 0.2, 0.9, 0.2 + side / 100)):
        if fits:
            assert read_photo(coded(strip), sample, [card]).residual < 0.5
        else:
            with pytest.raises(Refusal, match="too small"):
                read_photo(coded(strip), sample, [card])


@pytest.mark.parametrize(("step", "fits"), [(0.10, True), (0.14, False)])
def test_a_patch_is_even_to_twelve_in_a_hundred(step: float, fits: bool) -> None:
    """Between its quarters, relative to their mean."""
    strip = np.empty((100, 200, 3))
    strip[:, :100], strip[:, 100:] = 0.5 * rgb_of(np.array([66.0, 0, 0])), 0.5 * rgb_of(LEATHER)
    strip[50:, 100:] *= (1 - step / 2) / (1 + step / 2)
    card, sample = (
        KnownPatch(Patch(0.05, 0.1, 0.45, 0.9), np.array([66.0, 0, 0])),
        Patch(0.55, 0.1, 0.95, 0.9),
    )
    if fits:
        assert read_photo(coded(strip), sample, [card]).residual < 0.5
    else:
        with pytest.raises(Refusal, match="unevenly lit"):
            read_photo(coded(strip), sample, [card])
