"""How a plan compares: with the promise, with the best that any plan could do, with the room in the racks."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from hidewright.charts.plan import PlanShown, fullest_rack
from hidewright.planning.change.whatif import EASED_BY
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.progress_queries import NOT_STARTED, standings
from hidewright.workshop.room.queries import rack_holds
from hidewright.workshop.shop.models import Job


def tightest(row: Plan, most: int = 12) -> list[tuple[str, float]]:
    """The pieces that may slip least before the promised day, or the plan's last: (piece, working hours), tightest first; below 0 when late."""
    slack = sorted((row.facts.get("slack") or {}).items(), key=lambda each: (each[1], each[0]))
    return [(piece, minutes / 60) for piece, minutes in slack[:most]]


@dataclass(frozen=True, slots=True)
class HeldUp:
    """One line of what holds a plan up: what, its figures, and what easing it would save; `days` saved, 0 where nothing was tried or gained."""

    what: str
    words: str = ""
    change: str = ""
    told: str = ""
    days: int = 0


def held_up(row: Plan) -> list[HeldUp]:
    """What holds the plan up, with what would ease it, and whatever else was tried; empty for plans kept before this was written down."""
    tried = {words: (told, days) for words, told, days in row.facts.get("eased") or ()}
    lines = []
    for what, words in row.facts.get("tight") or ():
        change = EASED_BY[what][0] if what in EASED_BY else ""
        told, days = tried.pop(change, ("", 0))
        lines.append(HeldUp(what, words, change if told else "", told, days))
    return [*lines, *(HeldUp("", "", words, told, days) for words, (told, days) in tried.items())]


def held_up_words(lines: Sequence[HeldUp]) -> str:
    """The same in a plain sentence or two: “Table length and hands hold the plan up. One more helper would end it 1 day sooner.”"""
    causes = [line.what for line in lines if line.what]
    if not causes:
        return ""
    listed = [causes[0], *(cause.lower() for cause in causes[1:])]
    subject = f"{', '.join(listed[:-1])} and {listed[-1]}" if len(listed) > 1 else listed[0]
    many = len(listed) > 1 or listed[0] in PLURAL
    said = f"{subject} hold{'' if many else 's'} the plan up."
    best = max((line for line in lines if line.told), key=lambda line: line.days, default=None)
    if best is None:
        return said
    if best.days <= 0:
        return f"{said} No change that was tried ends it on an earlier day."
    return f"{said} {best.change} would end it {best.told}."


PLURAL = frozenset({"Racks", "Hands", "Nights of curing"})


def kept_words(row: Plan) -> str:
    """How many pieces keep all their days in a plan that was made again, in a sentence; empty for a plan made anew."""
    if "untouched" not in row.facts:
        return ""
    pieces, free, for_all = (
        int(row.facts["untouched"]),
        int(row.facts.get("free") or 0),
        row.facts.get("for_all") or [],
    )
    if not pieces:
        return "Every piece that is left was changed, and may be on other days." if free else ""
    kept = round(pieces * float(row.facts.get("kept") or 0))
    if for_all:
        who = "with no change of its own" if pieces == 1 else "with no change of their own"
        told = "; ".join(for_all)
        return f"{_kept(kept, pieces, f' {who}')} What changed concerns every piece: {told}."
    return _kept(kept, pieces, " that the change does not concern" if free else "")


def _kept(kept: int, pieces: int, which: str) -> str:
    """“12 of the 14 pieces that … keep all their days.”"""
    if pieces == 1:
        return f"The one piece{which} {'keeps' if kept else 'does not keep'} all its days."
    if kept == pieces:
        return f"All {pieces} pieces{which} keep all their days."
    if not kept:
        return f"None of the {pieces} pieces{which} keeps all its days."
    return f"{kept} of the {pieces} pieces{which} keep{'s all its' if kept == 1 else ' all their'} days."


@dataclass(frozen=True, slots=True)
class Rack:
    """The evening on which most pieces stand between two passes, and how many the shop has room for (None: nobody said)."""

    day: date
    pieces: tuple[str, ...]
    holds: int | None

    @property
    def over(self) -> int:
        """How many have no place."""
        return max(0, len(self.pieces) - self.holds) if self.holds is not None else 0


def rack(plan: PlanShown) -> Rack | None:
    """How full the racks get by a plan; None where no piece ever stands in one."""
    found = fullest_rack(plan)
    return Rack(found[0], tuple(found[1]), rack_holds()) if found else None


@dataclass(frozen=True, slots=True)
class Verdict:
    """How the plan compares with the promise and with the best that any plan could do."""

    finish: date
    promised: date | None
    bound: date | None
    done: int
    total: int
    made: datetime

    @property
    def slack(self) -> int | None:
        """Days between the end of the plan and the promised day; negative when late."""
        return (self.promised - self.finish).days if self.promised else None

    @property
    def late_by(self) -> int:
        """Days late, or 0."""
        return max(0, -(self.slack or 0))

    @property
    def proven(self) -> bool:
        """True when no plan can end on an earlier day."""
        return self.bound is not None and self.bound >= self.finish


def verdict(job: Job, row: Plan, plan: PlanShown) -> Verdict:
    """Compare the plan in force with the promise and the bound, and count what is done."""
    stands = standings(job)
    done = sum(stands.get(act.key, NOT_STARTED).done for act in plan.acts)
    return Verdict(row.finish, job.promised, row.bound, done, len(plan.acts), row.made)
