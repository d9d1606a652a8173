"""Finish tests beside published figures. Sources stand beside each check."""

import pytest

from hidewright.refusals import Refusal
from hidewright.safety.finish import compare, cross_cut_class


@pytest.mark.parametrize(
    ("mark", "words", "iso"),
    [
        ("5B", "nothing", 0),
        ("4b", "under 5 %", 1),
        ("3B", "5 to 15 %", 2),
        ("2B", "15 to 35 %", 3),
        ("1B", "35 to 65 %", 4),
        ("0B", "over 65 %", 5),
    ],
)
def test_cross_cut_classes(mark: str, words: str, iso: int) -> None:
    """ASTM D3359 method B: 5B 0 %, 4B < 5, 3B 5-15, 2B 15-35, 1B 35-65, 0B > 65; ISO 2409 is 5 less the figure (from memory)."""
    found = compare("cross-cut", mark)
    assert words in found.words
    assert f"ISO 2409: {iso}" in found.words
    assert found.reaches is None, "a comparison on soft leather, not a verdict"


@pytest.mark.parametrize(
    ("percent", "mark"),
    [
        (0, "5B"), (0.1, "4B"), (4.9, "4B"), (5, "3B"), (15, "3B"), (15.1, "2B"), (35, "2B"), (35.1, "1B"), (65, "1B"), (65.1, "0B"), (100, "0B"),
    ],
)  # fmt: skip
def test_what_came_off_gives_its_class_on_both_sides_of_each_border(percent: float, mark: str) -> None:
    """ASTM D3359 method B prints 0, under 5, 5-15, 15-35, 35-65 and over 65 %; which class an edge itself gets is our own reading."""
    assert cross_cut_class(percent) == mark
    assert compare("cross-cut", f"{percent} %").value == mark


@pytest.mark.parametrize("percent", [-0.1, 100.1])
def test_more_than_all_of_it_cannot_come_off(percent: float) -> None:
    with pytest.raises(Refusal):
        cross_cut_class(percent)


@pytest.mark.parametrize(("grade", "kept"), [("4/5", "4-5"), ("5", "5"), ("1", "1")])
def test_a_colour_by_eye_is_a_grade_of_the_grey_scale(grade: str, kept: str) -> None:
    """EN 20105-A02: nine grades from 5 (no difference) to 1; a person says whether that will do."""
    found = compare("colour by eye", grade)
    assert found.value == kept
    assert found.reaches is None
    assert "EN 20105-A02" in found.source
    with pytest.raises(Refusal):
        compare("colour by eye", "5-6")


@pytest.mark.parametrize(
    ("grade", "dry", "wet"),
    [("4-5", True, True), ("4", True, True), ("3/4", False, True), ("3", False, False)],
)
def test_rub_grades(grade: str, dry: bool, wet: bool) -> None:
    """EN 13336 with ISO 11640 as cited in Decision (EU) 2016/1332: dry 500 cycles at least 4, wet 250 cycles at least 3/4."""
    assert compare("dry rub", grade).reaches is dry
    assert compare("wet rub", grade).reaches is wet


def test_the_figures_are_said_to_be_for_coated_leather() -> None:
    """EN 13336: semi-aniline and aniline leather have other numbers of cycles, so the source must say whose figures these are."""
    for check, value in (("dry rub", "4"), ("wet rub", "4"), ("adhesion", "2")):
        assert "coated leather" in compare(check, value).source


def test_adhesion() -> None:
    """EN 13336 with ISO 11644 as cited in Decision (EU) 2016/1332: at least 2 N/10 mm."""
    assert compare("adhesion", "2").reaches is True
    assert compare("adhesion", "2.01").reaches is True
    assert compare("adhesion", "1.99").reaches is False


@pytest.mark.parametrize(
    ("units", "bands"),
    [
        ("4", "flat or matt"),
        ("5", "flat or matt"),
        ("5.1", ": matt"),
        ("8", "matt"),
        ("10", "matt or eggshell"),
        ("10.1", ": eggshell"),
        ("20", "eggshell or satin"),
        ("22", "eggshell or satin"),
        ("25.1", ": satin"),
        ("35.1", ": semi-gloss"),
        ("50", "semi-gloss"),
        ("70", "semi-gloss or gloss"),
        ("70.1", ": gloss"),
    ],
)
def test_gloss_bands_overlap(units: str, bands: str) -> None:
    """Gloss bands at 60°: common practice, no source."""
    assert compare("gloss", units).words.endswith(bands)


@pytest.mark.parametrize(
    ("check", "value"),
    [
        ("cross-cut", "6B"),
        ("dry rub", "6"),
        ("adhesion", "nan"),
        ("gloss", "120"),
        ("colour", "-1"),
        ("smell", "1"),
    ],
)
def test_what_cannot_be_read_is_refused(check: str, value: str) -> None:
    with pytest.raises(Refusal):
        compare(check, value)
