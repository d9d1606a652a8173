"""Units: read as people write them, shown in the shop's own."""

import re
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright import units
from hidewright.refusals import Refusal


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("3/8 in", 0.0254 * 3 / 8),
        ("2' 6\"", 0.762),
        ("2′ 6″", 0.762),
        ("5'6 1/2\"", 66.5 * 0.0254),
        ("1 1/2 in", 0.0381),
        ("20 cm", 0.2),
        ("0,5 m", 0.5),
        ("450", 0.45),
    ],
)
def test_lengths_as_people_write_them(text: str, metres: float) -> None:
    assert units.read_length(text, "mm") == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "millilitres"),
    [
        ("12 fl oz", 12 * 29.5735295625),
        ("12 imp fl oz", 12 * 28.4130625),
        ("4 x 250 mL", 1000),
        ("1.5 qt", 1.5 * 946.352946),
        ("1 gal", 3785.411784),
        ("1,250.5 mL", 1250.5),
        ("1250 mL", 1250),
        ("1.250,5 mL", 1250.5),
        ("1\u202f250 mL", 1250),
    ],
)
def test_volumes_keep_us_and_imperial_apart(text: str, millilitres: float) -> None:
    assert units.read_volume(text) == pytest.approx(millilitres, rel=1e-12)


@pytest.mark.parametrize("text", ["", "cm", "-3 cm", "3 furlongs", "1/0 in", "nan m", "1e400 m", "12 oz of"])
def test_what_cannot_be_read_is_refused_with_what_to_do(text: str) -> None:
    with pytest.raises(Refusal) as refused:
        units.read_length(text)
    assert refused.value.remedy


def test_an_ounce_without_fl_is_no_volume() -> None:
    with pytest.raises(Refusal):
        units.read_volume("5 oz")


@given(st.floats(0.01, 19.0))
def test_lengths_shown_in_inches_read_back_within_a_thirty_second(metres: float) -> None:
    shown = units.show_length(metres, "us")
    assert units.read_length(shown) == pytest.approx(metres, abs=0.0254 / 32 + 1e-9)


@given(st.floats(1.0, 50000.0), st.sampled_from(["metric", "us"]))
def test_volumes_shown_read_back_within_half_a_percent(millilitres: float, how: str) -> None:
    assert units.read_volume(units.show_volume(millilitres, how)) == pytest.approx(millilitres, rel=0.0051)


def test_one_is_counted_as_one() -> None:
    assert [units.counted(n, "table") for n in (0, 1, 2)] == ["0 tables", "1 table", "2 tables"]
    assert [units.counted(n, "entry", "entries") for n in (1, 5)] == ["1 entry", "5 entries"]


@given(st.integers(0, 20_000))
def test_minutes_shown_read_back(minutes: int) -> None:
    assert units.read_duration(units.show_minutes(minutes)) == 60 * minutes


def test_many_minutes_are_told_in_hours() -> None:
    assert [units.show_minutes(m) for m in (0, 45, 480, 479.4)] == ["0 min", "45 min", "8 h", "7 h 59 min"]


@pytest.mark.parametrize(
    ("read", "text", "told"),
    [
        (units.read_volume, "12 oz", "“12 oz” is a weight"),
        (units.read_mass, "3 mL", "is a volume"),
        (units.read_length, "2 h", "is a time"),
        (units.read_volume, "3 furlongs", "which is not known here"),
        (units.read_volume, "3", "has no unit"),
    ],
)
def test_a_unit_of_another_kind_is_told_as_such(read: Callable[[str], float], text: str, told: str) -> None:
    with pytest.raises(Refusal, match=told) as refused:
        read(text)
    assert refused.value.remedy


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("18'", 216),
        ("16 ft 6", 198),
        ("5'-6\"", 66),
        ("5’6 1/2”", 66.5),
        ("3-1/2 in", 3.5),
        ("3½ in", 3.5),
        ("½ in", 0.5),
        ("1,5 m", 1.5 / 0.0254),
    ],
)
def test_lengths_from_a_tape_and_a_telephone(text: str, inches: float) -> None:
    """Feet, inches after feet, fractions with a dash or as one sign, the quotes that a phone writes."""
    assert units.read_length(text) == pytest.approx(inches * 0.0254, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "quarts"),
    [("a quart", 1), ("half a gallon", 2), ("1/2 cup", 0.125), ("3½ qt", 3.5), ("a cup", 0.25)],
)
def test_volumes_in_kitchen_words(text: str, quarts: float) -> None:
    assert units.read_volume(text) == pytest.approx(quarts * 946.352946, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("8-12 12:30-17:00", [(8, 12), (12.5, 17)]),
        ("8–12", [(8, 12)]),
        ("7:30am to 4pm", [(7.5, 16)]),
        ("8-4", [(8, 16)]),
        ("730-1600", [(7.5, 16)]),
        ("8-12 o'clock", [(8, 12)]),
        ("8 am - noon, 1-5 pm", [(8, 12), (13, 17)]),
        ("8-12 and 1-5", [(8, 12), (13, 17)]),
        ("8.30-12.15+13-17h", [(8.5, 12.25), (13, 17)]),
        ("22-24", [(22, 24)]),
        ("", []),
    ],
)
def test_hours_of_a_day_as_people_write_them(text: str, hours: list[tuple[float, float]]) -> None:
    assert [(start / 60, end / 60) for start, end in units.read_stretches(text)] == hours


@pytest.mark.parametrize("text", ["25-26", "8-12 11-13", "17-8", "abc", "8:75-9", "8-", "13pm-15pm"])
def test_what_is_no_stretch_of_a_day_is_refused(text: str) -> None:
    with pytest.raises(Refusal) as refused:
        units.read_stretches(text)
    assert refused.value.remedy


@given(st.integers(0, 1439), st.integers(1, 1440))
def test_hours_written_in_full_are_read_as_written(start: int, end: int) -> None:
    """With hours and minutes on a day of 24 h, what ends after it starts is never bent."""
    if start < end:
        text = f"{start // 60:02}:{start % 60:02}-{end // 60:02}:{end % 60:02}"
        assert units.read_stretches(text) == ((start, end),)


LENGTHS, AREAS = st.floats(0.001, 500.0), st.floats(0.0001, 50_000.0)
VOLUMES, MASSES = st.floats(0.1, 5_000_000.0), st.floats(0.1, 500_000.0)
SYSTEMS = st.sampled_from(["metric", "us"])


@given(LENGTHS, AREAS, VOLUMES, MASSES, SYSTEMS)
def test_what_the_app_writes_is_read_as_it_was_meant(
    length: float, area: float, volume: float, mass: float, how: str
) -> None:
    """Three digits are written, or a sixteenth of an inch, or a tenth of a gram; reading gives no other number."""
    assert units.read_length(units.show_length(length, how)) == pytest.approx(length, rel=0.0051, abs=0.0008)
    assert units.read_area(units.show_area(area, how)) == pytest.approx(area, rel=0.0051)
    assert units.read_volume(units.show_volume(volume, how)) == pytest.approx(volume, rel=0.0051)
    assert units.read_mass(units.show_mass(mass, how)) == pytest.approx(mass, rel=0.0051, abs=0.051)


@given(st.floats(-1e9, 1e9), st.sampled_from([".6g", ".10g", ".12g", "g"]))
def test_numbers_in_the_fields_of_a_form_are_read_as_written(value: float, form: str) -> None:
    text = f"{value:{form}}"
    assert units.read_number(text) == float(text)


@given(st.integers(1, 999), st.integers(0, 999))
def test_a_comma_before_three_digits_is_never_guessed(whole: int, rest: int) -> None:
    for read in (
        units.read_number,
        lambda text: units.read_length(f"{text} mm"),
        lambda text: units.read_volume(text, "mL"),
    ):
        with pytest.raises(Refusal, match=f"can mean {whole}{rest:03} or {whole}.{rest:03}") as refused:
            read(f"{whole},{rest:03}")
        assert refused.value.remedy
    assert units.read_number(f"0,{rest:03}") == rest / 1000
    assert (
        units.read_number(f"{whole}\u202f{rest:03}")
        == units.read_number(f"{whole}\u00a0{rest:03}")
        == 1000 * whole + rest
    )
    assert (
        units.read_number(f"{whole}.{rest:03},5")
        == units.read_number(f"{whole},{rest:03}.5")
        == 1000 * whole + rest + 0.5
    )


@given(st.integers(0, 9999), st.integers(0, 9999), st.sampled_from(["", "mm", "in", "m"]))
def test_two_numbers_are_never_added_up_or_multiplied(one: int, other: int, unit: str) -> None:
    for text in (
        f"{one} {other} {unit}",
        f"{one} x {other} {unit}",
        f"{one}×{other}{unit}",
        f"{one} {unit}, {other}",
    ):
        for default in (None, "mm", "ft"):
            with pytest.raises(Refusal) as refused:
                units.read_length(text, default)
            assert refused.value.remedy
    with pytest.raises(Refusal):
        units.read_number(f"{one} {other}")


@given(st.text("0123456789.,/ -x'", max_size=9))
def test_a_number_is_taken_only_where_one_reading_is_possible(text: str) -> None:
    """The reader here knows plain decimals with one mark, fractions, and groups of three whose decimal mark differs."""
    try:
        value = units.read_number(text)
    except Refusal:
        return
    plain = " ".join(text.split())
    part = re.fullmatch(r"-?(?:(\d+)(?: -? ?|-))?(\d+) ?/ ?(\d+)", plain)
    if part:
        meant = int(part[1] or 0) + int(part[2]) / int(part[3])
    else:
        digits = plain.lstrip("-")
        marks = [sign for sign in digits if sign in ".,"]
        groups = len(marks) > 1
        last = "" if groups and len(set(marks)) == 1 else marks[-1] if marks else ""
        for mark in {".", ","} - {last}:
            digits = digits.replace(mark, "")
        meant = float(digits.replace(last, ".") if last else digits)
    assert value == pytest.approx(-meant if plain.startswith("-") else meant, rel=1e-12)


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (units.read_length, "18 x 20 in"),
        (units.read_length, "18' x 20'"),
        (units.read_length, "1 234 mm"),
        (units.read_length, "5 cm 3 cm"),
        (units.read_length, "1 m 20"),
        (units.read_area, "18 x 20"),
        (units.read_volume, "1 234 mL"),
        (units.read_number, "3 8/4"),
        (units.read_number, "1 2 3/4"),
        (units.read_number, "1_000"),
        (units.read_number, "56,"),
        (units.read_number, "1,23,456"),
    ],
)
def test_what_can_be_two_things_is_refused_in_words(read: Callable[[str], float], text: str) -> None:
    with pytest.raises(Refusal) as refused:
        read(text)
    assert refused.value.what.endswith(".")
    assert refused.value.remedy


@pytest.mark.parametrize(
    ("read", "text", "value"),
    [
        (units.read_duration, "2 h 30", 9000),
        (units.read_mass, "2 lb 3", 35 * 28.349523125),
        (units.read_area, "2 x 1.5 m2", 3),
        (units.read_length, "1.234,5 mm", 1.2345),
        (units.read_length, "0,450 m", 0.45),
        (units.read_length, "5 ft 6,5", 66.5 * 0.0254),
    ],
)
def test_what_means_one_thing_is_read(read: Callable[[str], float], text: str, value: float) -> None:
    assert read(text) == pytest.approx(value, rel=1e-12)
