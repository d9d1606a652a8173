"""A small bench that the tests of the ledger share."""

from hidewright.mixing import Ledger, Vessel, VesselKind

ML = 1000
LINKER = "linker"


def bench(**capacities: int) -> Ledger:
    """Two cups, a gun load and two jars; `capacities` in mL by key."""
    sizes = {"cup": 1000, "other": 500, "gun": 250, "jar": 300, "spare": 300, **capacities}
    kinds = {"gun": VesselKind.PORTION, "jar": VesselKind.JAR, "spare": VesselKind.JAR}
    vessels = {
        key: Vessel(key, key.title(), kinds.get(key, VesselKind.CUP), size * ML)
        for key, size in sizes.items()
    }
    return Ledger(vessels, (), frozenset({LINKER}))
