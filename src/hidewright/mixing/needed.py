"""What is still needed: the recipe scaled to the aim, less what is in the cup; an overshoot is taken as it is."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from hidewright.refusals import Refusal

from .amounts import millilitres
from .recipe import MixRecipe


@dataclass(frozen=True, slots=True)
class PartNeed:
    """One part: `have` in the cup, `want` in the finished cup, `need` still to pour, all µL; `density` g/mL."""

    key: str
    name: str
    have: int
    want: int
    density: float

    @property
    def need(self) -> int:
        """Still to pour, µL."""
        return max(0, self.want - self.have)

    @property
    def done(self) -> bool:
        """Nothing more of it is wanted."""
        return self.need == 0


@dataclass(frozen=True, slots=True)
class Needed:
    """What is still to pour, part by part; `total` is the finished cup and `aim` what was first wanted (µL).

    `over` is the part that was poured over (None: none); then `total` exceeds `aim` by `grown`. `foreign` µL in the cup are of things
    that are not in the recipe: they shift the colour, and no pour of the recipe puts that right.
    """

    parts: tuple[PartNeed, ...]
    aim: int
    total: int
    over: str | None = None
    foreign: int = 0

    @property
    def grown(self) -> int:
        """µL by which the overshoot makes the batch bigger than the aim."""
        return max(0, self.total - self.aim)

    @property
    def total_ml(self) -> float:
        """The finished cup, mL."""
        return millilitres(self.total)

    @property
    def aim_ml(self) -> float:
        """What was first wanted, mL."""
        return millilitres(self.aim)

    @property
    def foreign_ml(self) -> float:
        """What is not in the recipe, mL."""
        return millilitres(self.foreign)

    @property
    def left(self) -> int:
        """Still to pour in all, µL."""
        return sum(part.need for part in self.parts)


def still_needed(
    recipe: MixRecipe,
    aim: int,
    have: Mapping[str, int],
    *,
    capacity: int | None = None,
    slack: int | Mapping[str, int] = 0,
) -> Needed:
    """Solve what is still to pour so that the cup ends in the recipe's proportion.

    `aim` and `have` in µL; `capacity` of the vessel (None: not checked). A part poured over by more than `slack` µL (what the balance or
    a drop cannot tell, for all parts or by key) makes the batch grow: total = max(aim, have_i / share_i), where a part that is
    over by its slack alone does not count: a pour rounded to a whole step never makes the others grow in turn. Refuses when the vessel cannot hold that, saying by
    how much and what to do.
    """
    if aim <= 0:
        raise Refusal("The cup must hold something.", where="volume", remedy="Write how much to mix.")
    shares = recipe.fractions()
    foreign = sum(amount for key, amount in have.items() if key not in shares)
    total, over = _finished(shares, aim, have, slack)
    wanted = recipe.amounts(total)
    parts = tuple(
        _part_need(
            part.key,
            part.name,
            have.get(part.key, 0),
            wanted[part.key],
            part.density,
            _slack(slack, part.key),
        )
        for part in recipe.parts
    )
    found = Needed(parts, aim, total, over, foreign)
    if capacity is not None:
        _need_capacity(recipe, found, capacity)
    return found


def poured_over(
    recipe: MixRecipe,
    aim: int,
    pours: Iterable[Mapping[str, int]],
    *,
    slack: int | Mapping[str, int] = 0,
) -> str | None:
    """The part whose pour made the batch grow last; None where none did.

    `pours` are what each standing entry put into the cup, or took out (below 0), in their order, µL by part. `still_needed` alone cannot
    tell it: once the rest was poured to match, every part stands over the first aim alike.
    """
    shares = recipe.fractions()
    have = dict.fromkeys(shares, 0)
    total, over = aim, None
    for pour in pours:
        for key in shares.keys() & pour.keys():
            have[key] += pour[key]
        grown = still_needed(recipe, aim, have, slack=slack)
        gone = over is not None and have[over] <= shares[over] * aim + (_slack(slack, over) + 1)
        more = grown.over is not None and have[grown.over] > shares[grown.over] * total + (
            _slack(slack, grown.over) + 1
        )
        if gone or more or grown.over == over:
            total, over = grown.total, grown.over
    return over


def _finished(
    shares: Mapping[str, Fraction], aim: int, have: Mapping[str, int], slack: int | Mapping[str, int]
) -> tuple[int, str | None]:
    """µL of the finished cup, and the part that made it grow.

    The smallest of the aim and the sizes that the parts over it ask for, for which no other part is over by more than its slack, and the
    one µL by which whole µL may differ from the exact share.
    """
    sizes: list[tuple[int, str | None]] = [(aim, None)]
    least = aim
    for key, share in shares.items():
        held = have.get(key, 0)
        if held > share * aim + (_slack(slack, key) + 1):
            sizes.append((ceil(held / share), key))
            least = max(least, ceil((held - _slack(slack, key)) / share))
    return next(size for size in sorted(sizes, key=lambda size: size[0]) if size[0] >= least)


def _slack(slack: int | Mapping[str, int], key: str) -> int:
    return slack if isinstance(slack, int) else slack.get(key, 0)


def _part_need(key: str, name: str, have: int, want: int, density: float, slack: int) -> PartNeed:
    """A shortfall that nobody can weigh is none."""
    return PartNeed(key, name, have, have if 0 < want - have <= slack else want, density)


def _need_capacity(recipe: MixRecipe, found: Needed, capacity: int) -> None:
    too_much = found.total + found.foreign - capacity
    if too_much <= 0:
        return
    size = millilitres(found.total + found.foreign)
    if found.over is None:
        raise Refusal(
            f"{size:.1f} mL do not go into this vessel: {millilitres(too_much):.1f} mL too many.",
            where="volume",
            remedy="Take a bigger vessel or mix less.",
        )
    name = recipe.part(found.over).name
    excess = next(p.have for p in found.parts if p.key == found.over) - recipe.amounts(found.aim)[found.over]
    raise Refusal(
        f"Too much {name} by {millilitres(excess):.2f} mL: in proportion the cup would come to {size:.1f} mL, "
        f"{millilitres(too_much):.1f} mL more than the vessel holds.",
        where="volume",
        remedy=f"Go on in a vessel of at least {size:.0f} mL. If it was only logged too big, take that pour back and log it right.",
    )
