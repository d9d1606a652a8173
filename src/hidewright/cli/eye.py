"""`hidewright eye`: what to do with a cup by what an eye says of it, on a file of looks, without the app and without an instrument."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from hidewright.colour.light.far import off_with_figure
from hidewright.refusals import Refusal
from hidewright.sheets import Row, read_each, read_sheet

from .files import IN, read_file
from .match import Watch, load_window
from .shelf import shelf_of

if TYPE_CHECKING:
    from hidewright.colour.cups.advice import Advice
    from hidewright.colour.cups.estimate import Estimate
    from hidewright.colour.cups.things import Difference, Job, Side, Swatch
    from hidewright.colour.cups.words import Words
    from hidewright.colour.learning.cup import Cup, Pour

COLUMNS = ("pours", "said")
MORE = ("cup", "against", "state", "dl", "da", "db", "sd")
SAME = ("", "the same", "same")
PHOTO_SD = 0.6
"""sd of ΔLab along each axis where a photo's difference comes without one."""


@dataclass(frozen=True, slots=True, eq=False)
class LookRow:
    """One row: a cup's name and its `pours` then, what it was held `against` (empty: the piece), wet or dry, and what was seen."""

    cup: str
    pours: "tuple[Pour, ...]"
    against: str
    wet: bool
    seen: "Words | Difference"


def read_looks(text: str, known: Sequence[str]) -> list[LookRow]:
    """Looks from a CSV: columns `pours` (grams in order) and `said` (“clearly redder, a touch lighter”, or nothing for the same); also `cup`, `against`, `state`, and dl, da, db of a photo."""
    from hidewright.colour.learning.cups_csv import read_pours

    sheet = read_sheet(text, columns=", ".join(COLUMNS))
    sheet.expect(COLUMNS, MORE)

    def one(row: Row) -> LookRow:
        state = row.get("state").strip().lower() or "dry"
        if state not in ("wet", "dry"):
            raise Refusal(f"“{state[:20]}” is neither wet nor dry.", where="state")
        return LookRow(
            row.get("cup").strip() or "cup",
            read_pours(row.get("pours"), "pours", known),
            row.get("against").strip(),
            state == "wet",
            _seen(row),
        )

    return read_each(sheet.rows, one)


def _seen(row: Row) -> "Words | Difference":
    from hidewright.colour.cups.things import Difference
    from hidewright.colour.cups.words import Words

    if any(row.get(axis) for axis in ("dl", "da", "db")):
        delta = np.array([_number(row, axis) for axis in ("dl", "da", "db")])
        sd = _number(row, "sd") if row.get("sd") else PHOTO_SD
        return Difference(delta, np.eye(3) * sd**2)
    said = row.get("said").strip().lower()
    return Words() if said in SAME else Words(tuple(_word(part) for part in said.split(",")))


def _word(text: str) -> Any:
    from hidewright.colour.cups.words import AXES, STRENGTHS, Word

    strength, _, word = text.strip().rpartition(" ")
    if word not in AXES or (strength and strength not in STRENGTHS):
        raise Refusal(
            f"“{text.strip()[:40]}” is not known.",
            where="said",
            remedy=f"Write a strength ({', '.join(STRENGTHS)}) and a word ({', '.join(AXES)}).",
        )
    return Word(word, strength or "a touch")


def _number(row: Row, column: str) -> float:
    try:
        value = float(row.get(column).replace(",", "."))
    except ValueError:
        value = float("nan")
    if not -150.0 <= value <= 150.0:
        raise Refusal(f"“{row.get(column)[:20]}” is no difference.", where=column, remedy="Such as -1.4.")
    return value


def aimed(text: str) -> "Swatch":
    """The target from a family word such as “tan”, or from “L* a* b*” that somebody guessed."""
    from hidewright.colour.cups.own import FAMILIES, family
    from hidewright.colour.cups.things import Swatch

    if text in FAMILIES:
        return family(text)
    try:
        values = [float(part) for part in text.split()]
    except ValueError:
        values = []
    if len(values) != 3:
        raise Refusal(
            f"“{text[:40]}” is no colour.",
            where="--target",
            remedy=f"Write L* a* b*, or one of {', '.join(FAMILIES)}.",
        )
    return Swatch.of(values, "swatch")


def job_from(rows: Sequence[LookRow], target: "Swatch") -> "Job":
    """The looks as a job of the engine; rows of one cup must each begin the later ones. Another cup counts as in its latest row so far, or else its first."""
    from hidewright.colour.cups.things import PIECE, Comparison, CupAt, Job, Swatch, SwatchAt
    from hidewright.colour.learning.cup import Cup

    cups: dict[str, tuple[Pour, ...]] = {}
    for number, row in enumerate(rows, 1):
        before = cups.get(row.cup, ())
        if row.pours[: len(before)] != before:
            raise Refusal(
                f"{row.cup} does not hold what it held in an earlier row.",
                where=f"look {number}, pours",
                remedy="Write what was poured before again, and what came after it; or name another cup.",
            )
        cups[row.cup] = row.pours
    swatches = {PIECE: target}
    looks: list[Comparison] = []
    then = {row.cup: len(row.pours) for row in reversed(rows)}
    for row in rows:
        then[row.cup] = len(row.pours)
        other: Side = SwatchAt(PIECE)
        if row.against in then:
            other = CupAt(row.against, then[row.against])
        elif row.against and row.against != PIECE:
            swatches.setdefault(row.against, Swatch.of(target.lab, "guess", 25.0))
            other = SwatchAt(row.against)
        looks.append(Comparison(CupAt(row.cup, len(row.pours)), other, row.seen, row.wet))
    return Job(swatches, tuple(Cup(name, pours) for name, pours in cups.items()), tuple(looks))


def _told(now: "Estimate", cup: "Cup", advice: "Advice") -> dict[str, Any]:
    labs, _ = now.slopes_of(cup, now.amounts(cup)[0][None])
    times, sd = now.eye
    return {
        "act": advice.act,
        "words": advice.words,
        "cup": cup.name,
        "off": round(advice.now, 3),
        "within": round(advice.within, 3),
        "looks": len(now.job.comparisons),
        "cup_lab": [round(float(v), 2) for v in labs[0]],
        "target_lab": [round(float(v), 2) for v in now.target],
        "target_may_be_off": round(now.target_spread, 3),
        "eye_times": round(times, 3),
        "eye_sd": round(sd, 3),
        "ways": [
            {
                "add_g": dict(way.grams),
                "expected": round(way.expected, 3),
                "growth": round(way.growth, 4),
                "load": round(way.load, 4),
            }
            for way in (advice.pours if advice.act == "pour" else ())[:3]
        ],
        "afresh_g": dict(advice.fresh.grams) if advice.act == "afresh" and advice.fresh else {},
    }


def _show(told: dict[str, Any], names: dict[str, str]) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False)
    console.print(
        f"As far as {told['looks']} look{'s' * (told['looks'] != 1)} show, {told['cup']} is off by {off_with_figure(told['within'])}; "
        f"the target is known to within {off_with_figure(told['target_may_be_off'])}."
    )
    if told["words"]:
        console.print(told["words"])
    amounts = told["ways"][0]["add_g"] if told["ways"] else told["afresh_g"]
    if not amounts:
        return
    table = Table(title="Pour now" if told["ways"] else "A fresh cup", title_justify="left")
    table.add_column("In this order")
    table.add_column("g", justify="right")
    for key, grams in amounts.items():
        table.add_row(names.get(key, key), f"{grams:.2f}")
    console.print(table)
    if told["ways"]:
        way = told["ways"][0]
        console.print(
            f"Then off by {off_with_figure(way['expected'])}; it grows by {way['growth']:.1%}; {way['load']:.1%} pigment then. "
            "Stir, and look again."
        )


@click.command()
@click.argument("looks", type=IN)
@click.option("--target", required=True, help="A family word such as tan, or L* a* b* that you guess.")
@click.option("--cup", "at_hand", default="", help="The cup at hand; without it that of the last look.")
@click.option("--drawdowns", type=IN, help="CSV of drawdowns; the shipped generic set when left out.")
@click.option("--shelf", type=IN, help="CSV of the dispersions.")
@click.option(
    "--pigments", "library", type=IN, help="What characterise or learn wrote, instead of drawdowns."
)
@click.option("--vessel", type=float, help="mL that the vessel holds.")
@click.option("--load", default="16-20", show_default=True, help="Pigment in the mix, percent by volume.")
@click.option("--step", default=0.05, show_default=True, help="What can be dropped or weighed, g.")
@click.option("--without", multiple=True, help="A pigment that must not be added.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
def command(
    looks: Path,
    target: str,
    at_hand: str,
    drawdowns: Path | None,
    shelf: Path | None,
    library: Path | None,
    vessel: float | None,
    load: str,
    step: float,
    without: tuple[str, ...],
    as_json: bool,
) -> None:
    """What to do now with a cup, by what an eye said of it in LOOKS, a CSV with the columns pours and said: pour, look again, look dry, begin afresh, or leave it.

    Ends with code 1 while it is not done.
    """
    from hidewright.api.cups import stock_before
    from hidewright.colour.cups.advice import advise
    from hidewright.colour.cups.estimate import estimate
    from hidewright.colour.cups.memory import Memory
    from hidewright.colour.cups.pours import ANY_VESSEL, Table
    from hidewright.colour.learning.learn import Knowledge

    aim, window = aimed(target.strip().lower()), load_window(load)
    with Watch() as watch:
        there = shelf_of(drawdowns, shelf, watch.part(0.0, 0.9), library)
        rows = read_file(looks, lambda text: read_looks(text, there.keys))
        job = job_from(rows, aim)
        known = there.learned or Knowledge.fresh(stock_before((), there))
        table = Table(
            step_g=step,
            load=window,
            must_not_use=frozenset(without) | (set(there.keys) - {p.key for p in there.pigments}),
            vessel_ml=ANY_VESSEL if vessel is None else vessel,
        )
        now = estimate(job, Memory.of(known))
        cup = job.cup(at_hand or rows[-1].cup)
        told = _told(now, cup, advise(now, cup, table))
    if as_json:
        click.echo(json.dumps(told, indent=1, ensure_ascii=False))
    else:
        base = known.stock.base
        _show(told, {p.key: p.name for p in there.pigments} | {base.key: base.name})
    if told["act"] != "done":
        raise click.exceptions.Exit(1)
