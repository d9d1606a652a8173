"""The snags of a job as the page shows them."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from hidewright.workshop.days.models import Hold, Redo, Tap, TapKind
from hidewright.workshop.days.progress_queries import NOT_STARTED, Standing, standings
from hidewright.workshop.days.request_queries import repair_of
from hidewright.workshop.inspection.models import Decision, Snag, SnagEntry, SnagKind, Weight
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Contact, Job
from hidewright.workshop.shop.page_cache import remembered

PLACARD_CAUTION = (
    "A missing or unreadable placard or marking on an aircraft, rail car or vessel is for the authorised person: tell them, "
    "and put nothing in its place yourself."
)


_PLACARD = re.compile(r"placard|marking|stencil", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class SnagShown:
    """A snag with its story."""

    row: Snag
    entries: tuple[SnagEntry, ...]
    waits: Hold | None = None
    repaired: Standing | None = None

    @property
    def placard(self) -> bool:
        """True when the usual caution about placards belongs beside it: by its kind, or by what was written."""
        return self.row.kind == SnagKind.MISSING_PLACARD or bool(_PLACARD.search(self.row.what))


def snags(job: Job) -> tuple[list[SnagShown], list[SnagShown]]:
    """Open and closed snags, newest first; those that were taken back are left out."""
    found = (
        Snag.objects.filter(job=job, withdrawn=None)
        .select_related("acts", "touch_up", "repair")
        .prefetch_related("entries__person", "entries__device")
    )
    holds = {row.snag_id: row for row in Hold.objects.filter(job=job, lifted=None).exclude(snag=None)}
    stands = standings(job) if any(row.repair for row in found) else {}
    shown = [
        SnagShown(row, tuple(row.entries.all()), holds.get(row.pk), _repaired(row, stands)) for row in found
    ]
    return [s for s in shown if s.row.closed is None], [s for s in shown if s.row.closed is not None]


def last_part(redo: Redo) -> str:
    """The key of the last work of a repair: when that is done, all of it is."""
    return repair_of(redo).operations(redo.piece, "front", "front")[-1].key


def _repaired(row: Snag, stands: Mapping[str, Standing]) -> Standing | None:
    """How the repair of a snag stands; None where none is asked."""
    if row.repair is None or row.repair.withdrawn is not None:
        return None
    return stands.get(last_part(row.repair), NOT_STARTED)


@remembered
def open_rows(job: Job) -> tuple[Snag, ...]:
    """The open snags, oldest first."""
    found = Snag.objects.filter(job=job, withdrawn=None, closed=None)
    return tuple(found.select_related("acts", "touch_up").order_by("found", "id"))


def open_snags(job: Job) -> int:
    """How many are open."""
    return len(open_rows(job))


def blocking(job: Job) -> tuple[Snag, ...]:
    """The open snags that block: final sign-off and packing wait for them."""
    return tuple(row for row in open_rows(job) if row.weight == Weight.BLOCKS)


def touch_ups(job: Job) -> tuple[Snag, ...]:
    """The open snags to touch up later, oldest first: what one touch-up session of the plan gathers. What stays as it is is left out."""
    found = open_rows(job)
    return tuple(row for row in found if row.weight == Weight.LATER and row.decision != Decision.LEAVE)


def to_gather(job: Job) -> tuple[Snag, ...]:
    """Those to touch up later that are on a listed piece and in no touch-up session yet."""
    marks = set(Piece.objects.filter(job=job, removed=None, by_us=True).values_list("key", flat=True))
    found = [row for row in touch_ups(job) if row.touch_up is None or row.touch_up.withdrawn]
    return tuple(row for row in found if row.piece in marks)


def contacts(job: Job) -> tuple[Contact, ...]:
    """Whoever has a say or must act in a job."""
    return tuple(Contact.objects.filter(job=job, removed=None))


def told_on_days(job: Job) -> list[Tap]:
    """Snags tapped on the page Days that nobody has taken up here yet, newest first."""
    taken = Snag.objects.filter(job=job, withdrawn=None).exclude(tap="").values_list("tap", flat=True)
    taps = Tap.objects.filter(job=job, kind=TapKind.SNAG).exclude(token__in=list(taken))
    return list(taps.select_related("person").order_by("-at"))


def piece_of(job: Job, act_key: str) -> str:
    """The mark of the piece that a piece of work is about: the longest mark that its key holds as a word; empty if none."""
    words = set(act_key.replace("/", " ").replace("|", " ").replace(":", " ").split())
    marks = [key for key in piece_marks(job) if key in words or act_key.startswith(key)]
    return max(marks, key=len, default="")


def piece_marks(job: Job) -> list[str]:
    """The marks of the job's pieces, in order."""
    return list(Piece.objects.filter(job=job, removed=None).values_list("key", flat=True))
