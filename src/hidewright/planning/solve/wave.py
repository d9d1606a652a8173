"""The wave: the coats of a day in one air, all pieces together from one level to the next, so that dust and wet coats never meet and the gun changes once.

Level by level: primer, wiping in and the first coat; sanding once all is dry; the next coat; clear last. What joins must still be done before closing.
"""

from dataclasses import dataclass, field

from .steps import BEFORE, CLEAR, PRIMER, Shop, Step


@dataclass(slots=True)
class Wave:
    """The wave of one air: `members` piece → level of its next step; sums of hands and gun minutes by level; `closes` the minute from which nothing joins."""

    members: dict[int, int] = field(default_factory=dict)
    counts: dict[int, int] = field(default_factory=dict)
    dusty: dict[int, int] = field(default_factory=dict)
    priming: int = 0
    hands: dict[int, float] = field(default_factory=dict)
    gun: dict[int, float] = field(default_factory=dict)
    dries: dict[int, int] = field(default_factory=dict)
    colour: str | None = None
    closes: int = 10**9
    lowest: int | None = None

    def level(self) -> int:
        """The lowest level at which a member's next step is."""
        if self.lowest is None:
            self.lowest = min((level for level, count in self.counts.items() if count), default=BEFORE)
        return self.lowest

    def add(self, piece: int, shop: Shop, steps: list[Step], at: int) -> None:
        """A piece joins with the steps of its pass from `at` on."""
        for level, hands, gun, dry in loads(shop, steps, at):
            self.hands[level] = self.hands.get(level, 0.0) + hands
            self.gun[level] = self.gun.get(level, 0.0) + gun
            self.dries[level] = max(self.dries.get(level, 0), dry)
        self._enter(piece, shop, steps[at])

    def pass_on(self, piece: int, shop: Shop, steps: list[Step], at: int) -> None:
        """A member's step `at` was done; its next one is in the same pass, or the piece leaves."""
        step = steps[at]
        group = shop.groups[step.group]
        level = group.level if group.level is not None else BEFORE
        minutes = sum(step.minutes)
        if group.sprays:
            self.gun[level] -= minutes
        else:
            self.hands[level] -= minutes
        self._leave(piece, shop, step)
        if at + 1 < len(steps) and steps[at + 1].pass_key == step.pass_key:
            self._enter(piece, shop, steps[at + 1])

    def _enter(self, piece: int, shop: Shop, step: Step) -> None:
        group = shop.groups[step.group]
        level = group.level if group.level is not None else BEFORE
        self.members[piece] = level
        self.lowest = None
        self.counts[level] = self.counts.get(level, 0) + 1
        if group.dusty:
            self.dusty[level] = self.dusty.get(level, 0) + 1
        self.priming += level == PRIMER

    def _leave(self, piece: int, shop: Shop, step: Step) -> None:
        group = shop.groups[step.group]
        level = self.members.pop(piece)
        self.lowest = None
        self.counts[level] -= 1
        if group.dusty:
            self.dusty[level] -= 1
        self.priming -= level == PRIMER

    def drop(self, piece: int, shop: Shop, steps: list[Step], at: int) -> None:
        """A piece that had joined leaves again before anything was done to it."""
        for level, hands, gun, _ in loads(shop, steps, at):
            self.hands[level] -= hands
            self.gun[level] -= gun
        self._leave(piece, shop, steps[at])

    def estimate(
        self, people: int, setups: int, more: "list[tuple[int, float, float, int]] | None" = None
    ) -> float:
        """Minutes until the wave is done, with what would join besides."""
        hands, gun, dries = self.hands, self.gun, self.dries
        if more:
            hands, gun, dries = dict(hands), dict(gun), dict(dries)
            for level, h, g, dry in more:
                hands[level] = hands.get(level, 0.0) + h
                gun[level] = gun.get(level, 0.0) + g
                dries[level] = max(dries.get(level, 0), dry)
        total = float(setups)
        before = 0.0
        for level in sorted(set(hands) | set(gun)):
            work, sprayed = hands.get(level, 0.0), gun.get(level, 0.0)
            if work + sprayed < 0.5:
                continue
            if before:
                total += max(0.0, before - sprayed) if level == CLEAR else before
            total += max(sprayed, (sprayed + work) / people)
            before = float(dries.get(level, 0))
        return total


def loads(shop: Shop, steps: list[Step], at: int) -> list[tuple[int, float, float, int]]:
    """(level, minutes of hands, minutes of gun, min of drying) of the steps of one pass from `at` on."""
    found = []
    pass_key = steps[at].pass_key
    for number in range(at, len(steps)):
        step = steps[number]
        if step.pass_key != pass_key:
            break
        group = shop.groups[step.group]
        level = group.level if group.level is not None else BEFORE
        minutes = float(sum(step.minutes))
        dry = 0 if step.closes else step.dry
        found.append((level, 0.0, minutes, dry) if group.sprays else (level, minutes, 0.0, dry))
    return found
