"""Routes of the shop's own: edited as cards, taken into use when they make sense, chosen for a job or a piece, bound to the plan."""

import pytest
from django.test import Client

from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.shipped_routes import SHIPPED
from hidewright.refusals import Refusal
from hidewright.workshop.days import queries as days
from hidewright.workshop.pieces import route_actions as steps
from hidewright.workshop.pieces import route_queries as routes
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.pieces.models import ShopRoute
from hidewright.workshop.room import actions as room
from hidewright.workshop.room.actions import set_skills
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job

pytestmark = pytest.mark.django_db

PIECES = """key,name,group,shape,length,width,thickness,material,condition,sat_on,turned,strip
C1,Seat,Chair,panel,500,400,,leather,worn,yes,,
C2,Back,Chair,panel,500,400,,leather,sound,,,
T1,Trim,Chair,panel,500,100,,plastic,sound,,,
"""


@pytest.fixture
def shop(job: Job) -> Job:
    """A job with three pieces in a shop that can plan them."""
    room.import_tables("key,name,length,depth\na,Table A,3.6,0.9\n")
    room.import_hours(
        "weekday,hours\nMonday,08:00-17:00\nTuesday,08:00-17:00\n", "key,name\nana,Ana\nben,Ben\n"
    )
    import_csv(job, PIECES)
    return job


def kinds_of(job: Job, piece: str) -> list[str]:
    found = next(one for one in days.problem_of(job).jobs if one.piece == piece)
    return [str(o.kind) for o in found.operations]


def version(key: str = "leather") -> int:
    row = ShopRoute.objects.filter(key=key).first()
    return row.version if row else 0


def number_of(kind: Kind, key: str = "leather") -> int:
    found = routes.shown(key, "metric").route.steps
    return next(n for n, step in enumerate(found) if step.kind is kind)


def post(visitor: Client, url: str, key: str = "leather", **data: object) -> str:
    answer = visitor.post(url, {"version": version(key), **data})
    assert answer.status_code in (302, 422), answer.content.decode()
    return answer.content.decode() if answer.status_code == 422 else ""


def test_the_list_shows_every_route_and_whom_it_serves(visitor: Client, shop: Job) -> None:
    page = visitor.get("/routes/").content.decode()
    for route in SHIPPED:
        assert route.name in page
    assert f"Serves 2 of {shop.name}" in page
    assert "as shipped" in page


def test_a_step_is_taken_out_in_a_draft_and_counts_only_once_it_is_in_use(visitor: Client, shop: Job) -> None:
    before = kinds_of(shop, "C1")
    post(visitor, f"/routes/leather/steps/{number_of(Kind.WIPE_IN)}/", out="1")
    assert kinds_of(shop, "C1") == before
    page = visitor.get("/routes/leather/").content.decode()
    assert "The changes are not in use yet" in page
    post(visitor, "/routes/leather/settle/", use="1")
    assert kinds_of(shop, "C1") == [kind for kind in before if kind != "wipe in colour"]
    assert "changed by the shop" in visitor.get("/routes/").content.decode()


def test_steps_are_moved_added_and_each_change_can_be_undone(visitor: Client, shop: Job) -> None:
    shipped = routes.shown("leather", "metric").route
    post(visitor, f"/routes/leather/steps/{number_of(Kind.INSPECT)}/", up="1")
    page = visitor.get("/routes/leather/").content.decode()
    assert "It is inspected before it is unmasked." in page
    post(visitor, "/routes/leather/add/", what="sand", place="before coating|3")
    assert [str(s.kind) for s in routes.shown("leather", "metric").route.steps][:4] == [
        "strip",
        "clean",
        "repair",
        "sand",
    ]
    for _ in range(2):
        acts.undo(Act.objects.filter(undone=None)[0].pk)
    assert routes.shown("leather", "metric").route == shipped
    assert not routes.shown("leather", "metric").is_draft


def test_a_route_that_makes_no_sense_is_not_taken_into_use(visitor: Client, shop: Job) -> None:
    before = kinds_of(shop, "C1")
    for _ in range(2):
        post(visitor, f"/routes/leather/steps/{number_of(Kind.TURN)}/", down="1")
    words = post(visitor, "/routes/leather/settle/", use="1")
    assert "makes no sense yet" in words
    assert "not the first step of its side" in words
    assert kinds_of(shop, "C1") == before


def test_minutes_and_drying_of_its_own_reach_the_plan(visitor: Client, shop: Job) -> None:
    number = number_of(Kind.SPRAY)
    told = {"where": "everywhere", "fixed": "10", "per_area": "50", "dry": "75"}
    post(visitor, f"/routes/leather/steps/{number}/", **told)
    post(visitor, "/routes/leather/settle/", use="1")
    found = next(one for one in days.problem_of(shop).jobs if one.piece == "C2")
    spray = next(o for o in found.operations if o.kind is Kind.SPRAY)
    assert (spray.minutes, spray.dry) == (20, 75)


def test_minutes_a_square_foot_are_taken_as_such(visitor: Client, shop: Job) -> None:
    visitor.post(
        "/shop/", {"name": "S", "units": "us", "currency": "$", "balance_step": "0.1", "drop": "0.05"}
    )
    told = {"where": "everywhere", "fixed": "10", "per_area": "9.290304", "dry": ""}
    post(visitor, f"/routes/leather/steps/{number_of(Kind.SPRAY)}/", **told)
    step = routes.shown("leather", "us").route.steps[number_of(Kind.SPRAY)]
    assert step.per_m2 == pytest.approx(100)
    assert "9.3 min a ft²" in visitor.get("/routes/leather/").content.decode()


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ({"fixed": "5", "per_area": "", "dry": ""}, "Fill in both"),
        ({"fixed": "-5", "per_area": "1", "dry": ""}, "At least 0"),
        ({"fixed": "", "per_area": "", "dry": "999999"}, "At most 20160"),
        ({"fixed": "nan", "per_area": "1", "dry": ""}, "“nan” is not a number"),
        ({"where": "nowhere"}, "Select a valid choice"),
    ],
)
def test_nonsense_about_a_step_is_refused(
    visitor: Client, shop: Job, told: dict[str, str], words: str
) -> None:
    refused = post(visitor, "/routes/leather/steps/3/", **{"where": "everywhere", **told})
    assert words in refused
    assert not routes.shown("leather", "metric").is_draft


def test_the_last_coat_does_not_dry_less_than_it_cures(visitor: Client, shop: Job) -> None:
    told = {"where": "everywhere", "fixed": "", "per_area": "", "dry": "60"}
    post(visitor, f"/routes/leather/steps/{number_of(Kind.CLEAR)}/", **told)
    assert "turned or moved after 60 min; it cures 840 min" in post(
        visitor, "/routes/leather/settle/", use="1"
    )


def test_two_tablets_at_once_do_not_overwrite_each_other(visitor: Client, shop: Job) -> None:
    """The second tablet still shows what was there before the first one changed it."""
    shown_to_both = version()
    first = visitor.post("/routes/leather/steps/0/", {"version": shown_to_both, "out": "1"})
    second = visitor.post("/routes/leather/steps/0/", {"version": shown_to_both, "out": "1"})
    assert (first.status_code, second.status_code) == (302, 422)
    assert "Somebody changed this route meanwhile" in second.content.decode()
    assert len(routes.shown("leather", "metric").route.steps) == len(SHIPPED[0].steps) - 1
    row = ShopRoute.objects.get(key="leather")
    steps.use("leather", row.version)
    with pytest.raises(Refusal, match="meanwhile"):
        steps.remove_step("leather", row.version, 0)


def test_an_undo_that_comes_too_late_is_refused_and_nothing_is_lost(visitor: Client, shop: Job) -> None:
    steps.remove_step("leather", version(), 0)
    first = Act.objects.order_by("-id")[0]
    steps.remove_step("leather", version(), 0)
    now = routes.shown("leather", "metric").route
    with pytest.raises(Refusal, match="changed since"):
        acts.undo(first.pk)
    assert routes.shown("leather", "metric").route == now


def test_a_copy_is_the_shops_own_and_goes_before_the_others(visitor: Client, shop: Job) -> None:
    answer = visitor.post("/routes/leather/settle/", {"version": 0, "copy": "1", "name": "Worn leather"})
    assert answer.headers["Location"] == "/routes/own-worn-leather/"
    head = {"name": "Worn leather", "materials": ["leather"], "conditions": ["worn"], "strip": ""}
    post(
        visitor,
        "/routes/own-worn-leather/head/",
        "own-worn-leather",
        **head,
    )
    post(visitor, "/routes/own-worn-leather/settle/", "own-worn-leather", use="1")
    assert routes.served(shop) == {"own-worn-leather": ["C1"], "leather": ["C2"], "plastic": ["T1"]}
    again = visitor.post("/routes/leather/settle/", {"version": 0, "copy": "1", "name": "Worn leather"})
    assert "There is a route “Worn leather” already" in again.content.decode()
    post(visitor, "/routes/own-worn-leather/settle/", "own-worn-leather", away="1")
    assert routes.served(shop)["leather"] == ["C1", "C2"]
    acts.undo(Act.objects.order_by("-id")[0].pk)
    assert routes.served(shop)["own-worn-leather"] == ["C1"]


def test_a_shipped_route_goes_back_to_how_it_was_shipped(visitor: Client, shop: Job) -> None:
    before = kinds_of(shop, "C1")
    post(visitor, f"/routes/leather/steps/{number_of(Kind.WIPE_IN)}/", out="1")
    post(visitor, "/routes/leather/settle/", use="1")
    post(visitor, "/routes/leather/settle/", reset="1")
    assert kinds_of(shop, "C1") == before
    assert not routes.shown("leather", "metric").differs


def test_taking_into_use_is_undone_unless_it_was_changed_since(visitor: Client, shop: Job) -> None:
    steps.remove_step("leather", version(), number_of(Kind.WIPE_IN))
    steps.use("leather", version())
    use = Act.objects.order_by("-id")[0]
    acts.undo(use.pk)
    assert "wipe in colour" in kinds_of(shop, "C1")
    assert routes.shown("leather", "metric").is_draft
    steps.use("leather", version())
    use = Act.objects.order_by("-id")[0]
    steps.reset("leather", version())
    with pytest.raises(Refusal, match="changed since"):
        acts.undo(use.pk)


def test_changes_are_thrown_away(visitor: Client, shop: Job) -> None:
    post(visitor, "/routes/leather/steps/0/", out="1")
    post(visitor, "/routes/leather/settle/", throw="1")
    assert routes.shown("leather", "metric").route == SHIPPED[0]


def test_a_job_and_a_piece_take_another_route_and_give_it_back(visitor: Client, shop: Job) -> None:
    page = f"/jobs/{shop.pk}/routes/"
    visitor.post(page, {"everything": "on", "route": "wood"})
    visitor.post(page, {"pieces": ["C2"], "route": "leather"})
    assert routes.served(shop) == {"wood": ["C1", "T1"], "leather": ["C2"]}
    assert "wipe in colour" not in kinds_of(shop, "C1")
    shown = visitor.get(page).content.decode()
    assert "<strong>All pieces</strong>: Wood" in shown
    choice = shop.route_choices.get(piece="", withdrawn=None)
    visitor.post(f"{page}{choice.pk}/give-back/")
    assert routes.served(shop) == {"leather": ["C1", "C2"], "plastic": ["T1"]}
    acts.undo(Act.objects.order_by("-id")[0].pk)
    assert routes.served(shop)["wood"] == ["C1", "T1"]


@pytest.mark.parametrize(
    "told", [{"route": "leather"}, {"everything": "on", "route": "x"}, {"pieces": ["X9"], "route": ""}]
)
def test_a_choice_of_nothing_is_refused(visitor: Client, shop: Job, told: dict[str, object]) -> None:
    assert visitor.post(f"/jobs/{shop.pk}/routes/", told).status_code == 422
    assert not shop.route_choices.exists()


def test_a_piece_for_which_no_route_is_stops_the_plan_in_words(visitor: Client, shop: Job) -> None:
    head = {"name": "Leather", "materials": ["leather"], "conditions": ["damaged"], "strip": ""}
    post(visitor, "/routes/leather/head/", **head)
    post(visitor, "/routes/leather/settle/", use="1")
    with pytest.raises(Refusal, match="No route is for leather, worn, not stripped"):
        days.problem_of(shop)
    assert "no route is for C1, C2" in visitor.get("/routes/").content.decode()
    assert "no route" in visitor.get(f"/jobs/{shop.pk}/routes/").content.decode()


def test_who_can_do_a_step_is_shown(visitor: Client, shop: Job) -> None:
    from hidewright.workshop.shop.models import Person

    for person in Person.objects.all():
        set_skills(person, ["strip", "clean"] if person.name == "Ana" else ["clean", "sand"])
    page = visitor.get("/routes/leather/").content.decode()
    assert "hands of Ana" in page
    assert "nobody does this" in page


def test_a_route_that_is_not_there_is_not_found(visitor: Client, shop: Job) -> None:
    assert visitor.get("/routes/own-nothing/").status_code == 404
    assert visitor.post("/routes/own-nothing/settle/", {"version": 0, "use": "1"}).status_code == 404


def test_a_step_of_the_shops_own_is_read_planned_and_undone(visitor: Client, shop: Job) -> None:
    after = number_of(Kind.MASK) + 1
    own = {
        "name": "fit tubes over posts",
        "place": f"each side|{after}",
        "fixed": "12",
        "where": "everywhere",
    }
    post(visitor, "/routes/leather/add/", **own, per_area="", dry="30", family="")
    added = routes.shown("leather", "metric").route.steps[after]
    assert (added.kind, added.name, added.per_m2) == (Kind.OWN_MASK, "fit tubes over posts", 0), (
        "it is work of the step before it"
    )
    page = visitor.get("/routes/leather/").content.decode()
    assert "<strong>Fit tubes over posts</strong>" in page
    assert page.count('name="fixed"') == 1, "no form a step: only that of a new one"
    assert "12 min a piece; dries 30 min" in page
    other = {"name": "", "where": "everywhere", "fixed": "14", "per_area": "", "dry": "30"}
    post(visitor, f"/routes/leather/steps/{after}/", **other)
    post(visitor, "/routes/leather/settle/", use="1")
    seat = next(one for one in days.problem_of(shop).jobs if one.piece == "C1")
    fitted = [o for o in seat.operations if o.name == "fit tubes over posts"]
    assert [(o.minutes, o.dry, o.pass_key) for o in fitted] == [(14, 30, "front")]
    for _ in range(3):
        acts.undo(Act.objects.filter(undone=None)[0].pk)
    assert routes.shown("leather", "metric").route == SHIPPED[0]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"fixed": "-1"}, "At least 0"),
        ({"name": "a/b"}, "A name has no “/”"),
        ({"place": "each side|99"}, "Select a valid choice"),
    ],
)
def test_a_step_of_the_shops_own_that_cannot_be_is_refused(
    visitor: Client, shop: Job, wrong: dict[str, str], words: str
) -> None:
    own = {"name": "degrease", "place": "each side|4", "fixed": "5", "where": "everywhere"}
    assert words in post(visitor, "/routes/leather/add/", **{**own, **wrong})
    assert not routes.shown("leather", "metric").is_draft


def test_one_line_is_open_at_a_time(visitor: Client, shop: Job) -> None:
    closed = visitor.get("/routes/leather/").content.decode()
    opened = visitor.get("/routes/leather/?step=2").content.decode()
    assert ("step-open" in closed, opened.count("step-open")) == (False, 1)
    assert visitor.get("/routes/leather/?step=9999999").content.decode().count("step-open") == 0
