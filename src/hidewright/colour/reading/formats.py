"""Readings from whatever file a person has: CxF3, CGATS.17, CSV of spectra, CSV of Lab or LCh; and our own CSV to write them.

Which it is, the file's beginning tells. A CSV of colours has the columns `name` and `l`, `a`, `b` (or `l`, `c`, `h`, h in degrees), and may have `light`,
`observer` (2 or 10) and `sd` (CIELAB units, for all three). A CSV may also tell how a colour was seen: see `SEEN`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from hidewright.colour.light.cie import WAVELENGTHS, weights
from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import MOST_READINGS, Row, SheetWriter, read_each, read_sheet

from .cgats import LAB_SD, read_cgats
from .conditions import MADE, Conditions
from .cxf import read_cxf
from .readings import Reading, colour_reading, lab_from_lch, read_csv

LAB, LCH = ("l", "a", "b"), ("l", "c", "h")
SEEN = ("state", "made", "base_share", "light", "instrument", "specular", "over")
"""Columns of a CSV that say how a colour was seen: the fields of `Conditions`; `specular` is in or ex."""
YES, NO = ("in", "yes", "included", "sci"), ("ex", "no", "excluded", "sce")


def format_of(text: str) -> str:
    """ "CxF3", "CGATS.17" or "CSV", told by how the file begins."""
    if text.removeprefix("\ufeff").lstrip().startswith("<"):
        return "CxF3"
    return "CGATS.17" if "BEGIN_DATA" in text else "CSV"


def read_any(text: str) -> tuple[Reading, ...]:
    """The readings of a file, whichever kind it is; raises `Refusals` naming every place that must be put right."""
    kind = format_of(text)
    if kind == "CxF3":
        return read_cxf(text.removeprefix("\ufeff").lstrip())
    if kind == "CGATS.17":
        return read_cgats(text)
    columns = [_plain(c) for c in read_sheet(text, most=MOST_READINGS).columns]
    for axes in (LAB, LCH):
        if set(axes) <= set(columns):
            return _colours(text, axes)
    return _with_conditions(read_csv(text))


def _plain(column: str) -> str:
    """ "l" of "L*", "LAB_L" and "l"."""
    return column.lower().removeprefix("lab_").removeprefix("lch_").rstrip("*°")


def _colours(text: str, axes: tuple[str, str, str]) -> tuple[Reading, ...]:
    def one(row: Row) -> Reading:
        cells = {_plain(c): v for c, v in row.cells.items()}
        if not cells.get("name"):
            raise Refusal("The reading has no name.", where="name", remedy="Give each a name.")
        given = [_number(cells[axis], axis, -200.0, 400.0) for axis in axes]
        sd = _number(cells["sd"], "sd", 1e-3, 50.0) if cells.get("sd") else LAB_SD
        conditions = conditions_of(cells)
        return replace(
            typed_colour(
                cells["name"],
                given,
                lch=axes == LCH,
                sd=sd,
                light=cells.get("light") or "D65",
                observer=cells.get("observer", "").rstrip("°") or "10",
                conditions=conditions,
            ),
            facts={c: v for c, v in cells.items() if c not in (*axes, "name")},
        )

    return tuple(read_each(read_sheet(text, most=MOST_READINGS).rows, one))


def typed_colour(
    name: str,
    values: Sequence[float],
    *,
    lch: bool = False,
    sd: float = LAB_SD,
    light: str = "D65",
    observer: str = "10",
    conditions: Conditions | None = None,
) -> Reading:
    """A reading of a typed colour: three numbers, Lab or LCh; `sd` in CIELAB units for each of Lab's three.

    Refuses what is no colour: L* outside 0 to 100, or a*, b* beyond 130.
    """
    weights(light, observer)
    lab = lab_from_lch(values) if lch else np.array(values, dtype=float)
    if lab.shape != (3,) or not np.all(np.isfinite(lab)):
        raise Refusal(
            "A colour has three numbers.", where=name, remedy="Write L*, a*, b*, like 52.1 4.3 18.9."
        )
    if not 0.0 < lab[0] < 100.0 or np.abs(lab[1:]).max() > 130.0 or (lch and values[1] < 0):
        raise Refusal(
            "These numbers are no colour of a surface.",
            where=name,
            remedy="L* lies between 0 and 100, a* and b* from -130 to 130, C* from 0 up.",
        )
    return colour_reading(name, lab, sd, light, observer, conditions or Conditions(light=light))


def conditions_of(facts: Mapping[str, str]) -> Conditions:
    """How a colour was seen, from a row's columns; what a foreign file's columns of these names say otherwise is left untold, but a state is wet or dry."""
    specular, made = facts.get("specular", "").lower(), facts.get("made", "").lower()
    try:
        share: float | None = float(facts.get("base_share", "").replace(",", "."))
    except ValueError:
        share = None
    return Conditions(
        facts.get("state", "").lower(),
        made if made in MADE else "",
        share if share is not None and 0.0 <= share <= 1.0 else None,
        facts.get("light", ""),
        facts.get("instrument", ""),
        specular in YES if specular in (*YES, *NO) else None,
        facts.get("over", ""),
    )


def _with_conditions(readings: Sequence[Reading]) -> tuple[Reading, ...]:
    faults: list[Refusal] = []
    found: list[Reading] = []
    for number, reading in enumerate(readings, start=1):
        try:
            found.append(replace(reading, conditions=conditions_of(reading.facts)))
        except Refusal as refusal:
            place = ", ".join(filter(None, (reading.name or f"reading {number}", f"column {refusal.where}")))
            faults.append(Refusal(refusal.what, where=place, remedy=refusal.remedy))
    if faults:
        raise Refusals(faults)
    return tuple(found)


def _number(text: str, where: str, low: float, high: float) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise Refusal(
            f"“{text[:30]}” is no number from {low:g} to {high:g}." if text else "Nothing is written here.",
            where=where,
        )
    return value


def resampled(bands: Sequence[float]) -> str:
    """In words, how a file's bands (nm, rising) were brought to 400-700 nm by 10 nm; empty where there are none."""
    if not bands:
        return ""
    grid = f"{bands[0]:g}–{bands[-1]:g} nm, {len(bands)} bands"
    if set(WAVELENGTHS.tolist()) <= set(bands):
        exact = len(bands) == WAVELENGTHS.size
        return (
            f"{grid}: taken as they are" if exact else f"{grid}: every 10 nm from 400 to 700 taken as it is"
        )
    return f"{grid}: brought to every 10 nm from 400 to 700 by linear interpolation"


def write_csv(readings: Sequence[Reading]) -> str:
    """Our own CSV of readings: spectra by band, or colours as Lab where no spectrum was read; `read_any` takes it back.

    Refuses a mixture of the two, and nothing.
    """
    spectra = [r.is_spectrum for r in readings]
    if not readings or any(spectra) != all(spectra):
        raise Refusal(
            "Spectra and colours without one cannot be in one file." if readings else "There is no reading.",
            where="--out",
            remedy="Write them one kind at a time: choose with --only.",
        )
    writer = SheetWriter()
    if all(spectra):
        kept = [k for k in ("use", *SEEN) if any(r.facts.get(k) for r in readings)]
        writer.writerow(["name", *kept, *(f"{nm:.0f}" for nm in WAVELENGTHS)])
        for r in readings:
            writer.writerow(
                [r.name, *(r.facts.get(k, "") for k in kept), *(f"{v:.6f}" for v in r.reflectance)]
            )
        return writer.getvalue()
    writer.writerow(["name", *LAB, "light", "observer", "sd"])
    for r in readings:
        assert r.colour is not None
        sd = float(np.sqrt(np.trace(r.colour.covariance) / 3))
        shown = (f"{v:.4f}" for v in r.colour.lab)
        writer.writerow([r.name, *shown, r.colour.light, r.colour.observer, f"{sd:.4g}"])
    return writer.getvalue()
