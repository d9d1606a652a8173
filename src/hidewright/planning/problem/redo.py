"""Work that is done again: after a failed inspection, or a snag that is repaired."""

from collections.abc import Collection, Iterator
from dataclasses import replace

from hidewright.refusals import Refusal

from .model import OWN, Job, Kind, Operation


def redo(
    job: Job,
    kinds: tuple[Kind, ...] = (Kind.MASK, Kind.SAND, Kind.TACK, Kind.SECOND, Kind.CLEAR),
    done: Collection[str] | None = None,
) -> Job:
    """The job of a piece that failed its inspection: after what it went through, these steps again on a table, then unmasking and inspecting again.

    Where it is told what is `done` (keys), packing and the like that are not done yet come after it. Minutes, drying and windows are those the piece had for the same kinds before; kinds it never had are left out. Refuses when none is left.
    """
    number = 1 + sum(1 for key in job.passes if key.startswith("redo"))
    again = [_again(job, kind, f"redo{number}") for kind in kinds]
    after = [_again(job, kind, f"end{number}") for kind in (Kind.UNMASK, Kind.INSPECT)]
    steps = [o for o in again if o is not None]
    if not steps:
        raise Refusal(
            "None of these steps was on its route.", where=job.piece, remedy="Choose steps it went through."
        )
    later = tuple(_later(job, done)) if done is not None else ()
    before = tuple(o for o in job.operations if o not in later)
    moved = (replace(o, pass_key=f"end{number}") for o in later)
    return replace(job, operations=(*before, *steps, *(o for o in after if o is not None), *moved))


def _later(job: Job, done: Collection[str]) -> Iterator[Operation]:
    """What comes after the inspection and is not done yet: it waits until the piece has passed."""
    inspected = False
    for operation in job.operations:
        if inspected and operation.kind in OWN and operation.key not in done:
            yield operation
        inspected = inspected or operation.kind is Kind.INSPECT


def _again(job: Job, kind: Kind, pass_key: str) -> Operation | None:
    for operation in reversed(job.operations):
        if operation.kind is kind:
            key = f"{job.piece}/{pass_key}/{kind}"
            return replace(operation, key=key, pass_key=pass_key, side="front", release=0, after=())
    return None
