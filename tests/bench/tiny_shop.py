"""A shop so small that everything in it can be counted by hand: for the tests of the yardstick that judges plans."""

from .records import DAY, Hand, Item, Lying, Op, Record, Shop, Work

MORNING, NOON, AFTERNOON, EVENING = 480, 720, 750, 1020
HOURS = tuple(
    s
    for day in range(30)
    for s in ((day * DAY + MORNING, day * DAY + NOON), (day * DAY + AFTERNOON, day * DAY + EVENING))
)


def route(piece: str, *, strip: bool = True) -> tuple[Op, ...]:
    """Strip, clean, wipe down, spray, sand, tack, spray again, clear, inspect."""

    def op(kind: str, family: str, minutes: int, stay: str, **more: object) -> Op:
        return Op(f"{piece}/{stay or 'end'}/{kind}", piece, kind, family, minutes, stay=stay, **more)  # type: ignore[arg-type]

    prep = (
        op("strip", "prep", 20, "prep", dry=60, dusty=True),
        op("clean", "prep", 5, "prep", dry=10),
    )
    return (
        *(prep if strip else ()),
        op("wipe down", "colour", 2, "front", window=60),
        op("spray colour", "colour", 4, "front", product="colour", mixed=True, dry=40, wet=40, gun=True),
        op("sand", "colour", 3, "front", dusty=True),
        op("tack", "colour", 1, "front", window=60),
        op("spray second coat", "colour", 4, "front", product="colour", mixed=True, dry=40, wet=40, gun=True),
        op("spray clear", "clear", 4, "front", product="clear", mixed=True, dry=840, wet=40, gun=True),
        op("inspect", "finish", 2, ""),
    )


def shop(*items: Item, people: int = 1, length: float = 2.0, **more: object) -> Shop:
    """Some people from 8 to 12 and half past 12 to 17, one table, one gun, pots of 8 hours."""
    hands = tuple(Hand(f"p{n + 1}", HOURS) for n in range(people))
    return Shop(items, hands, {"a": length}, pots={"colour": 480, "clear": 480}, **more)  # type: ignore[arg-type]


def item(piece: str, along: float = 0.5, *, strip: bool = True) -> Item:
    """A piece of `along` m."""
    return Item(piece, route(piece, strip=strip), (("a", along),))


def by_hand(piece: str = "A", at: float = 0.0) -> Record:
    """One piece, worked by one person as the foreman of the tests does, counted by hand; without set-ups."""
    starts = (480, 560, 578, 597, 641, 644, 645, 712, 1920)
    ops = route(piece)
    works = tuple(
        Work(o, s, s + o.minutes, "p1", "a" if o.stay else "", at, 0.5, 0 if o.gun else None)
        for o, s in zip(ops, starts, strict=True)
    )
    lying = (Lying(piece, "prep", "a", at, 0.5, 480, 575), Lying(piece, "front", "a", at, 0.5, 578, 1556))
    return Record(works, lying)
