"""Gaps in the taps: work on a piece that nobody tapped although later work on it is done. The page asks, since the next plan takes it as done."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from hidewright.charts.plan import ActShown, PlanShown
from hidewright.planning.problem.kinds import COATS, Kind
from hidewright.workshop.days.progress_queries import NOT_STARTED, Standing, standings
from hidewright.workshop.shop.models import Job

BEFORE_A_COAT = frozenset({str(Kind.STRIP), str(Kind.CLEAN), str(Kind.REPAIR), str(Kind.MASK)})
"""What cannot be made good once the piece is coated, without coating it again."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Acts on one piece that were not tapped (`missing`, keys), what was tapped after them (`later`, keys), both in words; `at` when the first of the later ones began, `coated` where one of them is a coat over work that should lie under it."""

    piece: str
    missing: tuple[str, ...]
    later: tuple[str, ...]
    missing_words: str
    later_words: str
    at: datetime
    coated: bool


def gaps(job: Job, plan: PlanShown) -> list[Gap]:
    """The gaps in the taps of a job, piece by piece in the order of the plan."""
    stands = standings(job)
    if not any(standing.done for standing in stands.values()):
        return []
    by_piece: dict[str, list[ActShown]] = {}
    for act in sorted(plan.acts, key=lambda act: act.start):
        by_piece.setdefault(act.piece, []).append(act)
    found = (_gap(piece, acts, stands) for piece, acts in by_piece.items())
    return [gap for gap in found if gap is not None]


def _gap(piece: str, acts: list[ActShown], stands: Mapping[str, Standing]) -> Gap | None:
    done = [stands.get(act.key, NOT_STARTED).done for act in acts]
    last = max((n for n, each in enumerate(done) if each), default=-1)
    missing = [act for n, act in enumerate(acts[: last + 1]) if not done[n]]
    if not missing:
        return None
    first = acts.index(missing[0])
    later = [act for n, act in enumerate(acts) if n > first and done[n]]
    began = [at - (act.end - act.start) for act in later if (at := stands[act.key].at) is not None]
    under = any(_kind(act) in BEFORE_A_COAT for act in missing)
    return Gap(
        piece,
        tuple(act.key for act in missing),
        tuple(act.key for act in later),
        _words(missing),
        _words(later),
        min(began) - timedelta(seconds=1),
        under and any(_kind(act) in COATS for act in later),
    )


def _kind(act: ActShown) -> str:
    """The kind of work of an act, off its key."""
    return act.key.rsplit("/", 1)[-1].split(",")[0].rstrip(" 0123456789")


def _words(acts: list[ActShown]) -> str:
    names = list(dict.fromkeys(act.act for act in acts))
    return ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
