"""A boat of our own invention: 46 pieces in three colours (and two that somebody else coats), from the survey to the papers, against figures worked out by hand.

The hand figures (arithmetic of takeoff/build.py: mL = m² x coats x µm / (solids x share that lands)), with no face sat on:

    Ivory  20 settee panels  x 0.50 m² = 10.0 m², 2 coats x 7.5 µm / (0.30 x 0.60) =  833.3 mL, 2 sessions
    Tan    16 chair panels   x 0.25 m² =  4.0 m², 3 coats x 7.5 µm / (0.30 x 0.60) =  500.0 mL, 1 session
    Navy   10 trim panels    x 0.60 m² =  6.0 m², 1 coat  x 7.5 µm / (0.30 x 0.60) =  250.0 mL, 1 session
    clear  20.0 m², 2 coats x 6 µm / (0.25 x 0.60) = 1600 mL, 20 / 6 = 4 sessions

A session leaves 25 mL in gun and cup; 100 mL of each colour are kept back. The forecast's middle is that of a sum of log-normal parts, within 1.5 % of these.
"""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.test import Client

from hidewright import demo
from hidewright.takeoff.coats import Stage
from hidewright.takeoff.products import Product, Role
from hidewright.takeoff.yields import Use as UseValue
from hidewright.workshop.bench.touch_up_queries import touch_up_sheet
from hidewright.workshop.colours import actions as colour
from hidewright.workshop.colours.models import Recipe
from hidewright.workshop.colours.shop_queries import colour_of, version_in_force
from hidewright.workshop.days.queries import problem_of
from hidewright.workshop.front.header import job_header
from hidewright.workshop.papers import price_queries as price
from hidewright.workshop.papers import queries as papers
from hidewright.workshop.pieces import actions as survey
from hidewright.workshop.pieces import queries as pieces
from hidewright.workshop.pieces.colour_actions import add_colour, give_colour, remove_colour
from hidewright.workshop.pieces.colour_queries import job_colours
from hidewright.workshop.quantities import actions as steps
from hidewright.workshop.quantities import queries as gather
from hidewright.workshop.room import actions as room
from hidewright.workshop.sessions import queries as sessions
from hidewright.workshop.shelf import actions as products
from hidewright.workshop.shelf.models import Pigment
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo

HEAD = "key,name,group,shape,length,width,area,count,colour\n"
BOAT = (
    f"{HEAD}IV,settee panel,Saloon,panel,1000,500,0.5,20,Ivory\n"
    "TA,chair panel,Helm,panel,500,500,0.25,16,Tan\n"
    "NA,trim panel,Trim,panel,1000,600,0.6,10,Navy\n"
    "PE,pelmet,Windows,panel,1800,200,0.36,2,not by us\n"
)
FIGURES = {"colour_um": 7.5, "clear_um": 6.0, "solids_colour": 0.30, "solids_clear": 0.25, "transfer": 0.60, "wiped": False,
           "clear_coats": 2, "cup_loss": 25.0, "session_area": 6.0, "keep_back": 100.0}  # fmt: skip
COATS = (2, 3, 1)
LANDED = (10.0 * 2 * 7.5 / 0.18, 4.0 * 3 * 7.5 / 0.18, 6.0 * 1 * 7.5 / 0.18)
"""mL of each colour without losses in gun and cup, by hand."""
NEEDED = (LANDED[0] + 2 * 25 + 100, LANDED[1] + 25 + 100, LANDED[2] + 25 + 100)
"""mL of each colour, by hand."""
SHARES = ({"PW6": 0.2}, {"PW6": 0.1, "PR101": 0.1}, {"PB15": 0.15})
"""Pigments of each recipe by volume; the rest is clear base."""


@pytest.fixture
def boat(job: Job) -> Job:
    survey.import_csv(job, BOAT)
    products.add_product(Product("base", "Base", Role.BASE, solids=0.25, price=Decimal(30)))
    products.add_product(Product("clear", "Clear", Role.CLEAR, solids=0.25, price=Decimal(40)))
    for key, each in (("PW6", 60), ("PR101", 80), ("PB15", 100)):
        Pigment.objects.create(key=key, name=key, density=1.5, price=each)
    for number, coats in enumerate(COATS):
        row = gather.figures(job)
        steps.set_figures(
            job, {**FIGURES, "colour_coats": coats}, version=row.version, odds=0.9, number=number
        )
    for number, lab in enumerate(((85.0, 1.0, 9.0), (55.0, 14.0, 28.0), (22.0, 2.0, -16.0))):
        read = colour.type_colour(job, f"panel {number}", lab)
        target = colour.set_target(job, read.pk, None, number=number)
        colour.choose(
            Recipe.objects.create(
                job=job,
                target=target,
                name=f"Recipe {number + 1}",
                rank=1,
                batch=number + 1,
                data=_data(number),
            )
        )
    return job


def _data(number: int) -> dict[str, object]:
    shares = {**SHARES[number], "base": 1 - sum(SHARES[number].values())}
    parts = [
        {"key": k, "name": k, "hex": "", "volume_ml_per_l": 1000 * v, "mass_g_per_l": 1000 * v * (1.0 if k == "base" else 1.5)}
        for k, v in shares.items()
    ]  # fmt: skip
    return {
        "parts": parts, "load": 1 - shares["base"], "density": sum(p["mass_g_per_l"] for p in parts) / 1000, "hex": "#777777",
        "labs": {"D65": [50, 0, 0]}, "delta_e": {"D65": 0.5}, "coats": None, "cost_per_l": "9", "drop": 0.1, "drop_of": "PW6",
        "reflectance": [0.3] * 31,
    }  # fmt: skip


def test_the_list_names_the_colours_and_what_is_not_by_us(boat: Job) -> None:
    assert [c.name for c in job_colours(boat)] == ["Ivory", "Tan", "Navy"]
    assert [len(pieces.pieces(boat, n)) for n in range(3)] == [20, 16, 10]
    assert (len(pieces.listed(boat)), len(pieces.pieces(boat))) == (48, 46)


def test_litres_of_each_colour_and_of_all(boat: Job) -> None:
    for number, needed in enumerate(NEEDED):
        found = gather.colour_needed(boat, number)
        assert found is not None
        assert found[0] == pytest.approx(needed, rel=0.015)
        assert found[1] > 1.1 * needed
    whole = gather.forecast(boat)
    assert whole is not None
    assert whole.sessions == 2 + 1 + 1
    assert whole.area == pytest.approx(20.0)
    assert whole.colour.p50 == pytest.approx(sum(NEEDED), rel=0.015)
    assert whole.clear.p50 == pytest.approx(1600 + 4 * 25, rel=0.015)
    parts = [gather.colour_forecast(boat, n) for n in range(3)]
    assert whole.colour.p90 == pytest.approx(sum(p.colour.p90 for p in parts if p), rel=0.01)


def test_what_to_buy_follows_the_shares_of_each_recipe(boat: Job) -> None:
    lines = {line.what: line.likely for line in gather.shopping(boat, gather.every_colour(boat, {}), 0.9)}
    assert lines["PW6 (PW6)"] == pytest.approx(0.2 * NEEDED[0] + 0.1 * NEEDED[1], rel=0.02)
    assert lines["PR101 (PR101)"] == pytest.approx(0.1 * NEEDED[1], rel=0.02)
    assert lines["PB15 (PB15)"] == pytest.approx(0.15 * NEEDED[2], rel=0.02)
    base = 0.8 * NEEDED[0] + 0.8 * NEEDED[1] + 0.85 * NEEDED[2]
    assert lines["Clear base for the colour"] == pytest.approx(base, rel=0.02)


def test_the_price_is_that_of_three_jobs_of_one_colour(boat: Job, only_coating: None) -> None:
    """Hours follow from each piece's own coats; pigments from each recipe: by hand, money a mL times the mL above."""
    option = price.options(boat)[0]
    mL = (0.2 * NEEDED[0] + 0.1 * NEEDED[1], 0.1 * NEEDED[1], 0.15 * NEEDED[2])
    pigment = sum(each * amount / 1000 for each, amount in zip((60, 80, 100), mL, strict=True))
    base = 0.8 * NEEDED[0] + 0.8 * NEEDED[1] + 0.85 * NEEDED[2]
    by_hand = pigment + 30 * base / 1000 + 40 * 1700 / 1000
    assert float(option.price.materials) == pytest.approx(by_hand, rel=0.02)
    alone = 0.0
    for number, coats in enumerate(COATS):
        other = Job.objects.create(name=f"alone {number}", starts=boat.starts)
        line = BOAT.splitlines()[number + 1].rsplit(",", 1)[0]
        survey.import_csv(other, f"{HEAD}{line},\n")
        steps.set_figures(other, {**FIGURES, "colour_coats": coats}, version=0, odds=0.9)
        alone += price.options(other)[0].hours
    assert option.hours == pytest.approx(alone, rel=1e-9)


def test_the_days_know_each_piece_its_colour_and_coats(boat: Job) -> None:
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    jobs = {one.piece: one for one in problem_of(boat).jobs}
    assert len(jobs) == 46 + 1 + 3, "the pieces, what is done once for the job, and once for each colour"
    assert {jobs[key].colour for key in ("IV-1", "TA-1", "NA-1")} == {"Ivory", "Tan", "Navy"}


def test_a_session_sprays_one_colour(boat: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tan on its 16 pieces at once: 500 mL and 25 mL in the gun, in a cup of 600 mL: one load; nothing of it is taken off for ivory that stands in a gun load."""
    noon = datetime(2026, 3, 2, 12)
    acts = [sessions.SprayAct(f"TA-{n}", noon, noon + timedelta(minutes=3), 500 / 16) for n in range(1, 17)]
    monkeypatch.setattr(
        sessions, "spray_acts", lambda _job, number=0: ("Monday", acts if number == 1 else [])
    )
    _, views = sessions.sessions(boat, [], 2000.0, 1)
    assert [view.colour for view in views] == [pytest.approx(525.0)]
    assert sum(load.colour for load in views[0].loads) == pytest.approx(525.0, rel=0.01)
    assert sessions.sessions(boat, [], 2000.0, 0)[1] == []


def test_cards_and_sheets_are_made_by_colour(boat: Job, visitor: Client) -> None:
    day = boat.starts
    card = papers.mixing_card(boat, 1000, "a pot", made_on=day, number=1)
    assert card.colour.startswith("Tan, panel 1")
    assert {line.name: round(line.grams) for line in card.lines} == {"base": 800, "PW6": 150, "PR101": 150}
    order = papers.spray_order(boat, made_on=day, number=2)
    assert "Navy" in order.colour
    assert "1 coat" in str(order)
    assert touch_up_sheet(boat, made_on=day, number=2).colour.startswith("Navy")
    for page in ("colour", "quantities", "mixing", "papers"):
        text = visitor.get(f"/jobs/{boat.pk}/{page}/?of=2").content.decode()
        assert 'aria-current="true">Navy' in text
    for paper in ("mixing-card.pdf?of=2&batch=500+mL", "spray-order.pdf?of=1", "touch-up.pdf?of=1"):
        assert visitor.get(f"/jobs/{boat.pk}/papers/{paper}").content[:4] == b"%PDF"


def test_the_header_says_how_each_colour_stands(boat: Job) -> None:
    header = job_header(boat)
    assert [c.label for c in header.colours] == ["Ivory", "Tan", "Navy"]
    assert header.needed == pytest.approx(sum(NEEDED), rel=0.015)
    assert header.enough == "to mix"


def test_an_entry_is_of_one_colour_and_teaches_that_colour_alone(boat: Job) -> None:
    with pytest.raises(Exception, match="different colours"):
        steps.log_use(boat, UseValue(Stage.COLOUR, {"IV-1": 1.0, "TA-1": 1.0}, 100, 25))
    before = gather.colour_needed(boat, 1)
    steps.log_use(boat, UseValue(Stage.COLOUR, {f"IV-{n}": 1.0 for n in range(1, 11)}, 450, 25))
    ivory, tan = gather.colour_needed(boat, 0), gather.colour_needed(boat, 1)
    assert before
    assert ivory
    assert tan
    assert ivory[0] == pytest.approx(LANDED[0] / 2 + 25 + 100, rel=0.05)
    assert tan[0] == pytest.approx(before[0], rel=1e-9)
    steps.log_use(boat, UseValue(Stage.CLEAR, {"IV-1": 1.0, "TA-1": 1.0}, 65, 25))


def test_every_colour_has_a_colour_of_the_shop_with_its_version(boat: Job) -> None:
    found = [colour_of(boat, n) for n in range(3)]
    assert [c.name for c in found if c] == ["Ivory", "Tan", "Navy"]
    assert found[1]
    first = version_in_force(found[1])
    again = colour.type_colour(boat, "panel 1, lighter", (57.0, 14.0, 28.0))
    colour.set_target(boat, again.pk, None, number=1)
    second = version_in_force(found[1])
    assert first
    assert second
    assert (first.number, second.number) == (1, 2)
    undo(Act.objects.latest("id").pk)
    assert version_in_force(found[1]) == first


def test_colours_are_given_and_taken_back(boat: Job, visitor: Client) -> None:
    teal = add_colour(boat, "Teal")
    ids = list(pieces.rows(boat).filter(group="Trim").values_list("pk", flat=True))
    give_colour(boat, ids, teal.number)
    assert len(pieces.pieces(boat, teal.number)) == 10
    with pytest.raises(Exception, match="get it"):
        remove_colour(boat, teal.number)
    undo(Act.objects.latest("id").pk)
    assert len(pieces.pieces(boat, 2)) == 10
    remove_colour(boat, teal.number)
    page = visitor.get(f"/jobs/{boat.pk}/colours/")
    field = next(g["field"] for g in page.context["groups"] if g["name"] == "Windows")
    assert visitor.post(f"/jobs/{boat.pk}/colours/give/", {field: "1"}).status_code == 302
    assert len(pieces.pieces(boat, 1)) == 18


def test_a_job_of_one_colour_shows_no_choice_of_colours(visitor: Client, job: Job) -> None:
    survey.import_csv(job, f"{HEAD}A,panel,Saloon,panel,1000,500,,4,\n")
    for page in ("colour", "quantities", "mixing", "papers"):
        text = visitor.get(f"/jobs/{job.pk}/{page}/").content.decode()
        assert "Colours of the job" not in text
        assert 'name="of"' not in text
