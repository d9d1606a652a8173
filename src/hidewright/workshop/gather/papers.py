"""What papers a job has, and their content out of the rows."""

from dataclasses import dataclass, replace
from datetime import date

from django.urls import reverse

from hidewright.charts.plan import PlanShown
from hidewright.charts.swatches import Swatch
from hidewright.papers.from_pieces import spray_order_of
from hidewright.papers.from_recipe import lab_text, mixing_card_of
from hidewright.papers.mixing_card import CardLine, MixingCard
from hidewright.papers.spray_order import SprayOrderCard
from hidewright.papers.touch_up import TouchUpSheet
from hidewright.refusals import Refusal
from hidewright.takeoff.advice import advise

from ..models.jobs import Job
from .colour import Chosen, chosen_recipe
from .days import coats_of, plan_in_force
from .mixing import colour_in_hand
from .plane import recipe_plane_svg
from .quantities import quantities
from .said import shown_volume
from .survey import pieces


@dataclass(frozen=True, slots=True)
class PaperLink:
    """One paper that can be opened: its name, what it is for, where it is; `missing` says why it is not there yet."""

    name: str
    what: str
    url: str = ""
    missing: str = ""


def plan_papers(job: Job, today: date) -> list[PaperLink]:
    """Day sheets, table maps and the spray order of the plan in force."""
    plan = plan_in_force(job)
    if plan is None:
        lacks = "Make a plan first (Days)."
        return [
            PaperLink("Day sheet", "who does what, in order, with the tables", missing=lacks),
            PaperLink("Table maps", "the tables of every day, for the wall", missing=lacks),
        ]
    return [*_day_sheets(job, plan, today), _maps(job)]


def piece_papers(job: Job) -> list[PaperLink]:
    """The spray order card of the pieces on the list."""
    what = "sides, edges and corners in the same order for like pieces"
    if not pieces(job):
        return [PaperLink("Spray order card", what, missing="Enter the pieces first (Survey).")]
    return [PaperLink("Spray order card", what, reverse("spray_order_pdf", args=[job.pk]))]


def spray_order(job: Job, *, made_on: date, page_url: str = "") -> SprayOrderCard:
    """The spray order card of the pieces on the list; refuses an empty list."""
    chosen = chosen_recipe(job)
    colour = f"{chosen.target.name}: {chosen.name}" if chosen else ""
    coats = coats_of(job).coats
    told = f"{coats.colour} coats of colour, {coats.clear} of clear"
    return spray_order_of(
        pieces(job), job=job.name, colour=colour, made_on=made_on, coats=told, page_url=page_url
    )


def colour_papers(job: Job) -> list[PaperLink]:
    """The touch-up sheet of the recipe chosen; the mixing card has a form of its own."""
    if chosen_recipe(job) is None:
        return [
            PaperLink("Mixing card", "what to pour, in order", missing="Choose a recipe first (Colour)."),
        ]
    url = reverse("touch_up_pdf", args=[job.pk])
    return [
        PaperLink("Touch-up sheet", "goes with the interior: the colour for 100 g, how to mend a scuff", url)
    ]


def to_mix(job: Job) -> tuple[float, str]:
    """mL of colour that the job wants mixed now (0: nothing), and the advice in words; nothing is said without pieces."""
    found = quantities(job, colour_in_hand(job))
    return (found.standing.mix, advise(found.standing, shown_volume).words) if found else (0.0, "")


def mixing_card(job: Job, batch_ml: float, vessel: str, *, made_on: date, page_url: str = "") -> MixingCard:
    """The mixing card of the recipe chosen, with how much the job wants now; refuses a job without a recipe."""
    chosen = _chosen(job)
    card = mixing_card_of(
        chosen.data,
        target_hex=chosen.target.hex,
        target_note=lab_text(chosen.target.labs.get("D65")),
        job=job.name,
        colour=f"{chosen.target.name}: {chosen.name}",
        vessel=vessel,
        batch_ml=batch_ml,
        made_on=made_on,
        page_url=page_url,
    )
    return replace(card, advice=to_mix(job)[1], plane=recipe_plane_svg(job))


def touch_up_sheet(job: Job, *, made_on: date, page_url: str = "") -> TouchUpSheet:
    """The touch-up sheet of the recipe chosen; refuses a job without one."""
    chosen = _chosen(job)
    return TouchUpSheet(
        job=job.name,
        colour=f"{chosen.target.name}: {chosen.name}",
        items=(),
        recipe=tuple(CardLine(p.name, p.mass, chosen.hexes.get(p.key, "")) for p in chosen.components),
        swatches=(Swatch(chosen.target.hex, "Target"), Swatch(chosen.hex, "Recipe, dry")),
        made_on=made_on,
        page_url=page_url,
    )


def _chosen(job: Job) -> Chosen:
    chosen = chosen_recipe(job)
    if chosen is None:
        raise Refusal("No recipe is chosen yet.", where=job.name, remedy="Choose one on the page Colour.")
    return chosen


def _day_sheets(job: Job, plan: PlanShown, today: date) -> list[PaperLink]:
    links = []
    for day in plan.days:
        name = f"Day sheet, {day:%a} {day.day} {day:%b}{' (today)' if day == today else ''}"
        url = reverse("day_sheet_pdf", args=[job.pk, day.isoformat()])
        links.append(PaperLink(name, "who does what, in order, with the tables", url))
    return links


def _maps(job: Job) -> PaperLink:
    return PaperLink(
        "Table maps", "the tables of every day, for the wall", reverse("table_maps_pdf", args=[job.pk])
    )
