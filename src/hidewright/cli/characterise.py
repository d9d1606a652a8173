"""`hidewright characterise`: what each pigment absorbs and scatters, from a sheet of drawdowns, as a library for the other commands."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from hidewright.colour.light.far import off_with_figure
from hidewright.refusals import Refusal

from .files import IN, OUT, deliver, named, read_file, read_list
from .match import Watch

if TYPE_CHECKING:
    from hidewright.colour.learning.library import Library
    from hidewright.colour.pigments.drawdowns import Drawdown, Fit
    from hidewright.colour.pigments.film import Surface
    from hidewright.colour.pigments.proposals import Proposal
    from hidewright.colour.pigments.shelf import ShelfLine
    from hidewright.colour.pigments.shop_films import Things

WORTH = 0.01
"""ΔE00 that a drawdown must gain on average to be worth telling of (convention of this tool)."""
TOLD = 3


def _library(
    fits: "Mapping[str, Fit]", lines: "Sequence[ShelfLine]", surface: "Surface"
) -> "tuple[Library, list[str]]":
    """The library, and the pigments whose density and solids are not told."""
    from hidewright.colour.learning.library import Library
    from hidewright.colour.pigments.pigment import Pigment
    from hidewright.colour.pigments.shelf import stocked

    known: dict[str, Pigment] = {p.key: p for p in stocked(tuple(lines), fits)} if lines else {}
    missing = [key for key in fits if key not in known]
    for key in missing:
        fit = fits[key]
        known[key] = Pigment(key, key, "", fit.k, fit.s, covariance=np.stack([fit.k_sd, fit.s_sd]))
    return Library(tuple(known[key] for key in fits), surface), missing


def _pigments(fits: "Mapping[str, Fit]", names: Mapping[str, str]) -> list[dict[str, Any]]:
    return [
        {
            "key": key,
            "name": names[key],
            "drawdowns": len(fit.misfit),
            "worst": round(max((max(pair) for pair in fit.misfit.values()), default=0.0), 3),
            "k_sd": round(float(np.median(fit.k_sd)), 4),
            "s_sd": round(float(np.median(fit.s_sd)), 4),
            "undetermined": fit.undetermined,
        }
        for key, fit in fits.items()
    ]


def _drawdowns(drawn: "Sequence[Drawdown]", fits: "Mapping[str, Fit]") -> list[dict[str, Any]]:
    from hidewright.colour.reading.repeats import repeats_of

    odd = {name for fit in fits.values() for name in fit.contradicts}
    misfit = {name: pair for fit in fits.values() for name, pair in fit.misfit.items()}
    return [
        {
            "name": d.name,
            "shares": dict(d.shares),
            "microns": d.microns,
            "readings": d.readings,
            "over_black": round(misfit[d.name][0], 3),
            "over_white": round(misfit[d.name][1], 3),
            "contradicts": d.name in odd,
            "readings_advised": repeats_of(d).count,
        }
        for d in drawn
    ]


def _as_written(drawn: "Sequence[Drawdown]", things: "Things") -> list[str]:
    """What the shop weighed and gauged, and what it becomes, a sentence a film."""
    from hidewright.colour.pigments.shop_films import turned

    entries = [(d.name, d.entry) for d in drawn if d.entry is not None]
    return [f"{name}: {entry.mix}, {entry.film}. {turned(entry, things).words}" for name, entry in entries]


def _next(
    proposals: "Sequence[Proposal]", names: Mapping[str, str], drawn: "Sequence[Drawdown]", things: "Things"
) -> list[dict[str, Any]]:
    from hidewright.colour.pigments.shop_films import weighing

    made = {frozenset(d.shares) for d in drawn}
    return [
        {
            "parts_by_volume": {names[key]: part for key, part in one.parts.items()},
            "mixes_foretold_to": round(one.after, 3),
            "instead_of": round(one.before, 3),
            "once_more": frozenset(one.parts) in made,
            "weigh_g": {name: round(grams, 2) for name, grams in weighed.grams.items()},
            "lay_wet_um": round(weighed.wet, 1),
        }
        for one, weighed in ((one, weighing(one.parts, things)) for one in proposals[:TOLD])
        if one.before - one.after >= WORTH
    ]


def _show(told: dict[str, Any]) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False)
    table = Table(title="Pigments", title_justify="left")
    for head in ("Pigment", "Drawdowns", "Worst ΔE00", "K ±", "S ±"):
        table.add_column(head, justify="left" if head == "Pigment" else "right")
    for one in told["pigments"]:
        scatter = "not determined" if one["undetermined"] else f"{one['s_sd']:.1%}"
        table.add_row(
            one["name"], str(one["drawdowns"]), f"{one['worst']:.2f}", f"{one['k_sd']:.1%}", scatter
        )
    console.print(table)
    table = Table(title="How well each drawdown is described, ΔE00", title_justify="left")
    for head in ("Drawdown", "over black", "over white", ""):
        table.add_column(head, justify="right" if head.startswith("over") else "left")
    for one in told["drawdowns"]:
        flag = "contradicts the rest" if one["contradicts"] else ""
        table.add_row(one["name"], f"{one['over_black']:.2f}", f"{one['over_white']:.2f}", flag)
    console.print(table)
    for words in (*told["as_written"], *told["words"]):
        console.print(words)


def _words(told: dict[str, Any], missing: Sequence[str]) -> list[str]:
    """What a person should do about it, in sentences."""
    from hidewright.colour.reading.repeats import PROMISE

    words = []
    odd = [one["name"] for one in told["drawdowns"] if one["contradicts"]]
    if odd:
        words.append(
            f"{'; '.join(odd)}: what was read does not go with the other drawdowns, so it counted less. Weigh and draw it again, or leave it out."
        )
    vague = [one["name"] for one in told["pigments"] if one["undetermined"]]
    if vague:
        words.append(
            f"{', '.join(vague)}: the drawdowns say next to nothing about how it scatters. Draw it thinner over black and white, or let it down with white."
        )
    words += _next_words(told["next"], told["mixes_foretold_to"])
    dark = [one for one in told["drawdowns"] if one["readings_advised"] > one["readings"]]
    if dark:
        shown = ", ".join(f"{one['name']} {one['readings_advised']}" for one in dark[:6])
        more = f" and {len(dark) - 6} more" if len(dark) > 6 else ""
        words.append(
            f"Dark films want several readings, each at another place, so that the instrument's noise stays under {off_with_figure(PROMISE)}: {shown}{more}. "
            "Give the rows of one film the same name; they are averaged."
        )
    if missing:
        words.append(
            f"Density and solids of {', '.join(missing)} are the usual figures (1.2 g/mL, 40 % by volume): bring the shelf with --shelf before you weigh by it."
        )
    return words


def _next_words(proposals: Sequence[Mapping[str, Any]], now: float) -> list[str]:
    if not proposals:
        return [
            f"The colour of a mix is forecast to within {off_with_figure(now, 2)} on average. One drawdown more would hardly narrow that."
        ]
    words = [
        f"The colour of a mix is forecast to within {off_with_figure(now, 2)} on average. What would narrow that most:"
    ]
    for one in proposals:
        parts = " : ".join(f"{part:g} {name}" for name, part in one["parts_by_volume"].items())
        again = ", once more" if one["once_more"] else ""
        weighed = ", ".join(f"{name} {grams:.3g} g" for name, grams in one["weigh_g"].items())
        alone = " alone" if len(one["parts_by_volume"]) == 1 else " by volume"
        words.append(
            f"  Draw {parts}{alone}{again}: then within {off_with_figure(one['mixes_foretold_to'], 2)}. "
            f"Weigh {weighed} and lay it {one['lay_wet_um']:.3g} µm wet."
        )
    return words


@click.command()
@click.argument("drawdowns", type=IN)
@click.option("--shelf", type=IN, help="CSV of the dispersions: density, solids and price of each.")
@click.option(
    "--specular",
    type=click.Choice(["in", "ex", "ask"]),
    default="in",
    show_default=True,
    help="Whether the instrument reads with the shine: as it was set; “ask” lets the readings tell.",
)
@click.option(
    "--out", type=OUT, help="Write the pigments, .json or .csv: the other commands take it as --pigments."
)
@click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
def command(drawdowns: Path, shelf: Path | None, specular: str, out: Path | None, as_json: bool) -> None:
    """Find K and S of every pigment in DRAWDOWNS: a CSV with name, shares, microns, over, and the bands. Ctrl-C stops.

    Ends with code 1 when a drawdown contradicts the rest, or a pigment's scattering stays undetermined.
    """
    from hidewright.colour.pigments.characterise import settled
    from hidewright.colour.pigments.film import Surface
    from hidewright.colour.pigments.proposals import propose
    from hidewright.colour.pigments.shelf import read_shelf
    from hidewright.colour.pigments.shine import shine_of
    from hidewright.colour.pigments.shop_films import shelf_things
    from hidewright.colour.reading.readings import drawdowns_of, read_drawdowns
    from hidewright.colour.reading.readings_in import DRAWDOWNS

    write = writer_for(out)
    lines = read_file(shelf, read_shelf) if shelf else ()
    things = shelf_things(lines)
    drawn = read_list(
        drawdowns,
        DRAWDOWNS,
        lambda text: read_drawdowns(text, things),
        lambda draft: drawdowns_of(draft.values, things),
    )
    surface, shine = Surface(specular=specular == "in"), ""
    with Watch() as watch:
        if specular == "ask":
            found = shine_of(drawn, on_progress=watch.part(0.0, 0.4))
            surface, shine = found.best.surface, found.words(declared=found.best.surface.specular)
        say = watch.part(0.4 if shine else 0.0, 0.8)

        def go_on(fraction: float, text: str) -> None:
            say(fraction, text)
            if watch.asked:
                raise KeyboardInterrupt

        joint = named(drawdowns, lambda: settled(drawn, surface, go_on))
        fits = joint.fits(drawn)
        watch.part(0.8, 1.0)(0.0, "Looking which drawdown would tell most")
        proposals = propose(joint)
    library, missing = _library(fits, lines, surface)
    names = {p.key: p.name for p in library.pigments}
    told: dict[str, Any] = {
        "pigments": _pigments(fits, names),
        "drawdowns": _drawdowns(drawn, fits),
        "as_written": _as_written(drawn, things),
        "mixes_foretold_to": round(proposals[0].before, 3),
        "next": _next(proposals, names, drawn, things),
        "misfit": asdict(joint.scales),
    }
    told["words"] = [*filter(None, (shine, joint.scales.words)), *_words(told, missing)]
    deliver(
        told,
        lambda: _show(told),
        as_json=as_json,
        out=out,
        text=lambda: write(library),
        takers="match, adjust, shift, learn and dry take it as --pigments",
    )
    if any(one["contradicts"] for one in told["drawdowns"]) or any(
        p["undetermined"] for p in told["pigments"]
    ):
        raise click.exceptions.Exit(1)


def writer_for(out: Path | None) -> Any:
    """How a library is written, by the file's ending; refuses other endings before any work is done."""
    from hidewright.colour.learning.library import write_csv, write_json

    ending = out.suffix.lower() if out is not None else ".json"
    if ending not in (".json", ".csv"):
        raise Refusal(
            f"A library does not end in “{ending}”.", where="--out", remedy="Name it .json or .csv."
        )
    return write_csv if ending == ".csv" else write_json
