"""A lean invented shop for tests of the one book: three pieces, a plan of two days by hand, colour mixed and clear on the shelf."""

from datetime import date, datetime, timedelta

from hidewright.charts.plan import ActShown, PlanShown
from hidewright.charts.tables import TableTop
from hidewright.mixing import MixPart, MixRecipe
from hidewright.survey import Piece, make_piece
from hidewright.takeoff.products import Product, Role
from hidewright.workshop.days.actions import keep_plan
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.pieces.actions import add_pieces
from hidewright.workshop.shelf import actions as shelf
from hidewright.workshop.shelf import vessel_actions as bench
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shelf.models import Product as ProductRow
from hidewright.workshop.shop.models import Job

RECIPE = MixRecipe(
    "Saddle", (MixPart("base", "Clear base", 0.88, 1.03), MixPart("PBr7", "Umber", 0.12, 1.45))
)
PIECES: tuple[Piece, ...] = (
    make_piece(key="C1", name="Seat", group="Chair", shape="panel", length=0.6, width=0.5, sat_on=True),
    make_piece(key="C2", name="Back", group="Chair", shape="panel", length=0.8, width=0.5, sat_on=True),
    make_piece(key="C3", name="Skirt", group="Chair", shape="panel", length=0.5, width=0.4),
)
STEPS = ("strip", "wipe down", "wipe in colour", "spray colour", "sand", "tack", "spray second coat", "spray clear", "inspect")  # fmt: skip
"""What a piece goes through here; the skirt is not sat on and gets no colour wiped in."""
PASS = {"strip": "prep", "inspect": "end"}
FIRST = date(2026, 3, 2)


def keys(*steps: str, pieces: tuple[str, ...] = ("C1", "C2", "C3")) -> list[str]:
    """The acts of these steps on these pieces, as the plan names them."""
    return [
        f"{piece}/{PASS.get(step, 'front')}/{step}"
        for step in steps
        for piece in pieces
        if not (piece == "C3" and step == "wipe in colour")
    ]


def plan() -> PlanShown:
    """All steps of all pieces, one after the other, by one person: up to the first coat on the first day."""
    acts, now = [], datetime(2026, 3, 2, 8)
    for number, step in enumerate(STEPS):
        if number == 4:
            now = datetime(2026, 3, 3, 8)
        for key in keys(step):
            acts.append(
                ActShown(
                    key,
                    key.split("/")[0],
                    "",
                    step.capitalize(),
                    "Ana",
                    now,
                    now + timedelta(minutes=10),
                    "Table A",
                )
            )
            now += timedelta(minutes=10)
    hours = tuple((datetime(2026, 3, day, 8), datetime(2026, 3, day, 17)) for day in (2, 3))
    return PlanShown((TableTop("Table A", 3.6, 0.9),), ("Ana",), tuple(acts), (), hours, now, None, None)


def lean_job(name: str = "Lean") -> Job:
    """The job with its pieces, a plan in force, and a can of clear on the shelf."""
    job = open_job(name, starts=FIRST)
    add_person("Ana")
    for piece in PIECES:
        add_pieces(job, piece)
    shelf.add_product(Product("clear-coat", "Clear coat", Role.CLEAR, solids=0.3))
    shelf.receive(ProductRow.objects.get(), 2000, lot="K1")
    keep_plan(job, plan())
    return job


def mixed(job: Job, millilitres: int = 1000) -> MixVessel:
    """A cup of the job's colour, mixed to the recipe."""
    cup = bench.begin_cup(job, RECIPE, millilitres, capacity=2 * millilitres)
    for part in RECIPE.parts:
        bench.pour(cup, part.key, round(1000 * millilitres * part.share))
    return cup
