"""One row of every kind for two jobs, made by the acts themselves: what a test of every address works on."""

from dataclasses import dataclass
from datetime import date, time, timedelta
from decimal import Decimal
from types import SimpleNamespace

from hidewright.lists.grid import grid_of_text
from hidewright.mixing.recipe import recipe_of
from hidewright.survey import make_piece
from hidewright.takeoff.coats import Stage
from hidewright.takeoff.products import Product, Role
from hidewright.takeoff.yields import Use
from hidewright.workshop.account import actions as account
from hidewright.workshop.approvals import actions as approvals
from hidewright.workshop.bench import jar_actions, load_actions
from hidewright.workshop.calls import actions as calls
from hidewright.workshop.cards import actions as cards
from hidewright.workshop.cards.models import Card, Checklist
from hidewright.workshop.colours import actions as colours
from hidewright.workshop.colours import cup_actions, own_actions
from hidewright.workshop.colours.models import Colour, Recipe
from hidewright.workshop.colours.queries import chosen_recipe
from hidewright.workshop.credentials import actions as credentials
from hidewright.workshop.days import actions as days
from hidewright.workshop.days import rest_actions
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.progress_actions import tap
from hidewright.workshop.front import job_actions, shop_actions
from hidewright.workshop.handover import actions as handover
from hidewright.workshop.inspection import actions as inspection
from hidewright.workshop.inspection import contact_actions, row_actions, snag_actions
from hidewright.workshop.intake import actions as intake
from hidewright.workshop.intake.models import Arrival, Picture
from hidewright.workshop.lists import actions as lists
from hidewright.workshop.papers import quote_actions
from hidewright.workshop.papers.price_queries import options
from hidewright.workshop.pieces import actions as pieces
from hidewright.workshop.pieces import colour_actions, route_actions
from hidewright.workshop.pieces.models import Piece, RouteChoice
from hidewright.workshop.pieces.route_queries import shop_routes
from hidewright.workshop.pigments.models import ColourSetup, Drawdown, Lamp
from hidewright.workshop.quantities import actions as quantities
from hidewright.workshop.quantities import used_actions
from hidewright.workshop.quantities.models import Figures
from hidewright.workshop.room import absence_actions, drying_actions
from hidewright.workshop.room import actions as room
from hidewright.workshop.room.models import AirSetup, DayOff, GunSetup
from hidewright.workshop.shelf import actions as shelf
from hidewright.workshop.shelf import pot_actions
from hidewright.workshop.shelf import vessel_actions as bench
from hidewright.workshop.shelf.models import MixEntry, Pigment, PigmentLot
from hidewright.workshop.shelf.models import Product as ProductRow
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Act, Device, Run
from workshop.plans import PLAN

PARTS = [
    {"key": "PW6", "name": "White", "hex": "#f4f2ec", "mass_g_per_l": 234.0, "volume_ml_per_l": 120.0},
    {"key": "PBr7", "name": "Umber", "hex": "#5b4636", "mass_g_per_l": 87.0, "volume_ml_per_l": 60.0},
    {"key": "base", "name": "Clear base", "hex": "#e9e6df", "mass_g_per_l": 844.6, "volume_ml_per_l": 820.0},
]
RECIPE = {
    "parts": PARTS, "load": 0.18, "density": 1.1656, "hex": "#a08060", "labs": {"D65": [55, 6, 14]},
    "delta_e": {"D65": 0.4}, "coats": 2, "cost_per_l": "31.00", "drop": 0.6, "drop_of": "PBr7", "reflectance": [0.3] * 31,
}  # fmt: skip

TODAY = date(2026, 3, 2)
STROKES = [[[10, 10], [200, 120], [400, 60]]]


@dataclass(frozen=True)
class World:
    """The shop's own rows, and those of two jobs alike."""

    shop: SimpleNamespace
    mine: SimpleNamespace
    other: SimpleNamespace


def build() -> World:
    """All of it, in the transaction that is open."""
    the_shop()
    GunSetup.objects.create(pk=1)
    AirSetup.objects.create(pk=1)
    ColourSetup.objects.create(pk=1)
    shop = _shop()
    return World(shop, _job("Mine", shop), _job("Other", shop))


def _shop() -> SimpleNamespace:
    shelf.add_product(Product("clear", "Clear base", Role.BASE, solids=0.3))
    shelf.add_product(Product("linker", "Linker", Role.CROSSLINKER, ratio=0.03, pot_life=240))
    shelf.add_product(Product("strip", "Stripper", Role.STRIPPER))
    shelf.add_product(Product("thin", "Thinner", Role.SOLVENT))
    lot = shelf.receive(_product("clear"), 5000, lot="C1").lot
    sealed = shelf.receive(_product("thin"), 1000, lot="T1").lot
    shelf.receive(_product("strip"), 50_000, lot="S1")
    for part in PARTS[:2]:
        Pigment.objects.create(key=part["key"], name=part["name"], k=[0.01] * 31, s=[0.05] * 31)
    white, umber = Pigment.objects.all()
    ana, ben = shop_actions.add_person("Ana"), shop_actions.add_person("Ben")
    room.set_week(None, {day: [(time(8), time(17))] for day in range(5)})
    absence_actions.add_absence(ana, date(2026, 3, 4), why="dentist")
    bottle = PigmentLot.objects.create(pigment=white, name="W1", volume=500, left=500)
    drawdown = Drawdown.objects.create(
        name="W", shares={"PW6": 0.2}, microns=20, over_black=[0.5] * 31, over_white=[0.7] * 31,
        black=[0.03] * 31, white=[0.85] * 31,
    )  # fmt: skip
    lamp = Lamp.objects.create(name="Bench lamp", nm=[400, 700], power=[1, 1], table=[[1 / 31] * 3] * 31)
    route = route_actions.copy(shop_routes()[0].key, "Own way")
    route_actions.add_step(route.key, route.version, "repair", "before coating")
    cards.add_card(title="Belts", cover="the belts")
    cards.write_list("Weekly", "weekly", "bin emptied\nfilter looked at")
    primer = grid_of_text("key,name,role,pack\nprime,Grip primer,primer,1000 mL\n")
    return SimpleNamespace(
        list=lists.bring(None, "products", "products.csv", primer),
        colour=lambda: Colour.objects.order_by("pk")[0], pot=pot_actions.add_pot("Quart pot", 946, 120), lot=lot, sealed=sealed, white=white, umber=umber, ana=ana, ben=ben, bottle=bottle, drawdown=drawdown, lamp=lamp, route=route,
        card=Card.objects.get(), checklist=Checklist.objects.get(), course=credentials.keep(None, "training", "Course", person=ana),
        table=room.add_table("Long table", 3.6, 0.9), rack=room.add_storage("Rack", 12), day_off=DayOff.objects.get(),
        washed=rest_actions.add_rest("wash the covers", "before anything else", "a piece", 10),
        dried=drying_actions.note_dry(what="cure", minutes=40, celsius=20, humidity=0.5),
        device=Device.objects.create(name="Another device"), call=calls.keep_call("Mrs Lind", {"seat": 2}, strip="no"),
    )  # fmt: skip


def _product(key: str) -> ProductRow:
    return ProductRow.objects.get(key=key)


def _job(name: str, shop: SimpleNamespace) -> SimpleNamespace:
    job = job_actions.open_job(name, starts=date(2026, 3, 2), promised=date(2026, 3, 27))
    for key in ("C1", "C2"):
        piece = make_piece(
            key=key, name="Seat", group="Chair", shape="panel", length=0.6, width=0.5, thickness=0.02, sat_on=True
        )  # fmt: skip
        pieces.add_pieces(job, piece)
    Figures.objects.create(job=job)
    trim = colour_actions.add_colour(job, "Trim")
    text = "key,name,group,shape,length (mm),width (mm)\nC9,Lid,Chair,panel,400,300\n"
    file = lists.bring(job, "pieces", "list.csv", grid_of_text(text))
    target = colours.type_colour(job, "Target", (55.0, 6.0, 14.0))
    old = colours.type_colour(job, "Old", (40.0, 6.0, 14.0))
    aim = colours.set_target(job, target.pk, old.pk)
    recipe, second = (
        Recipe.objects.create(job=job, target=aim, name=f"Recipe {rank}", rank=rank, batch=1, data=RECIPE)
        for rank in (1, 2)
    )
    colours.choose(recipe)
    mix = recipe_of("Recipe 1", chosen_recipe(job).components)  # type: ignore[union-attr]
    cup, spare, empty = (bench.begin_cup(job, mix, 500, capacity=2000, recipe_id=recipe.pk) for _ in range(3))
    for key, amount in (("PW6", 60_000), ("PBr7", 30_000), ("base", 410_000)):
        bench.pour(cup, key, amount)
    bench.pour(spare, "base", 100_000)
    own = own_actions.begin(job, own_actions.Start("Own", 500.0, 20.0))
    own_actions.pour(own, "PW6", 1.0, "parts")
    own_actions.pour(own, "base", 4.0, "parts")
    blend = bench.begin_cup(job, mix, 200, capacity=1000, recipe_id=recipe.pk)
    bench.pour(blend, "base", 50_000)
    bench.accept(blend)
    load = load_actions.draw_off(cup, 100)
    jar = jar_actions.keep_jar(cup, 50)
    gone = jar_actions.keep_jar(cup, 20)
    load_actions.discard(gone, 20)
    sight = cup_actions.read_colour(cup, (55.0, 6.0, 14.0))
    snag = snag_actions.add(job, "A scratch", piece="C1")
    contact = contact_actions.add_contact(job, "Upholsterer", does="seams")
    credentials.set_rules(job, "rail")
    quantities.log_use(job, Use(Stage.COLOUR, {"C1": 1.0}, 120.0, 10.0))
    use = job.uses.latest("pk")
    by_hand = used_actions.log_by_hand(job, "gloves", 3, 0.5)
    route_actions.choose(job, ["C1"], shop.route.key)
    days.keep_plan(job, PLAN, because="first")
    days.keep_plan(job, PLAN, because="second")
    inspection.keep_certificate(job, "ship", specimen="Leather", certificate="17")
    run = Run.objects.create(job=job, kind="test.never")
    c1, c2 = Piece.objects.filter(job=job).order_by("key")
    delivery = intake.take_in(job, [c1.pk], brought_by="A driver", day=TODAY)
    sheet = approvals.propose(job, 0, ["was", "now"])
    approvals.make_link(sheet, days=3)
    handover.pack(job, [c1.pk])
    quote_actions.give(job, options(job)[0], date.today() + timedelta(days=30))
    account.charge(job, "A repair", Decimal("40"), snag=snag)
    account.learn(job, "Arms take longer")
    return SimpleNamespace(
        job=job, trim=trim, file=file, target=target, old=old, recipe=recipe, second=second, cup=cup, own=own, spare=spare, empty=empty, blend=blend,
        load=load, jar=jar, gone=gone, sight=sight, snag=snag, use=use, by_hand=by_hand, run=run,
        loose=colours.type_colour(job, "Loose", (50.0, 1.0, 1.0)), contact=contact,
        report=credentials.keep(job, "burn report", "Report", number="B-1"),
        hidden=row_actions.add_hidden(job, "C1", "underside", "flap up"),
        piece=Piece.objects.get(job=job, key="C1"), plan=Plan.objects.filter(job=job)[0],
        entry=MixEntry.objects.filter(job=job).latest("pk"), choice=RouteChoice.objects.get(job=job),
        hold=days.hold(job, "C1", "clean", date(2026, 3, 5)), due=days.set_due(job, "C2", date(2026, 3, 20)),
        milestone=rest_actions.add_milestone(job, "The owner approves", "the first colour", date(2026, 3, 6)),
        check=inspection.note_checks(job, ["C1"], "sun", result="good")[0], certificate=job.burn_records.get(),
        signature=inspection.sign(job, shop.ana, "the look"),
        tapped=tap(job, "C1/top/spray", "snag", f"tap-{job.pk}", note="a run")[0],
        act=Act.objects.filter(job=job).exclude(undo_name="").first(),
        delivery=delivery, arrival=Arrival.objects.get(delivery=delivery), second_piece=c2, sheet=sheet, variant=sheet.variants.all()[0],
        link=sheet.links.get(), picture=Picture.objects.create(job=job, piece=c1, name="p.png", state="kept", file="x.jpg", small="y.jpg"),
    )  # fmt: skip
