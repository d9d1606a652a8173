"""`hidewright plan`: from files to who does what on which table on which day."""

import json
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import click

from hidewright.dates import dated_day, short_day
from hidewright.defaults import CLEAR_COATS, COLOUR_COATS
from hidewright.refusals import Refusal
from hidewright.units import counted

from .files import read_list

IN = click.Path(exists=True, dir_okay=False, path_type=Path)


def _day(text: str, option: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise Refusal(f"“{text}” is no day.", where=option, remedy="Write it like 2026-03-02.") from error


def _next_monday() -> date:
    today = date.today()
    return today + timedelta(days=-today.weekday() % 7)


@click.command(short_help="Plan what goes on which table on which day.")
@click.argument("pieces", type=IN)
@click.option("--tables", required=True, type=IN, help="CSV: key, name, length, depth, not_for.")
@click.option("--hours", required=True, type=IN, help="CSV: person, weekday, hours.")
@click.option("--people", required=True, type=IN, help="CSV: key, name, off, skills.")
@click.option("--start", default="", help="First day, like 2026-03-02; the coming Monday when left out.")
@click.option("--promised", default="", help="The day by which it must be done.")
@click.option(
    "--unit", default="mm", show_default=True, help="Unit of bare numbers in the pieces' dimensions."
)
@click.option("--guns", default=1, show_default=True, type=click.IntRange(1, 20), help="Spray guns.")
@click.option(
    "--rack",
    default=None,
    type=click.IntRange(0, 10_000),
    help="Pieces that can stand off the tables between two sides; where it is not said, all of them.",
)
@click.option(
    "--coats",
    default=COLOUR_COATS,
    show_default=True,
    type=click.IntRange(0, 12),
    help="Sprayed coats of colour.",
)
@click.option(
    "--clear-coats", default=CLEAR_COATS, show_default=True, type=click.IntRange(0, 8), help="Coats of clear."
)
@click.option(
    "--pot-life", default="8 h", show_default=True, help="How long crosslinked colour and clear last."
)
@click.option(
    "--damp",
    default=1.0,
    show_default=True,
    type=click.FloatRange(0.1, 10),
    help="Drying takes so many times as long.",
)
@click.option("--fan-off", is_flag=True, help="Nothing may give off vapour after the last person has left.")
@click.option(
    "--fan-nights",
    default="",
    help="The fan goes off on these evenings only, like fri,sat,sun, and stays off until somebody comes.",
)
@click.option(
    "--seconds",
    default=20.0,
    show_default=True,
    type=click.FloatRange(0.0, 3600.0),
    help="How long to think.",
)
@click.option("--seed", default=0, show_default=True, help="Another seed may find another plan.")
@click.option(
    "--workers",
    default=1,
    show_default=True,
    type=click.IntRange(1, 64),
    help="Threads of the solver; with one, a run can be repeated.",
)
@click.option("--what-if", "what_if", is_flag=True, help="Also plan with a helper, a table, a Saturday more.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON; `hidewright paper day-sheet` takes it.")
@click.pass_context
def command(
    ctx: click.Context,
    pieces: Path,
    tables: Path,
    hours: Path,
    people: Path,
    start: str,
    promised: str,
    unit: str,
    guns: int,
    rack: int | None,
    coats: int,
    clear_coats: int,
    pot_life: str,
    damp: float,
    fan_off: bool,
    fan_nights: str,
    seconds: float,
    seed: int,
    workers: int,
    what_if: bool,
    as_json: bool,
) -> None:
    """Plan the work on PIECES (a CSV file of pieces): who does what, when, and on which table.

    Ends with 0 when the plan is in time (or nothing is promised), 1 when it is late, 2 when the input must be put right or no plan can do it.
    """
    from hidewright.planning.problem.calendar import Calendar
    from hidewright.planning.problem.csv_in import read_hours, read_nights, read_people, read_tables
    from hidewright.planning.problem.lists_in import HOURS, PEOPLE, TABLES, people_of, weeks_of
    from hidewright.planning.problem.routes import Drying
    from hidewright.planning.problem.work import Coats, work_pieces
    from hidewright.planning.solve.build import build_problem
    from hidewright.planning.solve.planner import Outcome
    from hidewright.survey.csv_in import read_pieces
    from hidewright.survey.pieces_in import PIECES
    from hidewright.units import read_duration

    weeks = read_list(hours, HOURS, read_hours, lambda draft: weeks_of(draft.values))
    life = round(read_duration(pot_life, "min") / 60)
    problem = build_problem(
        work_pieces(
            read_list(pieces, PIECES, lambda text: read_pieces(text, unit), lambda draft: draft.values),
            coats=Coats(coats, clear_coats),
        ),
        read_list(
            people,
            PEOPLE,
            lambda text: read_people(text, weeks),
            lambda draft: people_of(draft.values, weeks),
        ),
        read_list(tables, TABLES, read_tables, lambda draft: draft.values),
        Calendar(_day(start, "--start") if start else _next_monday()),
        guns=guns,
        drying=Drying(factor=damp),
        promised=_day(promised, "--promised") if promised else None,
        pot_life={"colour": life, "clear": life},
        fan_off=read_nights("every" if fan_off else fan_nights),
        rack=rack,
    )
    result = _plan(problem, seconds, seed, workers)
    if result.outcome is Outcome.IMPOSSIBLE:
        assert result.reason is not None
        raise result.reason
    whats = _what_ifs(problem, result) if what_if else ()
    if as_json:
        click.echo(json.dumps(_data(problem, result, whats), ensure_ascii=False, indent=1))
    else:
        _print(problem, result, whats)
    if result.late_days:
        ctx.exit(1)


def _plan(problem: Any, seconds: float, seed: int, workers: int) -> Any:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    from hidewright.planning.solve.planner import plan

    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    stopped = False
    with bar:
        task = bar.add_task("Planning", total=1.0)

        def tell(p: Any) -> None:
            ends = f" Ends {short_day(p.finish)}." if p.finish else ""
            bar.update(task, completed=p.fraction, description=p.words + ends)

        import signal

        def stop(_signal: int, _frame: Any) -> None:
            nonlocal stopped
            stopped = True

        before = signal.signal(signal.SIGINT, stop)
        try:
            return plan(
                problem,
                seconds=seconds,
                seed=seed,
                workers=workers,
                on_progress=tell,
                should_stop=lambda: stopped,
            )
        finally:
            signal.signal(signal.SIGINT, before)


def _what_ifs(problem: Any, result: Any) -> Any:
    from hidewright.planning.change.whatif import what_ifs

    return tuple(what_ifs(problem, result))


def _data(problem: Any, result: Any, whats: Any) -> dict[str, Any]:
    from hidewright.charts.from_planning import shown
    from hidewright.charts.plan_json import plan_to_data as shown_to_data
    from hidewright.planning.plan.schedule import plan_to_data

    return {
        "outcome": str(result.outcome),
        "finish": problem.calendar.moment(result.finish).isoformat(),
        "finish_day": result.finish_day.isoformat(),
        "bound_day": result.bound_day.isoformat(),
        "bound_why": result.bound_why,
        "bottleneck": result.bottleneck,
        "note": result.note,
        "promised": problem.promised.isoformat() if problem.promised else None,
        "late_days": result.late_days,
        "start": problem.calendar.start.isoformat(),
        "seconds": round(result.seconds, 2),
        "hands_minutes": problem.minutes,
        "what_if": [
            {"words": w.words, "finish_day": w.finish_day.isoformat(), "days_saved": w.days_saved}
            for w in whats
        ],
        "rack": problem.rack,
        "odds": _odds_data(problem, result.odds),
        "sessions": [asdict(session) for session in result.sessions],
        "plan": plan_to_data(result.plan),
        "shown": shown_to_data(shown(problem, result.plan, result.bound_day)),
    }


def _odds_data(problem: Any, odds: Any) -> dict[str, Any] | None:
    if odds is None:
        return None
    return {
        "runs": len(odds.days),
        "likely": odds.likely.isoformat(),
        "sure": odds.sure.isoformat(),
        "promise": round(odds.chance(problem.promised), 3) if problem.promised else None,
    }


def _print(problem: Any, result: Any, whats: Any) -> None:
    from rich.console import Console
    from rich.table import Table

    from hidewright.planning.solve.planner import Outcome

    console = Console(highlight=False, width=None if sys.stdout.isatty() else 110)
    ends = problem.calendar.moment(result.finish)
    proven = {
        Outcome.PROVEN: "that is the earliest day there is",
        Outcome.FEASIBLE: f"at the very earliest {short_day(result.bound_day)}; there may be a better plan",
        Outcome.STOPPED: f"stopped by you; at the very earliest {short_day(result.bound_day)}",
    }[result.outcome]
    if result.odds is not None:
        console.print(
            f"[bold]Likely {short_day(result.odds.likely)} ({result.odds.likely_times}), {result.odds.sure_times} {dated_day(result.odds.sure)}[/bold] "
            f"(the days run {len(result.odds.days)} times, as things may go)."
        )
    console.print(f"If all goes as planned it ends {dated_day(ends)}, {ends:%H:%M}: {proven}.")
    if problem.promised:
        late = result.late_days
        told = f"{counted(late, 'day')} late" if late else "in time"
        chance = f", {100 * result.odds.chance(problem.promised):.0f} % sure" if result.odds else ""
        console.print(f"Promised {dated_day(problem.promised)}: {told}{chance}.")
    console.print(result.bottleneck)
    if result.note:
        console.print(result.note)
    console.print(
        f"{counted(len(problem.jobs), 'piece')}, {problem.minutes / 60:.1f} h of hands, {counted(result.runs, 'plan')} tried in {result.seconds:.1f} s; audited."
    )
    table = Table(
        "Day", "Hands", "Pieces", "What is done (pieces)", "On the tables overnight", box=None, pad_edge=False
    )
    for row in _days(problem, result.plan):
        table.add_row(*row)
    console.print(table)
    sessions = Table("Day", "From", "To", "Who", "Session", "Pieces", "Ready", box=None, pad_edge=False)
    for line in _session_rows(problem, result.sessions):
        sessions.add_row(*line)
    if result.sessions:
        console.print(sessions)
    for what in whats:
        console.print(f"{what.words}: ends {short_day(what.finish_day)} ({what.told}).")
    console.print(
        "Moving air, breathing protection and gloves as the products' data sheets and local codes say; they rule."
    )


def _session_rows(problem: Any, sessions: Any) -> Iterator[tuple[str, ...]]:
    """One line a session: the day once, from, to, who, what with which product, how many pieces, minutes of getting ready."""
    names = {person.key: person.name for person in problem.people}
    last = ""
    for session in sessions:
        start, end = problem.calendar.moment(session.start), problem.calendar.moment(session.end)
        day = short_day(start)
        what = session.family
        if session.product and session.product != session.family:
            what += f" ({session.product})"
        who = ", ".join(names.get(person, person) for person in session.people)
        yield (
            "" if day == last else day,
            f"{start:%H:%M}",
            f"{end:%H:%M}",
            who,
            what,
            str(len(session.pieces)),
            f"{session.setup} min" if session.setup else "",
        )
        last = day


def _days(problem: Any, plan: Any) -> list[tuple[str, str, str, str, str]]:
    rows = []
    days = sorted({p.start // 1440 for p in plan.placements})
    for day in days:
        placed = [p for p in plan.placements if p.start // 1440 == day]
        kinds = Counter(dict.fromkeys((p.piece, str(p.kind)) for p in placed).keys())
        count = Counter(kind for _, kind in kinds)
        night = [s for s in plan.stays if s.since < (day + 1) * 1440 <= s.until]
        rows.append(
            (
                short_day(problem.calendar.moment(day * 1440)),
                f"{sum(p.end - p.start for p in placed) / 60:.1f} h",
                str(len({p.piece for p in placed})),
                ", ".join(f"{kind} {n}" for kind, n in count.most_common(4)),
                f"{counted(len(night), 'piece')}, {sum(s.along for s in night):.1f} m" if night else "",
            )
        )
    return rows
