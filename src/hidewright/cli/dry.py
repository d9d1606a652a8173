"""`hidewright dry`: how a wet mix will look when dry, how a dry one looked wet, and what pairs of readings tell of the base's milk."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from hidewright.colour.light.far import off_with_figure
from hidewright.refusals import Refusal
from hidewright.units import counted

from .files import IN, OUT, deliver, read_file, read_readings
from .match import Watch
from .shelf import shelf_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from hidewright.api import Pigments
    from hidewright.colour.pigments.contents import Contents
    from hidewright.colour.pigments.pigment import Pigment
    from hidewright.colour.pigments.wet import Milk
    from hidewright.colour.reading.readings import Reading

    Array = NDArray[np.float64]


def _milk(pairs: Path | None, amplitude: float | None, power: float | None, there: "Pigments") -> "Milk":
    """The milk: what the pairs tell, else the figures given, else the starting values."""
    from hidewright.api.cups import stock_before
    from hidewright.colour.learning.cup_rows import milk_of
    from hidewright.colour.learning.cups_csv import read_cups
    from hidewright.colour.pigments.wet import Milk

    if pairs is None:
        start = Milk()
        # a figure that the shop found by itself is taken to be good to a tenth
        by_hand = 0.1
        if amplitude is not None:
            start = replace(start, amplitude=amplitude, amplitude_sd=by_hand)
        return start if power is None else replace(start, power=power, power_sd=by_hand)
    if amplitude is not None or power is not None:
        raise Refusal(
            "Give pairs, or the figures that come of them, not both.",
            where="--pairs",
            remedy="Leave one out.",
        )
    rows = read_file(pairs, lambda text: read_cups(text, [p.key for p in there.drawn]))
    milk = milk_of(rows, stock_before(rows, there), there.learned)
    if not milk.pairs:
        raise Refusal(
            "There is no pair.",
            where=pairs.name,
            remedy="A pair is two rows of one name and equal pours, one with the state wet and one dry.",
        )
    return milk


def _poured_from(there: "Pigments") -> "tuple[Pigment, ...]":
    """What a cup may hold: every lot that was learned of, used up or not."""
    return there.learned.pigments() if there.learned else there.pigments


def _contents(cup: str, there: "Pigments") -> "Contents":
    """mL of what is in the cup; base as shipped."""
    from hidewright.colour.learning.cup import BASE
    from hidewright.colour.learning.cups_csv import read_pours
    from hidewright.colour.pigments.contents import Contents
    from hidewright.colour.pigments.pigment import Base

    density = {p.key: p.density for p in _poured_from(there)}
    volumes: dict[str, float] = {}
    base = 0.0
    for pour in read_pours(cup, "--cup", there.keys):
        if pour.lot == BASE:
            base += pour.grams / Base().density
        elif pour.lot not in density:
            raise Refusal(
                f"The lot {pour.lot} is not in the library.",
                where="--cup",
                remedy=f"There are {', '.join(density)}.",
            )
        else:
            volumes[pour.lot] = volumes.get(pour.lot, 0.0) + pour.grams / density[pour.lot]
    return Contents(volumes, base)


def _both(
    read: "Reading | None", state: str, held: "Contents", there: "Pigments", milk: "Milk"
) -> "tuple[Array, Array]":
    """The wet and the dry reflectance (31,) each: one as read, or both foretold from the contents alone."""
    from hidewright.colour.pigments.wet import dry_from_wet, look_dry, look_wet, wet_from_dry

    pigments = _poured_from(there)
    if read is None:
        return look_wet(held, pigments, milk), look_dry(held, pigments, there.surface)
    given = read.reflectance
    if state == "wet":
        return given, dry_from_wet(given, held, pigments, milk, there.surface)
    return wet_from_dry(given, held, pigments, milk, there.surface), given


def _may_be_off(
    read: "Reading | None", state: str, held: "Contents", there: "Pigments", milk: "Milk", light: str
) -> float:
    """ΔE00 by which the forecast may be off for what is not known of the milk alone (root of the summed squares of one sd each)."""
    from hidewright.colour.light.cie import delta_e00, lab

    side = 0 if (read is None or state == "dry") else 1
    middle = lab(_both(read, state, held, there, milk)[side], light)
    moved = [
        replace(milk, amplitude=float(np.clip(milk.amplitude * np.exp(milk.amplitude_sd), 1e-6, 9.0))),
        replace(milk, power=float(np.clip(milk.power + milk.power_sd, 0.0, 5.0))),
    ]
    off = [float(delta_e00(lab(_both(read, state, held, there, m)[side], light), middle)) for m in moved]
    return float(np.hypot(off[0], off[1]))


def _state(read: "Reading | None", asked: str) -> str:
    told = read.conditions.state if read is not None else ""
    if read is not None and not (asked or told):
        raise Refusal(
            "Nothing says whether the reading is wet or dry.",
            where=read.name,
            remedy="Say --state wet or --state dry, or write it in a column state.",
        )
    if asked and told and asked != told:
        raise Refusal(
            f"The file says {told}, --state says {asked}.",
            where=read.name if read else "",
            remedy="Look which is right.",
        )
    return asked or told


def _show(told: dict[str, Any], light: str) -> None:
    milk = told["milk"]
    where = (
        f"learned from {counted(milk['pairs'], 'pair')}"
        if milk["pairs"]
        else "the usual figures, from memory"
    )
    if milk["given"]:
        where = "as given"
    lines = [
        f"The base's milk ({where}): {milk['amplitude']:.4f} a µm at 550 nm, within a factor of {milk['factor']:.2f}; power {milk['power']:.2f} ± {milk['power_sd']:.2f}."
    ]
    if "wet_lab" in told:
        for state in ("wet", "dry"):
            shown = " ".join(
                f"{n} {v:.1f}" for n, v in zip(("L*", "a*", "b*"), told[f"{state}_lab"], strict=True)
            )
            how = "as read" if told["read"] == state else "forecast"
            lines.append(f"{state.capitalize()}, {how}, under {light}: {shown}")
        lines.append(
            f"It dries by {told['dries_by']['dL']:+.1f} in L*, {told['dries_by']['da']:+.1f} in a*, {told['dries_by']['db']:+.1f} in b*: "
            f"{off_with_figure(told['delta_e00'], 2)}. What is not known of the milk alone may shift the forecast by {off_with_figure(told['may_be_off'])}."
        )
        lines.append("Compare dry with dry. A forecast is no reading: let a drawdown dry before you decide.")
    click.echo("\n".join(lines))


@click.command()
@click.argument("readings", type=IN, required=False)
@click.option("--cup", default="", help="What is in it, in grams, like “PW6=58 PBk7=1.2 base=420”.")
@click.option("--read", "read_name", default="", help="Name of the reading; the first one when left out.")
@click.option(
    "--state",
    type=click.Choice(["wet", "dry"]),
    help="Whether it was read wet or dry; as its column state says.",
)
@click.option(
    "--pairs",
    type=IN,
    help="CSV of cups with wet and dry rows, as learn takes it: the milk is learned from them.",
)
@click.option(
    "--amplitude",
    type=click.FloatRange(1e-6, 9.0),
    help="The milk's scattering a µm at 550 nm, if you know it.",
)
@click.option("--power", type=click.FloatRange(0.0, 5.0), help="How it rises toward blue, if you know it.")
@click.option(
    "--pigments", "library", type=IN, help="What characterise or learn wrote, instead of drawdowns."
)
@click.option("--drawdowns", type=IN, help="CSV of drawdowns; the shipped generic set when left out.")
@click.option("--shelf", type=IN, help="CSV of the dispersions.")
@click.option("--light", default="D65", show_default=True, help="The light for the figures.")
@click.option("--out", type=OUT, help="Write wet and dry to a CSV of readings.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
def command(
    readings: Path | None, cup: str, read_name: str, state: str | None, pairs: Path | None, amplitude: float | None,
    power: float | None, library: Path | None, drawdowns: Path | None, shelf: Path | None, light: str,
    out: Path | None, as_json: bool,
) -> None:  # fmt: skip
    """Forecast how a cup dries from a wet reading among READINGS, how it looked wet from a dry one, or both from what is in it.

    With --pairs alone it only tells what the pairs say of the base's milk.
    """
    from hidewright.api.readings import chosen_reading
    from hidewright.colour.light.cie import delta_e00, hex_from_reflectance, lab, weights
    from hidewright.colour.reading.formats import write_csv
    from hidewright.colour.reading.readings import Reading

    weights(light)
    if not cup and (readings is not None or pairs is None):
        raise Refusal(
            "What is in the cup must be known.",
            where="--cup",
            remedy="Write it like “PW6=58 PBk7=1.2 base=420”.",
        )
    if not cup and out is not None:
        raise Refusal(
            "There is nothing to write without a cup.", where="--out", remedy="Say what is in it with --cup."
        )
    taken = read_readings(readings) if readings is not None else ()
    read = (chosen_reading(taken, read_name, "cup") or taken[0]) if taken else None
    if read is not None and not read.is_spectrum:
        raise Refusal(
            "A forecast of drying needs a spectrum.", where=read.name, remedy="Bring bands, not Lab."
        )
    side = _state(read, state or "")
    with Watch() as watch:
        there = shelf_of(drawdowns, shelf, watch.part(0.0, 0.9), library)
        milk = _milk(pairs, amplitude, power, there)
    told: dict[str, Any] = {
        "milk": {
            "amplitude": round(milk.amplitude, 6),
            "factor": round(float(np.exp(milk.amplitude_sd)), 3),
            "power": round(milk.power, 4),
            "power_sd": round(milk.power_sd, 4),
            "pairs": milk.pairs,
            "given": amplitude is not None or power is not None,
        }
    }
    foretold: list[Reading] = []
    if cup:
        held = _contents(cup, there)
        wet, dry = _both(read, side, held, there, milk)
        labs = {"wet": lab(wet, light), "dry": lab(dry, light)}
        told |= {
            "read": side,
            "wet_lab": [round(float(v), 3) for v in labs["wet"]],
            "dry_lab": [round(float(v), 3) for v in labs["dry"]],
            "wet_hex": hex_from_reflectance(wet),
            "dry_hex": hex_from_reflectance(dry),
            "dries_by": {
                name: round(float(v), 3)
                for name, v in zip(("dL", "da", "db"), labs["dry"] - labs["wet"], strict=True)
            },
            "delta_e00": round(float(delta_e00(labs["wet"], labs["dry"])), 3),
            "may_be_off": round(_may_be_off(read, side, held, there, milk, light), 3),
        }
        name = read.name if read is not None else "Cup"
        foretold = [Reading(f"{name}, {s}", r, {"state": s}) for s, r in (("dry", dry), ("wet", wet))]
    deliver(
        told,
        lambda: _show(told, light),
        as_json=as_json,
        out=out,
        text=lambda: write_csv(foretold),
        takers="match and readings take it",
    )
