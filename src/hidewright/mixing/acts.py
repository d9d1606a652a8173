"""What may be done at the bench: each function looks at the ledger and returns the entry to add, or refuses and says why.

Volumes in µL. None of them changes the ledger; `ledger.added(entry)` does.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime

from hidewright.refusals import Refusal

from .amounts import millilitres, share_out
from .ledger import (
    OUTER,
    SPRAYED,
    STOCK,
    WASTE,
    Act,
    Content,
    Entry,
    Ledger,
    Move,
    VesselKind,
    contents,
    crosslinked_since,
    volume,
)

NO_WAY_BACK = "Crosslinked colour goes on curing: in a jar it would set, and take the good colour with it."


def _ml(amount: int) -> str:
    return f"{millilitres(amount):.2f} mL"


def room(ledger: Ledger, vessel: str) -> int:
    """µL that still go into the vessel."""
    return ledger.vessel(vessel).capacity - volume(ledger, vessel)


def _need_room(ledger: Ledger, vessel: str, amount: int) -> None:
    over = amount - room(ledger, vessel)
    if over > 0:
        held = ledger.vessel(vessel)
        raise Refusal(
            f"{held.name} would run over by {_ml(over)}: it holds {_ml(held.capacity)} and has {_ml(volume(ledger, vessel))} in it.",
            where="volume",
            remedy=f"Pour at most {_ml(max(0, room(ledger, vessel)))}, or take a bigger vessel.",
        )


def _need_amount(ledger: Ledger, vessel: str, amount: int) -> None:
    there = volume(ledger, vessel)
    if amount <= 0:
        raise Refusal("Nothing would be taken.", where="volume", remedy="Write a volume above nothing.")
    if amount > there:
        raise Refusal(
            f"{ledger.vessel(vessel).name} has {_ml(there)} in it, not {_ml(amount)}.",
            where="volume",
            remedy=f"Take at most {_ml(there)}.",
        )


def _need_alike(ledger: Ledger, source: str, target: str) -> None:
    """Crosslinked colour goes into no jar, and not to colour that is not crosslinked."""
    kind, name = ledger.vessel(target).kind, ledger.vessel(target).name
    hot, held = crosslinked_since(ledger, source), crosslinked_since(ledger, target)
    if hot and kind is VesselKind.JAR:
        raise Refusal(
            f"{ledger.vessel(source).name} is crosslinked; it cannot go into the jar {name}.",
            where="vessel",
            remedy=f"{NO_WAY_BACK} Spray it within its pot life, or discard it.",
        )
    if volume(ledger, target) and bool(hot) != bool(held):
        which = ledger.vessel(source).name if hot else name
        raise Refusal(
            f"{which} is crosslinked and the other is not: they may not be poured together.",
            where="vessel",
            remedy="Keep crosslinked colour in its own cup; crosslink the rest by itself when it is wanted.",
        )


def _moves(amounts: Mapping[Content, int], source: str, target: str) -> tuple[Move, ...]:
    return tuple(
        Move(source, target, component, amount, lot) for (component, lot), amount in amounts.items() if amount
    )


def _part(ledger: Ledger, source: str, target: str, amount: int) -> tuple[Move, ...]:
    """`amount` µL of a well-stirred vessel: every content in proportion, to the µL."""
    _need_amount(ledger, source, amount)
    return _moves(share_out(amount, contents(ledger, source)), source, target)


def pour(
    ledger: Ledger,
    vessel: str,
    component: str,
    amount: int,
    *,
    lot: str = "",
    at: datetime | None = None,
    note: str = "",
) -> Entry:
    """Pour `amount` µL of a component out of stock into a vessel. A crosslinker is poured by `crosslink`."""
    if component in ledger.crosslinkers:
        raise Refusal(
            "A crosslinker is not poured as a part of the recipe.",
            where="component",
            remedy="Draw off what this session sprays, and crosslink that.",
        )
    if crosslinked_since(ledger, vessel):
        raise Refusal(
            f"{ledger.vessel(vessel).name} is crosslinked; nothing more is mixed into it.",
            where="vessel",
            remedy="Mix in a cup that is not crosslinked.",
        )
    _need_room(ledger, vessel, amount)
    return Entry(
        ledger.next_number, Act.POUR, (Move(STOCK, vessel, component, amount, lot),), at=at, note=note
    )


def split(
    ledger: Ledger, source: str, target: str, amount: int, *, at: datetime | None = None, note: str = ""
) -> Entry:
    """Draw `amount` µL off one cup into another cup or a gun load (a jar is filled by `to_jar`)."""
    if ledger.vessel(target).kind is VesselKind.JAR:
        raise Refusal(
            "A jar is filled by keeping what is left.", where="vessel", remedy="Use “keep in a jar”."
        )
    _need_amount(ledger, source, amount)
    _need_alike(ledger, source, target)
    _need_room(ledger, target, amount)
    return Entry(ledger.next_number, Act.SPLIT, _part(ledger, source, target, amount), at=at, note=note)


def box(
    ledger: Ledger, sources: Sequence[str], target: str, *, at: datetime | None = None, note: str = ""
) -> Entry:
    """Box (intermix): pour all of the `sources` into `target`, so that what is sprayed from now on is one colour."""
    full = [source for source in dict.fromkeys(sources) if volume(ledger, source)]
    if not full or target in full:
        raise Refusal(
            "Boxing wants at least one other vessel with colour in it.", where="vessel", remedy="Choose one."
        )
    for source in full:
        _need_alike(ledger, source, target)
    if len({bool(crosslinked_since(ledger, source)) for source in full}) > 1:
        raise Refusal(
            "Some of these are crosslinked and some are not: they may not be poured together.",
            where="vessel",
            remedy="Box only colour that is not crosslinked.",
        )
    _need_room(ledger, target, sum(volume(ledger, source) for source in full))
    moves = tuple(move for source in full for move in _part(ledger, source, target, volume(ledger, source)))
    return Entry(ledger.next_number, Act.BOX, moves, at=at, note=note)


def crosslink(
    ledger: Ledger,
    vessel: str,
    component: str,
    amount: int,
    *,
    lot: str = "",
    at: datetime | None = None,
    note: str = "",
) -> Entry:
    """Add crosslinker to a cup or a gun load; its pot life starts. Refused for jars, empty vessels and what is crosslinked already."""
    held = ledger.vessel(vessel)
    if component not in ledger.crosslinkers:
        raise Refusal("This is no crosslinker.", where="component", remedy="Choose a product of that role.")
    if held.kind is VesselKind.JAR:
        raise Refusal(
            f"{held.name} is a jar.",
            where="vessel",
            remedy=f"{NO_WAY_BACK} Draw off what is sprayed today, and crosslink that.",
        )
    if not volume(ledger, vessel):
        raise Refusal(
            f"{held.name} is empty.", where="vessel", remedy="Draw the colour off first, then crosslink it."
        )
    if crosslinked_since(ledger, vessel):
        raise Refusal(
            f"{held.name} is crosslinked already.",
            where="vessel",
            remedy="A second dose is not in any ratio. If the first was logged too small, take it back and log it right.",
        )
    _need_room(ledger, vessel, amount)
    return Entry(
        ledger.next_number, Act.CROSSLINK, (Move(STOCK, vessel, component, amount, lot),), at=at, note=note
    )


def use(ledger: Ledger, vessel: str, amount: int, *, at: datetime | None = None, note: str = "") -> Entry:
    """`amount` µL went onto the work (with its overspray)."""
    return Entry(ledger.next_number, Act.USE, _part(ledger, vessel, SPRAYED, amount), at=at, note=note)


def discard(ledger: Ledger, vessel: str, amount: int, *, at: datetime | None = None, note: str = "") -> Entry:
    """`amount` µL went to waste: past its pot life, spilt, left in the strainer."""
    return Entry(ledger.next_number, Act.DISCARD, _part(ledger, vessel, WASTE, amount), at=at, note=note)


def to_jar(
    ledger: Ledger, source: str, jar: str, amount: int, *, at: datetime | None = None, note: str = ""
) -> Entry:
    """Keep `amount` µL in a jar. Crosslinked colour is refused."""
    if ledger.vessel(jar).kind is not VesselKind.JAR:
        raise Refusal(f"{ledger.vessel(jar).name} is no jar.", where="vessel", remedy="Choose a jar.")
    _need_amount(ledger, source, amount)
    _need_alike(ledger, source, jar)
    _need_room(ledger, jar, amount)
    return Entry(ledger.next_number, Act.TO_JAR, _part(ledger, source, jar, amount), at=at, note=note)


def counter(ledger: Ledger, number: int, *, at: datetime | None = None, note: str = "") -> Entry:
    """Take back entry `number`: the same amounts move the other way. Refused when they are no longer all there, or were taken back already."""
    entry = ledger.entry(number)
    if entry.act is Act.COUNTER:
        raise Refusal("A correction is not taken back.", where="entry", remedy="Log the pour again.")
    if number in ledger.countered():
        raise Refusal(
            "This was taken back already.", where="entry", remedy="Reload the page to see how things are now."
        )
    back = tuple(move.reversed() for move in entry.moves)
    _need_still_there(ledger, entry, back)
    for place in entry.vessels():
        gain = sum(m.amount for m in back if m.target == place) - sum(
            m.amount for m in back if m.source == place
        )
        if gain > 0:
            _need_room(ledger, place, gain)
    made = Entry(ledger.next_number, Act.COUNTER, back, counters=number, at=at, note=note)
    _need_nothing_spoilt(ledger, made)
    return made


def _need_nothing_spoilt(ledger: Ledger, made: Entry) -> None:
    """Refuse a taking back after which colour that is there now would count as crosslinked: it was poured after what comes back had left."""
    after = ledger.added(made)
    for key, held in ledger.vessels.items():
        if volume(ledger, key) and crosslinked_since(after, key) and not crosslinked_since(ledger, key):
            raise Refusal(
                f"Crosslinked colour would come back among what {held.name} holds now.",
                where="entry",
                remedy="Log what really happened as a new entry.",
            )


def _need_still_there(ledger: Ledger, entry: Entry, back: Sequence[Move]) -> None:
    wanted: dict[tuple[str, Content], int] = {}
    for move in back:
        if move.source not in OUTER:
            key = (move.source, (move.component, move.lot))
            wanted[key] = wanted.get(key, 0) + move.amount
    for (place, content), amount in wanted.items():
        if contents(ledger, place).get(content, 0) >= amount:
            continue
        gone = ledger.countered()
        later = [
            e.number
            for e in ledger.entries
            if e.number > entry.number
            and e.act is not Act.COUNTER
            and e.number not in gone
            and any(m.source == place for m in e.moves)
        ]
        told = f"Take back entry {later[-1]} first." if later else "Log the difference as a new entry."
        raise Refusal(
            f"Not all of it is in {ledger.vessel(place).name} any more: some was drawn off since.",
            where="entry",
            remedy=told,
        )
