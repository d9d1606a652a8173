"""SVG pictures: well formed, to scale, told by more than colour, and deaf to markup in user text."""

import itertools
import re
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.charts import ink
from hidewright.charts.hatching import patterned
from hidewright.charts.swatches import Swatch, touching_swatches
from hidewright.charts.tables import STATES, PartLying, TableTop, tables_from_above
from hidewright.charts.timechart import (
    KINDS,
    Night,
    TimeBar,
    TimeRow,
    TimeScale,
    hour_width_for,
    row_names,
    stacked,
    time_chart,
)
from hidewright.refusals import Refusal

SVG = "{http://www.w3.org/2000/svg}"


def drawn(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def group_titled(root: ElementTree.Element, start: str) -> list[ElementTree.Element]:
    return [g for g in root.iter(f"{SVG}g") if (g.findtext(f"{SVG}title") or "").startswith(start)]


def test_parts_are_drawn_to_the_scale_of_their_table() -> None:
    root = drawn(
        tables_from_above(
            [TableTop("Long", 3.6, 0.9), TableTop("Short", 1.8, 0.6)],
            [PartLying("Long", 0.9, 1.8, 0.45, "A", "dry"), PartLying("Short", 0.0, 0.9, 0.3, "B", "wet")],
            strip_m=3.6,
        )
    )
    first, second = (group_titled(root, code)[0].find(f"{SVG}rect") for code in ("A:", "B:"))
    assert first is not None
    assert second is not None
    per_metre = (float(root.attrib["viewBox"].split()[2]) - 4) / 3.6
    assert float(first.attrib["width"]) == pytest.approx(1.8 * per_metre - 1.5, abs=0.02)
    assert float(second.attrib["width"]) == pytest.approx(0.9 * per_metre - 1.5, abs=0.02)
    assert float(first.attrib["height"]) == pytest.approx(0.45 * per_metre, abs=0.02)
    assert float(first.attrib["x"]) == pytest.approx(2 + 0.9 * per_metre + 0.75, abs=0.02)


def test_a_part_across_the_end_of_a_strip_is_drawn_on_both_strips_in_full_length() -> None:
    root = drawn(
        tables_from_above(
            [TableTop("Bench", 7.0, 0.6)], [PartLying("Bench", 3.3, 1.0, 0.4, "X", "wet")], strip_m=3.5
        )
    )
    boxes = [g.find(f"{SVG}rect") for g in group_titled(root, "X:")]
    widths = [float(box.attrib["width"]) + 1.5 for box in boxes if box is not None]
    per_metre = (340 - 4) / 3.5
    assert len(widths) == 2
    assert sum(widths) == pytest.approx(1.0 * per_metre, abs=0.05)


def test_every_state_and_every_kind_has_a_pattern_and_words_of_its_own() -> None:
    for table in (STATES, KINDS):
        assert len({pattern for pattern, _ in table.values()}) == len(table)
        assert len({meaning for _, meaning in table.values()}) == len(table)
    marks = [ink.PATTERNS[pattern][1] for pattern, _ in STATES.values()]
    assert len(set(marks)) >= len(marks) - 1, "at most plain and solid share the absence of marks"
    root = drawn(
        tables_from_above(
            [TableTop("T", 3, 1)],
            [PartLying("T", i * 0.5, 0.5, 0.4, f"P{i}", s) for i, s in enumerate(STATES)],
        )
    )
    told = " ".join(root.itertext())
    assert all(meaning in told for _, meaning in STATES.values())
    label = root.attrib["aria-label"]
    assert all(f"P{i} {meaning}" in label for i, (_, meaning) in enumerate(STATES.values()))


def test_what_lies_nowhere_or_hangs_over_is_refused() -> None:
    with pytest.raises(Refusal, match="no table"):
        tables_from_above([TableTop("T", 3, 1)], [PartLying("U", 0, 1, 1, "A", "wet")])
    with pytest.raises(Refusal, match="hangs over"):
        tables_from_above([TableTop("T", 3, 1)], [PartLying("T", 2.5, 1, 1, "A", "wet")])
    with pytest.raises(Refusal, match="no state"):
        PartLying("T", 0, 1, 1, "A", "soggy")


def test_feet_are_written_when_asked() -> None:
    svg = tables_from_above([TableTop("T", 12 * 0.3048, 0.9)], [], unit="ft")
    assert "12.0 ft" in svg
    assert drawn(svg).attrib["aria-label"].endswith("T: empty")


@given(st.text(max_size=40))
def test_user_text_stays_text(text: str) -> None:
    nasty = f"{text}</svg><script>#evil*"
    svg = tables_from_above(
        [TableTop(nasty, 3, 1)], [PartLying(nasty, 0, 2, 0.9, nasty, "wet", nasty)], title=nasty
    )
    svg += touching_swatches([Swatch("#102030", nasty, nasty)], caption=nasty)
    svg += time_chart([TimeRow(nasty)], [TimeBar(nasty, 0, 60, nasty, "gun", nasty)], days=[(0, nasty)])
    assert "<script" not in svg
    root = drawn(f"<all>{svg}</all>")
    assert not [e for e in root.iter() if e.tag.lower().endswith("script")]


def test_same_picture_same_text() -> None:
    one, same, other = (tables_from_above([TableTop(n, 3, 1)], []) for n in ("T", "T", "U"))
    assert one == same
    assert one != other


def strokes(path: str) -> list[tuple[float, float]]:
    """Every point that the pen of a path touches; of its marks only M, m, l and h occur."""
    points, x, y = [], 0.0, 0.0
    for letter, numbers in re.findall(r"([Mmlh])([-\d.,]+)", path):
        values = [float(v) for v in numbers.split(",")]
        if letter == "M":
            x, y = values
        else:
            x, y = x + values[0], y + (values[1] if len(values) > 1 else 0)
        points.append((x, y))
    return points


@given(
    st.sampled_from(sorted(ink.PATTERNS)), st.floats(0, 900), st.floats(0, 900), st.floats(1.2, 400), st.floats(1.2, 90)
)  # fmt: skip
def test_marks_stay_within_their_surface(name: str, x: float, y: float, width: float, height: float) -> None:
    root = drawn(
        f"<all>{patterned(x, y, width, height, name)}</all>".replace(
            "<all", '<all xmlns="http://www.w3.org/2000/svg"'
        )
    )
    (box,) = root.iter(f"{SVG}rect")
    assert box.attrib["fill"] == ink.PATTERNS[name][0]
    marks = [p.attrib["d"] for p in root.iter(f"{SVG}path")]
    for px, py in (point for path in marks for point in strokes(path)):
        assert x - 0.1 <= px <= x + width + 0.1
        assert y - 0.1 <= py <= y + height + 0.1
    assert bool(ink.PATTERNS[name][1]) >= bool(marks)
    if width >= 20 and height >= 12:
        assert bool(marks) == bool(ink.PATTERNS[name][1]), (
            "a pattern with marks shows them on any surface of size"
        )


def test_no_inline_style_that_a_strict_content_policy_would_drop() -> None:
    svg = time_chart(
        [TimeRow("A")], [TimeBar("A", 0, 60, "x", "gun")], nights=[Night(60, 900)], days=[(0, "Mon")]
    )
    assert "style=" not in svg


def test_nights_are_narrow_and_time_never_runs_backwards() -> None:
    scale = TimeScale((0, 3000), [Night(500, 1440), Night(1940, 2880)], hour_width=60)
    xs = [scale.x(m) for m in range(0, 3001, 7)]
    assert all(a <= b for a, b in itertools.pairwise(xs))
    assert scale.x(1440) - scale.x(500) == pytest.approx(12)
    assert scale.x(400) - scale.x(100) == pytest.approx(300)
    assert scale.x(1540) - scale.x(1440) == pytest.approx(100)


@given(st.lists(st.tuples(st.integers(0, 500), st.integers(1, 90)), max_size=25))
def test_bars_on_one_lane_never_overlap(spans: list[tuple[int, int]]) -> None:
    bars = [TimeBar("A", start, start + length, f"b{i}", "hands") for i, (start, length) in enumerate(spans)]
    placed = stacked(bars)
    assert sorted(b.text for _, b in placed) == sorted(b.text for b in bars)
    for lane in {lane for lane, _ in placed}:
        row = [b for at, b in placed if at == lane]
        assert all(a.end <= b.start for a, b in itertools.pairwise(row))
    deepest = max((sum(b.start <= m < b.end for b in bars) for m in range(600)), default=0)
    assert len({lane for lane, _ in placed}) == deepest, "no more lanes than bars that truly overlap"


def test_bars_and_swatches_refuse_nonsense() -> None:
    with pytest.raises(Refusal):
        TimeBar("A", 5, 5, "x", "gun")
    with pytest.raises(Refusal):
        TimeBar("A", 5, 6, "x", "dance")
    with pytest.raises(Refusal, match="no row"):
        time_chart([TimeRow("A")], [TimeBar("B", 0, 1, "x", "gun")])
    with pytest.raises(Refusal, match="no colour"):
        Swatch("brown", "Target")


def test_swatches_touch() -> None:
    root = drawn(touching_swatches([Swatch("#111111", "a"), Swatch("#222222", "b"), Swatch("#333333", "c")]))
    boxes = [r for r in root.iter(f"{SVG}rect") if r.attrib["fill"].startswith("#")]
    ends = [float(r.attrib["x"]) + float(r.attrib["width"]) for r in boxes]
    starts = [float(r.attrib["x"]) for r in boxes]
    assert all(end >= start for end, start in zip(ends, starts[1:], strict=False))
    assert np.isclose(ends[-1], 360)


def test_hours_are_written_only_where_they_fit() -> None:
    bars = [TimeBar("A", 0, 1200, "x", "hands")]
    for hour_width, step in ((26, 1), (9, 2), (4, 4)):
        root = drawn(time_chart([TimeRow("A")], bars, hours_from=0, hour_width=hour_width))
        hours = [int(text) for text in root.itertext() if text.isdigit()]
        assert hours == list(range(0, 21, step))


def test_a_long_table_is_drawn_as_equal_strips() -> None:
    """4.8 m where 3 m fit: two of 2.4 m, not one of 3 and a rest."""
    root = drawn(tables_from_above([TableTop("Long", 4.8, 0.6)], [], key=False))
    boxes = [r for r in root.iter(f"{SVG}rect") if r.attrib["fill"] == ink.WOOD]
    assert [float(box.attrib["width"]) for box in boxes] == pytest.approx([336, 336])


def sizes_of(svg: str) -> list[float]:
    return [float(text.attrib["font-size"]) for text in drawn(svg).iter(f"{SVG}text")]


def test_the_letters_of_a_time_chart_are_never_small() -> None:
    """At its natural size, in which it is shown and printed, 11 px are 8¼ pt."""
    bars = [TimeBar("Ana", 60 * n, 60 * n + 50, f"spray C{n}", "gun") for n in range(4)]
    svg = time_chart(
        [TimeRow("Ana")], bars, title="Week", days=[(0, "Mon 2 Mar")], marks=[(200, "promised")],
        nights=[Night(240, 900)], hours_from=0, hour_width=90,
    )  # fmt: skip
    assert min(sizes_of(svg)) >= 11
    assert min(sizes_of(row_names([TimeRow("Ana")], bars))) >= 11


def test_the_names_that_stand_still_are_as_high_as_the_chart_s_rows() -> None:
    rows = [TimeRow("Ana"), TimeRow("Table")]
    bars = [TimeBar("Table", n, n + 100, f"C{n}", "wet") for n in range(5)]
    chart, names = drawn(time_chart(rows, bars)), drawn(row_names(rows, bars))

    def at(root: ElementTree.Element) -> dict[str | None, str]:
        return {t.text: t.attrib["y"] for t in root.iter(f"{SVG}text") if t.text in ("Ana", "Table")}

    assert at(names) == at(chart)
    assert len(at(names)) == 2


@pytest.mark.parametrize(("days", "hours"), [(1, 9.5), (5, 9.5), (6, 4)])
def test_a_chart_is_made_as_wide_as_the_paper(days: int, hours: float) -> None:
    nights = [Night(1440 * n + 60 * hours, 1440 * (n + 1)) for n in range(days - 1)]
    end = 1440 * (days - 1) + 60 * hours
    width = hour_width_for(1040, end, nights)
    bars = [TimeBar("A", 0, end, "x", "hands")]
    svg = time_chart([TimeRow("A")], bars, nights=nights, hour_width=width)
    assert 1020 <= float(drawn(svg).attrib["width"]) <= 1040


def test_the_name_of_the_last_day_fits_on_the_picture() -> None:
    svg = time_chart(
        [TimeRow("A")], [TimeBar("A", 0, 1500, "x", "hands")], days=[(0, "Mon"), (1480, "Wed 2 Dec")]
    )
    width = float(drawn(svg).attrib["viewBox"].split()[2])
    (name,) = [t for t in drawn(svg).iter(f"{SVG}text") if t.text == "Wed 2 Dec"]
    assert float(name.attrib["x"]) + 60 <= width
