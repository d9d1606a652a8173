"""A plan against the clock: a row for each person, gun or table, bars for what happens, narrow nights.

The axis is minutes from any fixed moment. Nights and days off are squeezed to a narrow band, because nothing
but drying happens in them; a bar that runs through one is drawn through it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from hidewright.charts import ink
from hidewright.charts.hatching import patterned
from hidewright.refusals import Refusal

KINDS: Final = {
    "hands": ("solid", "hands at work"),
    "gun": ("cross", "spraying"),
    "wet": ("hatch", "wet"),
    "curing": ("dots", "drying or curing"),
    "waiting": ("plain", "lying, waiting"),
    "away": ("rules", "away"),
}
"""Kind of bar → (pattern, words)."""

_NIGHT_WIDTH: Final = 12.0
_ROW: Final = 24.0
_NAME: Final = 104.0
_HEAD: Final = 38.0
_SIZE: Final = 11.0
"""Size of the smallest letters: the picture is shown at its natural size, so that this is px on a screen, and 3/4 of it pt on paper."""


@dataclass(frozen=True)
class TimeRow:
    """A row of the chart; `name` is unique."""

    name: str


@dataclass(frozen=True)
class TimeBar:
    """What happens on a row from `start` to `end` (minutes)."""

    row: str
    start: float
    end: float
    text: str
    kind: str
    detail: str = ""

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise Refusal(
                f"“{self.kind}” is no kind of bar.", where=self.text, remedy=f"Use {', '.join(KINDS)}."
            )
        if not self.end > self.start:
            raise Refusal("A bar must end after it starts.", where=self.text)


@dataclass(frozen=True)
class Night:
    """A stretch without work (minutes), drawn narrow and hatched."""

    start: float
    end: float


def time_chart(
    rows: Sequence[TimeRow],
    bars: Sequence[TimeBar],
    *,
    nights: Sequence[Night] = (),
    days: Sequence[tuple[float, str]] = (),
    marks: Sequence[tuple[float, str]] = (),
    title: str = "",
    hour_width: float = 26,
    hours_from: float | None = None,
    label: str = "",
) -> str:
    """SVG of the plan; wide pictures scroll inside their frame.

    `days` names moments (minute, "Mon 2 Mar"); `marks` draws upright lines with words. `hours_from` is
    the clock time in hours of minute 0: when it is given, the hours are written along the top.
    """
    names = [row.name for row in rows]
    strays = sorted({bar.row for bar in bars} - set(names))
    if strays:
        raise Refusal(f"There is no row “{strays[0]}”.", where="time chart")
    if not names:
        raise Refusal("The time chart has no rows.", remedy="Give the people and the tables.")
    scale = TimeScale(_span(bars, days, nights), nights, hour_width)
    top = _HEAD + (18 if title else 0)
    lanes = {name: stacked([bar for bar in bars if bar.row == name]) for name in names}
    heights = {name: _ROW * max(1, max((lane + 1 for lane, _ in lanes[name]), default=1)) for name in names}
    bottom = top + sum(heights.values())
    body: list[str] = []
    if title:
        body.append(ink.words(2, 13, title, size=13, weight=600))
    body += _ground(scale, top, bottom, days, hours_from)
    y = top
    for name in names:
        body += _row(name, lanes[name], y, heights[name], scale)
        y += heights[name]
    body += _marks(marks, scale, top, bottom)
    foot = bottom + (16 if marks else 2)
    drawn, height = _key(foot + 4, {bar.kind for bar in bars}, bool(nights))
    last_name = max((scale.x(minute) for minute, _ in days), default=0.0) + 80
    width = max(scale.right + 6, last_name, 340.0)
    return ink.picture(
        width, foot + height + 6, [*body, *drawn], label=label or title or "Time chart", wide=True
    )


class TimeScale:
    """Minutes to picture units, with nights squeezed to a fixed narrow width."""

    def __init__(self, span: tuple[float, float], nights: Sequence[Night], hour_width: float) -> None:
        self.start, self.end = span
        self.nights = tuple(sorted((n for n in nights if n.end > n.start), key=lambda n: n.start))
        self.hour_width = hour_width
        self._per_minute = hour_width / 60
        self.right = self.x(self.end)

    def x(self, minute: float) -> float:
        """The place of `minute` on the picture; never decreasing."""
        minute = min(max(minute, self.start), self.end)
        x = _NAME
        at = self.start
        for night in self.nights:
            if night.end <= self.start or night.start >= minute:
                continue
            begin, end = max(night.start, at), night.end
            x += (begin - at) * self._per_minute
            x += _NIGHT_WIDTH * (min(minute, end) - begin) / max(end - begin, 1e-9)
            at = min(minute, end)
        return x + (minute - at) * self._per_minute


def hour_width_for(
    width: float, minutes: float, nights: Sequence[Night], least: float = 6, most: float = 120
) -> float:
    """The width of an hour with which a chart of so many `minutes`, these nights among them, is `width` wide."""
    asleep = sum(night.end - night.start for night in nights)
    room = width - _NAME - _NIGHT_WIDTH * len(nights) - 8
    return min(most, max(least, 60 * room / max(minutes - asleep, 60)))


def row_names(rows: Sequence[TimeRow], bars: Sequence[TimeBar]) -> str:
    """SVG of the names of the rows alone, as high as `time_chart` draws them: it stays in sight while the chart is scrolled."""
    lanes = _lanes([row.name for row in rows], bars)
    y = _HEAD
    body = [ink.rect(0, 0, _NAME, _HEAD + sum(_ROW * count for count in lanes.values()), ink.PAPER)]
    for name, count in lanes.items():
        body += [ink.line(0, y, _NAME, y, "#d5dae0"), _name(name, y)]
        y += _ROW * count
    body.append(ink.line(_NAME - 0.5, _HEAD - 4, _NAME - 0.5, y, ink.LINE))
    return ink.picture(_NAME, y, body, label="Names of the rows", kind="chart-names")


def _lanes(names: Sequence[str], bars: Sequence[TimeBar]) -> dict[str, int]:
    """Row → how many lanes its bars need."""
    found = {}
    for name in names:
        placed = stacked([bar for bar in bars if bar.row == name])
        found[name] = max((lane + 1 for lane, _ in placed), default=1)
    return found


def _name(name: str, y: float) -> str:
    return ink.words(2, y + 16, ink.shortened(name, _NAME - 6, 12), size=12, weight=600)


def stacked(bars: Sequence[TimeBar]) -> list[tuple[int, TimeBar]]:
    """Each bar with a lane in which it overlaps nothing, in the order of starting.

    A bar goes on in the lane of the bar before it with the same text, if that is free, else in the first free lane;
    no more lanes are used than bars that truly overlap.
    """
    ends: list[float] = []
    texts: list[str] = []
    placed: list[tuple[int, TimeBar]] = []
    for bar in sorted(bars, key=lambda b: (b.start, b.end, b.text)):
        free = [lane for lane, end in enumerate(ends) if end <= bar.start]
        same = [lane for lane in free if texts[lane] == bar.text]
        lane = (same or free or [len(ends)])[0]
        ends[lane : lane + 1] = [bar.end]
        texts[lane : lane + 1] = [bar.text]
        placed.append((lane, bar))
    return placed


def _span(
    bars: Sequence[TimeBar], days: Sequence[tuple[float, str]], nights: Sequence[Night]
) -> tuple[float, float]:
    starts = [*(bar.start for bar in bars), *(minute for minute, _ in days)] or [0.0]
    ends = [bar.end for bar in bars] or [max((n.start for n in nights), default=min(starts) + 480)]
    return min(starts), max(*ends, min(starts) + 60)


def _ground(
    scale: TimeScale,
    top: float,
    bottom: float,
    days: Sequence[tuple[float, str]],
    hours_from: float | None,
) -> Iterable[str]:
    for night in scale.nights:
        left, right = scale.x(night.start), scale.x(night.end)
        if right > left:
            yield patterned(left, top - 4, right - left, bottom - top + 4, "night")
    for minute, name in days:
        x = scale.x(minute)
        yield ink.line(x, top - 18, x, bottom, ink.QUIET)
        yield ink.words(x + 3, top - 21, name, size=12, weight=600)
    if hours_from is not None:
        yield from _hours(scale, top, bottom, hours_from)


def _hours(scale: TimeScale, top: float, bottom: float, hours_from: float) -> Iterable[str]:
    first = int(-(-(scale.start + hours_from * 60) // 60))
    last = int((scale.end + hours_from * 60) // 60)
    step = next((s for s in (1, 2, 4) if s * scale.hour_width >= 18), 4)
    for hour in range(first, last + 1):
        if hour % step:
            continue
        minute = hour * 60 - hours_from * 60
        if any(night.start < minute < night.end for night in scale.nights):
            continue
        x = scale.x(minute)
        yield ink.line(x, top - 4, x, bottom, "#e3e6ea")
        yield ink.words(x, top - 6, f"{hour % 24}", size=_SIZE, anchor="middle", fill=ink.QUIET)


def _row(
    name: str, placed: Sequence[tuple[int, TimeBar]], y: float, height: float, scale: TimeScale
) -> Iterable[str]:
    yield ink.line(0, y, scale.right, y, "#d5dae0")
    yield _name(name, y)
    for lane, bar in placed:
        left, right = scale.x(bar.start), scale.x(bar.end)
        width = max(right - left - 0.6, 1.2)
        pattern, meaning = KINDS[bar.kind]
        box = y + lane * _ROW + 2
        text = ink.shortened(bar.text, width - 4, _SIZE)
        yield f"<g><title>{ink.text_safe(bar.detail or f'{bar.text}: {meaning}')}</title>"
        yield patterned(
            left,
            box,
            width,
            _ROW - 4,
            pattern,
            stroke=ink.INK,
            stroke_width=0.7,
            rx=1.5,
        )
        if text:
            plate = min(ink.width_of(text, _SIZE), width - 3)
            yield ink.rect(left + 1.5, box + 2.5, plate, _ROW - 9, ink.PAPER, rx=1.5, fill_opacity=0.85)
            yield ink.words(left + 2.5, box + 14, text, size=_SIZE)
        yield "</g>"


def _marks(marks: Sequence[tuple[float, str]], scale: TimeScale, top: float, bottom: float) -> Iterable[str]:
    for minute, text in marks:
        x = scale.x(minute)
        anchor = "end" if x > scale.right - 60 else "start"
        yield ink.line(x, top - 4, x, bottom + 4, "#8c3b1d", stroke_width=1.5, stroke_dasharray="4 2")
        yield ink.words(
            x - 2 if anchor == "end" else x + 2, bottom + 13, text, size=_SIZE, weight=600, anchor=anchor
        )


def _key(y: float, used: set[str], nights: bool) -> tuple[list[str], float]:
    """The key of the kinds that occur, in rows of two; returns the drawing and its height."""
    shown = [(pattern, meaning) for kind, (pattern, meaning) in KINDS.items() if kind in used]
    shown += [("night", "no work")] if nights else []
    drawn: list[str] = []
    for index, (pattern, meaning) in enumerate(shown):
        left, top = 2 + (index % 2) * 170, y + (index // 2) * 17
        drawn.append(patterned(left, top, 20, 12, pattern, stroke=ink.INK))
        drawn.append(ink.words(left + 26, top + 10, meaning, size=_SIZE))
    return drawn, (len(shown) + 1) // 2 * 17.0
