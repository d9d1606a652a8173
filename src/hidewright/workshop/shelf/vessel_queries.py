"""The bench's rows as values: the ledger, a cup as it stands, portions with their clocks, jars, colour in hand."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db.models import CharField, Q, QuerySet, Sum, Value
from django.db.models.functions import Cast, Concat
from django.utils import timezone

from hidewright.mixing import SPRAYED, Act, Entry, Ledger, MixPart, MixRecipe, Move, Vessel, VesselKind
from hidewright.mixing.amounts import millilitres
from hidewright.mixing.grain import Grain, balance_grains, drop_grains, ends_off, too_small, volume_grains
from hidewright.mixing.guide import Step, steps
from hidewright.mixing.jars import JarState, jar_state
from hidewright.mixing.ledger import by_component, crosslinked_since, volume
from hidewright.mixing.needed import Needed, poured_over, still_needed
from hidewright.mixing.portions import Clock, PotLife
from hidewright.mixing.vessels import Pot
from hidewright.refusals import Refusal
from hidewright.workshop.shelf.models import MixComponent, MixEntry, MixMove, MixTurn, MixVessel, ShopVessel
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered


def vessel_value(row: MixVessel) -> Vessel:
    """One vessel as the ledger takes it."""
    return Vessel(row.key, row.name, VesselKind(row.kind), row.capacity, row.tare)


def _reach(start: Iterable[int]) -> set[int]:
    """Every vessel that colour came from or went to, from `start` on: where crosslinked colour came from must be known."""
    known, edge = set(), set(start)
    while edge:
        known |= edge
        shared = MixTurn.objects.filter(entry__turns__vessel__in=edge).values_list("vessel_id", flat=True)
        edge = set(shared) - known
    return known


def ledger_of(vessels: Iterable[MixVessel]) -> Ledger:
    """The ledger of these vessels and of all that colour moved to and from."""
    reached = _reach(row.pk for row in vessels)
    rows = MixVessel.objects.filter(pk__in=reached)
    return Ledger({row.key: vessel_value(row) for row in rows}, _entries(reached), crosslinkers())


def _entries(vessels: set[int]) -> tuple[Entry, ...]:
    # Read before the moves: another tablet may add an entry between the two questions, and its moves would be missing.
    found = list(MixEntry.objects.filter(turns__vessel__in=vessels).distinct().order_by("pk"))
    moves: dict[int, list[Move]] = {}
    for row in MixMove.objects.filter(entry__in=[row.pk for row in found]).order_by("pk"):
        moves.setdefault(row.entry_id, []).append(
            Move(row.source, row.target, row.component, row.amount, row.lot)
        )
    return tuple(
        Entry(row.pk, Act(row.act), tuple(moves[row.pk]), row.counters_id, row.at, row.note) for row in found
    )


@remembered
def crosslinkers() -> frozenset[str]:
    """Keys of the components that start a pot life."""
    return frozenset(MixComponent.objects.filter(crosslinker=True).values_list("key", flat=True))


def components() -> dict[str, MixComponent]:
    """Every component by key."""
    return {row.key: row for row in MixComponent.objects.all()}


def recipe_in(row: MixVessel) -> MixRecipe | None:
    """The recipe that is poured into a vessel."""
    if not row.plan or not row.plan["parts"]:
        return None
    parts = tuple(MixPart(p["key"], p["name"], p["share"], p["density"]) for p in row.plan["parts"])
    return MixRecipe(row.plan["name"], parts)


def grains_of(row: MixVessel, recipe: MixRecipe, drops: Mapping[str, float]) -> dict[str, Grain]:
    """The step in which each part is measured: the balance's last digit, a drop of its bottle, a tenth of a mL."""
    if row.measure == MixVessel.Measure.DROPS:
        return drop_grains(recipe, drops, the_shop().drop)
    if row.measure == MixVessel.Measure.VOLUME:
        return volume_grains(recipe)
    return balance_grains(recipe, row.grain)


def pots() -> tuple[Pot, ...]:
    """The vessels that the shop has, the smallest first."""
    return tuple(
        Pot(str(row.pk), row.name, row.capacity, row.tare) for row in ShopVessel.objects.filter(removed=None)
    )


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of the drawn cup: screen colour, what, mL, and its place from the bottom, both in percent of the vessel."""

    hex: str
    name: str
    volume: float
    bottom: float
    height: float

    @property
    def top(self) -> float:
        """Percent from the brim down."""
        return 100 - self.bottom - self.height


@dataclass(frozen=True, slots=True)
class Line:
    """One entry as the page tells it; `takeable` while it can be taken back by a counter-entry."""

    number: int
    text: str
    note: str
    at: datetime
    who: str
    taken_back: bool
    is_counter: bool
    takeable: bool


@dataclass(frozen=True, slots=True)
class VesselState:
    """A vessel as it stands. Volumes in mL, masses in g; `need` None without a recipe; `refusal` why the cup cannot be finished in it; `ends` how far
    off it ends in whole steps; `small` why it is too small to be measured, with the mL from which it is not."""

    row: MixVessel
    volume: float
    mass: float
    capacity: float
    contents: Mapping[str, int]
    layers: tuple[Layer, ...]
    recipe: MixRecipe | None
    need: Needed | None
    steps: tuple[Step, ...]
    refusal: Refusal | None
    began: datetime | None
    life: PotLife | None
    drawn_off: bool
    ends: str = ""
    small: tuple[str, float] | None = None

    @property
    def next_step(self) -> Step | None:
        """The pour that comes next."""
        return None if self.finished else next((step for step in self.steps if not step.done), None)

    @property
    def finished(self) -> bool:
        """Mixed: of no part more is needed than can be measured, or it was taken as it is, or colour was drawn off it already."""
        if self.row.accepted or self.drawn_off or self.need is None:
            return bool(self.volume)
        return self.volume > 0 and all(step.done for step in self.steps)

    @property
    def crosslinked(self) -> bool:
        """Crosslinked colour is in it."""
        return self.began is not None

    @property
    def shown(self) -> float:
        """What the balance shows now, g, with the tare."""
        return self.row.tare + self.mass

    @property
    def full(self) -> float:
        """Percent of the vessel."""
        return 100 * self.volume / self.capacity

    @property
    def empty_percent(self) -> float:
        """Percent of the vessel that is empty."""
        return 100 - self.full

    @property
    def goal_percent(self) -> float | None:
        """Where the finished cup will stand, in percent of the vessel; None when it is finished or does not fit."""
        if self.need is None or self.finished or self.refusal:
            return None
        return 100 * (self.need.total + self.need.foreign) / self.row.capacity

    @property
    def goal_y(self) -> float:
        """Where the line of the finished cup stands in the drawing."""
        return 112 - (self.goal_percent or 0.0)

    def clock(self, now: datetime | None = None) -> Clock | None:
        """How the pot life stands; None without one."""
        return self.life.clock(now or timezone.now()) if self.life else None

    def counts(self, now: datetime | None = None) -> bool:
        """Colour in hand: mixed, and not past its pot life."""
        return self.finished and self.clock(now) is not Clock.OVER

    @property
    def seconds_left(self) -> int | None:
        """Whole seconds of pot life left, by the server's clock: a tablet's own may be wrong."""
        return int(self.life.left(timezone.now()).total_seconds()) if self.life else None

    @property
    def minutes_left(self) -> int | None:
        """Whole minutes of pot life left."""
        left = self.seconds_left
        return None if left is None else left // 60


def state_of(row: MixVessel, ledger: Ledger | None = None) -> VesselState:
    """A vessel as it stands, worked out from the entries."""
    book = ledger or ledger_of([row])
    known = components()
    held = by_component(book, row.key)
    recipe = recipe_in(row)
    drops = {key: c.drop for key, c in known.items() if c.drop}
    need, refusal = _needed(row, recipe, held, drops, book)
    mass = sum(millilitres(v) * (known[k].density if k in known else 1.0) for k, v in held.items())
    foreign = mass - (sum(millilitres(p.have) * p.density for p in need.parts) if need else 0.0)
    grains = grains_of(row, recipe, drops) if recipe else {}
    guided = (
        steps(need, tare=row.tare, others=foreign, drops=_drops(row, drops, need), grains=grains)
        if need
        else ()
    )
    start = crosslinked_since(book, row.key)
    began = start.at if start else None
    return VesselState(
        row,
        millilitres(volume(book, row.key)),
        mass,
        millilitres(row.capacity),
        held,
        _layers(row, held, known),
        recipe,
        need,
        guided,
        refusal,
        began,
        PotLife(began, row.pot_life) if began and row.pot_life else None,
        any(m.source == row.key for e in book.standing() for m in e.moves),
        ends_off(recipe, need, grains).words if recipe and need else "",
        too_small(recipe, need.total, grains) if recipe and need else None,
    )


def _drops(row: MixVessel, known: Mapping[str, float], need: Needed) -> dict[str, float]:
    """Calibrated drop volumes; in drops, the usual one stands in where a bottle was not calibrated."""
    if row.measure != MixVessel.Measure.DROPS:
        return dict(known)
    usual = the_shop().drop
    return {part.key: known.get(part.key, usual) for part in need.parts}


def _needed(
    row: MixVessel,
    recipe: MixRecipe | None,
    held: Mapping[str, int],
    drops: Mapping[str, float],
    book: Ledger,
) -> tuple[Needed | None, Refusal | None]:
    if recipe is None or not row.aim:
        return None, None
    slack = {key: grain.slack for key, grain in grains_of(row, recipe, drops).items()}
    found = still_needed(recipe, row.aim, held, slack=slack)
    if found.over:
        over = poured_over(recipe, row.aim, _changes(row, book), slack=slack)
        found = replace(found, over=over or found.over)
    try:
        still_needed(recipe, row.aim, held, slack=slack, capacity=row.capacity)
    except Refusal as refusal:
        return found, refusal
    return found, None


def _changes(row: MixVessel, book: Ledger) -> Iterable[dict[str, int]]:
    """What each standing entry put into the vessel, or took out (below 0), µL by component."""
    for entry in book.standing():
        change: dict[str, int] = {}
        for move in entry.moves:
            signed = (move.target == row.key) - (move.source == row.key)
            change[move.component] = change.get(move.component, 0) + signed * move.amount
        yield change


def _layers(row: MixVessel, held: Mapping[str, int], known: Mapping[str, MixComponent]) -> tuple[Layer, ...]:
    found, bottom = [], 0.0
    for key, amount in held.items():
        height = 100 * amount / row.capacity
        c = known.get(key)
        found.append(
            Layer(
                c.hex if c and c.hex else "#9a9a9a", c.name if c else key, millilitres(amount), bottom, height
            )
        )
        bottom += height
    return tuple(found)


def lines_of(row: MixVessel) -> list[Line]:
    """The entries of a vessel, newest first."""
    found = (
        MixEntry.objects.filter(turns__vessel=row)
        .select_related("person", "device")
        .order_by("-pk")
        .distinct()
    )
    gone = set(MixEntry.objects.filter(counters__in=found.values("pk")).values_list("counters_id", flat=True))
    return [
        Line(
            e.pk,
            e.text,
            e.note,
            e.at,
            e.person.name if e.person else (e.device.name if e.device else ""),
            e.pk in gone,
            e.act == Act.COUNTER,
            e.act != Act.COUNTER and e.pk not in gone,
        )
        for e in found
    ]


def job_vessels(job: Job, number: int | None = None) -> list[MixVessel]:
    """The vessels of a job that are in use, cups first; those of one of its colours where its `number` is given."""
    found = MixVessel.objects.filter(job=job, put_away=None)
    rows = list(found if number is None else found.filter(colour_number=number))
    order = {"cup": 0, "portion": 1, "jar": 2}
    return sorted(rows, key=lambda row: (order[row.kind], row.pk))


def states_of(rows: Iterable[MixVessel]) -> list[VesselState]:
    """Several vessels as they stand, from one reading of the book."""
    found = list(rows)
    book = ledger_of(found)
    return [state_of(row, book) for row in found]


@remembered
def in_hand(job: Job) -> dict[int, float]:
    """Number of each of the job's colours that stands there mixed → mL of it in hand: finished cups, gun loads within their pot life, jars."""
    now = timezone.now()
    found: dict[int, float] = {}
    for state in states_of(job_vessels(job)):
        if state.counts(now):
            number = state.row.colour_number
            found[number] = found.get(number, 0.0) + state.volume
    return found


def colour_in_hand(job: Job, number: int = 0) -> float:
    """mL of one of the job's colours that is mixed and in hand."""
    return in_hand(job).get(number, 0.0)


def moves_of_colour(job: Job, number: int) -> QuerySet[MixMove]:
    """Every move into or out of the vessels of one of the job's colours."""
    keys = MixVessel.objects.filter(job=job, colour_number=number).annotate(
        place=Concat(Value("v"), Cast("pk", CharField()))
    )
    places = keys.values("place")
    return MixMove.objects.filter(entry__job=job).filter(Q(source__in=places) | Q(target__in=places))


@remembered
def colour_used(job: Job, number: int = 0) -> float:
    """mL of one of the job's colours that went through the gun, without its crosslinker, counter-entries taken off."""
    moves = moves_of_colour(job, number).exclude(component__in=crosslinkers())
    return millilitres(_sum(moves.filter(target=SPRAYED)) - _sum(moves.filter(source=SPRAYED)))


def _sum(moves: QuerySet[MixMove]) -> int:
    return moves.aggregate(total=Sum("amount"))["total"] or 0


SOON = timedelta(days=30)
"""How long before a jar's day the shop is reminded (a convention of this tool)."""


@dataclass(frozen=True, slots=True)
class Jar:
    """A jar on the shelf: its row, what is in it, its screen colour, and whether it is past its keep-until day."""

    row: MixVessel
    state: JarState
    hex: str
    job: str

    @property
    def past(self) -> bool:
        """Past its day."""
        return self.row.keep_until is not None and self.row.keep_until < timezone.localdate()

    @property
    def soon(self) -> bool:
        """Its day comes within `SOON`, and is not past."""
        until, today = self.row.keep_until, timezone.localdate()
        return until is not None and today <= until <= today + SOON

    @property
    def pigment_share(self) -> float:
        """Share of pigment by volume: everything but the base."""
        return sum(line.share for line in self.state.lines if line.key != "base")


def kept_jars() -> QuerySet[MixVessel]:
    """Every jar in use, the newest first."""
    jars = MixVessel.objects.filter(kind=MixVessel.Kind.JAR, put_away=None)
    return jars.select_related("job").order_by("-pk")


def jars(rows: Sequence[MixVessel]) -> list[Jar]:
    """These jars as they stand."""
    if not rows:
        return []
    book = ledger_of(rows)
    names = {key: c.name for key, c in components().items()}
    return [jar_of(row, book, names) for row in rows]


def jar_of(row: MixVessel, book: Ledger | None = None, names: Mapping[str, str] | None = None) -> Jar:
    """One jar as it stands."""
    known = names if names is not None else {key: c.name for key, c in components().items()}
    state = jar_state(book or ledger_of([row]), row.key, known)
    mixed = (row.plan or {}).get("hex", "")
    return Jar(row, state, mixed, row.job.name if row.job else "")
