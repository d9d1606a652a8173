"""A repair that came up on the way: one more step of a piece, before its next coat."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from hidewright.refusals import Refusal

from .kinds import COATS, OWN, Kind
from .model import NAMED, Job, Operation
from .route import BETWEEN
from .routes import MOST_AT_ONCE, in_parts

MARK = "repair"
"""How the middle of the key of a repair begins; its number follows."""
FOR_THE_COAT = BETWEEN | {Kind.WIPE_DOWN}
"""What is done for the sake of the coat that follows: a repair comes before it."""


@dataclass(frozen=True, slots=True)
class Repair:
    """One repair on a piece: its `number`, what it is called, the `kind` of the shop's own work (and so its family), `minutes` of hands (1 to 480) and `dry` min after it (up to 14 days)."""

    number: int
    name: str
    kind: Kind = Kind.OWN_PREP
    minutes: int = 30
    dry: int = 0

    def __post_init__(self) -> None:
        if self.kind not in OWN:
            raise Refusal(f"“{self.kind}” is no work of the shop’s own.", where="Family")
        if not self.name.strip() or "/" in self.name or NAMED.strip() in self.name or len(self.name) > 40:
            raise Refusal("A name has 1 to 40 letters, no “/” and no “·”.", where=self.name[:40])
        if not 1 <= self.minutes <= 480:
            raise Refusal(
                f"{self.minutes} min for a repair cannot be.", where="Minutes", remedy="Enter 1 to 480."
            )
        if not 0 <= self.dry <= 14 * 24 * 60:
            raise Refusal(
                f"{self.dry / 60:g} h of drying cannot be.", where="Drying", remedy="Enter 14 days at most."
            )

    def key(self, piece: str) -> str:
        """How the plan names it, the same in every plan: before “, part 1” where it comes in parts."""
        return f"{piece}/{MARK}{self.number}/{self.name}{NAMED}{self.kind}"

    def operations(self, piece: str, pass_key: str, side: str) -> list[Operation]:
        """The repair as work in a pass, in parts where it is long."""
        whole = Operation(self.key(piece), self.kind, side, pass_key, self.minutes, self.dry, name=self.name)
        return in_parts(whole, MOST_AT_ONCE)


def is_repair(key: str) -> bool:
    """Whether an operation's key is that of a repair."""
    middle = key.rsplit("/", 2)[-2:][0]
    return middle.startswith(MARK) and middle.removeprefix(MARK).isdigit()


def with_repair(job: Job, repair: Repair, done: Mapping[str, datetime | None] | Collection[str] = ()) -> Job:
    """The job with a repair before its next coat, and before what is done for the sake of that; where none is to come, it comes next. `done` operation → when, of what is done already.

    A repair that is done comes after what was done before it.
    """
    operations = job.operations
    mine = [o.key for o in repair.operations(job.piece, "front", "front")]
    last = max((n for n, o in enumerate(operations) if o.key in done), default=-1)
    if all(key in done for key in mine):
        at = _after(operations, done, mine[-1])
        near = operations[max(at - 1, 0)]
    else:
        coat = next((n for n, o in enumerate(operations) if n > last and o.kind in COATS), None)
        at = last + 1 if coat is None else coat
        while at > last + 1 and operations[at - 1].kind in FOR_THE_COAT:
            at -= 1
        near = operations[min(at, len(operations) - 1)]
    new = repair.operations(job.piece, near.pass_key, near.side)
    return replace(job, operations=(*operations[:at], *new, *operations[at:]))


def _after(
    operations: tuple[Operation, ...], done: Mapping[str, datetime | None] | Collection[str], key: str
) -> int:
    """Where a repair that is done stands: after all that was done before it."""
    times = done if isinstance(done, Mapping) else {}
    moment = times.get(key)
    before = [
        n
        for n, o in enumerate(operations)
        if o.key in done and (moment is None or (when := times.get(o.key)) is None or when <= moment)
    ]
    return max(before, default=-1) + 1
