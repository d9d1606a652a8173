"""Quantities as values: what a job's forecast stands on, the forecast, what was used, and what is still needed."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django.db.models import Q

from hidewright import survey as pieces_stage
from hidewright.colour.recipes.recipe import Recipe
from hidewright.defaults import BASE_SHARE
from hidewright.refusals import Refusal
from hidewright.takeoff import products as products_stage
from hidewright.takeoff.byhand import figures_learned
from hidewright.takeoff.coats import Assumptions, Stage
from hidewright.takeoff.enough import Standing, model_of, standing
from hidewright.takeoff.howmuch import COLOUR, Takeoff, take_off
from hidewright.takeoff.odds import Spread
from hidewright.takeoff.shopping import Line, Want, shopping_list, wants_of
from hidewright.takeoff.together import erring_together, shared, together
from hidewright.takeoff.yields import Belief, Item, JobModel, starting_belief
from hidewright.takeoff.yields import Use as UseValue
from hidewright.workshop.colours import queries as colour
from hidewright.workshop.pieces import queries as survey
from hidewright.workshop.pieces.colour_queries import job_colours, several
from hidewright.workshop.pigments import values as colour_values
from hidewright.workshop.quantities import models as rows
from hidewright.workshop.quantities import used_queries as by_hand
from hidewright.workshop.quantities.coat_queries import planned_coats
from hidewright.workshop.quantities.coat_sources import coats_on
from hidewright.workshop.shelf import queries as products
from hidewright.workshop.shelf import stock_queries as stock
from hidewright.workshop.shelf import vessel_queries as vessels
from hidewright.workshop.shelf.models import Pigment
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.page_cache import remembered

BOTTLE = 100.0
"""mL by which pigment dispersions are reckoned on the shopping list, since they are kept by the litre's price."""


@remembered
def figures(job: Job) -> rows.Figures:
    """The figures that were set for a job; the starting ones until somebody sets any."""
    return rows.Figures.objects.filter(job=job).first() or rows.Figures(job=job)


@dataclass(frozen=True, slots=True)
class Sourced:
    """The figures of a job and where each comes from: “the recipe”, “the product”, “set here”; the rest are starting values."""

    assumed: Assumptions
    sources: Mapping[str, str]


@remembered
def sourced(job: Job, recipe: Recipe | None = None, number: int = 0) -> Sourced:
    """The figures of one of a job's colours: starting values, then recipe (the chosen one where none is given) and products, then what was set."""
    found: dict[str, Any] = {}
    sources: dict[str, str] = {}

    def put(source: str, **values: Any) -> None:
        for name, figure in values.items():
            found[name] = figure
            sources[name] = source

    chosen = colour.chosen_recipe(job, number)
    recipe = recipe or (chosen.recipe if chosen else None)
    if recipe:
        put("the recipe", solids_colour=round(_solids_of(recipe), 4), colour_um=colour_values.setup().coat)
    coats, why = planned_coats(recipe.coats if recipe else None)
    if why:
        put(why, colour_coats=coats)
    clear = products.first_of(products_stage.Role.CLEAR)
    if clear and clear.solids:
        put(f"product {clear.name}", solids_clear=clear.solids)
    for figure, learned in figures_learned(by_hand.learned()).items():
        put("what the shop used", **{figure: learned})
    put("set here", **set_here(job, number))
    return Sourced(Assumptions(**found), sources)


def _solids_of(recipe: Recipe) -> float:
    """Volume solids of a recipe's mix: its parts' own, by volume."""
    solids = {p.key: p.solids for p in Pigment.objects.all()}
    base = colour_values.base()
    parts = recipe.parts
    return sum(p.volume * solids.get(p.key, base.solids) for p in parts) / sum(p.volume for p in parts)


OF_A_COLOUR = ("colour_coats", "wiped", "colour_um", "wiped_um", "solids_colour", "keep_back")
"""The figures that each colour of a job has for itself; the others are the job's."""


def set_here(job: Job, number: int = 0) -> dict[str, Any]:
    """What somebody set for one of a job's colours: the job's figures, with those that this colour has for itself."""
    row = figures(job)
    if number == 0:
        return dict(row.changes)
    shared_by_all = {name: value for name, value in row.changes.items() if name not in OF_A_COLOUR}
    return shared_by_all | row.colour_changes.get(str(number), {})


def assumptions(job: Job, number: int = 0) -> Assumptions:
    """What the forecast of one of a job's colours stands on."""
    return sourced(job, None, number).assumed


@remembered
def uses(job: Job) -> list[rows.Use]:
    """What was used and counts, oldest first: not struck out, and what drew it from a vessel not taken back."""
    return list(rows.Use.objects.filter(COUNTS, job=job))


COUNTS = Q(struck=None) & (Q(entry=None) | Q(entry__countered_by=None))
"""The entries that count."""


def use_value(row: rows.Use, base_now: Mapping[str, float] | None = None) -> UseValue:
    """One entry as the stage takes it; with `base_now` (piece → mL of the whole stage as reckoned today) its shares follow a changed number of coats."""
    done = {}
    for piece, share in row.done.items():
        then = float(row.items[piece][1])
        now = (base_now or {}).get(piece, then)
        done[piece] = min(1.0, float(share) * then / now) if now else float(share)
    return UseValue(Stage(row.stage), done, row.millilitres, row.cups * row.cup_loss)


def past_model(job_uses: Sequence[rows.Use], assumed: Assumptions, belief: Belief) -> JobModel:
    """The model of a job that is over, from what its entries say of their pieces."""
    items: dict[tuple[str, str], Item] = {}
    for row in job_uses:
        for piece, (shape, base, own_sd, _area) in row.items.items():
            items.setdefault((piece, row.stage), Item(piece, shape, Stage(row.stage), base, own_sd))
    model = JobModel(tuple(items.values()), assumed, belief)
    for row in (row for row in job_uses if row.measured):
        model.see(use_value(row, {i.piece: i.base for i in model.items if i.stage == row.stage}))
    return model


@remembered
def belief(job: Job) -> Belief:
    """What the shop learned about its yield from every other job."""
    others = rows.Use.objects.filter(COUNTS, measured=True).exclude(job=job).order_by("job_id", "id")
    return _belief(tuple(others.values_list("job_id", "id")), assumptions(job))


@lru_cache(maxsize=16)
def _belief(entries: tuple[tuple[int, int], ...], assumed: Assumptions) -> Belief:
    found = starting_belief(assumed)
    by_job: dict[int, list[rows.Use]] = {}
    for row in rows.Use.objects.filter(pk__in=[pk for _, pk in entries]).order_by("id"):
        by_job.setdefault(row.job_id, []).append(row)
    for job_id in sorted(by_job):
        found = past_model(by_job[job_id], assumed, found).learned()
    return found


def model(job: Job, listed: Sequence[pieces_stage.Piece], assumed: Assumptions) -> JobModel:
    """The job's model with everything that was used so far; entries about pieces that are gone are left out piece by piece.

    Readings teach what coats take; which coats are on is said by the work that was tapped, where any was.
    """
    made = model_of(listed, assumed, belief(job))
    for row in uses(job):
        base = {i.piece: i.base for i in made.items if i.stage == row.stage}
        use = use_value(row, base)
        kept = {piece: share for piece, share in use.done.items() if piece in base}
        if kept and not row.measured:
            _mark_done(made, use.stage, kept)
        elif kept:
            whole = sum(float(row.items[p][1]) * float(row.done[p]) for p in row.done)
            part = sum(float(row.items[p][1]) * float(row.done[p]) for p in kept) / whole
            try:
                made.see(UseValue(use.stage, kept, use.millilitres * part, use.loss * part))
            except Refusal:
                _mark_done(made, use.stage, kept)
    tapped = coats_on(job)
    if tapped is not None:
        for n, item in enumerate(made.items):
            made.done[n] = tapped.get((item.piece, item.stage.value), 0.0)
    return made


@remembered
def colour_gone(job: Job, number: int = 0) -> float:
    """mL of one of the job's colours that is used up: what went through the gun by the bench's book, and what was logged without a vessel."""
    areas = {p.key for p in survey.pieces(job, number)} if several(job) else None
    loose = [row for row in uses(job) if row.entry_id is None and Stage(row.stage) in COLOUR]
    logged = sum(row.millilitres * (1.0 if areas is None else _share_of(row, areas)) for row in loose)
    return vessels.colour_used(job, number) + logged


def _mark_done(made: JobModel, stage: Stage, shares: Mapping[str, float]) -> None:
    """Coats beyond those that are reckoned with now: the piece is done, though no yield can be told from it."""
    for n, item in enumerate(made.items):
        if item.stage is stage and item.piece in shares:
            made.done[n] = min(1.0, made.done[n] + shares[item.piece])


@dataclass(frozen=True, slots=True, eq=False)
class Quantities:
    """Everything the page shows; volumes in mL."""

    pieces: tuple[pieces_stage.Piece, ...]
    sourced: Sourced
    takeoff: Takeoff
    model: JobModel
    belief: Belief
    standing: Standing


@remembered
def quantities(job: Job, in_hand: float = 0.0, number: int = 0) -> Quantities | None:
    """The forecast of one of a job's colours and how it stands; None without pieces that get it."""
    listed = survey.pieces(job, number)
    if not listed:
        return None
    found = sourced(job, None, number)
    learned = belief(job)
    made = model(job, listed, found.assumed)
    areas = {p.key: p.area for p in listed}
    return Quantities(
        listed,
        found,
        take_off(listed, found.assumed, belief=learned, by_hand_sd=by_hand.spreads(by_hand.learned())),
        made,
        learned,
        standing(made, areas, in_hand, colour_gone(job, number)),
    )


def _share_of(row: rows.Use, pieces: Collection[str]) -> float:
    """The share of a logged use that went on these pieces, by what each was forecast to take."""
    parts = {piece: float(row.items[piece][1]) * float(share) for piece, share in row.done.items()}
    whole = sum(parts.values())
    return sum(part for piece, part in parts.items() if piece in pieces) / whole if whole else 0.0


def colour_forecast(job: Job, number: int = 0, recipe: Recipe | None = None) -> Takeoff | None:
    """The forecast of one of a job's colours as at its first quote, with another `recipe` than the chosen one where it is given; None without pieces."""
    found = survey.pieces(job, number)
    if not found:
        return None
    sd = by_hand.spreads(by_hand.learned())
    return take_off(found, sourced(job, recipe, number).assumed, belief=belief(job), by_hand_sd=sd)


def forecast(job: Job) -> Takeoff | None:
    """The forecast of the whole job as at its first quote, all its colours together; None without pieces."""
    found = survey.pieces(job)
    if not found:
        return None
    sd = by_hand.spreads(by_hand.learned())
    whole = take_off(found, assumptions(job), belief=belief(job), by_hand_sd=sd)
    if not several(job):
        return whole
    parts = [colour_forecast(job, each.number) for each in job_colours(job)]
    return together([part for part in parts if part is not None], whole)


def colour_needed(job: Job, number: int = 0) -> tuple[float, float] | None:
    """mL of one of a job's mixed colours that are still needed, (half of the time, nine times in ten); None without pieces."""
    found = quantities(job, 0.0, number)
    return (found.standing.still.at(0.5), found.standing.still.at(0.9)) if found else None


def still_per_piece(job: Job, number: int = 0) -> dict[str, float]:
    """mL of mixed colour each piece of one of a job's colours still takes, as known now; in the order of the survey. Losses in gun and cup are not in it."""
    found = quantities(job, 0.0, number)
    if found is None:
        return {}
    still = {p.key: 0.0 for p in found.pieces}
    for n, item in enumerate(found.model.items):
        if item.stage in COLOUR:
            still[item.piece] += float(found.model.expected(n)) * (1 - float(found.model.done[n]))
    return still


def still_sprayed(found: Quantities) -> dict[str, float]:
    """mL of sprayed colour that each piece still takes by the log, at the middle; what was logged as sprayed is taken off."""
    return {
        item.piece: found.model.expected(n) * (1 - float(found.model.done[n]))
        for n, item in enumerate(found.model.items)
        if item.stage is Stage.COLOUR
    }


def _shares_of(job: Job, number: int, known: Collection[str]) -> dict[str, float]:
    """Pigment → its share of one of a job's colours, and the clear base's under ""; the usual 82 % of base before a choice."""
    chosen = colour.chosen_recipe(job, number)
    if chosen is None:
        return {"": BASE_SHARE}
    whole = sum(p.volume for p in chosen.components)
    found: dict[str, float] = {}
    for part in chosen.components:
        key = part.key if part.key in known else ""
        found[key] = found.get(key, 0.0) + part.volume / whole
    return found


@remembered
def wanted_pigments(
    job: Job, millilitres: tuple[tuple[int, float], ...] = ()
) -> tuple[float, list[tuple[products_stage.Product, float]]]:
    """The share of clear base in all mixed colour of the job, and the pigments with theirs, by the chosen recipes.

    `millilitres` says of how much each colour counts for (number, mL); without it, what each takes at the middle of its forecast.
    """
    rows_by_key = {row.key: row for row in Pigment.objects.all()}
    volumes = dict(millilitres) or volumes_of(job)
    shares = shared([(mL, _shares_of(job, number, rows_by_key)) for number, mL in volumes.items()])
    found = []
    for key, share in shares.items():
        if not key:
            continue
        row = rows_by_key[key]
        price = Decimal(row.price) * Decimal(BOTTLE) / 1000
        found.append((products_stage.Product(row.key, f"{row.name} ({row.key})", products_stage.Role.BASE, density=max(row.density, 0.5), solids=row.solids, pack=BOTTLE, price=price.quantize(Decimal("0.01"))), share))  # fmt: skip
    return shares.get("", 0.0), found


def volumes_of(job: Job) -> dict[int, float]:
    """Number of a colour → mL of it that the whole job takes at the middle of the forecast; the first colour counts while there is no piece."""
    if not several(job):
        return {0: 1.0}
    made = {each.number: colour_forecast(job, each.number) for each in job_colours(job)}
    return {number: part.colour.p50 for number, part in made.items() if part is not None} or {0: 1.0}


def wants(job: Job, takeoff: Takeoff) -> tuple[Want, ...]:
    """What the job takes of each product, with the chosen recipes' pigments."""
    base_share, pigments = wanted_pigments(job)
    return wants_of(takeoff, products.products(), base_share=base_share, pigments=pigments)


def every_colour(job: Job, in_hand: Mapping[int, float]) -> dict[int, Quantities]:
    """Number → the forecast of each of the job's colours that pieces get, with what is `in_hand` of it."""
    made = {c.number: quantities(job, in_hand.get(c.number, 0.0), c.number) for c in job_colours(job)}
    return {number: found for number, found in made.items() if found is not None}


def shopping(job: Job, parts: Mapping[int, Quantities], odds: float) -> tuple[Line, ...]:
    """What to buy for the coats that are still to come of all colours (`every_colour`); mixed colour in hand is taken off. None without a colour."""
    whole = forecast(job)
    if whole is None or not parts:
        return ()
    wanted, clears = {}, []
    for number, found in parts.items():
        stand = found.standing
        wanted[number] = stand.still.less(stand.in_hand) if stand.still.median else Spread(0.0, 0.0)
        clear = found.model.still((Stage.CLEAR,))
        lost = stand.sessions_left * found.sourced.assumed.cup_loss
        clears.append(clear.plus(lost if clear.median else 0.0))
    takeoff = replace(
        whole,
        colour=replace(whole.colour, spread=_summed(list(wanted.values()))),
        clear=replace(whole.clear, spread=_summed(clears)),
        **_left_by_hand(whole, by_hand.shares(job)),
    )
    base_share, pigments = wanted_pigments(job, tuple((n, s.at(0.5)) for n, s in wanted.items()))
    held = stock.stock()
    return shopping_list(
        takeoff, products.products(), held, base_share=base_share, odds=odds, pigments=pigments
    )


def _summed(spreads: Sequence[Spread]) -> Spread:
    return spreads[0] if len(spreads) == 1 else erring_together(spreads)


def _left_by_hand(whole: Takeoff, done: Mapping[str, float]) -> dict[str, Any]:
    """What is still to come of what hands use, where some of it was logged."""
    needs = {role: getattr(whole, role) for role in done if role in by_hand.ROLES}
    return {
        role: replace(need, spread=need.spread.scaled(max(0.0, 1 - done[role])))
        for role, need in needs.items()
    }


@dataclass(frozen=True, slots=True)
class Entry:
    """A logged use as it is shown: mL a m² and coat against what was reckoned with."""

    row: rows.Use
    area: float
    per_coat: float
    factor: float


def entries(job: Job, assumed: Assumptions) -> list[Entry]:
    """The job's log, newest first, struck entries too."""
    coats = {
        Stage.WIPED: 1,
        Stage.COLOUR: max(assumed.colour_coats, 1),
        Stage.CLEAR: max(assumed.clear_coats, 1),
    }
    shown = []
    for row in rows.Use.objects.filter(job=job).select_related("device").order_by("-id"):
        net = row.millilitres - row.cups * row.cup_loss
        base = sum(row.items[p][1] * share for p, share in row.done.items())
        coated = sum(row.items[p][3] * share for p, share in row.done.items()) * coats[Stage(row.stage)]
        shown.append(Entry(row, coated, net / coated if coated else 0.0, net / base if base else 0.0))
    return shown


@dataclass(frozen=True, slots=True)
class Yield:
    """What the shop learned of one stage on one shape: factor against the starting values, its 90 % range, mL a m² and coat."""

    stage: str
    shape: str
    factor: float
    low: float
    high: float
    per_coat: float


def yields(found: Quantities) -> list[Yield]:
    """What is believed of each stage and shape that the job has, with this job's own entries taken in."""
    learned = found.model.learned()
    coats = {Stage.WIPED: 1, Stage.COLOUR: max(found.sourced.assumed.colour_coats, 1), Stage.CLEAR: max(found.sourced.assumed.clear_coats, 1)}  # fmt: skip
    made = []
    for stage in Stage:
        for shape in dict.fromkeys(p.shape for p in found.pieces):
            items = [i for i in found.model.items if i.stage is stage and i.shape == shape]
            if not items:
                continue
            factor = learned.factor(stage, shape)
            areas = {
                p.key: sum(f.area for f in (p.wiped_faces if stage is Stage.WIPED else p.faces))
                for p in found.pieces
            }
            base = sum(i.base for i in items) / (sum(areas[i.piece] for i in items) * coats[stage])
            made.append(
                Yield(stage.value, pieces_stage.SHAPES[shape].words, factor.at(0.5), factor.at(0.05), factor.at(0.95), base * factor.at(0.5))
            )  # fmt: skip
    return made
