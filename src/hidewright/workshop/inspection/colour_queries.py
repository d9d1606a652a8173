"""A piece's colour against the version that was agreed: by a reading of a photo or an instrument, or by eye on the grey scale."""

from collections.abc import Mapping
from dataclasses import dataclass

from hidewright.colour.light import cie
from hidewright.refusals import Refusal
from hidewright.safety.finish import Check
from hidewright.workshop.colours.models import ColourVersion, Reading
from hidewright.workshop.colours.queries import reading_value, target_row
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Job

WAYS = {"eye": "by eye", "photo": "by photo", "instrument": "by instrument"}


@dataclass(frozen=True, slots=True)
class ColourFound:
    """A comparison as it is noted: which check, its value as text, whether it is within what was agreed (None: by eye, a person says), the version."""

    kind: Check
    value: str
    within: bool | None
    version: ColourVersion | None


def agreed(job: Job, piece: str) -> tuple[Reading, float, ColourVersion | None]:
    """The reading that was agreed for a piece's colour, within how much (ΔE00), and the version of the shop's colour. Refuses a colour without a target."""
    mark = piece.split(" / ", maxsplit=1)[0]
    number = (
        Piece.objects.filter(job=job, key=mark, removed=None).values_list("colour_number", flat=True).first()
    )
    if number is None:
        raise Refusal("There is no such piece.", where="Piece", remedy="Choose one of the list.")
    row = target_row(job, number)
    if row is None:
        raise Refusal(
            "No colour is agreed for this piece yet.", where="Piece", remedy="Say it on the page Colour."
        )
    version = row.version
    return (version.reading if version else row.reading, row.tolerance, version)


def compared(
    job: Job, piece: str, way: str, *, reading: Reading | None = None, grade: str = ""
) -> ColourFound:
    """Hold a reading of the piece against what was agreed (ΔE00 under D65), or take the grade that an eye gave it."""
    if way not in WAYS:
        raise Refusal("Say how it was compared.", where="Way")
    target, tolerance, version = agreed(job, piece)
    if way == "eye":
        if not grade.strip():
            raise Refusal("Say the grade: 5 is no difference.", where="Grade")
        return ColourFound(Check.COLOUR_EYE, grade.strip(), None, version)
    if reading is None or reading.job_id != job.pk or reading.struck is not None:
        raise Refusal(
            "Choose the reading of the piece.", where="Reading", remedy="Bring it on the page Colour."
        )
    one, two = (reading_value(row) for row in (reading, target))
    if one.id == two.id:
        raise Refusal("This reading is what was agreed itself.", where="Reading", remedy="Read the piece.")
    if one.state != two.state:
        raise Refusal("One was read wet, the other dry.", where="Reading", remedy="Compare like with like.")
    delta = float(cie.delta_e00(cie.lab(one.reflectance), cie.lab(two.reflectance)))
    return ColourFound(Check.COLOUR, f"{delta:.2f}", delta <= tolerance, version)


def loose_readings(job: Job) -> Mapping[int, str]:
    """Key → name of the readings of a job that can be chosen."""
    return dict(Reading.objects.filter(job=job, struck=None).values_list("pk", "name"))
