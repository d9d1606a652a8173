"""What there is to make a recipe of: how much is left in the bottles, leftover jars, and the lights it is judged under."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from hidewright.colour.learning.cup import BASE
from hidewright.colour.recipes.leftovers import Leftover, leftover
from hidewright.colour.recipes.match import MatchProblem, step_per_litre
from hidewright.mixing.amounts import millilitres
from hidewright.refusals import Refusal
from hidewright.workshop.colours import queries as colour
from hidewright.workshop.pieces.colour_queries import several
from hidewright.workshop.pigments import knowledge as cups
from hidewright.workshop.pigments import memory
from hidewright.workshop.pigments import values as colour_values
from hidewright.workshop.pigments.lamp_queries import light_of
from hidewright.workshop.shelf.models import MixMove, MixVessel, Pigment
from hidewright.workshop.shelf.stock_queries import left_ml as left_ml
from hidewright.workshop.shelf.vessel_queries import jars, job_vessels, kept_jars, states_of
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job, Run

LEAST_JAR = 1.0
"""mL; less than this in a jar is not worth reaching for."""
JAR = "jar-"
"""Stands before a jar's number in the key by which a search knows it."""


@dataclass(frozen=True, slots=True, eq=False)
class JarOffered:
    """A leftover as a search may use it, in a jar or an open cup: its row, its screen colour, and what it is worth as a thing to pour."""

    row: MixVessel
    hex: str
    past: bool
    leftover: Leftover

    @property
    def open(self) -> bool:
        """Whether it stands in an open cup."""
        return self.row.kind == MixVessel.Kind.CUP

    @property
    def key(self) -> str:
        """How a search knows it."""
        return self.leftover.pigment.key


def jars_offered(job: Job | None = None, number: int = 0) -> list[JarOffered]:
    """Every jar on the shelf whose pigments are all known, the newest first, and the open cups of the job's other colours; K and S by what is known of the lots in it."""
    listed = [(shown.row, shown.hex, shown.past, shown.state.volume) for shown in jars(list(kept_jars()))]
    found = []
    for row, hex_, past, volume in (*listed, *_open_cups(job, number)):
        held = cups.pours_of(row)
        lots = {lot for lot, _ in held if lot != BASE}
        if not lots or volume < LEAST_JAR:
            continue
        known = {p.key: p for p in memory.known(lots).pigments()}
        if not lots <= set(known):
            continue
        found.append(JarOffered(row, hex_, past, _leftover(row, held, known)))
    return found


def _open_cups(job: Job | None, number: int) -> list[tuple[MixVessel, str, bool, float]]:
    """The cups that stand open with another of the job's colours, mixed and not crosslinked: row, screen colour, whether past its day, mL."""
    if job is None or not several(job):
        return []
    rows = [row for row in job_vessels(job) if row.kind == MixVessel.Kind.CUP]
    states = states_of(row for row in rows if row.colour_number != number)
    return [
        (state.row, (state.row.plan or {}).get("hex", ""), False, state.volume)
        for state in states
        if state.finished and state.volume and not state.crosslinked
    ]


def _leftover(row: MixVessel, held: Sequence[tuple[str, float]], known: Mapping[str, Any]) -> Leftover:
    clear = colour_values.base()
    volumes: dict[str, float] = {}
    base_ml = 0.0
    for lot, grams in held:
        if lot == BASE:
            base_ml += grams / clear.density
        else:
            volumes[lot] = volumes.get(lot, 0.0) + grams / known[lot].density
    made = leftover(
        f"{JAR}{row.pk}", row.name, base_ml + sum(volumes.values()), volumes, base_ml, known, clear
    )
    return Leftover(made.pigment, made.millilitres, tuple(_by_kind(made)))


def _by_kind(made: Leftover) -> list[Any]:
    from hidewright.colour.recipes.recipe import Part

    names = dict(Pigment.objects.values_list("key", "name"))
    parts: dict[str, Part] = {}
    for part in made.parts:
        kind = cups.kind_of(part.key)
        before = parts.get(kind)
        volume, mass = (before.volume, before.mass) if before else (0.0, 0.0)
        parts[kind] = Part(kind, names.get(kind, part.name), volume + part.volume, mass + part.mass)
    return list(parts.values())


def newest_search(job: Job, number: int = 0) -> Run | None:
    """The newest search for recipes of one of the job's colours."""
    runs = job.runs.filter(kind="colour.match")
    return next((run for run in runs if run.asked.get("number", 0) == number), None)


def jars_asked(job: Job, asked: Mapping[str, Any]) -> list[JarOffered]:
    """The jars and open cups that a search was asked to look at."""
    wanted = set(asked.get("jars", ())) | set(asked.get("use_up", ()))
    return (
        [one for one in jars_offered(job, asked.get("number", 0)) if one.row.pk in wanted] if wanted else []
    )


def problem(job: Job, asked: Mapping[str, Any]) -> MatchProblem:
    """The match that was asked for; refuses without a target or pigments."""
    aimed = colour.target(job, asked.get("number", 0))
    if aimed is None:
        raise Refusal("There is no target yet.", where="target", remedy="Pick the reading to aim at first.")
    on_shelf = bool(asked.get("on_shelf"))
    known = colour_values.pigments(on_shelf=on_shelf)
    if not known:
        raise Refusal(
            "No pigment is known yet.",
            where="pigments",
            remedy="Bring drawdowns on the page Pigments, and find K and S.",
        )
    opened = jars_asked(job, asked)
    there = {p.key for p in known}
    shelf = {key: left for key, left in left_ml().items() if key in there} if on_shelf else {}
    shelf |= {one.key: one.leftover.millilitres for one in opened}
    weights = asked.get("weights") or None
    coats = asked.get("coats") or None
    lights = tuple(light_of(name) for name in asked.get("lights") or colour_values.LIGHTS)
    batch = float(asked.get("batch") or 1000.0)
    return MatchProblem(
        aimed.target.reflectance,
        (*known, *(one.leftover.pigment for one in opened)),
        colour_values.base(),
        aimed.old.reflectance if aimed.old else None,
        lights,
        bool(asked.get("worst")),
        (float(asked["load"][0]), float(asked["load"][1])),
        int(asked.get("most", 4)),
        frozenset(asked.get("must_use", ())),
        frozenset(asked.get("must_not_use", ())) & there,
        colour_values.surface(),
        colour_values.setup().coat,
        importance={str(k): float(v) for k, v in weights.items()} if weights else None,
        coats=int(coats) if coats else None,
        shelf_ml=shelf,
        batch_ml=batch,
        step_g=step_per_litre(the_shop().balance_step, batch),
        use_up=frozenset(one.key for one in opened if one.row.pk in asked.get("use_up", ())),
        guessed=aimed.target.guessed(lights),
    )


@dataclass(frozen=True, slots=True)
class JarFirst:
    """A leftover that a cup's recipe begins with: its key, its name, how many mL of it are still to be poured, and whether it stands in an open cup."""

    key: int
    name: str
    millilitres: float
    open: bool = False


def jars_of_recipe(vessel: MixVessel) -> list[JarFirst]:
    """Jars that the cup's recipe begins with and that were not poured into it yet, scaled to what is mixed."""
    told = vessel.recipe.data if vessel.recipe else {}
    if not told.get("jars") or vessel.aim is None:
        return []
    poured = {
        move.source
        for move in MixMove.objects.filter(target=vessel.key, entry__countered_by=None, entry__counters=None)
    }
    scale = millilitres(vessel.aim) / 1000.0
    numbers = [key.removeprefix(JAR) for key in told["jars"]]
    cups_open = set(
        MixVessel.objects.filter(pk__in=numbers, kind=MixVessel.Kind.CUP).values_list("pk", flat=True)
    )
    found = []
    for part in colour.pours_of_recipe(told):
        number = part.key.removeprefix(JAR)
        if part.key in told["jars"] and f"v{number}" not in poured:
            found.append(JarFirst(int(number), part.name, part.volume * scale, int(number) in cups_open))
    return found
