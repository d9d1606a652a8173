"""How things are at a moment of a foreman's day: pieces, people, guns, and a work that could be begun."""

from dataclasses import dataclass, field

from .records import Item, Op
from .tables import Place


@dataclass(slots=True)
class Piece:
    """How far a piece is: `next` operation, `ready` from when it may go on (FOREVER while somebody is at it)."""

    item: Item
    next: int = 0
    ready: int = 0
    place: Place | None = None
    since: int = 0
    stay: str = ""
    in_rack: bool = False

    @property
    def op(self) -> Op:
        """What comes next on it."""
        return self.item.ops[self.next]

    @property
    def done(self) -> bool:
        """True when nothing is left."""
        return self.next == len(self.item.ops)

    @property
    def opens(self) -> bool:
        """True when the next operation begins a pass on a table."""
        return bool(self.op.stay) and self.op.stay != self.stay


@dataclass(slots=True)
class Person:
    """What a person is at: free from `free`, in a `family` since this morning, suited up or not, with coats they `owe` by a minute."""

    number: int
    free: int = 0
    day: int = -1
    family: str = ""
    kind: str = ""
    suited: bool = False
    owes: dict[int, int] = field(default_factory=dict)


@dataclass(slots=True)
class Gun:
    """A gun: `free` from, `loaded` with a product on `day`."""

    free: int = 0
    loaded: str = ""
    day: int = -1


@dataclass(frozen=True, slots=True)
class Offer:
    """A work that could be begun now: `set_ups` (what, minutes) and then the work from `start`."""

    piece: int
    start: int
    set_ups: tuple[tuple[str, int], ...]
    gun: int | None
    place: Place | None
