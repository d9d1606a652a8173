"""The colours of the shop: their versions, where their truth lies, the jobs, batches and jars that hang on them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from hidewright.workshop.colours.batch_queries import batches
from hidewright.workshop.colours.models import Batch, Colour, ColourVersion
from hidewright.workshop.colours.queries import ReadingValue, reading_value
from hidewright.workshop.pieces.models import JobColour
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job

TRUTHS = {
    "file": Colour.Truth.READING,
    "typed": Colour.Truth.READING,
    "photo": Colour.Truth.PIECE,
    "by eye": Colour.Truth.PIECE,
    "jar": Colour.Truth.JAR,
}
"""Where a colour's truth lies at first, by the source of its first reading."""


def version_in_force(colour: Colour) -> ColourVersion | None:
    """The newest version that was not withdrawn."""
    found = ColourVersion.objects.filter(colour=colour, withdrawn=None).select_related("reading")
    return found.order_by("-number").first()


def colour_of(job: Job, number: int) -> Colour | None:
    """The shop's colour behind one of a job's colours; None before it has a target."""
    row = JobColour.objects.filter(job=job, number=number).select_related("colour").first()
    return row.colour if row else None


@dataclass(frozen=True, slots=True, eq=False)
class ShopColour:
    """A colour of the shop as its page shows it: its versions, the newest first, and what hangs on it."""

    row: Colour
    versions: tuple[tuple[ColourVersion, ReadingValue], ...]
    jobs: tuple[JobColour, ...]
    batches: tuple[Batch, ...]
    vessels: tuple[MixVessel, ...]

    @property
    def now(self) -> ReadingValue | None:
        """The version in force."""
        return next((value for row, value in self.versions if row.withdrawn is None), None)

    @property
    def since(self) -> datetime | None:
        """Since when."""
        return next((row.made for row, _ in self.versions if row.withdrawn is None), None)


def shop_colour(row: Colour) -> ShopColour:
    """Everything that hangs on a colour of the shop."""
    jobs = tuple(JobColour.objects.filter(colour=row, removed=None).select_related("job"))
    pairs = {(each.job_id, each.number) for each in jobs}
    inside = [each.job_id for each in jobs]
    sprayed = batches().filter(job__in=inside).select_related("job")
    kept = MixVessel.objects.filter(job__in=inside, kind=MixVessel.Kind.JAR, put_away=None)
    versions = row.versions.select_related("reading").order_by("-number")
    return ShopColour(
        row,
        tuple((each, reading_value(each.reading)) for each in versions),
        jobs,
        tuple(each for each in sprayed if (each.job_id, each.colour_number) in pairs),
        tuple(each for each in kept.select_related("job") if (each.job_id, each.colour_number) in pairs),
    )


@dataclass(frozen=True, slots=True, eq=False)
class ColourLine:
    """A colour of the list: its row and how it looks; `hex` empty where no version is in force."""

    row: Colour
    hex: str


def in_use() -> QuerySet[Colour]:
    """The colours in use, by name."""
    return Colour.objects.filter(put_away=None)


def lines_of(rows: Sequence[Colour]) -> list[ColourLine]:
    """Colours as the list shows them; one question to the database however many there are."""
    newest: dict[int, ColourVersion] = {}
    versions = ColourVersion.objects.filter(colour__in=rows, withdrawn=None).select_related("reading")
    for version in versions.order_by("number"):
        newest[version.colour_id] = version
    return [
        ColourLine(row, reading_value(newest[row.pk].reading).hex if row.pk in newest else "") for row in rows
    ]


def put_away() -> QuerySet[Colour]:
    """The colours that were put away, the last first."""
    return Colour.objects.exclude(put_away=None).order_by("-put_away")
