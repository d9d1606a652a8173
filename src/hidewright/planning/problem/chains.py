"""Runs: operations of a piece that one person does one after the other without a break, since a window ties them together."""

from collections.abc import Iterator

from .model import Operation


def runs(operations: tuple[Operation, ...]) -> Iterator[tuple[Operation, ...]]:
    """Operations that one person does one after the other without a break, since a window ties them together."""
    run: list[Operation] = []
    for operation in operations:
        run.append(operation)
        if operation.window is None:
            yield tuple(run)
            run = []
    if run:
        yield tuple(run)


def run_minutes(run: tuple[Operation, ...]) -> int:
    """Minutes from the start of a run to the end of its last operation, drying between them included."""
    return sum(o.minutes for o in run) + sum(o.dry for o in run[:-1])
