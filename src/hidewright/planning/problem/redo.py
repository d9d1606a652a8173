"""Work that is done again: after a failed inspection, or a snag that is repaired."""

from dataclasses import replace

from hidewright.refusals import Refusal

from .model import Job, Kind, Operation


def redo(
    job: Job, kinds: tuple[Kind, ...] = (Kind.MASK, Kind.SAND, Kind.TACK, Kind.SECOND, Kind.CLEAR)
) -> Job:
    """The job of a piece that failed its inspection: after what it went through, these steps again on a table, then unmasking and inspecting again.

    Minutes, drying and windows are those the piece had for the same kinds before; kinds it never had are left out. Refuses when none is left.
    """
    number = 1 + sum(1 for key in job.passes if key.startswith("redo"))
    again = [_again(job, kind, f"redo{number}") for kind in kinds]
    after = [_again(job, kind, f"end{number}") for kind in (Kind.UNMASK, Kind.INSPECT)]
    steps = [o for o in again if o is not None]
    if not steps:
        raise Refusal(
            "None of these steps was on its route.", where=job.piece, remedy="Choose steps it went through."
        )
    return replace(job, operations=(*job.operations, *steps, *(o for o in after if o is not None)))


def _again(job: Job, kind: Kind, pass_key: str) -> Operation | None:
    for operation in reversed(job.operations):
        if operation.kind is kind:
            key = f"{job.piece}/{pass_key}/{kind}"
            return replace(operation, key=key, pass_key=pass_key, side="front", release=0)
    return None
