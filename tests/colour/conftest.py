"""What the colour tests share: the demonstration's invented pigments, with what they really do."""

import pytest

from hidewright.colour.pigments.pigment import Pigment
from hidewright.demo.make_colours import pigments as invented


@pytest.fixture(scope="session")
def pigments() -> dict[str, Pigment]:
    """The twelve invented pigments by key."""
    return invented()
