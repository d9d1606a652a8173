"""Day sheets and table maps out of a plan."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta

from hidewright.charts.plan import (
    ActShown,
    PlanShown,
    Unit,
    acts_of,
    hours_words,
    moments_of,
    places_of,
    tables_at,
    tables_in_use,
)
from hidewright.charts.racks import Rack, StandingShown, placed, racks_on
from hidewright.charts.sessions import session_name, session_runs, step_words, with_zone, zone_of
from hidewright.dates import short_day
from hidewright.papers.day_sheet import DayItem, DaySheet, PersonList, TablePicture
from hidewright.papers.table_maps import MapDay, TableMaps
from hidewright.planning.problem.rest import once_for
from hidewright.refusals import Refusal


def day_sheet_of(
    plan: PlanShown,
    day: date,
    *,
    job: str,
    made_on: date,
    done: Mapping[str, bool] | None = None,
    unit: Unit = "m",
    page_url: str = "",
    names: Mapping[str, str] | None = None,
) -> DaySheet:
    """The sheet of one day: a line for each session, a page for each person.

    `done` says by act key what is ticked already, `names` what a piece is called. Refuses a day without work.
    """
    if day not in plan.days:
        nearest = ", ".join(short_day(d) for d in plan.days[:20])
        raise Refusal(f"Nothing is planned for {short_day(day)}.", remedy=f"Days with work: {nearest}.")
    ticked = done or {}
    people = [
        PersonList(
            name=person,
            hours=hours_words(plan, day, person),
            items=tuple(
                _item(run, ticked, unit, names or {}) for run in session_runs(acts_of(plan, day, person))
            ),
        )
        for person in plan.people
    ]
    return DaySheet(
        job=job,
        day=day,
        headline=headline(plan, day),
        people=tuple(people),
        pictures=_pictures(plan, day, unit),
        made_on=made_on,
        overnight=overnight_text(plan, day),
        page_url=page_url,
    )


def table_maps_of(
    plan: PlanShown,
    *,
    job: str,
    made_on: date,
    unit: Unit = "m",
    page_url: str = "",
    racks: Sequence[Rack] = (),
    names: Mapping[str, str] | None = None,
) -> TableMaps:
    """The maps of every day of the plan: in the morning, as the tables are left overnight, and what is in the racks through the day.

    `names` says what a piece is called, by its mark: a line above the pictures of a day names those that lie there.
    """
    stands = placed(plan, racks)
    days = []
    for day in plan.days:
        moments = moments_of(plan, day)
        chosen = _with_parts(plan, [moments[len(moments) // 2], moments[-1]] if len(moments) > 1 else moments)
        used = tables_in_use(plan, day)
        pictures = tuple(
            TablePicture(
                _caption(moment, day),
                tables_at(plan, moment, unit=unit, title=False, key=moment == chosen[0], tables=used),
            )
            for moment in chosen
        )
        standing = racks_on(plan, racks, day, stands=stands)
        in_racks = (TablePicture("In the racks, from when to when", standing),) if standing else ()
        named = _named(plan, stands, day, names or {})
        days.append(MapDay(day, (*pictures, *in_racks), named, empty=not chosen))
    return TableMaps(job=job, days=tuple(days), made_on=made_on, page_url=page_url)


def _named(
    plan: PlanShown, stands: Sequence[StandingShown], day: date, names: Mapping[str, str]
) -> tuple[str, ...]:
    """The pieces that lie on a table or are in a rack on a day, by mark and name."""
    on_tables = {each.piece for each in plan.lying if each.since.date() <= day <= each.until.date()}
    in_racks = {each.piece for each in stands if each.since.date() <= day <= each.until.date()}
    return tuple(_about(mark, names) for mark in sorted(on_tables | in_racks) if mark in names)


def headline(plan: PlanShown, day: date) -> str:
    """“Day 2 of 9. The plan ends on Thu 12 Mar; promised Fri 13 Mar; at the very earliest Wed 11 Mar.”"""
    told = f"Day {plan.days.index(day) + 1} of {len(plan.days)}. The plan ends on {short_day(plan.finish.date())}"
    if plan.promised:
        late = plan.finish.date() > plan.promised
        told += f"; promised {short_day(plan.promised)}{' (late)' if late else ''}"
    if plan.bound:
        told += f"; at the very earliest {short_day(plan.bound)}"
    return told + "."


def overnight_text(plan: PlanShown, day: date) -> str:
    """What stays wet or curing when the last act of the day is done; empty when nothing does."""
    acts = acts_of(plan, day)
    if not acts:
        return ""
    closing = max(act.end for act in acts) + timedelta(minutes=1)
    counted: dict[str, int] = {}
    for part in plan.lying:
        if part.since <= closing < part.until and part.state in ("wet", "curing") and part.until.date() > day:
            counted[part.table] = counted.get(part.table, 0) + 1
    if not counted:
        return ""
    told = ", ".join(f"{count} on {table}" for table, count in sorted(counted.items()))
    return f"Left to dry overnight: {told}. Do not touch them; see to the air and the warmth as the data sheet asks."


def _pictures(plan: PlanShown, day: date, unit: Unit) -> tuple[TablePicture, ...]:
    moments = _with_parts(plan, moments_of(plan, day))
    used = tables_in_use(plan, day)
    return tuple(
        TablePicture(
            _caption(moment, day),
            tables_at(plan, moment, unit=unit, title=False, key=moment == moments[0], tables=used),
        )
        for moment in moments
    )


def _with_parts(plan: PlanShown, moments: Sequence[datetime]) -> list[datetime]:
    """The moments at which something lies on a table: an empty table needs no picture."""
    return [at for at in moments if any(part.since <= at < part.until for part in plan.lying)]


def _caption(moment: datetime, day: date) -> str:
    clock = f"{moment:%H:%M}"
    return clock if moment.date() == day else f"{short_day(moment.date())}, {clock}"


def _item(
    run: Sequence[ActShown], ticked: Mapping[str, bool], unit: Unit, names: Mapping[str, str]
) -> DayItem:
    """A session as one line; it is ticked when all of it is done."""
    first = run[0]
    steps = step_words(run)
    parts = {act.part for act in run}
    many = "," in steps
    alike = len({act.act for act in run}) == 1
    cautions = dict.fromkeys(act.caution.split(";")[0].rstrip(".") for act in run if act.caution)
    tables = dict.fromkeys((act.place or act.table).partition(", from ")[0] for act in run)
    return DayItem(
        start=f"{first.start:%H:%M}",
        end=f"{max(act.end for act in run):%H:%M}",
        pieces=tuple(filter(None, dict.fromkeys(with_zone(_about(act.piece, names), act) for act in run))),
        part=steps if many else parts.pop() if len(parts) == 1 and not zone_of(first) else "",
        act=first.act[:1].upper() + first.act[1:] if alike else session_name(run),
        place=", ".join(filter(None, tables))
        if many
        else places_of(run, unit).replace(f" {unit}", f"\u00a0{unit}"),
        caution="; ".join(cautions),
        done=all(ticked.get(act.key, False) for act in run),
    )


def _about(mark: str, names: Mapping[str, str]) -> str:
    """What a line is about: a piece by mark and name, a colour by its name; nothing for the whole job."""
    once = once_for(mark)
    if once is not None:
        return once
    return f"{mark} {names[mark]}" if names.get(mark) else mark
