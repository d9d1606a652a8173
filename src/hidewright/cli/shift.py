"""`hidewright shift`: the target lighter, more neutral, or toward a swatch, and what that changes later."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from hidewright.refusals import Refusal

from .files import IN, OUT, deliver, read_readings
from .match import Watch, load_window
from .shelf import shelf_of

if TYPE_CHECKING:
    from hidewright.colour.reading.readings import Reading
    from hidewright.colour.recipes.shift import Shifted

HOW = "Write: lighter 1, darker 1, more neutral 10 %, cleaner 10 %, or toward swatch.csv 30 %."


def _amount(words: list[str]) -> float:
    text = "".join(words).rstrip("%").replace(",", ".")
    try:
        return float(text)
    except ValueError:
        raise Refusal(f"How far is “{' '.join(words)}”?", where="way", remedy=HOW) from None


def _shifted(words: list[str], target: "Reading", light: str) -> "tuple[Shifted, str]":
    """The target shifted as the words say, and the words put plainly."""
    from hidewright.colour.recipes.shift import lighter, more_neutral, toward

    here = target.reflectance
    way = words[1] if words[0] == "more" and len(words) > 1 else words[0]
    rest = words[2:] if words[0] == "more" else words[1:]
    if way in ("lighter", "darker"):
        by = _amount(rest)
        return lighter(here, by if way == "lighter" else -by, light), f"{by:g} L* {way}"
    if way in ("neutral", "cleaner"):
        share = _amount(rest)
        plain = "more neutral" if way == "neutral" else way
        return more_neutral(
            here, (share if way == "neutral" else -share) / 100, light
        ), f"{share:g} % {plain}"
    if way == "toward" and len(rest) >= 2:
        path, share = Path(rest[0]), _amount(rest[1:])
        if not path.is_file():
            raise Refusal("The swatch's file cannot be found.", where=rest[0], remedy=HOW)
        swatch = read_readings(path)[0]
        return toward(here, swatch.reflectance, share / 100, light), f"{share:g} % toward {swatch.name}"
    raise Refusal(f"“{' '.join(words)}” is no way to go.", where="way", remedy=HOW)


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("readings", type=IN)
@click.argument("way", nargs=-1, required=True)
@click.option("--target", default="", help="Name of the target reading; the one marked target, or the first.")
@click.option("--old", default="", help="Name of the old colour's reading; the one marked old colour.")
@click.option("--light", default="D65", show_default=True, help="The light that the shift is meant under.")
@click.option("--out", type=OUT, help="Write the new target to a CSV for match.")
@click.option(
    "--recipes", is_flag=True, help="Find recipes for both and tell what changes later: coats, cost, a drop."
)
@click.option("--drawdowns", type=IN, help="CSV of drawdowns; the shipped generic set when left out.")
@click.option("--shelf", type=IN, help="CSV of the dispersions.")
@click.option(
    "--pigments", "library", type=IN, help="What characterise or learn wrote, instead of drawdowns."
)
@click.option("--load", default="16-20", show_default=True, help="Pigment in the mix, percent by volume.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
def command(
    readings: Path,
    way: tuple[str, ...],
    target: str,
    old: str,
    light: str,
    out: Path | None,
    recipes: bool,
    drawdowns: Path | None,
    shelf: Path | None,
    library: Path | None,
    load: str,
    as_json: bool,
) -> None:
    """Shift the target among READINGS: “lighter 1” (L*), “more neutral 10 %”, “toward swatch.csv 30 %”.

    The new spectrum keeps behaving like the old one under other lights. Ends with code 1 when --recipes finds none within ΔE00 1 of it.
    """
    from hidewright.api.readings import chosen_reading
    from hidewright.colour.light.cie import hex_from_reflectance, lab
    from hidewright.colour.reading.formats import write_csv
    from hidewright.colour.reading.readings import Reading

    taken = read_readings(readings)
    wanted = chosen_reading(taken, target, "target")
    ground = chosen_reading(taken, old, "old colour")
    assert wanted is not None
    new, plain = _shifted(list(way), wanted, light)
    name = f"{wanted.name}, {plain}"
    told: dict[str, Any] = {
        "target": name,
        "before_lab": [round(float(v), 3) for v in lab(wanted.reflectance, light)],
        "lab": [round(v, 3) for v in new.lab],
        "hex": hex_from_reflectance(new.reflectance),
        "delta_e": {key: round(value, 3) for key, value in new.delta_e.items()},
    }
    reachable = True
    if recipes:
        told["later"], reachable = _later(wanted, new, ground, (drawdowns, shelf, library), load_window(load))
    written = [Reading(name, new.reflectance, {"use": "target"})]
    if ground:
        written.append(Reading(ground.name, ground.reflectance, {"use": "old colour"}))
    deliver(
        told,
        lambda: click.echo(_words(told, light)),
        as_json=as_json,
        out=out,
        text=lambda: write_csv(written),
        takers="match takes it",
    )
    if not reachable:
        raise click.exceptions.Exit(1)


def _later(
    wanted: "Reading",
    new: "Shifted",
    ground: "Reading | None",
    files: tuple[Path | None, Path | None, Path | None],
    load: tuple[float, float],
) -> tuple[list[str], bool]:
    """What the shift changes, from the best recipes for both; and whether the new target can be reached."""
    from hidewright.colour.recipes.match import MatchProblem, match
    from hidewright.colour.recipes.shift import downstream

    with Watch() as watch:
        drawdowns, shelf, library = files
        there = shelf_of(drawdowns, shelf, watch.part(0.0, 0.4), library)
        found = []
        for aim, part in ((wanted.reflectance, (0.4, 0.7)), (new.reflectance, (0.7, 1.0))):
            problem = MatchProblem(
                aim,
                there.pigments,
                old=ground.reflectance if ground else None,
                surface=there.surface,
                load=load,
                keep=4,
            )
            found.append(match(problem, on_progress=watch.part(*part), should_stop=lambda: watch.asked))
    words = list(downstream(found[0].recipes[0], found[1].recipes[0]))
    if not found[1].reachable:
        words.append(found[1].outside)
    return words or ["Nothing changes later: coats, cost and what a drop does stay as they were."], found[
        1
    ].reachable


def _words(told: dict[str, Any], light: str) -> str:
    before, after = (
        " ".join(f"{n} {v:.1f}" for n, v in zip(("L*", "a*", "b*"), told[key], strict=True))
        for key in ("before_lab", "lab")
    )
    lines = [told["target"], f"Before, under {light}: {before}", f"Now: {after}"]
    lines.append(
        "ΔE00 from the original: " + ", ".join(f"{key} {value:.2f}" for key, value in told["delta_e"].items())
    )
    lines += told.get("later", [])
    return "\n".join(lines)
