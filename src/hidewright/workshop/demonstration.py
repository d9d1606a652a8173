"""The whole job on the demonstration files, through the same steps that the pages use."""

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from hidewright import demo
from hidewright.colour.light.far import off_with_figure, with_figure
from hidewright.dates import short_day
from hidewright.workshop.shop.models import Job, Person

Watch = Callable[[float, str], None]

CUP_ML = 1000.0


@dataclass(frozen=True, slots=True)
class Paper:
    """A PDF that was made."""

    name: str
    path: Path


def first_day(today: date) -> date:
    """The next weekday from today on."""
    return today + timedelta(days=(7 - today.weekday()) % 7 if today.weekday() > 4 else 0)


def working_days_after(start: date, days: int) -> date:
    """The weekday that is so many weekdays after `start`."""
    day = start
    while days:
        day += timedelta(days=1)
        days -= day.weekday() < 5
    return day


def open_the_job(today: date) -> Job:
    """The demonstration's job with its pieces, readings, products, tables, hours and people."""
    from hidewright.workshop.colours import actions as colour
    from hidewright.workshop.front import job_actions as jobs
    from hidewright.workshop.pieces import actions as survey
    from hidewright.workshop.room import actions as room
    from hidewright.workshop.shelf import actions as products

    facts = tomllib.loads(demo.text("job.toml"))
    start = first_day(today)
    job = jobs.open_job(
        facts["name"],
        starts=start,
        promised=working_days_after(start, facts["working_days"]),
        kind=facts["kind"],
        client=facts["client"],
        notes=facts["notes"],
        is_demo=True,
    )
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    products.import_csv(demo.text("products.csv"))
    survey.import_csv(job, demo.text("pieces.csv"))
    colour.import_readings(job, demo.text("readings.csv"), use_column=True)
    return job


def open_the_smaller_job(today: date) -> Job:
    """A second job, smaller, that begins while the first is under way: its pieces and its reading. Open it before the first, so that the first is the newest."""
    from hidewright.workshop.colours import actions as colour
    from hidewright.workshop.front import job_actions as jobs
    from hidewright.workshop.pieces import actions as survey

    facts = tomllib.loads(demo.text("launch.toml"))
    start = working_days_after(first_day(today), facts["begins_after"])
    job = jobs.open_job(
        facts["name"],
        starts=start,
        promised=working_days_after(start, facts["working_days"]),
        kind=facts["kind"],
        client=facts["client"],
        notes=facts["notes"],
        is_demo=True,
    )
    survey.import_csv(job, demo.text("launch_pieces.csv"))
    colour.import_readings(job, demo.text("launch_readings.csv"))
    return job


def give_the_trim_its_colour(job: Job) -> int:
    """Give the first job's trim panels a colour of their own, with its target; the number of that colour."""
    from hidewright.workshop.colours import actions as colour
    from hidewright.workshop.pieces.colour_actions import add_colour, give_colour, rename_colour
    from hidewright.workshop.pieces.queries import rows

    rename_colour(job, 0, "Saloon")
    number = add_colour(job, "Trim").number
    give_colour(job, list(rows(job).filter(group="Trim").values_list("pk", flat=True)), number)
    colour.import_readings(job, demo.text("trim_readings.csv"), number=number)
    return number


def note_the_rest(job: Job) -> None:
    """What else goes with a job: cards and checklists, whoever must act, a snag that blocks and one for later, the rules it goes by and its papers."""
    from hidewright.workshop.cards import actions as cards
    from hidewright.workshop.credentials import actions as credentials
    from hidewright.workshop.inspection import contact_actions, row_actions, snag_actions

    cards.begin_with_starting_cards()
    seams = contact_actions.add_contact(job, "An invented upholsterer", does="seams and foam")
    cut = snag_actions.add(job, "Seam open at the front edge", kind="damage", piece="LC1-seat")
    day = working_days_after(job.starts, 3)
    snag_actions.pass_on(cut, version=0, weight="blocks", acts=seams, stage="asked", expected=day)
    snag_actions.add(job, "Scuff beside the piping", kind="damage", piece="LC1-armL", weight="later")
    row_actions.add_hidden(job, "LC1-armL", "inner side", "seat cushion out")
    credentials.set_rules(job, "rail")
    somebody = Person.objects.filter(active=True).first()
    credentials.keep(
        None, "training", "Course in solvents and crosslinker", person=somebody, expires=job.starts
    )
    credentials.keep(job, "data sheet", "Sheet of the clear base", number="invented 1")


def find_pigments(watch: Watch) -> None:
    """Take in pigments and drawdowns, and find what each absorbs and scatters."""
    from hidewright.workshop.pigments import actions as pigments
    from hidewright.workshop.shop.runs import run_here

    pigments.import_pigments(demo.text("pigments.csv"))
    pigments.import_drawdowns(demo.text("drawdowns.csv"))
    run_here(None, "colour.characterise", {}, watch)


def find_recipe(job: Job, watch: Watch, number: int = 0) -> None:
    """Look for recipes of one of the job's colours and choose the first."""
    from hidewright.workshop.colours import actions as colour
    from hidewright.workshop.colours import queries as gather
    from hidewright.workshop.shop.runs import run_here

    asked = {
        "load": [0.16, 0.20],
        "most": 4,
        "lights": ["D65", "A", "FL11"],
        "worst": False,
        "must_use": [],
        "must_not_use": [],
        "on_shelf": False,
        "number": number,
    }
    run_here(job, "colour.match", asked, watch)
    colour.choose(gather.newest_recipes(job, number)[0])


def mix_first_cup(job: Job) -> None:
    """Begin a cup of the chosen recipe and pour what the guide asks for, to the tenth of a gram, one pour a little too much."""
    from hidewright.mixing.amounts import microlitres_of_mass
    from hidewright.mixing.recipe import recipe_of
    from hidewright.workshop.colours.queries import chosen_recipe
    from hidewright.workshop.shelf import vessel_actions as mixing
    from hidewright.workshop.shelf import vessel_queries as gather

    chosen = chosen_recipe(job)
    assert chosen is not None, "the cup comes after the choice"
    recipe = recipe_of(chosen.name, chosen.components)
    row = mixing.begin_cup(
        job,
        recipe,
        CUP_ML,
        capacity=1.2 * CUP_ML,
        hexes=chosen.hexes,
        mixed_hex=chosen.hex,
        recipe_id=chosen.row.pk,
    )
    for number in range(3 * len(recipe.parts)):
        step = gather.state_of(row).next_step
        if step is None:
            return
        grams = round(step.grams, 1) + (0.4 if number == 1 else 0.0)
        density = next(part.density for part in recipe.parts if part.key == step.key)
        mixing.pour(row, step.key, microlitres_of_mass(grams, density), said=f"{grams:.1f} g")
    raise RuntimeError("the guide never came to an end")


def plan_days(job: Job, watch: Watch, seconds: float) -> None:
    """Plan the days and keep the plan."""
    from hidewright.workshop.days.actions import PLAN_RUN
    from hidewright.workshop.shop.runs import run_here

    run_here(job, PLAN_RUN, {"seconds": seconds, "because": "the first plan"}, watch)


def make_papers(job: Job, folder: Path, today: date, address: str) -> list[Paper]:
    """The mixing card, the first day's sheet and the table maps, as PDF files whose square codes lead to the pages at `address`."""
    from django.urls import reverse

    from hidewright.papers.day_sheet import day_sheet_pdf
    from hidewright.papers.from_plan import day_sheet_of, table_maps_of
    from hidewright.papers.mixing_card import mixing_card_pdf
    from hidewright.papers.table_maps import table_maps_pdf
    from hidewright.workshop.days.queries import plan_in_force
    from hidewright.workshop.frame.prints import paper_size
    from hidewright.workshop.papers import queries as papers
    from hidewright.workshop.pieces.queries import piece_names

    folder.mkdir(parents=True, exist_ok=True)
    plan = plan_in_force(job)
    assert plan is not None, "papers are made after the plan"
    pages = {name: address + reverse(name, args=[job.pk]) for name in ("mixing", "days")}
    card = papers.mixing_card(
        job, CUP_ML, "a vessel of at least 1.2 L", made_on=today, page_url=pages["mixing"]
    )
    sheet = day_sheet_of(
        plan, plan.days[0], job=job.name, made_on=today, page_url=pages["days"], names=piece_names(job)
    )
    maps = table_maps_of(plan, job=job.name, made_on=today, page_url=pages["days"], names=piece_names(job))
    made = []
    for name, pdf in (
        ("mixing-card", mixing_card_pdf(card, paper_size())),
        ("day-sheet", day_sheet_pdf(sheet, paper_size())),
        ("table-maps", table_maps_pdf(maps, paper_size())),
    ):
        path = folder / f"{name}.pdf"
        path.write_bytes(pdf)
        made.append(Paper(name, path))
    return made


@dataclass(frozen=True, slots=True)
class Summary:
    """The result on one screen: a title and named lines."""

    title: str
    lines: tuple[tuple[str, str], ...]


def summarise(job: Job, papers: list[Paper], *others: Job) -> Summary:
    """What came of the work, in a few lines, each read back from what was kept; a line for each of the `others` beside it."""
    lines = [_pieces_line(job), *_colour_lines(job), *_litre_lines(job), *_day_lines(job)]
    lines += [_other_line(other) for other in others]
    lines.append(("Papers", "\n".join(str(paper.path) for paper in papers)))
    return Summary(f"{job.name} ({job.kind.lower()}, invented)", tuple(lines))


def _pieces_line(job: Job) -> tuple[str, str]:
    from hidewright.workshop.pieces import queries as survey

    pieces = survey.pieces(job)
    area = sum(p.area for p in pieces)
    turned = sum(p.turned for p in pieces)
    return (
        "Pieces",
        f"{len(pieces)} in {len({p.group for p in pieces})} groups, {area:.1f} m² to coat, {turned} coated on both sides",
    )


def _colour_lines(job: Job) -> list[tuple[str, str]]:
    from hidewright.workshop.colours.queries import chosen_recipe

    chosen = chosen_recipe(job)
    assert chosen is not None, "the summary comes after the choice"
    lab = chosen.target.labs["D65"]
    recipe = chosen.recipe
    poured = ", ".join(f"{p.name} {p.mass:.1f} g" for p in recipe.parts)
    apart = ", ".join(f"{with_figure(value, 2)} under {light}" for light, value in recipe.delta_e.items())
    coats = "more than 12" if recipe.coats is None else str(recipe.coats)
    return [
        ("Target", f"{chosen.target.name}: L* {lab[0]:.1f}  a* {lab[1]:.1f}  b* {lab[2]:.1f}  (D65, 10°)"),
        ("Recipe, one litre", poured),
        (
            "Forecast to match",
            f"{apart};  {coats} coats hide the old colour;  pigment in the mix {recipe.load:.1%}",
        ),
        (
            "One drop too many",
            f"of {recipe.drop_of} in a 150 mL cup moves it by {off_with_figure(recipe.drop, 2)}",
        ),
        *_other_colours(job),
    ]


def _other_colours(job: Job) -> list[tuple[str, str]]:
    """The job's colours after the first: the recipe of each for one litre, and how much is needed."""
    from hidewright.workshop.colours.queries import chosen_recipe
    from hidewright.workshop.pieces.colour_queries import job_colours
    from hidewright.workshop.quantities.queries import colour_needed

    lines = []
    for colour in job_colours(job)[1:]:
        chosen, needed = chosen_recipe(job, colour.number), colour_needed(job, colour.number)
        assert chosen is not None, "the summary comes after the choice"
        poured = ", ".join(f"{p.name} {p.mass:.1f} g" for p in chosen.recipe.parts)
        litres = f"; {needed[1] / 1000:.2f} L for 90 % odds" if needed else ""
        lines.append((f"{colour.label}, one litre", f"{poured}{litres}"))
    return lines


def _other_line(job: Job) -> tuple[str, str]:
    """Another job in the same room: its pieces and its days."""
    from hidewright.workshop.days.queries import plan_row
    from hidewright.workshop.pieces import queries as survey

    row = plan_row(job)
    assert row is not None, "the summary comes after the plan"
    days = f"starts {short_day(job.starts)}, plan ends {short_day(row.finish)}; {_promised(job, row.finish)}"
    return job.name, f"{job.kind.lower()}, {len(survey.pieces(job))} pieces; {days}"


def _litre_lines(job: Job) -> list[tuple[str, str]]:
    from hidewright.workshop.quantities import queries as quantities
    from hidewright.workshop.shelf import vessel_queries as mixing

    forecast = quantities.forecast(job)
    assert forecast is not None, "the summary comes after the survey"
    colour = forecast.colour
    still = quantities.colour_needed(job)
    held = mixing.colour_in_hand(job)
    lines = [
        (
            "Mixed colour",
            f"{colour.p50 / 1000:.2f} L likely; {colour.p90 / 1000:.2f} L to have 90 % odds; {colour.at(0.95) / 1000:.2f} L for 95 %",
        ),
        (
            "Clear",
            f"{forecast.clear.p50 / 1000:.2f} L likely; {forecast.clear.p90 / 1000:.2f} L to have 90 % odds",
        ),
    ]
    if still is not None:
        lines.append(
            ("In hand", f"{held / 1000:.2f} L mixed of {still[1] / 1000:.2f} L needed with 90 % odds")
        )
    return lines


def _promised(job: Job, finish: date) -> str:
    """The promised day, and by how much the plan is early or late."""
    if job.promised is None:
        return "no day promised"
    spare = (job.promised - finish).days
    word = f"{spare} days early" if spare > 0 else "on the day" if spare == 0 else f"{-spare} days late"
    return f"promised {short_day(job.promised)}: {word}"


def _day_lines(job: Job) -> list[tuple[str, str]]:
    from hidewright.workshop.days.promise_queries import promise_of
    from hidewright.workshop.days.queries import plan_row

    row = plan_row(job)
    assert row is not None, "the summary comes after the plan"
    odds = promise_of(row, job.promised)
    bound = f"no plan ends before {short_day(row.bound)}. " if row.bound else ""
    return [
        (
            "Days",
            f"starts {short_day(job.starts)}, plan ends {short_day(row.finish)}; {_promised(job, row.finish)}",
        ),
        *([("Odds", odds.words)] if odds else []),
        ("Bound", f"{bound}{row.facts.get('bottleneck', '')} {row.facts.get('relief', '')}".strip()),
    ]
