"""What to do now with the cup at hand: look, pour, look again, look dry, begin afresh, or leave it.

Steer wet until it is called the same, end dry. An eye that still differs is never told to stop: where no pour helps it is asked for another look, and then told how near it is,
"as far as your eye tells".
"""

from dataclasses import dataclass

import numpy as np

from hidewright.colour.learning.cup import Cup

from .estimate import Estimate
from .fresh import FreshCup, fresh_cup
from .pours import Allowed, NextPour, Pourer, Table
from .things import Comparison, CupAt, Difference, SwatchAt
from .words import Words

WORTH = 0.05
"""What a pour must take off the expected squared distance to be worth it."""
SURE = 1.0
"""Root mean square ΔE00 within which one look that says "the same" ends it; farther out it takes a second one."""
LOOKS = 3
"""Dry looks at one and the same cup after which another tells nothing more."""
SEEN = 0.7
"""ΔE00 of a device's difference below which the cup counts as the same."""
FAR = 0.8
"""ΔE00 of the expected colour from the target beyond which a cup that looks the same wet is poured into all the same, once a dry look told what the milk does."""
DRY_FIRST = 0.35
"""Share of the expected squared distance that a pour must take off while the look is wet: where it takes less, the milk is what is not known, and a dry look tells more."""
THRIFT = 0.2
"""Share of the price of growth and of bottles once a second look still sees a difference that no thrifty pour mends."""
TOO_LARGE = 0.5
"""Growth of a cup from which a fresh one is offered beside it."""
HOPELESS = 1.0
"""Growth from which a fresh one is advised instead: it costs a whole cup."""


@dataclass(frozen=True, slots=True, eq=False)
class Advice:
    """`act` is one of look, pour, look again, look dry, afresh, done; `words` says why; `within` root mean square ΔE00 that the cup is believed to be off by now."""

    act: str
    words: str
    within: float
    now: float
    pours: tuple[NextPour, ...] = ()
    fresh: FreshCup | None = None


def advise(estimate: Estimate, cup: Cup, table: Table | None = None) -> Advice:
    """What to do now with a cup of the job."""
    table = table or Table()
    looks = looks_at(estimate, cup)
    pourer = Pourer(estimate, cup, table)
    now = pourer.now()
    if not looks:
        return Advice("look", "Hold it against the piece and say what you see.", now.expected, now.mean)
    last = looks[-1]
    if _same(last) and not _known_off(estimate, cup, last, now):
        return _ended(looks, now)
    return _onward(estimate, cup, table, pourer, looks, now)


def looks_at(estimate: Estimate, cup: Cup) -> list[Comparison]:
    """Comparisons of the cup as it is now with the target, in order."""
    job = estimate.job
    pair = {CupAt(cup.name, len(cup.pours)), SwatchAt(job.target)}
    return [c for c in job.comparisons if not c.struck and {c.a, c.b} == pair]


def _known_off(estimate: Estimate, cup: Cup, last: Comparison, now: NextPour) -> bool:
    """The same wet, but an earlier dry look of this cup says by how much the milk deceives, and that it is off."""
    dry = any(
        not c.struck and not c.wet and isinstance(c.a, CupAt) and c.a.cup == cup.name
        for c in estimate.job.comparisons
    )
    return last.wet and dry and now.mean > max(FAR, now.spread)


def _same(look: Comparison) -> bool:
    if isinstance(look.seen, Words):
        return look.seen.same
    return bool(np.linalg.norm(look.seen.delta) < SEEN)


def _ended(looks: list[Comparison], now: NextPour) -> Advice:
    if looks[-1].wet:
        return Advice("look dry", "The same wet. Let a stick dry and look once more.", now.expected, now.mean)
    again = sum(_same(look) and not look.wet for look in looks) > 1
    if now.expected <= SURE or again:
        return Advice(
            "done", f"The same, within ±{now.expected:.1f} as far as your eye tells.", now.expected, now.mean
        )
    return Advice(
        "look again", "The same; look once more in another place, under good light.", now.expected, now.mean
    )


def _worth(pours: tuple[NextPour, ...], now: NextPour) -> list[NextPour]:
    return [pour for pour in pours if pour.score < now.score - WORTH]


def _onward(
    estimate: Estimate, cup: Cup, table: Table, pourer: Pourer, looks: list[Comparison], now: NextPour
) -> Advice:
    vague = all(isinstance(look.seen, Words) and look.seen.vague for look in looks)
    allowed = Allowed(pourer.held, vague=vague)
    worth = _worth(pourer.options(3, allowed), now)
    if not worth and len(looks) > 1:
        generous = Pourer(estimate, cup, table, THRIFT)
        worth = _worth(generous.options(3, allowed), generous.now())
    if worth and looks[-1].wet and now.score - worth[0].score < DRY_FIRST * now.score:
        words = (
            "What the milk hides is now more than what a pour would mend: let a stick dry and look once more."
        )
        return Advice("look dry", words, now.expected, now.mean)
    if worth:
        fresh = fresh_cup(estimate, cup.mass, table) if worth[0].growth > TOO_LARGE else None
        better = fresh is not None and fresh.expected < worth[0].expected + 0.5
        if fresh is not None and better and worth[0].growth > HOPELESS:
            words = f"It would grow by {worth[0].growth:.0%}: a fresh cup is less work."
            return Advice("afresh", words, now.expected, now.mean, tuple(worth), fresh)
        return Advice("pour", "", now.expected, now.mean, tuple(worth), fresh if better else None)
    if looks[-1].wet:
        words = "No pour is sure to help while it is wet: let a stick dry and look once more."
        return Advice("look dry", words, now.expected, now.mean)
    if sum(not look.wet for look in looks) < LOOKS:
        photo = any(isinstance(look.seen, Difference) for look in looks)
        words = "No pour is sure to help yet: look once more" + (
            "." if photo else ", or take a photo of the stick."
        )
        return Advice("look again", words, now.expected, now.mean)
    words = f"Within ±{now.expected:.1f}, as far as your eye tells; no pour that can be measured brings it nearer."
    return Advice("done", words, now.expected, now.mean)
