"""Batches are noted when their colour first goes to the gun."""

from django.db.models import Max

from hidewright.workshop.colours.batch_queries import formula_of, same_mix
from hidewright.workshop.colours.models import Batch
from hidewright.workshop.colours.queries import target_row
from hidewright.workshop.shelf.models import MixVessel


def note_batch(row: MixVessel) -> Batch | None:
    """Note what stands in a cup as a batch, just before colour of it leaves for the gun; the one that is noted already where the mix is the same.

    Call it inside a transaction. None for a gun load, a vessel of no job, and an empty one.
    """
    if row.job is None or row.kind != MixVessel.Kind.CUP:
        return None
    formula = formula_of(row)
    if not formula:
        return None
    noted = Batch.objects.filter(vessel=row, withdrawn=None).first()
    if noted is not None and same_mix(noted.formula, formula):
        return noted
    mine = Batch.objects.filter(job=row.job, colour_number=row.colour_number)
    aimed = target_row(row.job, row.colour_number)
    return Batch.objects.create(
        job=row.job,
        colour_number=row.colour_number,
        number=(mine.aggregate(last=Max("number"))["last"] or 0) + 1,
        vessel=row,
        version=aimed.version if aimed else None,
        formula=formula,
    )
