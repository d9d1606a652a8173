"""`hidewright adjust`: what to add to a cup that is a little off, on files, without the app."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from hidewright.colour.light.far import off_with_figure
from hidewright.refusals import Refusal

from .files import IN, read_readings
from .match import Watch, guess_words, load_window
from .shelf import shelf_of

if TYPE_CHECKING:
    from hidewright.colour.cups.adjust import AdjustProblem, Advice


def _told(advice: "Advice", problem: "AdjustProblem", near: float | None) -> dict[str, Any]:
    from hidewright.colour.light.cie import lab

    return {
        "now": round(advice.now, 3),
        "stop": advice.stop,
        "words": advice.words,
        "guessed": list(advice.guessed),
        "taken_for_within": None if near is None else round(near, 3),
        "millilitres": round(problem.contents.total, 2),
        "ways": [
            {
                "why": way.why,
                "add_g": dict(way.grams),
                "after_each_pouring": [round(v, 3) for v in way.path],
                "delta_e": round(way.delta_e, 3),
                "may_be_off": round(way.spread, 3),
                "growth": round(way.growth, 4),
                "load": round(way.load, 4),
                "a_step_too_many": round(way.drop, 3),
                "lab": [round(float(v), 2) for v in lab(way.reflectance, problem.light)],
            }
            for way in advice.additions
        ],
    }


def _show(told: dict[str, Any], names: dict[str, str]) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False)
    if told["taken_for_within"] is not None:
        console.print(
            f"Its contents are not known: it is taken for a mix that differs from its reading by {off_with_figure(told['taken_for_within'], 2)}. "
            "Pour in small steps, and read after each."
        )
    console.print(f"The cup is off the target by {off_with_figure(told['now'], 2)}.")
    if told["guessed"]:
        console.print(guess_words(tuple(told["guessed"])))
    if told["stop"]:
        console.print(told["words"])
    for way in told["ways"]:
        table = Table(title=way["why"].capitalize(), title_justify="left")
        for head in ("Add, in this order", "g", "ΔE00 then"):
            table.add_column(head, justify="left" if head.startswith("Add") else "right")
        for (key, grams), then in zip(way["add_g"].items(), way["after_each_pouring"], strict=True):
            table.add_row(names.get(key, key), f"{grams:.2f}", f"{then:.2f}")
        console.print(table)
        off = f", may be off by {way['may_be_off']:.1f}" if way["may_be_off"] else ""
        console.print(
            f"Ends off by {off_with_figure(way['delta_e'], 2)}{off}; grows by {way['growth']:.1%}; {way['load']:.1%} pigment then; "
            f"one step too many moves it by up to {way['a_step_too_many']:.2f}."
        )


@click.command()
@click.argument("readings", type=IN)
@click.option(
    "--cup",
    default="",
    help="What is in it, in grams, like “PW6=58 PBk7=1.2 base=420”; without it the cup is unknown.",
)
@click.option("--volume", type=float, help="mL in a cup of unknown content.")
@click.option("--read", "read_name", default="", help="Name of the cup's own reading; the one marked cup.")
@click.option("--target", default="", help="Name of the target reading; the one marked target, or the first.")
@click.option("--drawdowns", type=IN, help="CSV of drawdowns; the shipped generic set when left out.")
@click.option("--shelf", type=IN, help="CSV of the dispersions.")
@click.option(
    "--pigments", "library", type=IN, help="What characterise or learn wrote, instead of drawdowns."
)
@click.option("--light", default="D65", show_default=True, help="The light it is judged under.")
@click.option("--vessel", type=float, help="mL that the vessel holds.")
@click.option("--load", default="16-20", show_default=True, help="Pigment in the mix, percent by volume.")
@click.option("--step", default=0.05, show_default=True, help="What can be dropped or weighed, g.")
@click.option("--tolerance", default=1.0, show_default=True, help="ΔE00 that is near enough.")
@click.option("--without", multiple=True, help="A pigment that must not be added.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
def command(
    readings: Path,
    cup: str,
    volume: float | None,
    read_name: str,
    target: str,
    drawdowns: Path | None,
    shelf: Path | None,
    library: Path | None,
    light: str,
    vessel: float | None,
    load: str,
    step: float,
    tolerance: float,
    without: tuple[str, ...],
    as_json: bool,
) -> None:
    """What to add to a cup so that it comes to the target among READINGS: two or three ways, or "stop here".

    Ends with code 1 when the cup is too far off and no addition brings it within the tolerance.
    """
    from hidewright.api.cups import known_cup, unknown_cup
    from hidewright.api.readings import chosen_reading
    from hidewright.colour.cups.adjust import adjust
    from hidewright.colour.learning.cups_csv import read_pours
    from hidewright.colour.light.cie import weights

    taken = read_readings(readings)
    wanted = chosen_reading(taken, target, "target")
    read = chosen_reading(taken, read_name, "cup")
    assert wanted is not None
    if not cup and (read is None or volume is None):
        raise Refusal(
            "A cup of unknown content needs its reading and its volume.",
            where="--cup",
            remedy="Write what is in it with --cup, or give --read and --volume.",
        )
    weights(light)
    window = load_window(load)
    with Watch() as watch:
        there = shelf_of(drawdowns, shelf, watch.part(0.0, 0.9), library)
        facts: dict[str, Any] = {
            "target": wanted.reflectance,
            "light": light,
            "load": window,
            "step_g": step,
            "tolerance": tolerance,
            "guessed": wanted.guessed((light,)),
            "must_not_use": frozenset(without) | (set(there.keys) - {p.key for p in there.pigments}),
            **({"vessel_ml": vessel} if vessel is not None else {}),
        }
        near = None
        if cup:
            pours = read_pours(cup, "--cup", there.keys)
            problem = known_cup(pours, there, read, facts)
        else:
            assert read is not None
            assert volume is not None
            problem, near = unknown_cup(volume, there, read, facts)
        advice = adjust(problem)
    told = _told(advice, problem, near)
    if as_json:
        click.echo(json.dumps(told, indent=1, ensure_ascii=False))
    else:
        _show(told, {p.key: p.name for p in there.pigments} | {problem.base.key: problem.base.name})
    best = min([advice.now, *(way.delta_e for way in advice.additions)])
    if best > tolerance:
        raise click.exceptions.Exit(1)
