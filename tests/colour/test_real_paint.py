"""Real paint: noise and misfit learned from the films, more data that never hurts, and a residual over composition; on measured mixtures (tests/reference/measured_mixtures.csv)."""

import numpy as np
import pytest

from bench.mixtures import READ, Mixtures, amounts, found, held, mixtures, off
from hidewright.colour.pigments.drawdowns import READING_SD, Drawdown
from hidewright.colour.pigments.joint import CONTRADICTS, Joint
from hidewright.colour.pigments.misfit import CLEAN
from hidewright.colour.pigments.residual import residual_of

OWN = {"P01", "P05", "P09", "P12", "P13"}
"""Two reds and yellows, a blue, a black and a white."""


@pytest.fixture(scope="module")
def some() -> Mixtures:
    """The films of five paints."""
    every = mixtures()
    return Mixtures(
        tuple(f for f in every.alone if set(f.shares) <= OWN),
        tuple(f for f in every.mixed if set(f.shares) <= OWN),
        every.paper,
    )


@pytest.fixture(scope="module")
def order(some: Mixtures) -> list[Drawdown]:
    """The mixtures in a drawn order."""
    return [some.mixed[i] for i in np.random.default_rng(1).permutation(len(some.mixed))]


@pytest.fixture(scope="module")
def joint(some: Mixtures, order: list[Drawdown]) -> Joint:
    """From four amounts of each paint and ten mixtures."""
    return found([*amounts(some.alone, 0.01, 0.03, 0.06, 0.12), *order[:10]])


@pytest.fixture(scope="module")
def taught(some: Mixtures, order: list[Drawdown]) -> list[Drawdown]:
    """All films of one paint and thirty mixtures."""
    return [*some.alone, *order[:30]]


@pytest.fixture(scope="module")
def better(taught: list[Drawdown]) -> Joint:
    """From those."""
    return found(taught)


def test_all_measured_films_are_there() -> None:
    every = mixtures()
    assert (len(every.alone), len(every.mixed)) == (143, 780)
    assert all(f.one_ground for f in every.mixed[:5])


def test_more_films_never_hurt(some: Mixtures, order: list[Drawdown], joint: Joint, better: Joint) -> None:
    rest = order[30:]
    few = off(joint, rest).mean()
    more_alone = off(found([*some.alone, *order[:10]]), rest).mean()
    more_mixed = off(better, rest).mean()
    assert more_alone < few + 0.1
    assert more_mixed < more_alone + 0.1


def test_what_the_film_leaves_out_is_no_contradiction(some: Mixtures, joint: Joint) -> None:
    assert np.mean([doubt > CONTRADICTS for doubt in joint.doubt.values()]) < 0.15
    assert joint.scales.absorption > 20 * CLEAN[2]
    assert "leaves out" in joint.scales.words


def test_residual_helps_and_says_how_far(
    order: list[Drawdown], taught: list[Drawdown], better: Joint
) -> None:
    rest = order[30:]
    assert off(better, rest, taught).mean() < off(better, rest).mean()
    assert 0.75 < held(better, rest, taught) <= 1.0
    residual = residual_of(better, taught)
    assert residual is not None
    near = residual.at(taught[0].shares, taught[0].microns)[1].trace()
    far = residual.at({"P01": 0.3, "P05": 0.3, "P09": 0.3, "P12": 0.3}, 400.0)[1].trace()
    assert near < 0.8 * far
    assert residual_of(better, taught[:5]) is None


def test_clean_films_are_taken_for_clean() -> None:
    from bench.bench_colour_characterise import set_of
    from hidewright.colour.pigments.characterise import characterise_all
    from hidewright.colour.pigments.joint import together
    from hidewright.demo.make_colours import pigments

    truth = {key: one for key, one in pigments().items() if key in ("PW6", "PR101", "PY42", "PBk7")}
    made = set_of(truth, np.random.default_rng(3))
    scales = together(made, characterise_all(made)).scales
    assert scales.noise == pytest.approx(READING_SD, rel=0.25)
    assert scales.absorption < 0.005
    assert READ.specular is False
