"""Readings from CGATS.17 / ISO 28178 text files: keyword lines, a data format, and rows of data.

Spectra are read from fields named SPECTRAL_NM400, SPECTRAL_NM_400, SPECTRAL_400, NM_400, NM400, R_400 or R400 (nm); Lab from LAB_L, LAB_A, LAB_B when there is no spectrum. A file whose
largest value is above 2 is taken as percent.
"""

import re
import shlex

import numpy as np

from hidewright.refusals import Refusal, Refusals

from .conditions import Conditions
from .readings import Reading, colour_reading, resample

_BAND = re.compile(r"^(?:SPECTRAL_)?(?:NM|R)?_?(\d{3})$", re.IGNORECASE)
LAB_FIELDS = ("LAB_L", "LAB_A", "LAB_B")
LAB_SD = 0.3
"""sd of Lab typed or read without a spectrum: of a good instrument between itself and another (common practice, no source)."""


def read_cgats(text: str) -> tuple[Reading, ...]:
    """Readings of a CGATS.17 text; raises `Refusals` naming every line that must be put right."""
    lines = [line.strip() for line in text.removeprefix("\ufeff").splitlines()]
    heads: dict[str, str] = {}
    found: list[Reading] = []
    faults: list[Refusal] = []
    at = 0
    while at < len(lines):
        word = lines[at].split(maxsplit=1)
        if lines[at].upper() == "BEGIN_DATA_FORMAT":
            fields, at = _section(lines, at, "END_DATA_FORMAT")
            names = [name.upper() for _, line in fields for name in line.split()]
        elif lines[at].upper() == "BEGIN_DATA":
            rows, at = _section(lines, at, "END_DATA")
            if "names" not in locals():
                raise Refusal(
                    "The data come before their format.", where="BEGIN_DATA", remedy="Export the file again."
                )
            readings, wrong = _readings(names, rows, heads)
            found += readings
            faults += wrong
        elif len(word) == 2 and not lines[at].startswith("#"):
            heads[word[0].upper()] = word[1].strip('"')
        at += 1
    if faults:
        raise Refusals(faults)
    if not found:
        raise Refusal("The file holds no data.", remedy="It needs BEGIN_DATA_FORMAT and BEGIN_DATA sections.")
    return tuple(found)


def _section(lines: list[str], start: int, end: str) -> tuple[list[tuple[int, str]], int]:
    for stop in range(start + 1, len(lines)):
        if lines[stop].upper() == end:
            return [
                (n + 1, lines[n]) for n in range(start + 1, stop) if lines[n] and not lines[n].startswith("#")
            ], stop
    raise Refusal(
        f"{end} is missing.", where=f"line {start + 1}", remedy="The file was cut off: export it again."
    )


def _readings(
    names: list[str], rows: list[tuple[int, str]], heads: dict[str, str]
) -> tuple[list[Reading], list[Refusal]]:
    bands = {i: float(m[1]) for i, name in enumerate(names) if (m := _BAND.match(name))}
    lab = [names.index(f) for f in LAB_FIELDS] if set(LAB_FIELDS) <= set(names) else []
    if not bands and not lab:
        raise Refusal(
            "There are neither bands nor Lab in the data format.",
            where="BEGIN_DATA_FORMAT",
            remedy="Export spectral values, or Lab.",
        )
    faults: list[Refusal] = []
    cells: list[tuple[int, list[str]]] = []
    for number, line in rows:
        try:
            parts = shlex.split(line) if '"' in line else line.split()
        except ValueError:
            faults.append(Refusal("A quotation mark is not closed.", where=f"line {number}"))
            continue
        if len(parts) != len(names):
            faults.append(
                Refusal(f"There are {len(parts)} values for {len(names)} fields.", where=f"line {number}")
            )
        else:
            cells.append((number, parts))
    read = [(number, parts, _numbers(number, parts, list(bands) or lab, faults)) for number, parts in cells]
    if faults:
        return [], faults
    top = max((float(np.max(values)) for _, _, values in read), default=0.0)
    conditions = Conditions(instrument=heads.get("INSTRUMENTATION", ""), over=heads.get("SAMPLE_BACKING", ""))
    found: list[Reading] = []
    for number, parts, values in read:
        name = _named(names, parts)
        facts = {n.lower(): p for i, (n, p) in enumerate(zip(names, parts, strict=True)) if i not in bands}
        try:
            if bands:
                spectrum = resample(
                    np.array(list(bands.values())), values * (0.01 if top > 2 else 1.0), f"line {number}"
                )
                grid = tuple(sorted(bands.values()))
                found.append(Reading(name, spectrum, facts, conditions=conditions, bands=grid))
            else:
                found.append(colour_reading(name, values, LAB_SD, *_light(heads), conditions=conditions))
        except Refusal as refusal:
            faults.append(Refusal(refusal.what, where=f"line {number}", remedy=refusal.remedy))
    return found, faults


def _numbers(number: int, parts: list[str], places: list[int], faults: list[Refusal]) -> np.ndarray:
    values = []
    for place in places:
        try:
            value = float(parts[place].replace(",", "."))
        except ValueError:
            value = float("nan")
        if not np.isfinite(value):
            faults.append(
                Refusal(f"“{parts[place][:20]}” is not a number.", where=f"line {number}, value {place + 1}")
            )
            value = 0.0
        values.append(value)
    return np.array(values)


def _named(names: list[str], parts: list[str]) -> str:
    for field in ("SAMPLE_NAME", "SAMPLE_ID", "STRING"):
        if field in names:
            return parts[names.index(field)]
    return parts[0]


def _light(heads: dict[str, str]) -> tuple[str, str]:
    """Light and observer of Lab values, from the keywords; D50 is not among the known lights, so such Lab is refused."""
    told = " ".join(heads.values()).upper().replace(" ", "")
    if "D50" in told:
        raise Refusal(
            "The Lab values hold for D50, which is for print.",
            where="header",
            remedy="Export spectra, or Lab for D65.",
        )
    return "D65", "2" if "2DEG" in told or "2°" in told else "10"
