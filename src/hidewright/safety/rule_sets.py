"""Which papers a set of rules wants for a job, and when a paper that ends is spoken of. A list to look through, never a finding.

Sources: 14 CFR 25.853(a) with Appendix F Part I (the finish counts with the material); 49 CFR 571.302 (road); EN 45545-2 (rail); IMO 2010 FTP Code
Part 8 (ships). What is marked “common practice” has no source. The local code and the licensed or authorised person say what is really wanted.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from hidewright.refusals import Refusal

PRACTICE = "common practice, no source"
JUDGES = "A list to look through, no finding: the local code and the licensed or authorised person say what is wanted."
REMIND_DAYS = (60, 30, 7)
"""Days before the end of a paper on which the shop is reminded: the shop's own wish, no published limit."""


class PaperKind(StrEnum):
    """What a credential is."""

    TRAINING = "training"
    CLEARANCE = "clearance"
    BURN = "burn report"
    CERTIFICATE = "certificate"
    SHEET = "data sheet"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Want:
    """One paper that a set of rules wants: its kind, in words what it is about, and who says so. `test`: the burn test that it is of."""

    kind: PaperKind
    words: str
    source: str
    test: str = ""


@dataclass(frozen=True, slots=True)
class RuleSet:
    """A set of rules by its key: what it is called, and what it wants."""

    key: str
    name: str
    wants: tuple[Want, ...]


_SOLVENTS = Want(PaperKind.TRAINING, "training in solvents and crosslinker", PRACTICE)
_SHEETS = Want(PaperKind.SHEET, "data sheets of what is sprayed", PRACTICE)

RULE_SETS: Mapping[str, RuleSet] = {
    row.key: row
    for row in (
        RuleSet("none", "no set of rules", ()),
        RuleSet(
            "aircraft",
            "aircraft",
            (
                Want(
                    PaperKind.BURN,
                    "12 s vertical burn report of the leather with its coats",
                    "14 CFR 25.853(a), Appendix F Part I",
                    "vertical",
                ),
                Want(PaperKind.CLEARANCE, "clearance to work on the aircraft’s parts", PRACTICE),
                _SOLVENTS,
                _SHEETS,
            ),
        ),
        RuleSet(
            "rail",
            "rail",
            (
                Want(PaperKind.BURN, "fire certificate of a test house", "EN 45545-2", "rail"),
                _SOLVENTS,
                _SHEETS,
            ),
        ),
        RuleSet(
            "road",
            "road",
            (
                Want(PaperKind.BURN, "horizontal burn report", "49 CFR 571.302", "horizontal"),
                _SOLVENTS,
                _SHEETS,
            ),
        ),
        RuleSet(
            "ship",
            "ship",
            (
                Want(PaperKind.BURN, "fire certificate of a test house", "IMO 2010 FTP Code Part 8", "ship"),
                _SOLVENTS,
                _SHEETS,
            ),
        ),
    )
}


def rule_set(key: str) -> RuleSet:
    """The set of rules of that key; refuses one that is not known here."""
    if key not in RULE_SETS:
        raise Refusal(
            f"“{key}” is no set of rules.", where="Rules", remedy=f"Choose one of {', '.join(RULE_SETS)}."
        )
    return RULE_SETS[key]


def days_left(expires: date | None, today: date) -> int | None:
    """Days until a paper ends: 0 on its last day, below 0 when it is over; None where it has no end."""
    return None if expires is None else (expires - today).days


def reminder(expires: date | None, today: date) -> int | None:
    """The nearest of `REMIND_DAYS` that has come (7 from seven days before), -1 once the paper is over, None while there is nothing to say."""
    left = days_left(expires, today)
    if left is None:
        return None
    if left < 0:
        return -1
    return min((days for days in REMIND_DAYS if left <= days), default=None)
