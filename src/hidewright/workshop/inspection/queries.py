"""Inspection as values: the pieces with their checks, burn records beside their figures, signatures."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from hidewright.refusals import Refusal
from hidewright.safety import burn
from hidewright.safety.finish import EYES, NAMES, Check, Compared, compare
from hidewright.workshop.days.changes import changes_plan
from hidewright.workshop.days.request_queries import redos
from hidewright.workshop.inspection.models import BurnRecord, CheckEntry, HiddenPart, Signature
from hidewright.workshop.inspection.snag_queries import open_snags
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

BURN_TESTS = {
    "vertical": "14 CFR 25 Appendix F Part I, 12 s vertical (aircraft)",
    "horizontal": "49 CFR 571.302, horizontal (motor vehicles)",
    "rail": "EN 45545-2 (rail), certificate only",
    "ship": "IMO 2010 FTP Code Part 8 (ships), certificate only",
}


@dataclass(frozen=True, slots=True)
class CheckShown:
    """One check: the row, what it is called, how it compares; `struck` when a counter-entry took it out."""

    row: CheckEntry
    name: str
    compared: Compared | None
    struck: bool


@dataclass(frozen=True, slots=True)
class PieceShown:
    """A piece with its checks, newest first."""

    key: str
    name: str
    group: str
    checks: tuple[CheckShown, ...] = field(default=())
    hidden: HiddenPart | None = None
    """The row of a part that shows in another position only."""

    def _last(self, kind: str) -> CheckShown | None:
        return next((c for c in self.checks if c.row.kind == kind and not c.struck), None)

    @property
    def eyes(self) -> tuple[tuple[str, str], ...]:
        """What each check by eye said last: (name, “good”, “again” or “”)."""
        found = [(kind, self._last(kind)) for kind in EYES]
        return tuple((NAMES[kind], last.row.result if last else "") for kind, last in found)

    def _again(self) -> list[CheckShown]:
        newest = [self._last(kind) for kind in dict.fromkeys(c.row.kind for c in self.checks)]
        return [last for last in newest if last is not None and last.row.result == "again"]

    @property
    def again(self) -> bool:
        """True when the newest check of some kind says that it is to be done again."""
        return bool(self._again())

    @property
    def measured_again(self) -> tuple[str, ...]:
        """The measured checks whose newest says that it is to be done again."""
        return tuple(last.name.lower() for last in self._again() if last.row.kind not in EYES)

    @property
    def seen(self) -> bool:
        """True when both lights were good."""
        return all(result == "good" for _, result in self.eyes)

    @property
    def measured(self) -> int:
        """How many checks with a figure count."""
        return sum(not c.struck and c.row.kind not in EYES for c in self.checks)


def _shown(row: CheckEntry) -> CheckShown:
    kind = Check(row.kind)
    try:
        compared = None if kind in EYES else compare(row.kind, row.value)
    except Refusal:
        compared = None
    return CheckShown(row, NAMES[kind], compared, hasattr(row, "struck_by"))


def checks(job: Job, piece: str | None = None) -> list[CheckShown]:
    """The checks of a job (or of one piece), newest first; counter-entries are told by what they strike out."""
    found = CheckEntry.objects.filter(job=job, strikes=None).select_related(
        "person", "struck_by__person", "version__colour"
    )
    if piece is not None:
        found = found.filter(piece=piece)
    return [_shown(row) for row in found]


def pieces(job: Job) -> list[PieceShown]:
    """Every piece of the survey, and whatever else was checked, with its checks."""
    by_piece: dict[str, list[CheckShown]] = {}
    for check in checks(job):
        by_piece.setdefault(check.row.piece, []).append(check)
    listed = Piece.objects.filter(job=job, removed=None, by_us=True).values_list("key", "name", "group")
    hidden: dict[str, list[HiddenPart]] = {}
    for row in HiddenPart.objects.filter(job=job, removed=None):
        hidden.setdefault(row.piece, []).append(row)
    shown = []
    for key, name, group in listed:
        shown.append(PieceShown(key, name, group, tuple(by_piece.pop(key, ()))))
        for row in hidden.get(key, ()):
            words = f"{name}, {row.position}"
            shown.append(PieceShown(row.mark, words, group, tuple(by_piece.pop(row.mark, ())), row))
    return shown + [PieceShown(key, "", "", tuple(found)) for key, found in by_piece.items()]


@dataclass(frozen=True, slots=True)
class Group:
    """Pieces that belong together, such as a chair."""

    name: str
    pieces: tuple[PieceShown, ...]

    @property
    def seen(self) -> int:
        """How many are good in both lights."""
        return sum(piece.seen for piece in self.pieces)

    @property
    def again(self) -> int:
        """How many are to be done again."""
        return sum(piece.again for piece in self.pieces)

    @property
    def done(self) -> bool:
        """True when every piece is good in both lights and none is to be done again."""
        return self.seen == len(self.pieces) and not self.again


def groups(shown: Iterable[PieceShown]) -> list[Group]:
    """The pieces by what they belong to, in the order of the survey."""
    found: dict[str, list[PieceShown]] = {}
    for piece in shown:
        found.setdefault(piece.group, []).append(piece)
    return [Group(name, tuple(members)) for name, members in found.items()]


@dataclass(frozen=True, slots=True)
class Standing:
    """How the inspection stands."""

    total: int
    seen: int
    again: int
    snags: int
    checks: int

    @property
    def words(self) -> str:
        """In one line, as it is kept with a signature."""
        return (
            f"{self.seen} of {self.total} pieces good in both lights, {self.again} to be done again, "
            f"{self.checks} checks, {self.snags} open {the_shop().snag_words}"
        )


def standing(job: Job, shown: Iterable[PieceShown] | None = None) -> Standing:
    """Count how the inspection stands."""
    found = list(shown) if shown is not None else pieces(job)
    count = sum(not c.struck for piece in found for c in piece.checks)
    return Standing(
        len(found), sum(p.seen for p in found), sum(p.again for p in found), open_snags(job), count
    )


@dataclass(frozen=True, slots=True)
class BurnShown:
    """A certificate and its figures beside the published ones."""

    row: BurnRecord
    test: str
    comparison: burn.Comparison | None
    struck: bool


def comparison(test: str, figures: dict[str, object]) -> burn.Comparison | None:
    """The figures of a record beside those of its test; None where only the certificate is kept. Refuses figures that cannot be."""
    if test == "vertical":
        columns = [_floats(figures.get(name)) for name in ("length", "after", "drip")]
        if len({len(column) for column in columns}) != 1:
            raise Refusal(
                "Each specimen needs a burn length, an after-flame and a drip flame.",
                where="Figures",
                remedy="Write as many numbers in each line.",
            )
        specimens = tuple(burn.Specimen(*row) for row in zip(*columns, strict=True))
        return burn.compare_vertical(specimens, _conditioning(figures.get("conditioning")))
    if test == "horizontal":
        distance, seconds = _floats(figures.get("run"))
        return burn.compare_horizontal(distance, seconds, stopped=bool(figures.get("stopped")))
    return None


SETTLED = "equilibrium"
"""What stands in place of the hours where specimens were kept until moisture equilibrium."""


def _conditioning(kept: object) -> burn.Conditioning | None:
    """How specimens were kept before, as a record has it: °F, % humidity, and hours or `SETTLED`; None where that is not on record."""
    if not isinstance(kept, list) or len(kept) != 3:
        return None
    fahrenheit, humidity, hours = kept
    return burn.Conditioning(float(fahrenheit), float(humidity), None if hours == SETTLED else float(hours))


def _floats(values: object) -> list[float]:
    return [float(v) for v in values] if isinstance(values, list) else []


def burn_records(job: Job) -> list[BurnShown]:
    """The certificates of a job, newest first."""
    found = BurnRecord.objects.filter(job=job, strikes=None).select_related("person", "struck_by__person")
    return [
        BurnShown(
            row,
            BURN_TESTS.get(row.test, row.test),
            comparison(row.test, row.figures),
            hasattr(row, "struck_by"),
        )
        for row in found
    ]


@dataclass(frozen=True, slots=True)
class SignatureShown:
    """A signature, and the counter-entry that struck it out if there is one."""

    row: Signature
    counter: Signature | None


def signatures(job: Job) -> list[SignatureShown]:
    """The signatures of a job, newest first."""
    found = Signature.objects.filter(job=job, strikes=None).select_related("person", "struck_by__person")
    return [SignatureShown(row, getattr(row, "struck_by", None)) for row in found]


@changes_plan
def failed(job: Job) -> Iterator[str]:
    """Pieces that the inspection wants done again and that nobody has sent through again since."""
    again = {row.piece: row.made for row in redos(job)}
    for piece in pieces(job):
        refused = [check for check in piece.checks if not check.struck and check.row.result == "again"]
        sent = again.get(piece.key.split(" / ")[0])
        if piece.again and refused and (sent or refused[0].row.made) <= refused[0].row.made:
            yield f"{piece.key} {piece.name} is to be done again, the inspection says: send it through again below"
