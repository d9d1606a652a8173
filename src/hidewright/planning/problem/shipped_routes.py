"""The routes that come with it: starting points for the shop to copy and edit. Common practice, no source.

Leather and vinyl get colour wiped in first where they are sat on; bare plastic and metal get a primer; wood gets neither.
"""

from .model import Kind
from .route import Part, Route, RouteStep, Where


def _steps(*before_colour: RouteStep) -> tuple[RouteStep, ...]:
    return (
        RouteStep(Part.PREP, Kind.STRIP, Where.BARE),
        RouteStep(Part.PREP, Kind.CLEAN, Where.BARE),
        RouteStep(Part.PREP, Kind.REPAIR, Where.DAMAGED),
        RouteStep(Part.SIDE, Kind.TURN),
        RouteStep(Part.SIDE, Kind.MASK, Where.EDGES),
        RouteStep(Part.SIDE, Kind.CLEAN, Where.OLD_COAT),
        RouteStep(Part.SIDE, Kind.WIPE_DOWN),
        *before_colour,
        RouteStep(Part.SIDE, Kind.SPRAY),
        RouteStep(Part.SIDE, Kind.SAND),
        RouteStep(Part.SIDE, Kind.TACK),
        RouteStep(Part.SIDE, Kind.SECOND),
        RouteStep(Part.SIDE, Kind.CLEAR),
        RouteStep(Part.END, Kind.UNMASK, Where.EDGES),
        RouteStep(Part.END, Kind.INSPECT),
    )


_WIPED = (RouteStep(Part.SIDE, Kind.WIPE_IN, Where.SAT),)
_PRIMED = (
    RouteStep(Part.SIDE, Kind.PRIME, Where.BARE),
    RouteStep(Part.SIDE, Kind.SAND, Where.BARE),
    RouteStep(Part.SIDE, Kind.TACK, Where.BARE),
)

SHIPPED = (
    Route("leather", "Leather", _steps(*_WIPED), frozenset({"leather"})),
    Route("vinyl", "Vinyl", _steps(*_WIPED), frozenset({"vinyl"})),
    Route("plastic", "Hard plastic", _steps(*_PRIMED), frozenset({"plastic"})),
    Route("metal", "Metal", _steps(*_PRIMED), frozenset({"metal"})),
    Route("wood", "Wood", _steps(), frozenset({"wood"})),
)
"""One for each material that the survey knows."""
