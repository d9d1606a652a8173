"""`hidewright readings`: what is in the files that instruments wrote, averaged, compared, and written as our own CSV."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from hidewright.refusals import Refusal
from hidewright.units import counted

from .files import IN, OUT, deliver, read_file, read_readings

if TYPE_CHECKING:
    from hidewright.colour.light.cie import LightLike
    from hidewright.colour.reading.readings import Reading

LIGHTS = ("D65", "A", "FL11", "LED-B3")


def _typed(given: Sequence[str], *, lch: bool, sd: float | None, observer: str) -> "list[Reading]":
    """Readings from "Seat 3: 52.1 4.3 18.9"."""
    from hidewright.colour.reading.cgats import LAB_SD
    from hidewright.colour.reading.formats import typed_colour

    found = []
    option = "--lch" if lch else "--lab"
    for number, text in enumerate(given, start=1):
        name, mark, rest = text.rpartition(":")
        try:
            values = [float(part) for part in rest.split()]
        except ValueError:
            values = []
        if len(values) != 3:
            remedy = f"Write it like “Seat 3: {'52.1 19.4 77.2' if lch else '52.1 4.3 18.9'}”."
            raise Refusal(f"“{text[:40]}” holds no three numbers.", where=option, remedy=remedy)
        called = name.strip() if mark else f"typed {number}"
        found.append(typed_colour(called, values, lch=lch, sd=sd or LAB_SD, observer=observer))
    return found


def _together(
    files: Sequence[Path], taken: "Sequence[Sequence[Reading]]", typed: "list[Reading]"
) -> "list[Reading]":
    """All readings; a name that stands in several files is told apart by its file."""
    homes = Counter(name for readings in taken for name in {r.name for r in readings})
    found = [
        replace(r, name=f"{path.name}: {r.name}") if homes[r.name] > 1 else r
        for path, readings in zip(files, taken, strict=True)
        for r in readings
    ]
    return found + typed


def _averaged(
    readings: "Sequence[Reading]", one_name: str
) -> "tuple[list[Reading], dict[str, dict[str, float]]]":
    """Readings of one name as one (all of them under `one_name` if that is given), and how far they lay from their mean."""
    from hidewright.colour.light.cie import delta_e00, lab

    groups: dict[str, list[Reading]] = {}
    for reading in readings:
        groups.setdefault(one_name or reading.name, []).append(reading)
    found, scatter = [], {}
    for name, group in groups.items():
        mean = group[0].averaged(*group[1:]) if len(group) > 1 else group[0]
        found.append(replace(mean, name=name))
        off = delta_e00(lab(np.array([r.reflectance for r in group])), lab(mean.reflectance))
        bands = np.std([r.reflectance for r in group], axis=0, ddof=1).mean() if len(group) > 1 else 0.0
        scatter[name] = {"readings": len(group), "farthest": float(off.max()), "band_sd": float(bands)}
    return found, scatter


def _one(reading: "Reading", lights: "Sequence[LightLike]", observer: str) -> dict[str, Any]:
    from hidewright.colour.light.cie import hex_from_reflectance, lab
    from hidewright.colour.reading.formats import resampled
    from hidewright.colour.reading.repeats import spread_of

    seen = reading.conditions
    told = {
        "state": seen.state,
        "made": seen.made,
        "base_share": seen.base_share,
        "light": seen.light,
        "instrument": seen.instrument,
        "specular": seen.specular,
        "over": seen.over,
    }
    here = {str(light): lab(reading.reflectance, light, observer) for light in lights}
    if reading.colour is not None and reading.colour.observer == observer and reading.colour.light in here:
        here[reading.colour.light] = reading.colour.lab
    return {
        "name": reading.name,
        "spectrum": reading.is_spectrum,
        "bands": list(reading.bands),
        "resampled": resampled(reading.bands),
        "conditions": {key: value for key, value in told.items() if value not in ("", None)},
        "lab": {key: [round(float(v), 3) for v in value] for key, value in here.items()},
        "hex": hex_from_reflectance(reading.reflectance),
        "spread": round(spread_of(reading), 3),
    }


def _picked(readings: "Sequence[Reading]", name: str, where: str) -> "Reading":
    found = [r for r in readings if r.name == name]
    if len(found) == 1:
        return found[0]
    if found:
        raise Refusal(
            f"{len(found)} readings are called {name}.",
            where=where,
            remedy="Average them with --average, or give each a name of its own.",
        )
    names = ", ".join(dict.fromkeys(r.name for r in readings[:20]))
    raise Refusal(f"No reading is called {name}.", where=where, remedy=f"There are: {names}.")


def _compared(
    first: "Reading", second: "Reading", lights: "Sequence[LightLike]", observer: str
) -> dict[str, Any]:
    from hidewright.colour.light.cie import delta_e00, lab
    from hidewright.colour.light.grey_scale import grade
    from hidewright.colour.reading.conditions import unlike
    from hidewright.colour.reading.readings import special_metamerism
    from hidewright.colour.reading.repeats import spread_of

    labs = [{str(v): lab(r.reflectance, v, observer) for v in lights} for r in (first, second)]
    main, *others = (str(light) for light in lights)
    off76 = float(np.linalg.norm(labs[0][main] - labs[1][main]))
    both = first.is_spectrum and second.is_spectrum
    return {
        "first": first.name,
        "second": second.name,
        "delta_e00": {key: round(float(delta_e00(labs[0][key], labs[1][key])), 3) for key in labs[0]},
        "second_is": {
            key: round(float(value), 3)
            for key, value in zip(("dL", "da", "db"), labs[1][main] - labs[0][main], strict=True)
        },
        "delta_e_ab": round(off76, 3),
        "grey_scale": grade(off76),
        "may_be_off": round(float(np.hypot(spread_of(first), spread_of(second))), 3),
        "metamerism": {
            key: round(special_metamerism(first.reflectance, second.reflectance, key, main, observer), 3)
            for key in others
            if both and all(isinstance(light, str) for light in lights)
        },
        "unlike": list(unlike(first.conditions, second.conditions)),
        "assumed": not both,
    }


def _lab_words(values: Sequence[float]) -> str:
    return " ".join(f"{v + 0.0:.1f}".replace("-0.0", "0.0") for v in values)


def _show(told: dict[str, Any]) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False)
    for file in told["files"]:
        how = "; ".join(file["resampled"]) or "Colours without a spectrum"
        console.print(f"{file['file']}: {file['format']}, {counted(file['readings'], 'reading')}. {how}.")
    table = Table(title=f"L* a* b*, {told['observer']}° observer", title_justify="left")
    table.add_column("Reading")
    table.add_column("Light")
    for head in ("L* a* b*", "± ΔE00"):
        table.add_column(head, justify="right", no_wrap=True)
    for one in told["found"]:
        mark = "" if one["spectrum"] else " (no spectrum)"
        for number, light in enumerate(told["lights"]):
            name, spread = ("", "") if number else (one["name"] + mark, f"{one['spread']:.2f}")
            table.add_row(
                name, light, _lab_words(one["lab"][light]), spread, end_section=light == told["lights"][-1]
            )
    console.print(table)
    if not all(one["spectrum"] for one in told["found"]):
        console.print(
            "Where there is no spectrum, other lights go by the smoothest spectrum of that colour: a guess."
        )
    for one in told["found"]:
        if one["conditions"]:
            words = ", ".join(f"{key.replace('_', ' ')} {value}" for key, value in one["conditions"].items())
            console.print(f"{one['name']}: {words}.")
    for name, one in told["averaged"].items():
        if one["readings"] > 1:
            console.print(
                f"{name}: mean of {one['readings']} readings; the farthest lies ΔE00 {one['farthest']:.2f} from it "
                f"(sd {one['band_sd']:.4f} a band)."
            )
    if "compared" in told:
        _show_compared(console, told["compared"], told["lights"][0])


def _show_compared(console: Any, told: dict[str, Any], main: str) -> None:
    apart = ", ".join(f"{key} {value:.2f}" for key, value in told["delta_e00"].items())
    console.print(
        f"{told['second']} against {told['first']}: ΔE00 {apart}; may be off by {told['may_be_off']:.2f}."
    )
    by = told["second_is"]
    console.print(
        f"Under {main} it lies {by['dL']:+.2f} in L*, {by['da']:+.2f} in a*, {by['db']:+.2f} in b*; "
        f"grey scale {told['grey_scale']} by ΔE*ab {told['delta_e_ab']:.2f} (a person with the card itself judges)."
    )
    if told["metamerism"]:
        index = ", ".join(f"{key} {value:.2f}" for key, value in told["metamerism"].items())
        console.print(f"Once they are made alike under {main}, they still differ by ΔE*ab: {index}.")
    for words in told["unlike"]:
        console.print(words)


@click.command()
@click.argument("files", type=IN, nargs=-1)
@click.option("--lab", "labs", multiple=True, help="A typed colour, like “Seat 3: 52.1 4.3 18.9” (D65).")
@click.option("--lch", "lchs", multiple=True, help="A typed colour as L*, C*, h°.")
@click.option("--sd", type=click.FloatRange(0.01, 20), help="Spread of typed colours, CIELAB units; 0.3.")
@click.option("--light", "lights", multiple=True, help="Lights, the main one first; D65, A, FL11, LED-B3.")
@click.option("--lamp", "lamps", multiple=True, type=IN, help="CSV of a lamp (wavelength, power).")
@click.option("--observer", type=click.Choice(["2", "10"]), default="10", show_default=True, help="Degrees.")
@click.option("--only", multiple=True, help="Only the readings of this name.")
@click.option("--average", is_flag=True, help="Readings of one name become their mean.")
@click.option("--as", "one_name", default="", help="All readings become one mean of this name.")
@click.option("--compare", nargs=2, help="Two names: ΔE00 under each light, and the grey-scale grade.")
@click.option("--tolerance", default=1.0, show_default=True, help="ΔE00 of two that is near enough.")
@click.option("--out", type=OUT, help="Write the readings to a CSV that the other commands take.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
def command(
    files: tuple[Path, ...], labs: tuple[str, ...], lchs: tuple[str, ...], sd: float | None, lights: tuple[str, ...],
    lamps: tuple[Path, ...], observer: str, only: tuple[str, ...], average: bool, one_name: str,
    compare: tuple[str, str] | None, tolerance: float, out: Path | None, as_json: bool,
) -> None:  # fmt: skip
    """Say what is in FILES: CSV of spectra (a row or a column a band), CSV of Lab or LCh, CGATS.17, CxF3.

    Ends with code 1 when two that are compared lie further apart than the tolerance under the first light.
    """
    from hidewright.colour.reading.formats import format_of, write_csv

    taken = [read_readings(path) for path in files]
    typed = _typed(labs, lch=False, sd=sd, observer=observer) + _typed(
        lchs, lch=True, sd=sd, observer=observer
    )
    whole = average or bool(one_name)
    found = [*(r for some in taken for r in some), *typed] if whole else _together(files, taken, typed)
    if not found:
        raise Refusal(
            "There is no reading.", where="FILES", remedy="Name a file, or type a colour with --lab."
        )
    if only:
        for name in only:
            if name not in {r.name for r in found}:
                _picked(found, name, "--only")
        found = [r for r in found if r.name in only]
    scatter: dict[str, dict[str, float]] = {}
    if whole:
        found, scatter = _averaged(found, one_name)
    seen_under = _lights(lights, lamps)
    told: dict[str, Any] = {
        "files": [
            {
                "file": path.name,
                "format": read_file(path, format_of),
                "readings": len(some),
                "resampled": _ways(some),
            }
            for path, some in zip(files, taken, strict=True)
        ],
        "lights": [str(light) for light in seen_under],
        "observer": observer,
        "found": [_one(r, seen_under, observer) for r in found],
        "averaged": scatter,
    }
    if compare:
        pair = [_picked(found, name, "--compare") for name in compare]
        told["compared"] = _compared(pair[0], pair[1], seen_under, observer)
    deliver(
        told,
        lambda: _show(told),
        as_json=as_json,
        out=out,
        text=lambda: write_csv(found),
        takers="the other commands take it",
    )
    if compare and told["compared"]["delta_e00"][told["lights"][0]] > tolerance:
        raise click.exceptions.Exit(1)


def _ways(readings: "Sequence[Reading]") -> list[str]:
    """How the file's spectra were brought to the bands, each way once."""
    from hidewright.colour.reading.formats import resampled

    return list(dict.fromkeys(way for r in readings if (way := resampled(r.bands))))


def _lights(names: Sequence[str], lamps: Sequence[Path]) -> "tuple[LightLike, ...]":
    from hidewright.colour.light.cie import light_from_spectrum, weights
    from hidewright.colour.light.lamps import read_lamp

    for name in names:
        weights(name)
    brought = tuple(light_from_spectrum(path.stem, *read_file(path, read_lamp)) for path in lamps)
    return (*(dict.fromkeys(names) or LIGHTS), *brought)
