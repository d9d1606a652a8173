"""What the standing of the colour means, in a sentence or two: the same words on every page, on paper and on the command line."""

from collections.abc import Callable
from dataclasses import dataclass

from .enough import SURE, Standing, Status, Why

Show = Callable[[float], str]
"""How a volume in mL is written: in the shop's units."""


@dataclass(frozen=True, slots=True)
class Advice:
    """`what` to do about the colour, and `why`; `status` in a word."""

    what: str
    why: str
    status: Status

    @property
    def words(self) -> str:
        """Both, one after the other."""
        return f"{self.what} {self.why}".strip()


def advise(stand: Standing, show: Show) -> Advice:
    """The advice for a standing; `show` writes a volume in mL."""
    return Advice(_what(stand, show), _why(stand, show), stand.status)


def _what(stand: Standing, show: Show) -> str:
    if stand.why is Why.DONE:
        return "All coats of colour are on."
    if stand.why is Why.SURE:
        return f"What is in hand suffices with {_odds(stand.odds)} odds. Mix nothing more."
    if stand.mix <= 0:
        if stand.status is Status.SHORT:
            return f"It will run short by about {show(stand.short_by)}. Mix nothing yet."
        return "It may do. Mix nothing yet."
    if stand.in_hand <= 0:
        return f"Mix {show(stand.mix)}{' first' if stand.why is Why.FIRST else ''}."
    when = "now" if stand.why is Why.REST else "before the next session"
    return f"Mix {show(stand.mix)} more {when}, like the batch as it now is, and box it at a break between pieces so that no panel shows a seam."


def _why(stand: Standing, show: Show) -> str:
    if stand.why in (Why.DONE, Why.SURE):
        return ""
    after = f"With it the odds of enough are {_odds(stand.after)}."
    if stand.why is Why.REST:
        known = "Half of the coats are on" if stand.share_done >= 0.5 else "This shop’s yield is well known"
        return f"{known}: the rest is known well enough to mix all of it, for {_odds(SURE)} odds."
    if stand.why is Why.WAIT:
        return "What is in hand carries the next session, and what its pieces take shows how much the rest will. Log it; the rest is mixed once half of the coats are on."
    lead = (
        "What the first pieces take is not known yet: mixing for certainty at once would leave much over"
        if stand.why is Why.FIRST
        else "What is in hand may not carry the next session"
    )
    return f"{lead}. {after} The rest is mixed once half of the coats show what they take. To be sure at once it would take {show(stand.whole)}."


def _odds(share: float) -> str:
    return f"{100 * share:.3g} %" if share > 0.9 else f"{100 * share:.0f} %"
