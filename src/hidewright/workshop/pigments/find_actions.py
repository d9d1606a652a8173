"""Finding K and S from the drawdowns, and what the films say of how they were read: a mix-up about the shine is said before anything is used."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from django.db import transaction

from hidewright.colour.pigments.characterise import settled
from hidewright.colour.pigments.drawdowns import Drawdown, Fit
from hidewright.colour.pigments.joint import Joint
from hidewright.colour.pigments.proposals import propose
from hidewright.colour.pigments.residual import Gain, gain_of, held_back
from hidewright.colour.pigments.shine import Shine, Way, judged, way_of
from hidewright.refusals import Refusal
from hidewright.units import counted
from hidewright.workshop.pigments import saving as keep
from hidewright.workshop.pigments import values as gather
from hidewright.workshop.pigments.actions import change_setup
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.shelf.models import Pigment
from hidewright.workshop.shop.models import Run
from hidewright.workshop.shop.runs import RunHandle, runner, start_run
from hidewright.workshop.shop.undo import record

Say = Callable[[float, str], None]
HOLD = 1000.0
"""Odds against the way that the shop's setting says, from which K and S are not kept before somebody has looked at the setting (convention of this tool)."""
AS_SET = "as set"
"""Asked for by somebody who has looked: the setting is right, whatever the films say."""
PROPOSED = 3
"""How many drawdowns worth making are named."""
WORTH = 0.01
"""ΔE00 that a drawdown must gain on average to be worth naming (convention of this tool)."""


def characterise(on_progress: Say | None = None) -> dict[str, Fit]:
    """Find K and S of every pigment from the drawdowns that count, here and now, as the shop is set, and keep them."""
    films = _films()
    return _keep(settled(films, gather.surface(), on_progress), films)


def _films() -> tuple[Drawdown, ...]:
    films = gather.drawdowns()
    if not films:
        raise Refusal("There are no drawdowns yet.", where="drawdowns", remedy="Bring their readings first.")
    return films


def _keep(joint: Joint, films: Sequence[Drawdown]) -> dict[str, Fit]:
    fits = joint.fits(films)
    with transaction.atomic():
        for key, fit in fits.items():
            keep.keep_fit(key, fit)
        keep.keep_turned(films)
        if CupSight.objects.exists():
            start_run(None, "colour.learn", {})
        record(
            None, f"Found K and S of {counted(len(fits), 'pigment')} from {counted(len(films), 'drawdown')}"
        )
    return fits


class _Stopped(Exception):
    """Somebody asked to stop: what was found so far is not used."""


def _judged(handle: RunHandle, films: Sequence[Drawdown]) -> tuple[Way, Way]:
    """The films as the shop is set to read and the other way, each in so much of the run's time; a stop is heard in both."""

    def watched(begin: float, words: str = "") -> Say:
        def say(fraction: float, text: str) -> None:
            handle.progress(begin + 0.4 * fraction, words or text)
            if handle.should_stop():
                raise _Stopped

        return say

    as_set = gather.surface()
    way = way_of(films, as_set, on_progress=watched(0.0))
    asking = watched(0.4, "Asking the films whether they were read with the shine")
    return way, way_of(films, replace(as_set, specular=not as_set.specular), on_progress=asking)


@runner("colour.characterise")
def _characterise_run(handle: RunHandle, asked: dict[str, Any]) -> dict[str, Any]:
    films = _films()
    try:
        way, other = _judged(handle, films)
    except _Stopped as stop:
        raise Refusal("Stopped. K and S stay as they were.", remedy="Start again when you like.") from stop
    shine = judged((way, other))
    if asked.get("how") != AS_SET and held(shine, declared=way.surface.specular):
        return {"held": held_words(shine, way), "how": "with" if other.surface.specular else "without"}
    if way.refusal is not None:
        raise way.refusal
    assert way.joint is not None
    handle.progress(0.8, "Keeping them, and looking which drawdown would tell most")
    fits = _keep(way.joint, films)
    worst = max((max(pair) for fit in fits.values() for pair in fit.misfit.values()), default=0.0)
    return {
        "pigments": len(fits),
        "worst": worst,
        "contradicts": sorted({name for fit in fits.values() for name in fit.contradicts}),
        "why": evidence(way, other, shine, films),
        **next_drawdowns(way.joint, films),
    }


def held(shine: Shine, *, declared: bool) -> bool:
    """Whether the films say clearly that they were read the other way than the shop's setting says."""
    return shine.best.surface.specular != declared and max(shine.odds_in, 1 / shine.odds_in) >= HOLD


def held_words(shine: Shine, as_set: Way) -> str:
    """What the films say against the setting, in plain words."""
    other = shine.best
    words = f"These films fit better when they were read {_with(other)} the shine; the setting says {_with(as_set)} it."
    if as_set.joint is None or other.joint is None:
        return f"{words} As set, {_lower(as_set.reason)}"
    off = [_mean_off(way.joint) for way in (as_set, other) if way.joint]
    return f"{words} As set they are off by ΔE00 {off[0]:.1f} on average, the other way by {off[1]:.1f}."


def _with(way: Way) -> str:
    return "with" if way.surface.specular else "without"


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _mean_off(joint: Joint) -> float:
    return float(np.mean([sum(pair) / 2 for pair in joint.misfit.values()]))


def evidence(way: Way, other: Way, shine: Shine, films: Sequence[Drawdown]) -> dict[str, Any]:
    """What the films say beside K and S, for the pages: of the shine (`words`; `by` pigment ΔE00 as set and the other way, None where that cannot be) and of what K and S leave over."""
    assert way.joint is not None
    by = {key: [way.off(key, films), other.off(key, films)] for key in way.joint.keys}
    tried = held_back(way.joint, films)
    rest = {key: _gain(gain_of(tried, key)) for key in way.joint.keys}
    return {
        "words": shine.words(declared=way.surface.specular),
        "with": way.surface.specular,
        "by": by,
        "rest": {key: gain for key, gain in rest.items() if gain},
        "rest_of_all": _gain(gain_of(tried)),
    }


def _gain(gain: Gain | None) -> list[float] | None:
    return [gain.films, gain.off, gain.on] if gain else None


def next_drawdowns(joint: Joint, films: Sequence[Drawdown]) -> dict[str, Any]:
    """How well mixes are forecast (`mixes`, mean ΔE00), and the drawdowns that would tell most (`next`), best first."""
    names: Mapping[str, str] = dict(Pigment.objects.values_list("key", "name"))
    made = {frozenset(d.shares) for d in films}
    proposals = propose(joint)
    lines = [
        {
            "parts": [[names.get(key, key), part] for key, part in one.parts.items()],
            "after": one.after,
            "again": frozenset(one.parts) in made,
        }
        for one in proposals[:PROPOSED]
        if one.before - one.after >= WORTH
    ]
    return {"mixes": proposals[0].before, "next": lines}


def start_characterising(how: str = "") -> Run:
    """Find K and S outside the request; `how` may be `AS_SET`."""
    return start_run(None, "colour.characterise", {"how": how} if how else {})


def read_the_other_way() -> None:
    """Set that the shop's instrument reads with the shine where it was set without it, and the other way round; can be undone."""
    setup = gather.setup()
    change_setup(
        specular=not setup.specular, coat=setup.coat, load_low=setup.load_low, load_high=setup.load_high
    )
