"""The pictures of a job with what they show."""

from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job


def job_pictures(job: Job) -> list[tuple[str, str]]:
    """(file name, what it shows) of the pictures that a paper shows, oldest first."""
    word = the_shop().snag_word.capitalize()
    rows = Snag.objects.filter(job=job, withdrawn=None).exclude(picture="").order_by("id")
    return [(row.picture, f"{word}: {row.what}" + (f" ({row.piece})" if row.piece else "")) for row in rows]
