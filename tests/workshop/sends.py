"""A good form for every address that takes one, on the rows of `world`; some addresses have several acts."""

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from hidewright import demo
from hidewright.lists.grid import grid_of_text
from hidewright.planning.plan.schedule import Placement, plan_to_data
from hidewright.planning.plan.schedule import Plan as Schedule
from hidewright.planning.problem.model import Kind
from hidewright.takeoff.sundries import RULES
from hidewright.workshop.account import actions as account
from hidewright.workshop.bench.queries import boxable
from hidewright.workshop.days.models import Plan
from hidewright.workshop.days.whole_actions import ALL_RUN
from hidewright.workshop.frame.pictures import keep_picture
from hidewright.workshop.inspection import snag_actions
from hidewright.workshop.intake import actions as intake
from hidewright.workshop.lists import actions as lists
from hidewright.workshop.lists.queries import draft, taker_of
from hidewright.workshop.pigments.knowledge import pours_of
from hidewright.workshop.shop.models import Run
from workshop.sticks import stick_picture
from workshop.world import STROKES, TODAY, World

Sent = tuple[tuple[Any, ...], dict[str, Any]]
Send = Callable[[World], Sent]

PICTURE = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108020000009077" "53de0000000c4944415408d763f8cfc0000003010100c9fe92ef0000000049454e44ae426082"
)  # fmt: skip
EYE = {"light": "", "red": "clearly|redder", "yellow": "", "clean": "", "state": "dry"}
HELD = {"against": "piece", "sample": "", "state": "wet"}
LAB = {"l": "60", "a": "8", "b": "12", "light": "D65", "observer": "10", "state": "dry"}
PIECE = {"name": "Seat", "group": "Chair", "shape": "panel", "length": "500 mm", "width": "400 mm", "material": "leather", "condition": "sound"}  # fmt: skip
PIGMENT = {"name": "Pearl", "index": "", "density": "1.3", "solids": "40", "price": "50", "note": ""}
AIR = {"celsius": "21", "humidity": "45", "surface": "20", "speed": "0.5"}


def file(name: str, text: str | bytes) -> SimpleUploadedFile:
    """A file as a browser sends it."""
    return SimpleUploadedFile(name, text if isinstance(text, bytes) else text.encode())


def print_of(row: Any) -> str:
    """The fingerprint of a brought list, as its page carries it."""
    taker = taker_of(row.kind, of_job=row.job_id is not None)
    assert taker is not None
    return draft(row, taker.kind, "metric").fingerprint


def _brought(kind: str, text: str, job: Any = None, how: str = "take") -> Sent:
    """A list of a kind that is brought and in order, and what takes it in the way `how`."""
    row = lists.bring(job, kind, f"{kind}.csv", grid_of_text(text))
    place = (job.pk, row.pk) if job else (row.pk,)
    return place, {"take": how, "print": print_of(row)}


def prefixed(prefix: str, fields: dict[str, Any]) -> dict[str, Any]:
    """The fields of a form with a prefix."""
    return {f"{prefix}-{name}": value for name, value in fields.items()}


def _later() -> str:
    """A day a month from now."""
    return (timezone.localdate() + timedelta(days=30)).isoformat()


def _stick() -> SimpleUploadedFile:
    """A photo of a stick."""
    return file("s.png", stick_picture((120, 88, 60), (150, 118, 88)))


def _owing(world: World) -> tuple[tuple[Any, ...], dict[str, Any]]:
    """A plan with a step of a day long past that nobody tapped."""
    step = Placement("C2/prep/strip", "C2", Kind.STRIP, "top", "prep", "ana", None, 480, 540, 540)
    data = {"shown": world.mine.plan.data["shown"], "plan": plan_to_data(Schedule((step,), ()))}
    facts = {"starts": "2026-03-02", "outcome": "proven", "bound_why": "", "bottleneck": ""}
    Plan.objects.filter(pk=world.mine.plan.pk).update(data=data, facts=facts)
    return (world.mine.job.pk,), {}


def spectra(name: str) -> SimpleUploadedFile:
    """A reading as a CSV file."""
    head = "name," + ",".join(str(nm) for nm in range(400, 701, 10))
    return file("r.csv", "\n".join([head, f"{name}," + ",".join(["0.30"] * 31)]))


def film_file() -> SimpleUploadedFile:
    """The readings of a film over both sides, and of the bare card."""
    rows = {"black": "0.60", "white": "0.80", "card black": "0.05", "card white": "0.85"}
    head = "name," + ",".join(str(nm) for nm in range(400, 701, 10))
    return file(
        "film.csv", "\n".join([head, *(f"{name}," + ",".join([read] * 31) for name, read in rows.items())])
    )


def _job(*names: str, **fields: Any) -> Send:
    """To an address with the job and rows of the job; a callable field is asked for its value."""
    return lambda w: (
        (w.mine.job.pk, *(getattr(w.mine, name).pk for name in names)),
        {key: value(w) if callable(value) else value for key, value in fields.items()},
    )


def _shop(*names: str, **fields: Any) -> Send:
    """To an address with rows of the shop."""
    return lambda w: (
        tuple(getattr(w.shop, name).pk for name in names),
        {key: value(w) if callable(value) else value for key, value in fields.items()},
    )


def _at(*args: Any, **fields: Any) -> Send:
    """To an address with these words in it."""
    return lambda w: (
        tuple(arg(w) if callable(arg) else arg for arg in args),
        {key: value(w) if callable(value) else value for key, value in fields.items()},
    )


def _route(*args: Any, **fields: Any) -> Send:
    return lambda w: ((w.shop.route.key, *args), {"version": _version(w), **fields})


def _version(w: World) -> str:
    w.shop.route.refresh_from_db()
    return str(w.shop.route.version)


def _jar(**fields: Any) -> Send:
    return lambda w: ((w.mine.jar.pk,), {k: v(w) if callable(v) else v for k, v in fields.items()})


def _turns(w: World) -> str:
    w.mine.spare.refresh_from_db()
    return str(w.mine.spare.turns)


def _poured(w: World) -> str:
    return str(len(pours_of(w.mine.cup)))


BENCH: dict[str, Send] = {
    "jar_again": _jar(aim="300 mL", job=lambda w: w.mine.job.pk),
    "pour_jar": _jar(amount="10 mL", vessel=lambda w: w.mine.cup.pk),
    "mix_jar_again": _jar(),
    "touch_up_jar": _jar(),
    "jar_until": _jar(until=lambda _: _later()),
    "job_of_jar": _jar(),
    "target_of_jar": _jar(job=lambda w: w.other.job.pk),
    "discard_jar": _jar(amount="10 mL", note="spilt"),
    "put_jar_away": lambda w: ((w.mine.gone.pk,), {}),
    "pour": _job("spare", component="base", value="200", how="read", seen=_turns),
    "use_colour": _job("load", amount="40 mL", groups="Chair", coats="1"),
    "discard_colour": _job("cup", amount="20 mL"),
    "draw_off": _job("cup", amount="50 mL"),
    "crosslink": _job("load", product="Linker", ratio="3", pot_life="240"),
    "keep_jar": _job("cup", amount="30 mL", name="Kept", until=lambda _: _later()),
    "bigger_vessel": _job("cup", capacity="4 L"),
    "change_measure": _job("cup", measure="mL", tare="0", grain="0.1"),
    "box": _job("cup", vessel=lambda w: boxable(w.mine.job, w.mine.cup)[0][0]),
    "pour_other": _job("cup", product="thin", amount="5 mL"),
    "calibrate_drop": _job("cup", component="PW6", drops="20", grams="1.3"),
    "accept_cup": _job("spare"),
    "put_vessel_away": _job("empty"),
    "take_back": _job("gone", "entry"),
    "begin_cup": _job(aim="500 mL", capacity="700 mL", measure="running"),
    "set_gun": _job(cup="500 mL", per_minute="120"),
    "top_up": _job("cup", aim="200 mL"),
}

COLOUR: dict[str, Send] = {
    "cup_by_eye": _job("cup", **prefixed("eye", EYE)),
    "stick_photo": _job("cup", photo=lambda _: _stick(), **HELD),
    "keep_stick": _job(
        "cup",
        picture=lambda _: keep_picture(_stick()).removesuffix(".jpg"),
        **HELD,
        x1="35",
        y1="50",
        x2="65",
        y2="50",
    ),
    "own_cups": _job(part="30 mL", capacity="500 mL", name="Another"),
    "own_pour": _job("own", what="PBr7", value="2", unit="drops"),
    "own_leftover": _job("own", **prefixed("left", {"name": "old tan", "looks": "tan", "amount": "20 mL"})),
    "like_own_cup": _job("own", **prefixed("like", {"name": "Liked"})),
    "cup_reading": _job("cup", **{"sight-state": "dry", "sight-file": lambda _: spectra("cup")}),
    "cup_typed": _job("cup", **prefixed("lab", LAB)),
    "pour_addition": _job("cup", seen=_poured, add="PW6|2.5"),
    "strike_sight": _job("cup", "sight", reason="wrong cup"),
    "learn_anew": _at(lot=""),
    "shift_target": _job(way="lighter", amount="1"),
    "photo": _job(photo=lambda _: file("p.png", PICTURE)),
    "bring_readings": _job(**{"file-file": lambda _: spectra("From a file")}),
    "strike_reading": _job("loose"),
    "type_colour": _job(**prefixed("typed", {**LAB, "name": "Typed"})),
    "aim_by_word": _job(**prefixed("family", {"word": "tan"})),
    "set_target": _job(target=lambda w: w.mine.target.pk, old="", tolerance="0.8"),
    "find_recipes": _job(load_low="16", load_high="20", most="3", lights="A", judge="first"),
    "bring_lamp": _job(
        **{
            "lamp-name": "Window",
            "lamp-file": lambda _: file(
                "l.csv", "\n".join(["wavelength,power", *(f"{nm},1.0" for nm in range(380, 781, 5))])
            ),
        }
    ),
    "shop_colour": lambda w: (
        (w.shop.colour().pk,),
        {"name": "Tan", "truth": "jar", "tolerance": "0.8", "edits": w.shop.colour().edits},
    ),
    "put_colour_away": lambda w: ((w.shop.colour().pk,), {}),
    "remove_lamp": lambda w: ((w.mine.job.pk, w.shop.lamp.pk), {}),
    "choose_recipe": _job("second"),
    "bring_drawdowns": _at(**{"drawdowns-file": lambda _: file("d.csv", demo.text("drawdowns.csv"))}),
    "new_drawdown": _at(
        name="White, thin",
        unit="g",
        thing0="PW6",
        amount0="39",
        thing1="base",
        amount1="82.4",
        how="wet",
        film="100 µm",
        file=lambda _: film_file(),
    ),
    "set_drawdown_aside": lambda w: ((w.shop.drawdown.pk, "aside"), {}),
    "load_illustrative": _at(),
    "find_pigments": _at(),
    "new_pigment": _at(**prefixed("new", {**PIGMENT, "key": "PY42"})),
    "colour_setup": _at(
        **prefixed("setup", {"specular": "no", "coat": "8", "load_low": "15", "load_high": "21"})
    ),
    "pigment": _shop("white", **PIGMENT, version="0"),
    "pigment_shelf": _shop("white", on_shelf="no"),
    "remove_pigment": _shop("umber"),
    "new_lot": _shop("white", **prefixed("lot", {"name": "W2", "volume": "250 mL"})),
    "count_lot": _shop("bottle", **prefixed("left", {"left": "200 mL"})),
    "count_lot keep": _shop("bottle", **prefixed("left", {"keep_until": "2027-01-01"})),
    "mark_lot": _at(lambda w: w.shop.bottle.pk, "finished"),
}


def _planned_all(world: World) -> int:
    """The run that planned all open jobs, with a plan of it in force."""
    run = Run.objects.create(kind=ALL_RUN)
    Plan.objects.filter(pk=world.mine.plan.pk).update(run=run)
    return run.pk


DAYS: dict[str, Send] = {
    "plan_all": _at(**prefixed("all", {"seconds": "60"})),
    "drop_all_plans": lambda w: ((_planned_all(w),), {}),
    "find_room": lambda w: ((), prefixed("room", {"job": w.mine.job.pk, "start": _later()})),
    "note_air": _job(**AIR),
    "set_air_room": _job(room="200", fresh="900", mixing="4"),
    "plan_days": _job(how="keep", seconds="10", because="a cold night"),
    "do_again": _job(**prefixed("again", {"piece": "C1", "kinds": "spray colour", "why": "a run"})),
    "hold": _job(**prefixed("hold", {"piece": "C2", "before": "clean", "until": "2026-03-09"})),
    "lift_hold": _job("hold"),
    "set_due": _job(**prefixed("due", {"piece": "C1", "day": "2026-03-20"})),
    "lift_due": _job("due"),
    "set_other_work": _at(**{"version": "1", "m-dismantle": "30", "m-receive": "60", "e-receive": "5"}),
    "add_other_work": _at(name="Sweep", when="in the evening", per="a job", minutes="10"),
    "remove_other_work": _shop("washed"),
    "add_milestone": _job(
        what="Hardware comes", before="what follows the coats", day="2026-03-10", group="Chair"
    ),
    "settle_milestone": _job("milestone"),
    "settle_milestone away": _job("milestone", away="1"),
    "what_if": _job(),
    "withdraw_plan": _job(),
    "done_as_planned": _owing,
    "tap_act": _job(act_key="C2/top/strip", kind="done"),
    "tap_act colour": _job(act_key="C2/front/spray colour", kind="done", token="colour"),
    "stop_run": lambda w: ((w.mine.run.pk,), {}),
}

FRONT: dict[str, Send] = {
    "new_link": _at(),
    "shut_out": _shop("device"),
    "new_job": _at(name="A saloon", starts="2026-04-01"),
    "edit_job": _job(name="Mine, renamed", starts="2026-03-02"),
    "put_away": _job(),
    "undo": lambda w: ((w.mine.act.pk,), {}),
    "shop": _at(name="A shop", units="us", currency="€", balance_step="0.1", drop="0.04"),
    "people": _at(name="Cleo"),
    "theme": _at(theme="dark"),
    "edit_person": _shop("ana", name="Ana B.", credentials="first aid"),
    "person_secret": _shop("ben", role="bench", secret="4711"),
    "remove_person": _shop("ben"),
    "who": _at(person=lambda w: str(w.shop.ana.pk)),
}

REST: dict[str, Send] = {
    "snags": _job(what="A dent", kind="damage", piece="C2"),
    "take_up_snag": _job("tapped"),
    "change_snag": lambda w: (
        (w.mine.job.pk, w.mine.snag.pk),
        prefixed(f"s{w.mine.snag.pk}", {"decision": "wait", "until": _later(), "version": "0"}),
    ),
    "change_snag close": lambda w: (
        (w.mine.job.pk, w.mine.snag.pk),
        {**prefixed(f"s{w.mine.snag.pk}", {"decision": "", "version": "0"}), "close": "1"},
    ),
    "quick_snag": _at(job=lambda w: w.mine.job.pk, what="A tear", weight="later"),
    "pass_on_snag": lambda w: (
        (w.mine.job.pk, w.mine.snag.pk),
        prefixed(
            f"p{w.mine.snag.pk}",
            {
                "weight": "later",
                "acts": w.mine.contact.pk,
                "stage": "ordered",
                "expected": _later(),
                "version": "0",
            },
        ),
    ),
    "contacts": _job(name="Designer"),
    "remove_contact": _job("contact"),
    "add_hidden_part": _job(**prefixed("hidden", {"piece": "C2", "part": "hinge side", "position": "open"})),
    "remove_hidden_part": _job("hidden"),
    "check_colour": _job(
        **prefixed("colour", {"piece": "C1", "way": "eye", "grade": "4-5", "result": "again"})
    ),
    "cards": _at(**prefixed("card", {"title": "Tape", "step": "mask", "tape": "low-tack", "version": "0"})),
    "starting_cards": _at(),
    "card": _shop(
        "card", **prefixed("card", {"title": "Belts, too", "cover": "belts and posts", "version": "0"})
    ),
    "remove_card": _shop("card"),
    "add_card_picture": _shop("card", **{"picture-picture": lambda _: file("p.png", PICTURE)}),
    "checklists": _at(
        **prefixed("list", {"title": "Doors", "when": "always", "lines": "closed", "version": "0"})
    ),
    "checklist": _shop(
        "checklist", **prefixed("list", {"title": "Weekly", "when": "weekly", "lines": "one", "version": "0"})
    ),
    "checklist_round": _shop("checklist", good=["0"], note="filter ordered"),
    "remove_checklist": _shop("checklist"),
    "credentials": _at(**prefixed("paper", {"kind": "data sheet", "title": "Sheet of the base"})),
    "job_credentials": _job(**prefixed("paper", {"kind": "clearance", "title": "Clearance"})),
    "job_rules": _job(**prefixed("rules", {"rule_set": "ship"})),
    "strike_credential": _shop("course", reason="wrong person"),
    "strike_job_credential": _job("report", reason="wrong leather"),
    "check_by_eye": _job(look="lamp-good", piece="C1"),
    "check_figure": _job(
        **prefixed("figure", {"piece": "C1", "kind": "gloss", "value": "40", "result": "good"})
    ),
    "strike_check": _job("check", reason="wrong piece"),
    "keep_certificate": _job(
        **prefixed("burn", {"test": "rail", "certificate": "18", "specimen": "Leather"})
    ),
    "strike_certificate": _job("certificate", reason="wrong leather"),
    "sign": _job(**{"sign-person": lambda w: w.shop.ana.pk, "sign-words": "all of it"}),
    "strike_signature": _job(
        "signature", **{"strike-person": lambda w: w.shop.ana.pk, "strike-reason": "too early"}
    ),
    "price": _job(
        hourly="75", markup="20", price_odds="90", tax_name="", tax_rate="0", terms="", version="0"
    ),
    "sundries": _job(**{**dict.fromkeys((rule.key for rule in RULES), "2"), "version": "0"}),
    "route_head": _route(name="Own way, renamed"),
    "add_route_step": _route(what="tack", place="each side|4"),
    "add_route_step own": _route(
        name="fit tubes over posts", place="each side|4", fixed="5", where="everywhere"
    ),
    "settle_route": _route(use="1"),
    "settle_route copy": _route(copy="1", name="Another way"),
    "settle_route away": _route(away="1"),
    "settle_route first": _route(first="1"),
    "route_step": _route(1, down="1"),
    "route_step out": _route(1, out="1"),
    "route_step change": _route(1, where="only where it is sat on", fixed="5", per_area="10", dry="0"),
    "job_routes": _job(pieces="C2", route=lambda w: w.shop.route.key),
    "give_back_route": _job("choice"),
    "bring_job_list": lambda w: (
        (w.mine.job.pk, "pieces"),
        {"file": file("p.csv", "key,name,group,shape,length (mm),width (mm)\nC8,Lid,Chair,panel,400,300\n")},
    ),
    "brought_job_list": _job("file", take="replace", print=lambda w: print_of(w.mine.file)),
    "add_piece": _job(key="C7", count="2", **PIECE),
    "edit_piece": _job("piece", key="C1", version="0", **PIECE),
    "remove_piece": _job("piece"),
    "piece_zones": _job(
        "piece",
        **{
            "version": "0",
            "name-0": "face",
            "share-0": "60",
            "masked-0": "",
            "masking-0": "",
            "name-1": "back",
            "share-1": "40",
            "masked-1": "",
            "masking-1": "",
        },
    ),
    "many_pieces": _job(**{"piece": lambda w: w.mine.piece.pk, "many-strip": "yes"}),
    "log_by_hand": _job(what="gloves", amount="3", share="40"),
    "strike_by_hand": _job("by_hand"),
    "add_job_colour": _job(name="Piping"),
    "rename_job_colour": lambda w: ((w.mine.job.pk, w.mine.trim.number), {"name": "Edges"}),
    "remove_job_colour": lambda w: ((w.mine.job.pk, w.mine.trim.number), {}),
    "give_groups": _job(group_0="1"),
    "quantities": _job(reset="1", version="0"),
    "log_use": _job(
        **{"use-stage": "sprayed colour", "use-volume": "100 mL", "use-cups": "1", "piece": "C2"}
    ),
    "strike_use": _job("use"),
    "drying": _at(what="cure", after="50 min", warmth="20", humidity="50"),
    "strike_drying": _shop("dried", why="not looked at"),
    "tables": _at(name="Short table", length="2", depth="0.8"),
    "edit_table": _shop("table", name="Long table", length="4", depth="0.9", version="0"),
    "remove_table": _shop("table"),
    "add_rack": _at(**prefixed("rack", {"name": "Shelf", "pieces": "6"})),
    "remove_rack": _shop("rack"),
    "work_rules": _at(
        changes="1", flush="9", load="12", suit="5", change="3", least="15", coats="2", version="0"
    ),
    "room_rules": _at(guns="2", warmth="20", humidity="50", factor="1", version="0"),
    "hours": _at(day0="8-16"),
    "person_hours": _shop("ana", day1="9-11"),
    "person_skills": _shop("ana", kinds="strip"),
    "day_off": _at(
        **prefixed(
            "off", {"who": "", "day": "2026-03-09", "last": "2026-03-20", "hour": "12:00", "note": "holiday"}
        )
    ),
    "remove_day_off": _shop("day_off"),
    "bring_list": _at("products", file=lambda _: file("p.csv", demo.text("products.csv"))),
    "brought_list": lambda w: (
        (w.shop.list.pk,),
        {"take": "take", "print": print_of(w.shop.list)},
    ),
    "brought_list tables": lambda _: _brought(
        "tables", "name,length,depth\nLong table,5 m,0.9 m\nSill,2 m,0.4 m\n"
    ),
    "brought_list people": lambda _: _brought(
        "people", "key,name,off,skills\nana,Ana,,strip\n,Bo,2026-03-09,\n"
    ),
    "brought_list hours": lambda _: _brought(
        "hours", "person,weekday,hours\n,Mon-Thu,7-15\nAna,Friday,8-12\n"
    ),
    "brought_list absences": lambda _: _brought(
        "absences", "who,from,to,from hour,why\nAna,2026-03-04,2026-03-06,,flu\n,2026-03-09,,12:00,\n"
    ),
    "brought_list pigments": lambda _: _brought("pigments", "name,index,density\nChalk white,PW 18,1.6\n"),
    "brought_list drawdowns": lambda _: _brought("drawdowns", demo.text("drawdowns.csv"), how="keep"),
    "brought_job_list readings": lambda w: _brought(
        "readings", "name,l,a,b\nSeat,52,4,9\nBack,51,4,9\n", w.mine.job, how="keep"
    ),
    "brought_job_list contacts": lambda w: _brought("contacts", "name,for,tel\nJo,trim,0123\n", w.mine.job),
    "add_product": _at(name="Primer", role="primer", price="20"),
    "product": _at("clear", name="Clear base, new", role="base", version="0"),
    "receive_product": _at("clear", **prefixed("in", {"volume": "2 L", "lot": "C2"})),
    "count_product": _at("clear", **prefixed("count", {"volume": "3 L"})),
    "vessels": _at(name="Pail", capacity="1 gal", tare="300"),
    "remove_vessel": _shop("pot"),
    "remove_product": _at("thin"),
    "product_lot": _at("thin", lambda w: w.shop.sealed.pk),
    "product_lot finish": _at("clear", lambda w: w.shop.lot.pk, finish="1"),
}

SIGNED = json.dumps(STROKES)


def _came_in_now(w: World) -> int:
    """A piece that came in after the others were packed."""
    intake.take_in(w.mine.job, [w.mine.second_piece.pk], brought_by="A driver", day=TODAY)
    return int(w.mine.second_piece.pk)


def _gathered(w: World) -> dict[str, str]:
    snag_actions.add(w.mine.job, "A thin spot", piece="C2", weight="later")
    return prefixed("session", {"day": _later()})


def _claimed(w: World) -> int:
    return account.claim(w.mine.job, "A crack", [w.mine.piece], day=TODAY).pk


JOBFILE: dict[str, Send] = {
    "calls": _at(who="Mr Okafor", seat="4", settee="1", material="leather", strip="unknown", reach="", what=""),
    "begin_survey": _shop("call"),
    "intake": _job(brought_by="A driver", day="2026-03-03", note="", piece=lambda w: w.mine.second_piece.pk),
    "piece_in": _job("piece", condition="a seam is open"),
    "bring_pictures": _job(pictures=lambda _: file("p.png", PICTURE), kind="arrival"),
    "bring_piece_pictures": _job("piece", pictures=lambda _: file("p.png", PICTURE), kind="before"),
    "take_off_picture": _job("picture"),
    "sign_receipt": _job("delivery", name="A driver", signature=SIGNED),
    "approvals": _job(**prefixed("sheet", {"ways": ["was", "now"], "note": ""})),
    "hold_spraying": _job("sheet", **prefixed("hold", {"until": _later()})),
    "agree": _job(
        "sheet", variant=lambda w: w.mine.variant.pk, name="Mrs Lind", day="2026-03-03", light="daylight",
        judged_on="panel", tolerance="0.8", signature=SIGNED,
    ),
    "make_viewer_link": _job("sheet", **prefixed("link", {"for_whom": "a designer", "days": "7"})),
    "take_link_back": _job("link"),
    "accept_quote": lambda w: (
        (w.mine.job.pk, 1),
        {"name": "A. Owner", "day": timezone.localdate().isoformat(), "note": "by letter"},
    ),
    "give_quote": lambda w: ((w.mine.job.pk, "surveyed"), {"until": _later()}),
    "charge": _job(**prefixed("line", {"text": "A hinge", "amount": "-12.50"})),
    "learn": _job(**prefixed("lesson", {"text": "Seams take longer"})),
    "claim": _job(
        **prefixed("claim", {"what": "A scuff", "whose": "open", "reported_by": "Mrs Lind", "day": "2026-03-03"}),
        **{"claim-pieces": lambda w: w.mine.piece.pk},
    ),
    "settle_claim": lambda w: ((w.mine.job.pk, _claimed(w)), prefixed("end", {"whose": "ours", "outcome": "mended", "day": "2026-03-04"})),
    "gather_touch_ups": lambda w: ((w.mine.job.pk,), _gathered(w)),
    "pack": _job(stays="to be mended", stay="1", piece=_came_in_now),
    "pack unpack": _job(stays="", unpack="1", piece=lambda w: w.mine.piece.pk),
    "hand_over": _job(to="Mrs Lind", day="2026-03-03", kit=[], note="", signature=SIGNED),
}  # fmt: skip

SENDS = {**BENCH, **COLOUR, **DAYS, **FRONT, **REST, **JOBFILE}
"""Address (and, where it has several acts, a word for which) → what is sent there."""

ELSEWHERE = {
    "come_in": "the door, before anybody is in: tests/workshop/front/test_door.py",
    "sign_in": "its count of wrong tries outlasts the refusal: tests/workshop/front/test_roles.py",
    "sign_out": "says nothing but that nobody acts here: tests/workshop/front/test_roles.py",
    "bring_back": "only into an empty shop: tests/workshop/front/test_copies.py",
    "bring_job": "takes a whole closing file: tests/workshop/closing/test_closing_file.py",
    "pick_patches": "needs a kept photo: tests/workshop/colours/test_colour_readings.py",
}
"""Addresses whose form cannot be sent on these rows, and where they are tested."""


def address(name: str, sent: Sent) -> str:
    """Where it is sent."""
    return reverse(name.split(maxsplit=1)[0], args=sent[0])
