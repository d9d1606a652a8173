"""Hands, guns and loads while the shop runs: what getting ready takes before each piece of work."""

from dataclasses import dataclass, field


@dataclass(slots=True)
class Hands:
    """One person: at what `family` of work today, whether `suited`; `free` the minute at which the hands are free, `day` the index of the day of that."""

    free: int = 0
    day: int = -1
    family: str = ""
    suited: bool = False
    block: int = -1
    idle: int = -1


@dataclass(slots=True)
class Gun:
    """One gun: the `product` in it today (empty: clean), how many `changes` of product it had, when it is `free`, and who is its `holder`."""

    product: str = ""
    changes: int = 0
    free: int = 0
    holder: int = -1


@dataclass(slots=True)
class Loads:
    """The loads of one day: product → the minute from which the open one serves and until when, and how many were mixed."""

    open: dict[str, tuple[int, int]] = field(default_factory=dict)
    count: dict[str, int] = field(default_factory=dict)


def take(
    lives: dict[str, int],
    hands: Hands,
    gun: Gun | None,
    loads: Loads,
    family: str,
    product: str | None,
    begin: int,
    end: int,
    sprays: bool,
    mixes: bool,
) -> None:
    """The work is begun: hands, gun and loads are as they are after it."""
    if hands.family != family:
        hands.family, hands.suited = family, False
    if sprays:
        hands.suited = True
    if gun is not None and product is not None:
        if gun.product and gun.product != product:
            gun.changes += 1
        gun.product, gun.free = product, end
    if mixes and product is not None:
        loads.open[product] = (begin, begin + lives.get(product, 10**9))
        loads.count[product] = loads.count.get(product, 0) + 1
