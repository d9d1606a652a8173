"""What the bench's pages show: a vessel with its next pour, and whether there is enough."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from hidewright.charts.swatches import Swatch, touching_swatches
from hidewright.mixing.guide import Step
from hidewright.refusals import Refusal
from hidewright.safety.cautions import Caution, Operation, beside
from hidewright.units import show_volume

from ..models.jobs import Job
from ..models.mixing import MixMove, MixVessel
from ..models.products import Product
from ..models.shop import Shop
from . import mixing as gather
from .colour import target as colour_target
from .mixing import Line, VesselState
from .quantities import colour_needed


@dataclass(frozen=True, slots=True)
class VesselView:
    """A vessel as its page shows it; `seen` is how many entries the page knows of."""

    state: VesselState
    next: Step | None
    lines: list[Line]
    cautions: tuple[Caution, ...]
    lots: list[str]
    lot: str
    bottles: list[tuple[str, str]]
    boxable: list[tuple[int, str]]
    swatches: SafeString | str
    places: int
    over_name: str
    excess: float

    @property
    def next_hex(self) -> str:
        """Screen colour of the next part."""
        parts = (self.state.row.plan or {}).get("parts", ())
        return next(
            (p["hex"] for p in parts if self.next and p["key"] == self.next.key and p["hex"]), "#9a9a9a"
        )

    @property
    def seen(self) -> int:
        """Entries known to the page."""
        return self.state.row.turns


def boxable(job: Job, row: MixVessel) -> list[tuple[int, str]]:
    """The other vessels of the job with colour in them, to box with this one."""
    states = gather.states_of(other for other in gather.job_vessels(job) if other.pk != row.pk)
    return [
        (s.row.pk, f"{s.row.name}, {s.volume:,.0f} mL")
        for s in states
        if s.volume and s.finished and s.crosslinked == gather.state_of(row).crosslinked
    ]


def vessel_view(job: Job, row: MixVessel) -> VesselView:
    """Everything that a vessel's page shows."""
    state = gather.state_of(row)
    following = state.next_step
    lots = [lot.name for lot in gather.lots_of(following.key)] if following else []
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
        lots[0] if lots else "",
        [(p.key, p.name) for p in state.recipe.parts] if state.recipe else [],
        boxable(job, row) if state.finished else [],
        _swatches(job, state),
        2 if row.grain < 0.1 else 1,
        over.name if over else "",
        excess,
    )


def _cautions(state: VesselState) -> tuple[Caution, ...]:
    if state.crosslinked:
        return beside(Operation.CROSSLINK)
    if state.row.kind == MixVessel.Kind.PORTION:
        return (*beside(Operation.SPRAY), *beside(Operation.CROSSLINK)[:1])
    return beside(Operation.WEIGH)


def _swatches(job: Job, state: VesselState) -> SafeString | str:
    """Target and the recipe's forecast, touching; once the cup is mixed."""
    aimed = colour_target(job)
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
            f"Another device logged {found.amount / 1000:,.2f} mL of this since your page was opened.",
            where="pour",
            remedy="The page now shows how the cup stands. If yours was another pour, log it now.",
        )


def usual_crosslinker() -> dict[str, str]:
    """The shop's crosslinker as the form's first words; empty when none is listed."""
    product = Product.objects.filter(role="crosslinker", active=True).first()
    if product is None:
        return {}
    life = f"{product.pot_life:g}" if product.pot_life else ""
    return {"product": product.name, "ratio": f"{100 * product.ratio:g}", "pot_life": life}


@dataclass(frozen=True, slots=True)
class Enough:
    """Colour in hand against what is needed, mL; `p50` and `p90` None while the quantities are not worked out."""

    in_hand: float
    p50: float | None
    p90: float | None
    batch: VesselState | None
    mix: float
    mix_words: str

    @property
    def short(self) -> float:
        """mL lacking for 90 % odds; 0 when there is enough or it is not known."""
        return max(0.0, (self.p90 or 0.0) - self.in_hand)


def enough(job: Job, states: Sequence[VesselState]) -> Enough:
    """Whether there is enough, and how much to mix when there is not."""
    in_hand = gather.colour_in_hand(job)
    need = colour_needed(job)
    p50, p90 = need if need else (None, None)
    mix = max(0.0, (p90 or 0.0) - in_hand)
    shop = Shop.objects.filter(pk=1).first()
    units = shop.units if shop else "metric"
    cups = [s for s in states if s.finished and s.volume and not s.crosslinked]
    batch = max(cups, key=lambda s: s.volume, default=None)
    return Enough(in_hand, p50, p90, batch, mix, show_volume(mix, units) if mix else "")
