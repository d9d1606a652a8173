"""The a*b* plane: to one scale, borders where the numbers say, every point in the picture and in its words."""

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from hidewright.charts.plane import LEFT, PLANE, TOP, PlaneShown, Spot, colour_plane, outline
from hidewright.colour.light.cie import delta_e00
from hidewright.colour.light.local import metric
from hidewright.refusals import Refusal

AIM = np.array([48.0, 8.0, 24.0])


def by(lab: list[float]) -> np.ndarray:
    """The aim moved by a Lab."""
    return AIM + np.array(lab)


def shown(**more: object) -> PlaneShown:
    square = metric(AIM)
    cup = Spot("the cup", by([1, 1, -2]), "#8a6a45", np.diag([0.3, 0.2, 0.4]) ** 2)
    return PlaneShown(Spot("target", AIM), square.T @ square, cup, **more)  # type: ignore[arg-type]


def test_the_border_is_where_the_difference_is_one() -> None:
    square = metric(AIM)
    near = outline(AIM[1:], (square.T @ square)[1:, 1:])
    off = [float(delta_e00(AIM, np.array([AIM[0], *point]))) for point in near]
    assert off == pytest.approx(np.ones(len(off)), abs=0.05)


def test_every_point_lies_inside_and_is_told_in_words() -> None:
    read = [Spot("reading", by([0, 2, -4])), Spot("reading", by([2, -1, 0]))]
    then = [Spot("after pouring 1", by([0.5, 0.5, -1])), Spot("after pouring 2", AIM)]
    svg = ET.fromstring(colour_plane(shown(read=read, then=then)))
    name = "{http://www.w3.org/2000/svg}"
    rings = [c for c in svg.iter(f"{name}circle") if float(c.get("cx", "0")) < LEFT + PLANE]
    assert len(rings) == 3
    for ring in rings:
        assert LEFT <= float(ring.get("cx", "0")) <= LEFT + PLANE
        assert TOP <= float(ring.get("cy", "0")) <= TOP + PLANE
    assert len(re.findall(r"reading L\*", svg.get("aria-label", ""))) == 2
    assert "after pouring 2 L* 48.0 a* 8.0 b* 24.0" in svg.get("aria-label", "")
    # redder lies to the right, yellower above
    one, two = rings[1], rings[2]
    assert float(one.get("cx", "0")) > float(two.get("cx", "0"))
    assert float(one.get("cy", "0")) > float(two.get("cy", "0"))


def test_words_are_escaped_and_bad_colours_refused() -> None:
    assert "<b>" not in colour_plane(shown(read=[Spot("<b>", AIM)]))
    with pytest.raises(Refusal):
        Spot("x", np.array([1.0, 2.0]))


def test_the_way_to_the_cup_is_numbered_as_it_is_poured_and_ends_at_the_cup() -> None:
    way = [Spot("after pour 2", by([40, -6, -20])), Spot("after pour 3", by([20, -2, 10]))]
    svg = colour_plane(shown(way=way, first=2))
    numbers = re.findall(r">([0-9])</text>", svg)
    assert numbers.count("2") == 2, "once on the plane, once on the strip"
    assert numbers.count("3") == 2
    assert "after pour 2 L* 88.0 a* 2.0 b* 4.0" in svg
    lines = ET.fromstring(svg).findall(".//{http://www.w3.org/2000/svg}line")
    steps = [line for line in lines if line.get("stroke") == "#1d5a8c"]
    assert len(steps) == len(way), "from ring to ring, and to the cup"
