"""Jars: what is left over, kept with its formula as poured, so that it can be used or made again months later."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from hidewright.refusals import Refusal

from .amounts import millilitres
from .ledger import Ledger, by_component, contents, volume

USUAL_KEEP = timedelta(days=180)
"""Several months is common practice, no source; editable for each jar, and the data sheets of the products rule."""


NO_LOT = "not noted"
"""Stands among a thing's lots where some of it was poured without one."""


@dataclass(frozen=True, slots=True)
class JarLine:
    """One thing in a jar: `share` of it by volume, mL, and its lots."""

    key: str
    name: str
    share: float
    volume: float
    lots: tuple[str, ...] = ()

    @property
    def percent(self) -> float:
        """Its share in per cent."""
        return 100 * self.share


@dataclass(frozen=True, slots=True)
class JarState:
    """A jar as the ledger has it: `volume` mL and its lines, the largest first."""

    key: str
    name: str
    volume: float
    lines: tuple[JarLine, ...]


def jar_state(ledger: Ledger, jar: str, names: Mapping[str, str] | None = None) -> JarState:
    """What is in a jar and in which proportion, worked out from the entries."""
    known = names or {}
    held = by_component(ledger, jar)
    whole = volume(ledger, jar)
    lots: dict[str, list[str]] = {}
    for component, lot in contents(ledger, jar):
        lots.setdefault(component, []).append(lot or NO_LOT)
    lines = tuple(
        JarLine(key, known.get(key, key), amount / whole, millilitres(amount), _named(lots.get(key, [])))
        for key, amount in sorted(held.items(), key=lambda item: -item[1])
    )
    return JarState(jar, ledger.vessel(jar).name, millilitres(whole), lines)


def _named(lots: list[str]) -> tuple[str, ...]:
    """Every lot, and that some of it has none noted; nothing where none was noted at all."""
    return tuple(lots) if any(lot != NO_LOT for lot in lots) else ()


def keep_until(kept: date, days: int | None = None) -> date:
    """The day until which a jar is kept, `days` after `kept` (the usual half year without)."""
    if days is not None and not 1 <= days <= 3650:
        raise Refusal("A jar is kept from a day to ten years.", where="keep until")
    return kept + (timedelta(days=days) if days is not None else USUAL_KEEP)
