"""What the colour tests share: the demonstration's invented pigments, with what they really do."""

import pickle
from collections.abc import Callable, Iterator, Sequence

import pytest

from hidewright.colour.pigments import characterise
from hidewright.colour.pigments.characterise import Drawdown, Fit, Surface, characterise_all
from hidewright.colour.pigments.pigment import Pigment
from hidewright.demo.make_colours import pigments as invented


@pytest.fixture(scope="session")
def pigments() -> dict[str, Pigment]:
    """The twelve invented pigments by key."""
    return invented()


@pytest.fixture(scope="session", autouse=True)
def fitted_once() -> Iterator[None]:
    """The commands fit the same drawdowns at every call; within a run of tests the same drawdowns are fitted once."""
    fits: dict[bytes, dict[str, Fit]] = {}

    def remembered(
        drawdowns: Sequence[Drawdown],
        surface: Surface | None = None,
        on_progress: Callable[[float, str], None] | None = None,
    ) -> dict[str, Fit]:
        key = pickle.dumps((list(drawdowns), surface))
        if key not in fits:
            fits[key] = characterise_all(drawdowns, surface, on_progress)
        return dict(fits[key])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(characterise, "characterise_all", remembered)
        yield
