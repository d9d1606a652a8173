"""Whether the book of the bench balances: worked out from its moves alone, by other code than the bench's own."""

from collections import Counter, defaultdict
from collections.abc import Iterator

from hidewright.mixing.ledger import OUTER
from hidewright.workshop.front.trouble import Trouble
from hidewright.workshop.shelf.models import MixComponent, MixEntry, MixMove, MixTurn, MixVessel

RESTORE = "Stop the server and bring back the newest good copy: hidewright restore FILE --over (what is here is kept)."

Moved = tuple[str, str, str, str, int]


def book_damages() -> Iterator[Trouble]:
    """What is wrong with the book; entries in the order of their keys, amounts in µL."""
    vessels = {f"v{pk}": name for pk, name in MixVessel.objects.values_list("pk", "name")}
    moves: dict[int, list[Moved]] = defaultdict(list)
    fields = ("entry_id", "source", "target", "component", "lot", "amount")
    for entry, *move in MixMove.objects.order_by("entry_id", "id").values_list(*fields).iterator():
        moves[entry].append((str(move[0]), str(move[1]), str(move[2]), str(move[3]), int(move[4])))
    yield from _places(moves, vessels)
    yield from _levels(moves, vessels)
    yield from _entries(moves)
    yield from _turns(moves, vessels)


def _places(moves: dict[int, list[Moved]], vessels: dict[str, str]) -> Iterator[Trouble]:
    components = set(MixComponent.objects.values_list("key", flat=True))
    for entry, lines in moves.items():
        for source, target, component, _, amount in lines:
            if strange := {source, target} - OUTER - vessels.keys():
                yield Trouble(
                    "book-place",
                    f"Entry {entry} of the book names a vessel that is not there: {min(strange)}.",
                    RESTORE,
                )
                return
            if component not in components:
                yield Trouble(
                    "book-component",
                    f"Entry {entry} of the book moves {component}, which nobody knows.",
                    RESTORE,
                )
                return
            if amount <= 0 or source == target:
                yield Trouble("book-amount", f"Entry {entry} of the book moves nothing.", RESTORE)
                return


def _levels(moves: dict[int, list[Moved]], vessels: dict[str, str]) -> Iterator[Trouble]:
    """No vessel ever gives what it does not hold."""
    held: Counter[tuple[str, str, str]] = Counter()
    for entry in sorted(moves):
        for source, target, component, lot, amount in moves[entry]:
            held[source, component, lot] -= amount
            held[target, component, lot] += amount
        for source, _, component, lot, _ in moves[entry]:
            if source not in OUTER and held[source, component, lot] < 0:
                name = vessels.get(source, source)
                yield Trouble(
                    "book-balance",
                    f"After entry {entry} of the book, {name} holds {held[source, component, lot] / 1000:.3f} mL of {component}.",
                    RESTORE,
                )
                return


def _entries(moves: dict[int, list[Moved]]) -> Iterator[Trouble]:
    for entry, counters, act in MixEntry.objects.order_by("pk").values_list("pk", "counters_id", "act"):
        if entry not in moves:
            yield Trouble("book-empty", f"Entry {entry} of the book moves nothing.", RESTORE)
            return
        if (act == "counter") != (counters is not None):
            yield Trouble(
                "book-counter", f"Entry {entry} of the book does not say what it takes back.", RESTORE
            )
            return
        if counters is not None:
            back = sorted((target, source, *rest) for source, target, *rest in moves.get(counters, []))
            if back != sorted(moves[entry]):
                yield Trouble(
                    "book-counter",
                    f"Entry {entry} of the book does not take back what entry {counters} moved.",
                    RESTORE,
                )
                return


def _turns(moves: dict[int, list[Moved]], vessels: dict[str, str]) -> Iterator[Trouble]:
    """Each entry has its place in the sequence of each vessel that it touches."""
    wanted = {
        (place, entry)
        for entry, lines in moves.items()
        for source, target, *_ in lines
        for place in (source, target)
        if place in vessels
    }
    listed = {(f"v{vessel}", entry) for vessel, entry in MixTurn.objects.values_list("vessel_id", "entry_id")}
    if odd := wanted ^ listed:
        vessel, entry = min(odd)
        yield Trouble(
            "book-sequence",
            f"Entry {entry} of the book has no place, or a wrong one, among those of {vessels.get(vessel, vessel)}.",
            RESTORE,
        )
