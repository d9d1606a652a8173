"""What papers a job has, and their content out of the rows."""

from dataclasses import dataclass, replace
from datetime import date

from django.urls import reverse

from hidewright.charts.plan import PlanShown
from hidewright.dates import short_day
from hidewright.papers.from_pieces import spray_order_of
from hidewright.papers.from_recipe import lab_text, mixing_card_of
from hidewright.papers.mixing_card import MixingCard
from hidewright.papers.spray_order import SprayOrderCard
from hidewright.refusals import Refusal
from hidewright.takeoff.advice import advise
from hidewright.workshop.cards.queries import cards
from hidewright.workshop.colours.batch_queries import density_of, newest_batch, parts_of
from hidewright.workshop.colours.plane import recipe_plane_svg
from hidewright.workshop.colours.queries import Chosen, chosen_recipe
from hidewright.workshop.days.queries import coats_of, plan_in_force
from hidewright.workshop.pieces.colour_queries import colour_numbered, several
from hidewright.workshop.pieces.queries import piece_texts, pieces
from hidewright.workshop.quantities.queries import quantities
from hidewright.workshop.shelf.vessel_queries import colour_in_hand, job_vessels
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.units import shown_volume


@dataclass(frozen=True, slots=True)
class PaperLink:
    """One paper that can be opened: its name, what it is for, where it is; `missing` says why it is not there yet, and `url` then where to see to it.

    `pdf` is false where the address is that of a page which offers it.
    """

    name: str
    what: str
    url: str = ""
    missing: str = ""
    pdf: bool = True


def plan_papers(job: Job, today: date) -> list[PaperLink]:
    """Day sheets, table maps and the spray order of the plan in force."""
    plan = plan_in_force(job)
    if plan is None:
        lacks, where = "Make a plan first (Days).", reverse("days", args=[job.pk])
        return [
            PaperLink("Day sheet", "who does what, in order, with the tables", where, lacks),
            PaperLink("Table maps", "the tables of every day, for the wall", where, lacks),
        ]
    return [*_day_sheets(job, plan, today), _maps(job)]


def _address(page: str, job: Job, number: int) -> str:
    return reverse(page, args=[job.pk]) + (f"?of={number}" if number else "")


def how_to(job: Job, plan: PlanShown, day: date) -> tuple[tuple[str, str], ...]:
    """(title, what it says) of the shop's cards for the work of one day."""
    texts = piece_texts(job)
    work = {(act.key.rsplit("/", 1)[-1], act.piece) for act in plan.acts if act.start.date() == day}
    return tuple(
        (card.row.title, card.text)
        for card in cards()
        if any(card.suits([step], [texts.get(piece, piece)]) for step, piece in work)
    )


def piece_papers(job: Job, number: int = 0) -> list[PaperLink]:
    """The spray order card of the pieces that get one of the job's colours."""
    what = "sides, edges and corners in the same order for like pieces"
    if not pieces(job, number):
        where = reverse("survey", args=[job.pk])
        return [PaperLink("Spray order card", what, where, "Enter the pieces first (Survey).")]
    return [PaperLink("Spray order card", what, _address("spray_order_pdf", job, number))]


def colour_words(job: Job, number: int, chosen: Chosen | None) -> str:
    """What a paper calls one of the job's colours: its name where the job has several, target and recipe where they are known."""
    name = colour_numbered(job, number).label if several(job) else ""
    found = f"{chosen.target.name}: {chosen.name}" if chosen else ""
    return f"{name}, {found}" if name and found else name or found


def spray_order(job: Job, *, made_on: date, page_url: str = "", number: int = 0) -> SprayOrderCard:
    """The spray order card of the pieces that get one of the job's colours; refuses an empty list."""
    chosen = chosen_recipe(job, number)
    colour = colour_words(job, number, chosen)
    coats = coats_of(job, number).coats
    told = f"{coats.colour} coats of colour, {coats.clear} of clear"
    return spray_order_of(
        pieces(job, number), job=job.name, colour=colour, made_on=made_on, coats=told, page_url=page_url
    )


def colour_papers(job: Job, number: int = 0) -> list[PaperLink]:
    """The mixing card while it has no form of its own yet."""
    where = _address("colour", job, number)
    return [PaperLink("Mixing card", "what to pour, in order", where, "Choose a recipe first (Colour).")]


def hand_over_papers(job: Job, number: int = 0) -> list[PaperLink]:
    """What goes with the interior: the quote, the touch-up sheet, the labels of the jars that were kept."""
    what = "goes with the interior: the colour as it was poured, for 100 g, and how to mend a scuff"
    jars = [row for row in job_vessels(job, number) if row.kind == "jar"]
    has_colour = chosen_recipe(job, number) is not None or bool(jars)
    sheet = (
        PaperLink("Touch-up sheet", what, _address("touch_up_pdf", job, number))
        if has_colour
        else PaperLink(
            "Touch-up sheet", what, _address("colour", job, number), "Choose a recipe first (Colour)."
        )
    )
    labels = [
        PaperLink(f"Label of {row.name}", "for the jar that stays", reverse("jar_label_pdf", args=[row.pk]))
        for row in jars
    ]
    quote = PaperLink(
        "Quote", "on the page Price, one for each way of doing it", reverse("price", args=[job.pk]), pdf=False
    )
    packing = PaperLink(
        "Packing list and care sheet",
        "on the page Hand-over, signed at the other end",
        reverse("handover", args=[job.pk]),
        pdf=False,
    )
    account = PaperLink(
        "Account",
        "on the page After the work: what to invoice, and what the job took against its quote",
        reverse("account", args=[job.pk]),
        pdf=False,
    )
    return [sheet, *labels, packing, quote, account, *closing_papers(job)]


def closing_papers(job: Job) -> list[PaperLink]:
    """The inspection, and all of the job in one file."""
    return [
        PaperLink(
            "Inspection",
            "every piece with its checks, for both sides",
            reverse("inspection_pdf", args=[job.pk]),
        ),
        PaperLink(
            "Closing file",
            "all of the job in one paper and one zip",
            reverse("closing", args=[job.pk]),
            pdf=False,
        ),
    ]


def customer_papers(job: Job) -> list[PaperLink]:
    """What the customer signs: the receipts, the colour sheets; on the pages where they are made."""
    return [
        PaperLink(
            "Receipts and tags", "on the page What came in", reverse("intake", args=[job.pk]), pdf=False
        ),
        PaperLink(
            "Colour sheets", "on the page Agree on the colour", reverse("approvals", args=[job.pk]), pdf=False
        ),
    ]


def to_mix(job: Job, number: int = 0) -> tuple[float, str]:
    """mL of one of the job's colours that it wants mixed now (0: nothing), and the advice in words; nothing is said without pieces."""
    found = quantities(job, colour_in_hand(job, number), number)
    return (found.standing.mix, advise(found.standing, shown_volume).words) if found else (0.0, "")


def mixing_card(
    job: Job, batch_ml: float, vessel: str, *, made_on: date, page_url: str = "", number: int = 0
) -> MixingCard:
    """The mixing card of one of the job's colours, with how much the job wants now: of what was sprayed, or the recipe chosen while nothing was.

    Refuses a colour without a recipe.
    """
    chosen = _chosen(job, number)
    batch = newest_batch(job, number)
    sprayed = {"parts": parts_of(batch), "pours": None, "density": density_of(batch)} if batch else {}
    made = {**chosen.data, **sprayed}
    words = colour_words(job, number, chosen)
    card = mixing_card_of(
        made,
        target_hex=chosen.target.hex,
        target_note=lab_text(chosen.target.labs.get("D65")),
        job=job.name,
        colour=f"{words}; as sprayed: {batch}" if batch else words,
        vessel=vessel,
        batch_ml=batch_ml,
        made_on=made_on,
        page_url=page_url,
        step_g=the_shop().balance_step,
        units=the_shop().units,
    )
    return replace(card, advice=to_mix(job, number)[1], plane=recipe_plane_svg(job, number))


def _chosen(job: Job, number: int) -> Chosen:
    chosen = chosen_recipe(job, number)
    if chosen is None:
        raise Refusal("No recipe is chosen yet.", where=job.name, remedy="Choose one on the page Colour.")
    return chosen


def _day_sheets(job: Job, plan: PlanShown, today: date) -> list[PaperLink]:
    links = []
    for day in plan.days:
        name = f"Day sheet, {short_day(day)}{' (today)' if day == today else ''}"
        url = reverse("day_sheet_pdf", args=[job.pk, day.isoformat()])
        links.append(PaperLink(name, "who does what, in order, with the tables", url))
    return links


def _maps(job: Job) -> PaperLink:
    return PaperLink(
        "Table maps", "the tables of every day, for the wall", reverse("table_maps_pdf", args=[job.pk])
    )
