"""Which batch of a colour is on which piece, by what was drawn for it: out of a cup, or out of a load that was filled from cups."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from hidewright.mixing import Act
from hidewright.takeoff.coats import Stage
from hidewright.workshop.colours.batch_queries import formula_of, same_mix, stands_in
from hidewright.workshop.colours.models import Batch
from hidewright.workshop.quantities.models import Use
from hidewright.workshop.shelf.models import MixTurn, MixVessel
from hidewright.workshop.shelf.vessel_actions import colour_name
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

COLOUR = (Stage.WIPED.value, Stage.COLOUR.value)


@dataclass(frozen=True, slots=True)
class OnPieces:
    """A batch with a `label` that no other of the colour has, the `pieces` that it is on, and those of them that carry `another` too; `row` a vessel that holds its mix (None: none does any more, and a cup like it is made by its recipe)."""

    batch: Batch
    label: str
    pieces: tuple[str, ...]
    another: tuple[str, ...]
    row: MixVessel | None

    @property
    def words(self) -> str:
        """“Tan, batch 2 on C1, C2 (C2 carries another too)”."""
        both = f" ({', '.join(self.another)} {'carries' if len(self.another) == 1 else 'carry'} another too)"
        return f"{self.label} on {', '.join(self.pieces)}{both if self.another else ''}"


@remembered
def batches_on(job: Job, number: int = 0) -> Mapping[str, tuple[Batch, ...]]:
    """Piece → the batches of one of the job's colours that are on it, in the order in which they went on; batches of one mix count once."""
    uses = Use.objects.filter(job=job, struck=None, stage__in=COLOUR, entry__countered_by=None)
    drawn = [(use.entry_id, use.done) for use in uses.exclude(entry=None).order_by("entry", "id")]
    if not drawn:
        return {}
    entries = {entry for entry, _ in drawn}
    turns = MixTurn.objects.filter(entry__in=entries, vessel__colour_number=number)
    rows = list(turns.select_related("vessel", "entry"))
    loads = {turn.vessel_id for turn in rows if turn.vessel.kind == MixVessel.Kind.PORTION}
    filled = _filled(loads)
    noted = _noted(job, number)
    found: dict[str, list[Batch]] = defaultdict(list)
    for turn in rows:
        sources = filled.get(turn.vessel_id) or [(turn.entry.at, turn.vessel_id)]
        for at, vessel in sources:
            batch = _then(noted.get(vessel, ()), at)
            if batch is None:
                continue
            for entry, done in drawn:
                if entry != turn.entry_id:
                    continue
                for piece in done:
                    if not any(same_mix(batch.formula, other.formula) for other in found[piece]):
                        found[piece].append(batch)
    return {piece: tuple(sorted(each, key=lambda b: b.pk)) for piece, each in found.items() if each}


def _filled(loads: set[int]) -> dict[int, list[tuple[datetime, int]]]:
    """Load → when it was filled from which cup."""
    if not loads:
        return {}
    into = MixTurn.objects.filter(
        vessel__in=loads, entry__act=Act.SPLIT, entry__counters=None, entry__countered_by=None
    )
    of = dict(into.values_list("entry", "vessel"))
    out = MixTurn.objects.filter(entry__in=of, vessel__kind=MixVessel.Kind.CUP)
    found: dict[int, list[tuple[datetime, int]]] = defaultdict(list)
    for entry, at, cup in out.values_list("entry", "entry__at", "vessel"):
        found[of[entry]].append((at, cup))
    return found


def _noted(job: Job, number: int) -> dict[int, list[Batch]]:
    """Vessel → its batches, the first first."""
    found: dict[int, list[Batch]] = defaultdict(list)
    rows = Batch.objects.filter(job=job, colour_number=number, withdrawn=None).select_related("vessel")
    for batch in rows.order_by("pk"):
        found[batch.vessel_id].append(batch)
    return found


def _then(batches: Sequence[Batch], at: datetime) -> Batch | None:
    """What stood in a vessel at a moment."""
    return next((batch for batch in reversed(batches) if batch.made <= at), None)


def numbered(batch: Batch) -> str:
    """“Tan, batch 2”."""
    return f"{colour_name(batch.vessel.name)}, batch {batch.number}"


def labels_of(batches: Sequence[Batch]) -> dict[int, str]:
    """Batch → a name that no other of these has: its cup's, or “Tan, batch 2” by its own number where two would have the same."""
    names = Counter(batch.vessel.name for batch in batches)
    if all(count == 1 for count in names.values()):
        return {batch.pk: batch.vessel.name for batch in batches}
    return {batch.pk: numbered(batch) for batch in batches}


def on_pieces(job: Job, number: int = 0, jars: Sequence[MixVessel] = ()) -> tuple[OnPieces, ...]:
    """The batches that are on the pieces of one of the job's colours, the newest first; a cup is made like one of the `jars` of the same mix, or like its cup while that holds it, else by its recipe."""
    on = batches_on(job, number)
    batches = {batch.pk: batch for each in on.values() for batch in each}
    labels = labels_of(list(batches.values()))
    held = [(jar, formula_of(jar)) for jar in jars] if batches else []
    found = []
    for batch in sorted(batches.values(), key=lambda b: -b.pk):
        pieces = tuple(sorted(piece for piece, each in on.items() if batch in each))
        another = tuple(piece for piece in pieces if len(on[piece]) > 1)
        row = next((jar for jar, formula in held if same_mix(formula, batch.formula)), None)
        if row is None and stands_in(batch):
            row = batch.vessel
        found.append(OnPieces(batch, labels[batch.pk], pieces, another, row))
    return tuple(found)


def batch_under_way(job: Job, still: Mapping[str, float], number: int = 0) -> Batch | None:
    """The batch that is on the pieces that are half coated, by the mL `still` to come on each; None where none is."""
    amounts: Counter[int] = Counter()
    batches: dict[int, Batch] = {}
    for piece, each in batches_on(job, number).items():
        if still.get(piece, 0.0) > 0:
            amounts[each[-1].pk] += round(1000 * still[piece])
            batches[each[-1].pk] = each[-1]
    return batches[max(amounts, key=lambda key: (amounts[key], key))] if amounts else None


def two_under_way(job: Job, still: Mapping[str, float], number: int = 0) -> str:
    """In words, which half coated pieces carry which batch, where it is not one and the same; empty else."""
    on = {p: each for p, each in batches_on(job, number).items() if still.get(p, 0.0) > 0}
    batches = {batch.pk: batch for each in on.values() for batch in each}
    if len(batches) < 2:
        return ""
    labels = labels_of(list(batches.values()))
    return "; ".join(
        f"{labels[pk]} is on {', '.join(sorted(p for p, each in on.items() if batches[pk] in each))}"
        for pk in sorted(batches)
    )
