"""Readings from CxF3 (ISO 17972-1) XML: objects with a reflectance spectrum, or with CIELAB.

Read through defusedxml, so that a file cannot pull in others or blow up. The step of the bands comes from the object's colour specification; 10 nm where it is not told.
"""

from xml.etree.ElementTree import Element

import numpy as np

from hidewright.refusals import Refusal, Refusals

from .cgats import LAB_SD
from .conditions import Conditions
from .readings import Reading, colour_reading, resample


def _local(element: Element) -> str:
    return element.tag.rsplit("}", 1)[-1]


DEEPEST = 32
"""Levels of elements inside each other; an export has about ten."""
MOST_OBJECTS = 2000
"""Objects of one file."""


def _all(element: Element, name: str) -> list[Element]:
    return [e for e in element.iter() if _local(e) == name]


def _text(element: Element, name: str) -> str:
    found = _all(element, name)
    return (found[0].text or "").strip() if found else ""


def read_cxf(text: str | bytes) -> tuple[Reading, ...]:
    """Readings of a CxF3 file; raises `Refusals` naming every object that must be put right."""
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import ParseError, fromstring

    try:
        root = fromstring(text, forbid_dtd=True)
    except (ParseError, DefusedXmlException, ValueError) as error:
        raise Refusal(
            f"This is no readable XML: {error}.", remedy="Export the file again as CxF3."
        ) from error
    _refuse_deep(root)
    specifications = {e.get("Id", ""): e for e in _all(root, "ColorSpecification") if e.get("Id")}
    found: list[Reading] = []
    faults: list[Refusal] = []
    for number, thing in enumerate(_all(root, "Object"), start=1):
        name = thing.get("Name") or thing.get("Id") or f"object {number}"
        try:
            found += _readings(name, thing, specifications)
        except Refusal as refusal:
            faults.append(Refusal(refusal.what, where=f"object {name}", remedy=refusal.remedy))
    if faults:
        raise Refusals(faults)
    if not found:
        raise Refusal(
            "The file holds no object with a spectrum or Lab.", remedy="Export reflectance spectra as CxF3."
        )
    return tuple(found)


def _refuse_deep(root: Element) -> None:
    """Refuse what is nested deeper, or has more objects, than any export: each object is searched to its bottom."""
    objects, level = 0, [root]
    for _ in range(DEEPEST):
        objects += sum(_local(e) == "Object" for e in level)
        level = [child for e in level for child in e]
    if level or objects > MOST_OBJECTS:
        what = (
            "is nested too deep"
            if level
            else f"holds {objects} objects; up to {MOST_OBJECTS} are taken at once"
        )
        raise Refusal(f"The file {what}.", remedy="Export fewer colours at a time, as CxF3.")


def _readings(name: str, thing: Element, specifications: dict[str, Element]) -> list[Reading]:
    spectra = _all(thing, "ReflectanceSpectrum")
    if spectra:
        return [_spectrum(name, e, specifications.get(e.get("ColorSpecification", ""))) for e in spectra]
    return [
        _lab(name, e, specifications.get(e.get("ColorSpecification", ""))) for e in _all(thing, "ColorCIELab")
    ]


def _spectrum(name: str, element: Element, told: Element | None) -> Reading:
    values = np.array([_number(part) for part in (element.text or "").split()])
    ranges = _all(told, "WavelengthRange") if told is not None else []
    start = _number(element.get("StartWL") or (ranges[0].get("StartWL") if ranges else None) or "nan")
    step = _number((ranges[0].get("Increment") if ranges else None) or "10")
    if values.size < 2 or not np.isfinite(start) or not 1 <= step <= 20:
        raise Refusal(
            "The spectrum does not say where it starts, or is empty.",
            remedy="Export it with the first and last wavelength.",
        )
    grid = np.asarray(start + step * np.arange(values.size), dtype=np.float64)
    scale = 0.01 if values.max() > 2 else 1.0
    conditions = Conditions(instrument=_text(told, "Model") if told is not None else "")
    spectrum = resample(grid, values * scale, name)
    return Reading(name, spectrum, {"object": name}, conditions=conditions, bands=tuple(grid.tolist()))


def _lab(name: str, element: Element, told: Element | None) -> Reading:
    values = [_number(_text(element, axis)) for axis in ("L", "A", "B")]
    light = _text(told, "Illuminant").upper() if told is not None else "D65"
    observer = "2" if told is not None and _text(told, "Observer").lower().startswith("2") else "10"
    return colour_reading(name, values, LAB_SD, light or "D65", observer)


def _number(text: str | None) -> float:
    try:
        value = float(text or "")
    except ValueError as error:
        raise Refusal(f"“{(text or '')[:20]}” is not a number.", remedy="Export the file again.") from error
    return value
