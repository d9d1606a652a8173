"""A plan as pictures: the tables at a moment, and the whole or one day against the clock.

`PlanShown` is what the pictures (and the day sheets) need of a plan, in clock times; the planner's own values, or its
JSON, are turned into it elsewhere.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final, Literal

from hidewright.charts.tables import PartLying, TableTop, tables_from_above
from hidewright.charts.timechart import Night, TimeBar, TimeRow, hour_width_for, row_names, time_chart
from hidewright.dates import short_day
from hidewright.refusals import Refusal
from hidewright.units import FOOT

Unit = Literal["m", "ft"]


@dataclass(frozen=True)
class ActShown:
    """One piece of work: who does what to which part, where and when. `key` is the same in every plan of the job."""

    key: str
    piece: str
    part: str
    act: str
    person: str
    start: datetime
    end: datetime
    table: str = ""
    place: str = ""
    kind: str = "hands"
    caution: str = ""

    def __post_init__(self) -> None:
        if self.end <= self.start:
            raise Refusal("A step must end after it starts.", where=f"{self.piece}: {self.act}")


@dataclass(frozen=True)
class LyingShown:
    """A part lying on one stretch of a table in one state, from `since` to `until`; lengths in m."""

    piece: str
    table: str
    start_m: float
    length_m: float
    depth_m: float
    since: datetime
    until: datetime
    state: str


@dataclass(frozen=True)
class PlanShown:
    """A plan as it is shown. `hours` are the stretches in which anybody works, in order; `own_hours` those of each person, where they are known."""

    tables: tuple[TableTop, ...]
    people: tuple[str, ...]
    acts: tuple[ActShown, ...]
    lying: tuple[LyingShown, ...]
    hours: tuple[tuple[datetime, datetime], ...]
    finish: datetime
    bound: date | None = None
    promised: date | None = None
    own_hours: tuple[tuple[str, tuple[tuple[datetime, datetime], ...]], ...] = ()

    def hours_on(self, day: date, person: str | None = None) -> list[tuple[datetime, datetime]]:
        """The stretches of work on `day`, of one person or of anybody; where a person's own are not known, anybody's."""
        known = dict(self.own_hours)
        found = self.hours if person is None or not known else known.get(person, ())
        return [(start, end) for start, end in sorted(found) if start.date() == day]

    @property
    def days(self) -> list[date]:
        """The days on which somebody works, in order."""
        return sorted({act.start.date() for act in self.acts})


def acts_of(plan: PlanShown, day: date, person: str | None = None) -> list[ActShown]:
    """The acts that start on `day` (of one person, or of all), in order of time."""
    found = [a for a in plan.acts if a.start.date() == day and (person is None or a.person == person)]
    return sorted(found, key=lambda a: (a.start, a.person, a.piece, a.part))


def hours_words(plan: PlanShown, day: date, person: str) -> str:
    """“08:00–12:00, 12:30–17:00”, or “not at work”."""
    stretches = plan.hours_on(day, person)
    return ", ".join(f"{start:%H:%M}–{end:%H:%M}" for start, end in stretches) or "not at work"


def standing_between(plan: PlanShown, moment: datetime) -> list[str]:
    """The pieces that are begun and not done at `moment` and lie on no table: they stand in a rack, and must not be touched there."""
    begun = {act.piece for act in plan.acts if act.start < moment and "/start/" not in act.key}
    to_come = {act.piece for act in plan.acts if act.start >= moment}
    lying = {part.piece for part in plan.lying if part.since <= moment < part.until}
    return sorted((begun & to_come) - lying)


def fullest_rack(plan: PlanShown) -> tuple[date, list[str]] | None:
    """The evening on which most pieces stand between two passes, and which; None where none ever does."""
    evenings = [(day, max(act.end for act in acts_of(plan, day)) + timedelta(minutes=1)) for day in plan.days]
    found = [(day, standing_between(plan, moment)) for day, moment in evenings]
    fullest = max(found, key=lambda each: len(each[1]), default=None)
    return fullest if fullest and fullest[1] else None


def moments_of(plan: PlanShown, day: date) -> list[datetime]:
    """Moments worth a picture: the first act of the day, the middle of the work, and the night after."""
    acts = acts_of(plan, day)
    if not acts:
        return []
    first, last = acts[0].start, max(act.end for act in acts)
    middle = first + (last - first) / 2
    rounded = middle.replace(minute=30 * (middle.minute // 30), second=0, microsecond=0)
    candidates = [
        first + timedelta(minutes=5),
        rounded,
        last + timedelta(minutes=30),
    ]
    kept: list[datetime] = []
    for moment in candidates:
        if not kept or moment > kept[-1]:
            kept.append(moment)
    return kept


def tables_in_use(plan: PlanShown, day: date) -> tuple[TableTop, ...]:
    """The tables on which anything lies on `day`; all of them when nothing does."""
    begin = datetime.combine(day, time(0))
    end = begin + timedelta(days=1)
    used = {part.table for part in plan.lying if part.since < end and part.until > begin}
    return tuple(table for table in plan.tables if table.name in used) or plan.tables


def tables_at(
    plan: PlanShown,
    moment: datetime,
    *,
    unit: Unit = "m",
    title: bool = True,
    key: bool = True,
    tables: Sequence[TableTop] | None = None,
) -> str:
    """SVG of the tables (or only of those given) as they look at `moment`."""
    drawn = plan.tables if tables is None else tuple(tables)
    names = {table.name for table in drawn}
    lying = [
        PartLying(
            table=part.table,
            start_m=part.start_m,
            length_m=part.length_m,
            depth_m=part.depth_m,
            code=part.piece,
            state=part.state,
            note=_until(part, moment),
        )
        for part in plan.lying
        if part.since <= moment < part.until and part.table in names
    ]
    caption = f"{short_day(moment)}, {moment:%H:%M}" if title else ""
    return tables_from_above(drawn, lying, title=caption, unit=unit, key=key)


PAPER_WIDTH: Final = 1020.0
"""Width of a time chart that is shown at its natural size on a sheet of A4 laid across, px."""


@dataclass(frozen=True)
class ClockChart:
    """A time chart, and the names of its rows once more, to stand still while the chart is scrolled."""

    days: tuple[date, ...]
    chart: str
    names: str


def clock_charts(plan: PlanShown) -> list[ClockChart]:
    """The whole plan against the clock, a chart for each week, each as wide as a sheet laid across."""
    weeks: dict[tuple[int, int], list[date]] = {}
    for day in plan.days:
        weeks.setdefault(day.isocalendar()[:2], []).append(day)
    return [clock_chart(plan, days) for days in weeks.values()]


def clock_chart(plan: PlanShown, days: Sequence[date]) -> ClockChart:
    """SVG time chart of people and tables over `days` (not none), as wide as a sheet laid across."""
    return ClockChart(tuple(days), *_charted(plan, days))


def _charted(plan: PlanShown, shown: Sequence[date]) -> tuple[str, str]:
    """The chart, which fits the paper, and the names of its rows."""
    if not shown:
        raise Refusal("The plan has no work on these days.", remedy="Choose a day on which somebody works.")
    origin = datetime.combine(shown[0], time(0))
    last = datetime.combine(shown[-1] + timedelta(days=1), time(0))
    nights = _nights(plan, origin, last)
    opening = nights[0].end if nights and nights[0].start <= 0 else 0.0
    closing = (
        nights[-1].start if nights and nights[-1].end >= _minutes(origin, last) else _minutes(origin, last)
    )
    bars = [*_act_bars(plan, origin), *_lying_bars(plan, origin)]
    kept = [clipped for bar in bars if (clipped := _clip(bar, opening, closing)) is not None]
    inner = [n for n in nights if n.start > opening and n.end < closing]
    rows = [TimeRow(name) for name in (*plan.people, *(table.name for table in plan.tables))]
    names = [(max(_minutes(origin, datetime.combine(day, time(0))), opening), day) for day in shown]
    starts = _first_hours(plan, shown, origin)
    chart = time_chart(
        rows,
        kept,
        nights=inner,
        days=[(starts.get(day, minute), short_day(day)) for minute, day in names],
        marks=_promise(plan, shown, origin, closing),
        hour_width=hour_width_for(PAPER_WIDTH, closing - opening, inner),
        hours_from=0,
        label=f"Time chart, {short_day(shown[0])} to {short_day(shown[-1])}: people and tables",
    )
    return chart, row_names(rows, kept)


def _promise(
    plan: PlanShown, shown: Sequence[date], origin: datetime, closing: float
) -> list[tuple[float, str]]:
    """Where the promised day ends, if it is among those shown and not the only one."""
    if not plan.promised or not shown[0] <= plan.promised <= shown[-1] or len(shown) < 2:
        return []
    promised = _minutes(origin, datetime.combine(plan.promised + timedelta(days=1), time(0)))
    return [(min(promised, closing), "promised")]


_STATE_BAR: Final = {
    "wet": "wet",
    "curing": "curing",
    "waiting": "waiting",
    "dry": "waiting",
    "handling": "hands",
}


NEAR: Final = timedelta(minutes=10)
"""Like acts of one person this close together are told as one."""


def like_acts(acts: Iterable[ActShown], most: int = 12) -> list[list[ActShown]]:
    """Acts in the given order as runs of like acts (same person, act and part), one right after the other."""
    runs: list[list[ActShown]] = []
    for act in acts:
        last = runs[-1][-1] if runs else None
        alike = last is not None and (last.act, last.part, last.person) == (act.act, act.part, act.person)
        if alike and last is not None and act.start - last.end <= NEAR and len(runs[-1]) < most:
            runs[-1].append(act)
        else:
            runs.append([act])
    return runs


def places_of(acts: Iterable[ActShown], unit: Unit = "m") -> str:
    """Where the acts happen, each table named once: “Long table, from 0.10, 0.62 m; Bench, from 1.20 m”; in feet to a tenth where asked."""
    spots: dict[str, list[str]] = {}
    for act in acts:
        table, mark, spot = (act.place or act.table).partition(", from ")
        if table:
            spots.setdefault(table, []).extend([_spot(spot.removesuffix(" m"), unit)] if mark else [])
    return "; ".join(
        f"{table}, from {', '.join(dict.fromkeys(found))} {unit}" if found else table
        for table, found in spots.items()
    )


def _spot(metres: str, unit: Unit) -> str:
    return metres if unit == "m" else f"{float(metres) / FOOT:.1f}"


def _act_bars(plan: PlanShown, origin: datetime) -> list[TimeBar]:
    ordered = sorted((a for a in plan.acts if a.person in plan.people), key=lambda a: (a.person, a.start))
    return [_bar_of(run, origin) for run in like_acts(ordered)]


def _bar_of(run: Sequence[ActShown], origin: datetime) -> TimeBar:
    first, end = run[0], max(act.end for act in run)
    pieces = ", ".join(act.piece for act in run)
    more = f" +{len(run) - 1}" if len(run) > 1 else ""
    return TimeBar(
        row=first.person,
        start=_minutes(origin, first.start),
        end=_minutes(origin, end),
        text=f"{first.act} {first.piece}{more}",
        kind=first.kind,
        detail=f"{first.start:%H:%M}–{end:%H:%M} {first.act} {first.part}: {pieces}".replace(" :", ":"),
    )


def _lying_bars(plan: PlanShown, origin: datetime) -> list[TimeBar]:
    return [
        TimeBar(
            row=part.table,
            start=_minutes(origin, part.since),
            end=_minutes(origin, part.until),
            text=part.piece,
            kind=_STATE_BAR[part.state],
            detail=f"{part.piece} on {part.table}: {part.state}, {part.since:%a %H:%M} to {part.until:%a %H:%M}",
        )
        for part in plan.lying
    ]


def _clip(bar: TimeBar, start: float, end: float) -> TimeBar | None:
    left, right = max(bar.start, start), min(bar.end, end)
    if right <= left:
        return None
    return TimeBar(bar.row, left, right, bar.text, bar.kind, bar.detail)


def _nights(plan: PlanShown, origin: datetime, last: datetime) -> list[Night]:
    """The gaps between the working hours, at least two hours long, from `origin` to `last`."""
    gaps = []
    at = origin
    for start, end in sorted(plan.hours):
        if start >= last:
            break
        if start - at >= timedelta(hours=2):
            gaps.append(Night(_minutes(origin, at), _minutes(origin, start)))
        at = max(at, end)
    if last - at >= timedelta(hours=2):
        gaps.append(Night(_minutes(origin, at), _minutes(origin, last)))
    return gaps


def _first_hours(plan: PlanShown, days: Sequence[date], origin: datetime) -> dict[date, float]:
    """Day → the minute at which somebody's hours begin."""
    found: dict[date, float] = {}
    for start, _ in sorted(plan.hours):
        if start.date() in days:
            found.setdefault(start.date(), _minutes(origin, start))
    return found


def _minutes(origin: datetime, moment: datetime) -> float:
    return (moment - origin).total_seconds() / 60


def _until(part: LyingShown, moment: datetime) -> str:
    if part.until.date() == moment.date():
        return f"to {part.until:%H:%M}"
    return f"{part.until:%a %H:%M}"
