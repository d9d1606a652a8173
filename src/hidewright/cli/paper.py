"""`hidewright paper`: papers out of files, without the app."""

import json
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from hidewright.papers.paper_size import PAPER
from hidewright.refusals import Refusal
from hidewright.sheets import file_text

from .files import IN, OUT, read_bytes

if TYPE_CHECKING:
    from hidewright.charts.plan import PlanShown
    from hidewright.charts.racks import Rack

LETTER = click.option("--letter", is_flag=True, help="On US Letter instead of A4.")
ODD = (KeyError, TypeError, ValueError, AttributeError, IndexError, ArithmeticError)
"""What a JSON of another make raises while it is read: a value that is missing, of another kind, or too large."""


def _made(path: Path, make: Callable[[dict[str, Any]], bytes]) -> bytes:
    """What `make` makes of a JSON file that a command wrote; anything else in it is refused, and named."""
    try:
        data = json.loads(file_text(read_bytes(path)))
        if not isinstance(data, dict):
            raise Refusal("This JSON is not what was written with --json.", where=path.name)
        return make(data)
    except Refusal:
        raise
    except (json.JSONDecodeError, RecursionError) as error:
        raise Refusal(f"This is no JSON: {error}.", where=path.name) from error
    except ODD as error:
        what = f"This is not what was written with --json: {type(error).__name__}, {error}."
        raise Refusal(what, where=path.name, remedy="Write it again, and change nothing in it.") from error


def _write(pdf: bytes, out: Path) -> None:
    out.write_bytes(pdf)
    click.echo(f"{out}: {len(pdf) / 1024:.0f} kB")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise Refusal(f"“{text}” is no day.", remedy="Write it like 2026-03-02.") from error


def _paper(letter: bool) -> str:
    return "us-letter" if letter else PAPER


@click.group()
def command() -> None:
    """Make a paper as PDF: mixing card, day sheet, table maps."""


@command.command("mixing-card", short_help="The mixing card of a recipe.")
@click.argument("match", type=IN)
@click.option("--rank", default=1, show_default=True, help="Which recipe of the match; 1 is the best.")
@click.option("--batch", default="900 mL", show_default=True, help="How much to mix, like 900 mL or 1 qt.")
@click.option("--vessel", default="", help="What it is mixed in.")
@click.option("--job", default="", help="The job's name.")
@click.option("--balance", type=float, help="Last digit of the balance, g; the match's own when left out.")
@click.option("--made-on", default="", help="The day on the paper; today when left out.")
@LETTER
@click.option("-o", "--out", default="mixing-card.pdf", show_default=True, type=OUT)
def mixing_card(
    match: Path,
    rank: int,
    batch: str,
    vessel: str,
    job: str,
    balance: float | None,
    made_on: str,
    letter: bool,
    out: Path,
) -> None:
    """The mixing card of a recipe from MATCH, the file that `hidewright match --json` wrote."""
    from hidewright.papers.from_recipe import mixing_card_from_match
    from hidewright.papers.mixing_card import mixing_card_pdf
    from hidewright.units import read_volume

    facts: dict[str, Any] = {
        "rank": rank,
        "job": job or match.stem,
        "vessel": vessel or f"a vessel of at least {batch}",
        "batch_ml": read_volume(batch),
        "step_g": balance,
        "made_on": _day(made_on) if made_on else date.today(),
    }
    _write(
        _made(match, lambda data: mixing_card_pdf(mixing_card_from_match(data, **facts), _paper(letter))), out
    )


@command.command("day-sheet", short_help="Who does what on one day, with the tables.")
@click.argument("plan", type=IN)
@click.option(
    "--day", default="1", show_default=True, help="A day like 2026-03-02, or 3 for the third working day."
)
@click.option("--job", default="", help="The job's name.")
@click.option("--feet", is_flag=True, help="Measure the tables in feet.")
@click.option("--made-on", default="", help="The day on the paper; today when left out.")
@LETTER
@click.option("-o", "--out", default="day-sheet.pdf", show_default=True, type=OUT)
def day_sheet(plan: Path, day: str, job: str, feet: bool, made_on: str, letter: bool, out: Path) -> None:
    """The day sheet of one day of PLAN, the file that `hidewright plan --json` wrote."""
    from hidewright.papers.day_sheet import day_sheet_pdf
    from hidewright.papers.from_plan import day_sheet_of

    made = _day(made_on) if made_on else date.today()

    def make(data: dict[str, Any]) -> bytes:
        shown = _plan(data)
        chosen = _chosen(shown.days, day)
        unit: Literal["m", "ft"] = "ft" if feet else "m"
        sheet = day_sheet_of(shown, chosen, job=job or plan.stem, made_on=made, unit=unit)
        return day_sheet_pdf(sheet, _paper(letter))

    _write(_made(plan, make), out)


def _chosen(days: Sequence[date], asked: str) -> date:
    """The day asked for: a date, or a number among the working days."""
    if not asked.isdecimal():
        return _day(asked)
    if not 1 <= int(asked) <= len(days):
        raise Refusal(f"The plan has no day {asked}.", where="--day", remedy=f"Choose 1 to {len(days)}.")
    return days[int(asked) - 1]


@command.command("table-maps", short_help="The tables of every day, for the wall.")
@click.argument("plan", type=IN)
@click.option("--job", default="", help="The job's name.")
@click.option("--feet", is_flag=True, help="Measure the tables in feet.")
@click.option("--made-on", default="", help="The day on the paper; today when left out.")
@LETTER
@click.option("-o", "--out", default="table-maps.pdf", show_default=True, type=OUT)
def table_maps(plan: Path, job: str, feet: bool, made_on: str, letter: bool, out: Path) -> None:
    """The tables of every day of PLAN, to hang on the wall."""
    from hidewright.papers.from_plan import table_maps_of
    from hidewright.papers.table_maps import table_maps_pdf

    made = _day(made_on) if made_on else date.today()
    unit: Literal["m", "ft"] = "ft" if feet else "m"

    def make(data: dict[str, Any]) -> bytes:
        name = job or plan.stem
        return table_maps_pdf(
            table_maps_of(_plan(data), job=name, made_on=made, unit=unit, racks=_racks(data)), _paper(letter)
        )

    _write(_made(plan, make), out)


def _racks(data: dict[str, Any]) -> "tuple[Rack, ...]":
    """The places off the tables that the plan was told of, as one rack; none where it was told of none."""
    from hidewright.charts.racks import Rack

    places = data.get("rack")
    return (Rack("Rack", int(places)),) if places else ()


def _plan(data: dict[str, Any]) -> "PlanShown":
    from hidewright.charts.plan_json import plan_from_data

    return plan_from_data(data.get("shown", data))
