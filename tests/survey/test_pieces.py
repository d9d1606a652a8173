"""Pieces: from three dimensions to faces, areas and spreads."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.refusals import Refusal
from hidewright.survey import SHAPES, Condition, Piece, make_piece


def piece(shape: str = "cushion", **changes: object) -> Piece:
    facts: dict[str, object] = {
        "key": "A1", "name": "cushion", "group": "Chair", "shape": shape, "length": 0.56, "width": 0.54, "thickness": 0.13,
    }  # fmt: skip
    return make_piece(**{**facts, **changes})  # type: ignore[arg-type]


def test_a_cushion_has_a_crowned_top_and_a_border() -> None:
    made = piece()
    assert [f.name for f in made.faces] == ["top", "border"]
    assert made.faces[0].area == pytest.approx(1.06 * 0.56 * 0.54)
    assert made.faces[1].area == pytest.approx(2 * (0.56 + 0.54) * 0.13)


def test_turning_adds_the_faces_at_the_back() -> None:
    once, twice = piece(), piece(turned=True)
    assert once.side_area("back") == 0
    assert twice.side_area("back") > 0
    assert twice.side_area("front") == pytest.approx(once.area)


def test_a_roll_is_a_cylinder() -> None:
    made = piece("roll", length=0.5, width=0.2, thickness=0, turned=True)
    assert made.area == pytest.approx(pi * 0.2 * 0.5 + 2 * pi * 0.1**2)


def test_only_faces_one_can_sit_on_are_sat_on() -> None:
    assert [f.name for f in piece(sat_on=True, turned=True).faces if f.sat_on] == ["top", "underside"]
    assert not any(f.sat_on for f in piece(sat_on=False).faces)


def test_overcoated_pieces_are_stripped_unless_the_survey_says_otherwise() -> None:
    assert piece(condition="overcoated").strip
    assert not piece(condition="overcoated", strip=False).strip
    assert piece(condition="sound", strip=True).strip
    assert piece(condition="worn").condition is Condition.WORN


def test_a_template_rules_the_area_and_is_better_known() -> None:
    plain, measured = piece(), piece(measured=0.75)
    assert measured.area == pytest.approx(0.75)
    assert measured.area_sd / measured.area < plain.area_sd / plain.area
    assert measured.faces[0].area / measured.faces[1].area == pytest.approx(
        plain.faces[0].area / plain.faces[1].area
    )


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"length": 9.0}, "length"),
        ({"length": float("nan")}, "length"),
        ({"length": float("inf")}, "length"),
        ({"width": 0.0}, "width"),
        ({"width": -0.5}, "width"),
        ({"thickness": 1.3}, "thickness"),
        ({"thickness": 0.0}, "thickness"),
        ({"measured": 50.0}, "area"),
        ({"measured": -1.0}, "area"),
        ({"shape": "blob"}, "shape"),
        ({"material": "cheese"}, "material"),
        ({"condition": "so so"}, "condition"),
        ({"key": " "}, "key"),
        ({"key": "a/b"}, "key"),
        ({"name": ""}, "name"),
    ],
)
def test_absurd_values_are_refused_by_name(changes: dict[str, object], field: str) -> None:
    with pytest.raises(Refusal) as refused:
        piece(**changes)
    assert refused.value.where == field


@given(
    st.sampled_from(list(SHAPES)),
    st.floats(0.05, 0.7),
    st.floats(0.05, 0.7),
    st.floats(0.02, 0.4),
    st.booleans(),
)
def test_area_grows_with_the_square_of_the_size(
    shape: str, length: float, width: float, thickness: float, turned: bool
) -> None:
    small = piece(shape, length=length / 2, width=width / 2, thickness=thickness / 2, turned=turned)
    large = piece(shape, length=length, width=width, thickness=thickness, turned=turned)
    assert large.area == pytest.approx(4 * small.area)
    assert large.area_sd / large.area < small.area_sd / small.area, "the tape matters less on a large piece"
    assert large.edge == pytest.approx(2 * small.edge)
