"""Cups that were read, as a CSV: a row a reading, with what was in the cup then. The shop's memory as a file.

Columns: `name` of the cup; `pours`, grams in the order in which they went in, such as "PW6=58 PBk7#B7=1.2 base=420" (a lot stands behind # where one is told);
`state` dry (or empty) or wet; `struck` yes where a reading turned out wrong: it stays on record and is left out; `sd` of the reading; and the bands, or l, a, b.
Rows of one cup whose pours begin those of a later row belong to one cup. A wet and a dry row of equal pours are a pair that tells of the base's milk.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from hidewright.colour.reading.formats import read_any
from hidewright.colour.reading.readings import Reading
from hidewright.refusals import Refusal, Refusals

from .cup import BASE, Pour, kind_of
from .cup_rows import CupRow

HOW = "Write grams like PW6=58 PBk7=1.2 base=420."
YES, NO = ("yes", "true", "1", "x"), ("", "no", "false", "0")


def read_pours(text: str, where: str = "pours", known: Iterable[str] = ()) -> tuple[Pour, ...]:
    """Pours from "PW6=58 PBk7#B7=1.2 base=420" (grams, in order); with `known` pigment keys, others are refused."""
    kinds = {*known, BASE}
    found = []
    for part in text.split():
        key, _, value = part.partition("=")
        try:
            grams = float(value)
        except ValueError:
            grams = float("nan")
        strange = len(kinds) > 1 and key not in kinds and kind_of(key) not in kinds
        if not key or not 0 < grams < 1e6 or strange:
            remedy = f"{HOW[:-1]}; known are {', '.join(sorted(kinds))}." if len(kinds) > 1 else HOW
            raise Refusal(f"“{part[:30]}” cannot be read.", where=where, remedy=remedy)
        found.append(Pour(key, grams))
    if all(pour.lot == BASE for pour in found):
        raise Refusal("The cup holds no pigment.", where=where, remedy=HOW)
    return tuple(found)


def read_cups(text: str, known: Iterable[str] = ()) -> tuple[CupRow, ...]:
    """The rows of such a file; raises `Refusals` naming every reading that must be put right."""
    kinds = tuple(known)
    faults: list[Refusal] = []
    found: list[CupRow] = []
    for number, reading in enumerate(read_any(text), start=1):
        try:
            found.append(_row(reading, kinds))
        except Refusal as refusal:
            place = f"reading {number} ({reading.name[:30]})"
            faults.append(
                Refusal(refusal.what, where=f"{place}, column {refusal.where}", remedy=refusal.remedy)
            )
    if faults:
        raise Refusals(faults)
    return tuple(found)


def _row(reading: Reading, known: Sequence[str]) -> CupRow:
    if not reading.name:
        raise Refusal("The cup has no name.", where="name", remedy="Write what is printed on it.")
    struck = reading.facts.get("struck", "").lower()
    if struck not in (*YES, *NO):
        raise Refusal(f"“{struck[:20]}” is neither yes nor no.", where="struck")
    written = reading.facts.get("sd", "")
    if reading.is_spectrum and written:
        try:
            sd = float(written)
        except ValueError:
            sd = -1.0
        if not 1e-5 <= sd <= 0.2:
            raise Refusal(
                f"A reading's sd of {written[:20]} cannot be.", where="sd", remedy="Such as 0.0015."
            )
        reading = replace(reading, sd=sd)
    return CupRow(
        reading.name, read_pours(reading.facts.get("pours", ""), known=known), reading, struck in YES
    )
