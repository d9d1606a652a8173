"""The pictures of a job with what they show."""

from hidewright.workshop.approvals.models import Agreement
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.intake.models import Picture, PictureState
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job


def job_pictures(job: Job) -> list[tuple[str, str]]:
    """(file name, what it shows) of the pictures that a paper shows, oldest first."""
    word = the_shop().snag_word.capitalize()
    rows = Snag.objects.filter(job=job, withdrawn=None).exclude(picture="").order_by("id")
    shown = [(row.picture, f"{word}: {row.what}" + (f" ({row.piece})" if row.piece else "")) for row in rows]
    kept = Picture.objects.filter(job=job, withdrawn=None, state=PictureState.KEPT).select_related("piece")
    shown += [
        (row.file, row.get_kind_display().capitalize() + (f" ({row.piece.key})" if row.piece else ""))
        for row in kept.order_by("id")
    ]
    scans = Agreement.objects.filter(sheet__job=job, withdrawn=None).exclude(scan="").order_by("id")
    return shown + [(row.scan, f"Signed by {row.name}") for row in scans]
