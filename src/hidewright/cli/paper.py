"""`hidewright paper`: papers out of files, without the app."""

import json
from datetime import date
from pathlib import Path
from typing import Any

import click

from hidewright.refusals import Refusal

IN = click.Path(exists=True, dir_okay=False, path_type=Path)
OUT = click.Path(dir_okay=False, writable=True, path_type=Path)


def _read(path: Path) -> dict[str, Any]:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, UnicodeDecodeError) as error:
        raise Refusal(f"This is no JSON: {error}.", where=path.name) from error
    if not isinstance(data, dict):
        raise Refusal("This JSON is not what was written with --json.", where=path.name)
    return data


def _write(pdf: bytes, out: Path) -> None:
    out.write_bytes(pdf)
    click.echo(f"{out}: {len(pdf) / 1024:.0f} kB")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise Refusal(f"“{text}” is no day.", remedy="Write it like 2026-03-02.") from error


@click.group()
def command() -> None:
    """Make a paper as PDF: mixing card, day sheet, table maps."""


@command.command("mixing-card", short_help="The mixing card of a recipe.")
@click.argument("match", type=IN)
@click.option("--rank", default=1, show_default=True, help="Which recipe of the match; 1 is the best.")
@click.option("--batch", default="900 mL", show_default=True, help="How much to mix, like 900 mL or 1 qt.")
@click.option("--vessel", default="", help="What it is mixed in.")
@click.option("--job", default="", help="The job's name.")
@click.option("--made-on", default="", help="The day on the paper; today when left out.")
@click.option("-o", "--out", default="mixing-card.pdf", show_default=True, type=OUT)
def mixing_card(match: Path, rank: int, batch: str, vessel: str, job: str, made_on: str, out: Path) -> None:
    """The mixing card of a recipe from MATCH, the file that `hidewright match --json` wrote."""
    from hidewright.papers.from_recipe import mixing_card_from_match
    from hidewright.papers.mixing_card import mixing_card_pdf
    from hidewright.units import read_volume

    card = mixing_card_from_match(
        _read(match),
        rank=rank,
        job=job or match.stem,
        vessel=vessel or f"a vessel of at least {batch}",
        batch_ml=read_volume(batch),
        made_on=_day(made_on) if made_on else date.today(),
    )
    _write(mixing_card_pdf(card), out)


@command.command("day-sheet", short_help="Who does what on one day, with the tables.")
@click.argument("plan", type=IN)
@click.option(
    "--day", default="1", show_default=True, help="A day like 2026-03-02, or 3 for the third working day."
)
@click.option("--job", default="", help="The job's name.")
@click.option("--feet", is_flag=True, help="Measure the tables in feet.")
@click.option("--made-on", default="", help="The day on the paper; today when left out.")
@click.option("-o", "--out", default="day-sheet.pdf", show_default=True, type=OUT)
def day_sheet(plan: Path, day: str, job: str, feet: bool, made_on: str, out: Path) -> None:
    """The day sheet of one day of PLAN, the file that `hidewright plan --json` wrote."""
    from hidewright.papers.day_sheet import day_sheet_pdf
    from hidewright.papers.from_plan import day_sheet_of

    shown = _plan(plan)
    if day.isdigit():
        if not 1 <= int(day) <= len(shown.days):
            raise Refusal(
                f"The plan has no day {day}.", where="--day", remedy=f"Choose 1 to {len(shown.days)}."
            )
        chosen = shown.days[int(day) - 1]
    else:
        chosen = _day(day)
    made = _day(made_on) if made_on else date.today()
    sheet = day_sheet_of(shown, chosen, job=job or plan.stem, made_on=made, unit="ft" if feet else "m")
    _write(day_sheet_pdf(sheet), out)


@command.command("table-maps", short_help="The tables of every day, for the wall.")
@click.argument("plan", type=IN)
@click.option("--job", default="", help="The job's name.")
@click.option("--feet", is_flag=True, help="Measure the tables in feet.")
@click.option("--made-on", default="", help="The day on the paper; today when left out.")
@click.option("-o", "--out", default="table-maps.pdf", show_default=True, type=OUT)
def table_maps(plan: Path, job: str, feet: bool, made_on: str, out: Path) -> None:
    """The tables of every day of PLAN, to hang on the wall."""
    from hidewright.papers.from_plan import table_maps_of
    from hidewright.papers.table_maps import table_maps_pdf

    made = _day(made_on) if made_on else date.today()
    maps = table_maps_of(_plan(plan), job=job or plan.stem, made_on=made, unit="ft" if feet else "m")
    _write(table_maps_pdf(maps), out)


def _plan(path: Path) -> Any:
    from hidewright.charts.plan_json import plan_from_data

    data = _read(path)
    return plan_from_data(data.get("shown", data))
