"""`hidewright learn`: what cups that were read tell of each lot, as a library for the other commands."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from hidewright.colour.light.far import off_with_figure
from hidewright.refusals import Refusal
from hidewright.units import counted

from .characterise import writer_for
from .files import IN, OUT, deliver, read_file
from .match import Watch
from .shelf import shelf_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from hidewright.colour.learning.cup import Cup
    from hidewright.colour.learning.learn import Knowledge
    from hidewright.colour.learning.lots import Stock

ENOUGH_CUPS = 8
"""Cups that must have been read before they are asked how far bottles stray (convention of this tool)."""


def _strayed(stock: "Stock", cups: "Sequence[Cup]", asked: str) -> "Stock":
    """The stock with the prior that was asked for, or that enough cups speak for."""
    from dataclasses import replace

    from hidewright.colour.learning.lots import ROUGH, USUAL
    from hidewright.colour.learning.stray import fitted_prior

    if asked == "auto":
        return replace(stock, prior=fitted_prior(stock, cups) if len(cups) >= ENOUGH_CUPS else USUAL)
    return replace(stock, prior={"usual": USUAL, "rough": ROUGH}[asked])


def foretold(stock: "Stock", cups: "Sequence[Cup]", stop: "Callable[[], bool]") -> list[tuple[float, float]]:
    """For each cup's first reading that counts, ΔE00 from what its drawdowns alone foretold, and from what the cups before it had taught."""
    from hidewright.colour.learning.cup import Cup
    from hidewright.colour.learning.learn import Knowledge
    from hidewright.colour.light.cie import delta_e00, lab

    fresh = known = Knowledge.fresh(stock)
    found = []
    for cup in cups:
        if stop():
            raise KeyboardInterrupt
        sight = next((s for s in cup.sights if not s.struck), None)
        if sight is not None:
            pours = cup.pours[: sight.after]
            seen = sight.values if sight.is_colour else lab(sight.values, sight.light)
            told = [k.open(Cup(cup.name, pours)).forecast() for k in (fresh, known)]
            off = [float(delta_e00(lab(t.reflectance, sight.light, sight.observer), seen)) for t in told]
            found.append((off[0], off[1]))
        known = known.after(cup)
    return found


def _lots(known: "Knowledge", stock: "Stock", cups: "Sequence[Cup]") -> list[dict[str, Any]]:
    from hidewright.colour.learning.learn import Knowledge

    fresh = Knowledge.fresh(stock)
    read = {
        lot.key: sum(
            not s.struck and any(p.lot == lot.key for p in cup.pours[: s.after])
            for cup in cups
            for s in cup.sights
        )
        for lot in stock.lots
    }
    told = []
    for lot in stock.lots:
        strength, sd = known.strength(lot.key)
        told.append(
            {
                "lot": lot.key,
                "name": lot.pigment.name,
                "prior_sd": round(fresh.strength(lot.key)[1], 4),
                "strength": round(strength, 4),
                "sd": round(sd, 4),
                "readings": read[lot.key],
            }
        )
    return told


def _odd(known: "Knowledge") -> list[dict[str, Any]]:
    return [
        {"cup": o.cup, "reading": o.sight + 1, "times": round(o.times, 1), "set_aside": o.aside}
        for o in known.odd
    ]


def _show(told: Mapping[str, Any]) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False)
    console.print(
        f"{counted(told['cups'], 'cup')}, {counted(told['readings'], 'reading')} taken in; {told['struck']} struck out. "
        f"Bottles are taken to stray {told['stray_words']}."
    )
    table = Table(title="Strength against the drawdowns", title_justify="left")
    for head in ("Lot", "before", "now", "Readings"):
        table.add_column(head, justify="left" if head == "Lot" else "right")
    for one in told["lots"]:
        table.add_row(
            f"{one['name']} ({one['lot']})",
            f"100% ± {one['prior_sd']:.0%}",
            f"{one['strength']:.1%} ± {one['sd']:.1%}",
            str(one["readings"]),
        )
    console.print(table)
    for one in told["odd"]:
        what = "was set aside" if one["set_aside"] else "counted less"
        console.print(
            f"{one['cup']}, reading {one['reading']}: misses its forecast {one['times']:.0f} times as far as expected "
            f"(squared), and {what}. Read it again, or strike it out with yes in the column struck."
        )
    if told["foretold"]:
        ahead = told["foretold"]
        console.print(
            f"Before they were read, the drawdowns alone forecast the cups to within {off_with_figure(ahead['drawdowns'], 2)} on average; "
            f"with what earlier cups had taught, to {ahead['learned']:.2f}; the later half to {ahead['later_half']:.2f}."
        )
    if told["milk"]["pairs"]:
        console.print(
            f"{told['milk']['pairs']} pairs of wet and dry: the base's milk scatters {told['milk']['amplitude']:.4f} "
            f"a µm at 550 nm, with the power {told['milk']['power']:.1f}."
        )


@click.command()
@click.argument("cups", type=IN)
@click.option(
    "--pigments",
    "library",
    type=IN,
    help="What characterise wrote (or learn: then its drawdowns count, and all cups again).",
)
@click.option("--drawdowns", type=IN, help="CSV of drawdowns; the shipped generic set when left out.")
@click.option("--shelf", type=IN, help="CSV of the dispersions.")
@click.option(
    "--stray",
    type=click.Choice(["auto", "usual", "rough"]),
    default="auto",
    show_default=True,
    help="How far bottles stray; auto asks the cups.",
)
@click.option(
    "--out",
    type=OUT,
    help="Write the learned pigments, .json (or .csv: without the spread of what was learned).",
)
@click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
def command(
    cups: Path, library: Path | None, drawdowns: Path | None, shelf: Path | None, stray: str, out: Path | None,
    as_json: bool,
) -> None:  # fmt: skip
    """Learn from CUPS: a CSV with name, pours (grams, like “PW6=58 PBk7#B7=1.2 base=420”; B7 is the lot), and the bands or l, a, b.

    Columns that may be there: state (wet or dry), struck (yes: left out), sd. Keep every cup in the file: it is the memory. Ends with
    code 1 when a reading is so far off that it was set aside. Ctrl-C stops.
    """
    from hidewright.api.cups import stock_before
    from hidewright.colour.learning.cup_rows import cups_of, milk_of
    from hidewright.colour.learning.cups_csv import read_cups
    from hidewright.colour.learning.learn import learn
    from hidewright.colour.learning.library import Library
    from hidewright.colour.learning.stray import stray_words

    write = writer_for(out)
    with Watch() as watch:
        there = shelf_of(drawdowns, shelf, watch.part(0.0, 0.3), library)
        rows = read_file(cups, lambda text: read_cups(text, [p.key for p in there.drawn]))
        stock = stock_before(rows, there)
        milk = milk_of(rows, stock)
        found = cups_of(rows, stock, milk)
        if not any(not s.struck for cup in found for s in cup.sights):
            raise Refusal(
                "No reading counts.", where=cups.name, remedy="Bring a dry reading that is not struck out."
            )
        stock = _strayed(stock, found, stray)
        ahead = foretold(stock, found, lambda: watch.asked)
        say = watch.part(0.5, 1.0)

        def go_on(fraction: float, text: str) -> None:
            say(fraction, text)
            if watch.asked:
                raise KeyboardInterrupt

        known = learn(stock, found, go_on)
        milk = milk_of(rows, stock, known)
    told: dict[str, Any] = {
        "cups": len(found),
        "readings": known.readings,
        "struck": sum(row.struck for row in rows),
        "stray": {name: round(getattr(stock.prior, name), 4) for name in ("strength", "shape")},
        "stray_words": stray_words(stock.prior),
        "lots": _lots(known, stock, found),
        "odd": _odd(known),
        "foretold": _ahead(ahead),
        "milk": {"pairs": milk.pairs, "amplitude": round(milk.amplitude, 5), "power": round(milk.power, 3)},
    }
    deliver(
        told,
        lambda: _show(told),
        as_json=as_json,
        out=out,
        text=lambda: write(Library.of(known)),
        takers="match, adjust, shift and dry take it as --pigments",
    )
    if any(o.aside for o in known.odd):
        raise click.exceptions.Exit(1)


def _ahead(pairs: Sequence[tuple[float, float]]) -> dict[str, float]:
    if not pairs:
        return {}
    off = np.array(pairs)
    later = off[len(off) // 2 :, 1]
    means = {"drawdowns": off[:, 0].mean(), "learned": off[:, 1].mean(), "later_half": later.mean()}
    return {name: round(float(value), 3) for name, value in means.items()}
