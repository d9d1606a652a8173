"""What the bench's pages show: a vessel with its next pour, and whether there is enough."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.safestring import SafeString, mark_safe

from hidewright.charts.swatches import Swatch, touching_swatches
from hidewright.mixing import MixPart, MixRecipe
from hidewright.mixing.amounts import microlitres
from hidewright.mixing.guide import Step
from hidewright.mixing.jars import JarLine
from hidewright.mixing.topup import Part, Shortfall, TopUp, plan_top_up, runs_short
from hidewright.mixing.vessels import Boxing, Way, size_for, ways_to_box
from hidewright.refusals import Refusal
from hidewright.safety.cautions import Caution, Operation, beside
from hidewright.takeoff.advice import Advice, advise
from hidewright.takeoff.coats import Stage
from hidewright.takeoff.enough import Standing, Status, rounded_up
from hidewright.takeoff.products import Role
from hidewright.workshop.bench.dose import Dose, dose_for
from hidewright.workshop.bench.on_pieces_queries import batch_under_way, batches_on, numbered, two_under_way
from hidewright.workshop.colours.batch_queries import newest_batch, stands_in
from hidewright.workshop.colours.models import Batch
from hidewright.workshop.colours.queries import target as colour_target
from hidewright.workshop.days.queries import plan_in_force
from hidewright.workshop.pieces.queries import pieces as survey_pieces
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.quantities.queries import colour_gone, quantities, still_per_piece
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixComponent, MixMove, MixVessel, Product
from hidewright.workshop.shelf.stock_queries import PRODUCT, LotHeld, lots_held
from hidewright.workshop.shelf.vessel_queries import Line, VesselState
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.units import said_volume, shown_volume

COUNTABLE = 100
"""Drops above which the page says to weigh (a convention of this tool)."""


@dataclass(frozen=True, slots=True)
class VesselView:
    """A vessel as its page shows it; `seen` is how many entries the page knows of."""

    state: VesselState
    next: Step | None
    lines: list[Line]
    cautions: tuple[Caution, ...]
    lots: list[LotHeld]
    lot: str
    bottles: list[tuple[str, str]]
    boxable: list[tuple[str, str]]
    others: list[tuple[str, str]]
    swatches: SafeString | str
    places: int
    over_name: str
    excess: float
    formula: tuple[JarLine, ...]
    was_read: bool
    dose: Dose | None

    @property
    def next_hex(self) -> str:
        """Screen colour of the next part."""
        parts = (self.state.row.plan or {}).get("parts", ())
        return next(
            (p["hex"] for p in parts if self.next and p["key"] == self.next.key and p["hex"]), "#9a9a9a"
        )

    @property
    def lacking(self) -> float:
        """mL by which the lot that is offered first falls short of the next pour, by the book."""
        return self.lots[0].lacks(self.next.volume) if self.lots and self.next else 0.0

    @property
    def only_thins(self) -> bool:
        """What is in the cup besides its recipe is a product without pigment, such as a thinner."""
        known = {part.key for part in self.state.need.parts} if self.state.need else set()
        foreign = [key for key in self.state.contents if key not in known]
        return bool(foreign) and all(key.startswith(PRODUCT) for key in foreign)

    @property
    def uncalibrated(self) -> bool:
        """The next pour is counted in drops of a bottle whose drop nobody weighed."""
        return (
            self.state.row.measure == MixVessel.Measure.DROPS
            and self.next is not None
            and not MixComponent.objects.filter(key=self.next.key).exclude(drop=None).exists()
        )

    @property
    def too_many(self) -> bool:
        """More drops than anybody should count."""
        return (
            self.state.row.measure == MixVessel.Measure.DROPS
            and self.next is not None
            and (self.next.drops or 0) > COUNTABLE
        )

    @property
    def seen(self) -> int:
        """Entries known to the page."""
        return self.state.row.turns


def boxable(job: Job, row: MixVessel) -> list[tuple[str, str]]:
    """The ways to box this vessel with another of its colour, none of which runs over; the value names the other, the way and µL of a new vessel."""
    here = gather.state_of(row)
    pots = gather.pots()
    choices = []
    for other in gather.states_of(
        each for each in gather.job_vessels(job, row.colour_number) if each.pk != row.pk
    ):
        if not (other.volume and other.finished and other.crosslinked == here.crosslinked):
            continue
        for boxing in ways_to_box(_fill(here), _fill(other), pots):
            if boxing.way is not Way.THERE or other.row.kind == row.kind:
                value = f"{other.row.pk}:{boxing.way}:{boxing.capacity}"
                choices.append((value, _boxing_words(other, boxing)))
    return choices


def _fill(state: VesselState) -> tuple[int, int]:
    """µL in a vessel and µL that it holds."""
    return sum(state.contents.values()), state.row.capacity


def _boxing_words(other: VesselState, boxing: Boxing) -> str:
    name = f"{other.row.name}, {shown_volume(other.volume)}"
    if boxing.way is Way.HERE:
        return f"Pour {name}, in here"
    if boxing.way is Way.THERE:
        return f"Pour this into {name}"
    pot = boxing.pot.name if boxing.pot else "a new vessel"
    return f"Pour both ({name}) into {pot} of {shown_volume(boxing.capacity / 1000)}"


def holds_both(row: MixVessel, aim: float) -> float:
    """mL of the vessel to offer for a top-up of `aim` mL, so that all that is left of the batch goes in too."""
    left = sum(gather.state_of(row).contents.values())
    return size_for(gather.pots(), left + microlitres(aim)) / 1000


def pourable() -> list[tuple[str, str]]:
    """Products that may go into a cup besides its recipe: everything but crosslinker and what strips or cleans."""
    kept_out = [Role.CROSSLINKER.value, Role.STRIPPER.value, Role.CLEANER.value]
    rows = Product.objects.filter(active=True).exclude(role__in=kept_out)
    return [(row.key, row.name) for row in rows]


def vessel_view(job: Job, row: MixVessel) -> VesselView:
    """Everything that a vessel's page shows."""
    state = gather.state_of(row)
    following = None if state.refusal else state.next_step
    lots = lots_held(following.key) if following else []
    over = next((p for p in state.need.parts if p.key == state.need.over), None) if state.need else None
    excess = 0.0
    if over is not None and state.recipe is not None and state.need is not None:
        excess = (over.have - state.recipe.amounts(state.need.aim)[over.key]) / 1000
    return VesselView(
        state,
        following,
        gather.lines_of(row),
        _cautions(state),
        lots,
        lots[0].name if lots else "",
        [(p.key, p.name) for p in state.recipe.parts] if state.recipe else [],
        boxable(job, row) if state.finished else [],
        pourable(),
        _swatches(job, state),
        2 if row.grain < 0.1 else 1,
        over.name if over else "",
        excess,
        gather.jar_of(row).state.lines if state.volume else (),
        CupSight.objects.filter(vessel=row, strikes=None, struck_by=None).exists(),
        dose_for(state) if row.kind == MixVessel.Kind.PORTION else None,
    )


def _cautions(state: VesselState) -> tuple[Caution, ...]:
    if state.crosslinked:
        return beside(Operation.CROSSLINK)
    if state.row.kind == MixVessel.Kind.PORTION:
        return (*beside(Operation.SPRAY), *beside(Operation.CROSSLINK)[:1])
    return beside(Operation.WEIGH)


def _swatches(job: Job, state: VesselState) -> SafeString | str:
    """Target and the recipe's forecast, touching; once the cup is mixed."""
    aimed = colour_target(job, state.row.colour_number)
    mixed = (state.row.plan or {}).get("hex", "")
    if aimed is None or not mixed or not state.finished:
        return ""
    patches = [Swatch(aimed.target.hex, "Target", ""), Swatch(mixed, "Recipe, dry", "forecast")]
    return mark_safe(touching_swatches(patches, height=90))  # noqa: S308 - our own SVG, text escaped


def refuse_if_stale(state: VesselState, component: str, seen: str) -> None:
    """Refuse a pour of a thing that another device logged since the page was opened: it may be the same pour."""
    try:
        known = int(seen)
    except ValueError:
        return
    since = MixMove.objects.filter(
        entry__turns__vessel=state.row,
        entry__turns__seq__gt=known,
        component=component,
        target=state.row.key,
    ).distinct()
    found = since.first()
    if found is not None:
        raise Refusal(
            f"Another device logged {said_volume(found.amount / 1000)} of this since your page was opened.",
            where="pour",
            remedy="The page now shows how the cup is. If yours was another pour, log it now.",
        )


def usual_crosslinker() -> dict[str, str]:
    """The shop's crosslinker as the form's first words; empty when none is listed."""
    product = Product.objects.filter(role="crosslinker", active=True).first()
    if product is None:
        return {}
    life = f"{product.pot_life:g}" if product.pot_life else ""
    return {"product": product.name, "ratio": f"{100 * product.ratio:g}", "pot_life": life}


@dataclass(frozen=True, slots=True, eq=False)
class Enough:
    """Colour in hand against what is needed, mL; `stand` and `advice` None while the quantities are not worked out.

    `batch` is the one on the pieces that are half coated, else that which was sprayed last, else the fullest cup of good colour; a top-up is made like it. `gone` is that batch where its
    vessel holds another mix by now: the top-up is then made by its recipe, and nothing is boxed with it or drawn off that vessel for it. `apart` says which batch is on which half
    coated piece where they are several. `short_at` the piece that the colour does not reach, at the
    middle of the forecast; `top_up` when to box what the take-off says to mix.
    """

    in_hand: float
    stand: Standing | None
    advice: Advice | None
    batch: VesselState | None
    short_at: Shortfall | None = None
    top_up: TopUp | None = None
    apart: str = ""
    gone: Batch | None = None

    @property
    def like(self) -> str:
        """What a top-up is made like, in words."""
        if self.gone is not None:
            return f"{numbered(self.gone)}, by its recipe: {self.gone.vessel.name} holds another mix by now"
        return f"{self.batch.row.name} as it now is" if self.batch else ""

    @property
    def p50(self) -> float | None:
        """Likely still needed."""
        return self.stand.still.at(0.5) if self.stand else None

    @property
    def p90(self) -> float | None:
        """Still needed, to be 90 % sure."""
        return self.stand.still.at(0.9) if self.stand else None

    @property
    def mix(self) -> float:
        """What to mix now; 0 for nothing."""
        return self.stand.mix if self.stand else 0.0

    @property
    def all_the_same(self) -> float:
        """What a top-up would be for who mixes one though the advice is to wait: what makes it sure."""
        return 0.0 if self.stand is None or self.mix else rounded_up(self.stand.whole)


def enough(job: Job, states: Sequence[VesselState], number: int = 0) -> Enough:
    """Whether there is enough of one of the job's colours, and how much to mix when there is not: the same decision as on the page Quantities."""
    in_hand = sum(s.volume for s in states if s.counts())
    found = quantities(job, in_hand, number)
    cups = [s for s in states if s.finished and s.volume and not s.crosslinked and s.row.kind != "jar"]
    batches = batches_on(job, number)
    still = still_per_piece(job, number) if batches else {}
    newest = batch_under_way(job, still, number) or newest_batch(job, number)
    gone = newest if newest is not None and not stands_in(newest) else None
    batch = (
        _state_of(newest.vessel, states)
        if newest is not None
        else max(cups, key=lambda s: s.volume, default=None)
    )
    if found is None:
        return Enough(in_hand, None, None, batch, gone=gone)
    stand = found.standing
    short_at, top_up = None, None
    if batch is not None and gone is None and (stand.mix or stand.status is Status.SHORT):
        short_at, top_up = _top_up(job, batch, stand, number)
    apart = two_under_way(job, still, number)
    return Enough(in_hand, stand, advise(stand, shown_volume), batch, short_at, top_up, apart, gone)


def _state_of(row: MixVessel, states: Sequence[VesselState]) -> VesselState:
    """How a vessel stands, however much is left in it."""
    state = next((state for state in states if state.row.pk == row.pk), None)
    return state or gather.state_of(row)


def _top_up(
    job: Job, batch: VesselState, stand: Standing, number: int
) -> tuple[Shortfall | None, TopUp | None]:
    """Where the colour gives out, and when to box the top-up that carries it on.

    What a piece takes does not hold the losses in gun and cup; they are spread over the pieces, so that the sums are the forecast's.
    """
    still = {key: mL for key, mL in still_per_piece(job, number).items() if mL > 0}
    whole = sum(still.values())
    if not whole:
        return None, None
    p50, p90 = stand.still.at(0.5), stand.still.at(0.9)
    pieces = {p.key: p for p in survey_pieces(job)}
    ordered = [pieces[key] for key in _in_order_of_work(job, list(still)) if key in pieces]
    likely = [still[p.key] * p50 / whole for p in ordered]
    careful = [Part(p.key, p.name, p.group or p.name, still[p.key] * p90 / whole) for p in ordered]
    middling = [Part(p.key, p.name, p.group, mL) for p, mL in zip(ordered, likely, strict=True)]
    made = MixRecipe(batch.row.name, (MixPart("batch", batch.row.name, 1.0, 1.0),))
    amount = stand.mix or rounded_up(stand.whole)
    begun = colour_gone(job, number) > 0
    plan = plan_top_up(made, careful, stand.in_hand, reserve=0.0, likely=likely, begun=begun, mix=amount)
    return runs_short(middling, stand.in_hand), plan


def _in_order_of_work(job: Job, keys: list[str]) -> list[str]:
    """The pieces in the order in which the plan coats them; without a plan, in the survey's order."""
    plan = plan_in_force(job)
    if plan is None:
        return keys
    first: dict[str, datetime] = {}
    for act in plan.acts:
        piece, _, rest = act.key.partition("/")
        if "colour" in rest:
            first[piece] = min(act.start, first.get(piece, act.start))
    return sorted(keys, key=lambda key: (key not in first, first.get(key, plan.finish)))


def groups_left(job: Job, number: int = 0) -> list[str]:
    """Groups with pieces that still take one of the job's colours, in the survey's order."""
    still = still_per_piece(job, number)
    return list(dict.fromkeys(p.group or p.name for p in survey_pieces(job) if still.get(p.key, 0) > 0))


def shares_of(job: Job, groups: Sequence[str], coats: int | None, number: int = 0) -> dict[str, float]:
    """Piece → share of its sprayed coats, for the pieces of these groups that still take colour; all that is left of them without `coats`."""
    found = quantities(job, 0.0, number)
    if found is None or not groups:
        return {}
    each = min(1.0, coats / max(found.sourced.assumed.colour_coats, 1)) if coats else 1.0
    left = {
        item.piece: 1 - float(done)
        for item, done in zip(found.model.items, found.model.done, strict=True)
        if item.stage is Stage.COLOUR and done < 1
    }
    chosen = set(groups)
    return {
        p.key: min(each, left[p.key]) for p in found.pieces if p.key in left and (p.group or p.name) in chosen
    }
