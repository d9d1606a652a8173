"""The colours of a job: how many it has, what they are called, and which pieces get which."""

from collections.abc import Mapping
from dataclasses import dataclass

from hidewright.refusals import Refusal
from hidewright.survey.piece import NOT_BY_US
from hidewright.workshop.pieces.models import JobColour, Piece
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

MOST = 12
"""Colours that one job may have."""


@dataclass(frozen=True, slots=True)
class ColourOfJob:
    """One colour of a job: its number (0 the first), its name, and the key of the shop's colour behind it (None before it has a target)."""

    number: int
    name: str
    shop_colour: int | None = None

    @property
    def label(self) -> str:
        """Its name, or a stand-in."""
        return self.name or ("The colour" if self.number == 0 else f"Colour {self.number + 1}")


@remembered
def job_colours(job: Job) -> tuple[ColourOfJob, ...]:
    """The colours of a job by number; a job without rows has its first one all the same."""
    rows = JobColour.objects.filter(job=job, removed=None)
    found = [ColourOfJob(row.number, row.name, row.colour_id) for row in rows]
    if not found or found[0].number:
        found.insert(0, ColourOfJob(0, ""))
    return tuple(found)


def several(job: Job) -> bool:
    """Whether a job has more than one colour."""
    return len(job_colours(job)) > 1


def colour_numbered(job: Job, number: int) -> ColourOfJob:
    """One colour of a job; refuses a number that it does not have."""
    for colour in job_colours(job):
        if colour.number == number:
            return colour
    raise Refusal("This job has no such colour.", where=job.name, remedy="Choose one of its colours.")


def names(job: Job) -> Mapping[int, str]:
    """Number → name."""
    return {colour.number: colour.name for colour in job_colours(job)}


def words_of(row: Piece, known: Mapping[int, str]) -> str:
    """What a list of pieces says of a piece's colour: its name, empty for a first colour without one, or that somebody else coats it."""
    return known.get(row.colour_number, "") if row.by_us else NOT_BY_US


@dataclass(frozen=True, slots=True)
class ColourShare:
    """A colour of a job with how many pieces get it."""

    colour: ColourOfJob
    pieces: int


def shares(job: Job) -> tuple[tuple[ColourShare, ...], int]:
    """Each colour with its pieces, and how many pieces are not by us."""
    counted: dict[int, int] = {}
    others = 0
    for number, by_us in Piece.objects.filter(job=job, removed=None).values_list("colour_number", "by_us"):
        if by_us:
            counted[number] = counted.get(number, 0) + 1
        others += not by_us
    return tuple(ColourShare(c, counted.get(c.number, 0)) for c in job_colours(job)), others
