"""“Again” becomes work: a piece that failed a check goes through some steps again in the next plan."""

from collections.abc import Iterable

from hidewright.planning.change.replan import redo
from hidewright.planning.problem.kinds import Kind
from hidewright.refusals import Refusal
from hidewright.safety.finish import Check
from hidewright.workshop.days.models import Redo, Tap, TapKind
from hidewright.workshop.days.queries import problem_of
from hidewright.workshop.shop.models import Job

COLOURED = (Kind.SAND, Kind.SPRAY, Kind.CLEAR)
SURFACE = (Kind.SAND, Kind.CLEAR)
STEPS = {Check.SUN: COLOURED, Check.COLOUR: COLOURED, Check.COLOUR_EYE: COLOURED}
"""Check → the steps that a piece goes through again; `SURFACE` for the others. Common practice, no source: change it on Days."""


def send_through(job: Job, marks: Iterable[str], check: Check, why: str = "") -> list[Redo]:
    """Send pieces through the steps again that a failed check asks for; those of their steps that wait to be done again already are not doubled.

    Where no plan can be made yet (no table, a piece that is on no list) nothing is sent: the page Days says so.
    """
    pieces = list(dict.fromkeys(mark.split(" / ")[0] for mark in marks))
    try:
        jobs = {one.piece: one for one in problem_of(job).jobs}
    except Refusal:
        return []
    made = []
    for piece in pieces:
        if piece not in jobs:
            continue
        had = {operation.kind for operation in jobs[piece].operations}
        waiting = _waiting(job, piece)
        kinds = tuple(kind for kind in STEPS.get(check, SURFACE) if kind in had and str(kind) not in waiting)
        if not kinds:
            continue
        redo(jobs[piece], kinds)
        made.append(
            Redo.objects.create(
                job=job, piece=piece, kinds=[str(kind) for kind in kinds], why=why.strip()[:240]
            )
        )
    return made


def _waiting(job: Job, piece: str) -> set[str]:
    """The steps that the piece was sent through again and of which nothing was tapped since."""
    taps = Tap.objects.filter(job=job, kind=TapKind.DONE, act_key__startswith=f"{piece}/")
    newest = taps.order_by("-kept").values_list("kept", flat=True).first()
    rows = Redo.objects.filter(job=job, piece=piece, withdrawn=None)
    if newest is not None:
        rows = rows.filter(made__gt=newest)
    return {str(kind) for row in rows for kind in row.kinds}
