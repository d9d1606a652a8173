"""A cup of one's own: begun with a word or with nothing, poured in parts and drops in any order, liked, and made the recipe."""

import re

import pytest
from django.test import Client

from hidewright.colour.light import cie
from hidewright.mixing.ledger import volume
from hidewright.refusals import Refusal
from hidewright.units import US_GALLON_ML
from hidewright.workshop.colours import own_actions as steps
from hidewright.workshop.colours import own_queries as gather
from hidewright.workshop.colours.eye_queries import eye_advice
from hidewright.workshop.colours.queries import chosen_recipe, target
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pigments.values import pigments
from hidewright.workshop.shelf.models import MixVessel, Pigment
from hidewright.workshop.shelf.vessel_queries import ledger_of
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo
from workshop.few_pigments import know_the_few

pytestmark = pytest.mark.django_db


@pytest.fixture
def cup(job: Job) -> MixVessel:
    """An own cup of 500 mL with parts of 20 mL, and four known pigments on the shelf."""
    know_the_few()
    return steps.begin(job, steps.Start("Mine", 500.0, 20.0))


def poured(row: MixVessel) -> float:
    """mL in it."""
    return volume(ledger_of([row]), row.key) / 1000


def test_a_word_a_piece_and_parts_on_the_page(visitor: Client, job: Job) -> None:
    know_the_few()
    Piece.objects.create(job=job, key="S1", name="Seat", shape="panel", length=0.5, width=0.5)
    begin = f"/jobs/{job.pk}/colour/own/"
    assert "I just pour until I like it" in visitor.get(begin).text
    sent = {"word": "tan", "piece": "S1 Seat", "part": "20 mL", "capacity": "500 mL", "name": ""}
    where = visitor.post(begin, sent).headers["Location"]
    aimed = target(job)
    assert aimed is not None
    assert aimed.target.name == "tan, a guess for S1 Seat"
    assert "word" not in re.findall(r'name="(\w+)"', visitor.get(begin).text), "a target is in force"
    for what, value, unit in (("PW6", "1/2", "parts"), ("base", "3", "parts"), ("PR101", "8", "drops")):
        answer = visitor.post(f"{where}pour/", {"what": what, "value": value, "unit": unit})
        assert answer.status_code == 302, answer.text
    row = MixVessel.objects.get()
    assert poured(row) == pytest.approx(10 + 60 + 8 * the_shop().drop)
    page = visitor.get(where).text
    assert "What it should be" in page
    assert "Hold it against the piece" in page
    assert visitor.post(f"{where}pour/", {"what": "PW6", "value": "0", "unit": "g"}).status_code == 422
    assert visitor.post(f"{where}pour/", {"what": "PV19", "value": "1", "unit": "g"}).status_code == 422


def test_base_to_add_and_what_the_pigment_makes_by_arithmetic(cup: MixVessel, job: Job) -> None:
    """30 mL of pigment and 20 mL of base: the window of 16 to 20 % is reached with 150 to 187.5 mL in all."""
    steps.pour(cup, "PW6", 1.0, "parts")
    steps.pour(cup, "PY42", 10.0, "mL")
    steps.pour(cup, "base", 1.0, "parts")
    own = gather.own_cup(job, cup)
    assert own.load == pytest.approx(60.0)
    assert own.base_ml == pytest.approx((100.0, 137.5), abs=0.01)
    assert own.mix is not None
    assert own.mix.makes_ml == pytest.approx((150.0, 187.5))
    steps.pour(cup, "base", 1.0, "cups")
    own = gather.own_cup(job, cup)
    assert own.mix is not None
    assert own.load == pytest.approx(100 * 30 / (50 + US_GALLON_ML / 16))
    grams = dict(own.more)
    density = {p.name: p.density for p in pigments()}
    more = {name: each / density[name] for name, each in grams.items()}
    whole = 50 + US_GALLON_ML / 16 + sum(more.values())
    assert (30 + sum(more.values())) / whole == pytest.approx(0.16, abs=2e-3)


def test_pigment_first_is_the_same_cup_as_base_first(cup: MixVessel, job: Job) -> None:
    twin = steps.begin(job, steps.Start("Second", 500.0, 20.0))
    order = (("PW6", 30.0), ("PBk7", 2.0), ("base", 150.0))
    for what, value in order:
        steps.pour(cup, what, value, "g")
    for what, value in reversed(order):
        steps.pour(twin, what, value, "g")
    one, other = gather.forecast_of(cup).lab(), gather.forecast_of(twin).lab()
    assert float(cie.delta_e00(one, other)) < 0.01


def test_a_leftover_changes_the_colour_its_way_and_is_undone_whole(cup: MixVessel, job: Job) -> None:
    steps.pour(cup, "PW6", 30.0, "g")
    steps.pour(cup, "base", 100.0, "mL")
    before, held = gather.own_cup(job, cup), poured(cup)
    assert before.state is not None
    steps.pour_leftover(cup, "old navy", (26.0, 0.0, -11.0), 60.0)
    after = gather.own_cup(job, cup)
    assert after.state is not None
    assert after.state.forecast.lab()[0] < before.state.forecast.lab()[0] - 5, "darker"
    assert after.state.forecast.lab()[2] < before.state.forecast.lab()[2] - 2, "bluer"
    assert after.state.spread > before.state.spread, "nobody knows what is in it"
    assert len(pigments()) == 4, "a leftover is no pigment of the shelf"
    assert "old navy" not in dict(gather.bottles()).values()
    with pytest.raises(Refusal, match="nobody knows how to mix more"):
        steps.like(cup)
    undo(Act.objects.latest("pk").pk)
    assert poured(cup) == pytest.approx(held)
    assert not Pigment.objects.filter(load__lt=1, active=True).exists()
    assert gather.own_cup(job, cup).load == pytest.approx(before.load)


def test_what_is_liked_becomes_the_recipe_and_the_target_where_there_was_none(
    visitor: Client, cup: MixVessel, job: Job
) -> None:
    where = f"/jobs/{job.pk}/colour/own/{cup.pk}/"
    steps.pour(cup, "PW6", 20.0, "mL")
    steps.pour(cup, "PR101", 5.0, "mL")
    assert visitor.post(f"{where}like/", {"like-name": "Rose"}).status_code == 422, "no base yet"
    steps.pour(cup, "base", 125.0, "mL")
    assert eye_advice(cup) is None, "nothing is aimed at"
    assert visitor.post(f"{where}like/", {"like-name": "Rose"}).status_code == 302
    chosen, aimed = chosen_recipe(job), target(job)
    assert chosen is not None
    assert aimed is not None
    assert chosen.name == "Rose"
    assert {part.key: round(part.volume, 1) for part in chosen.components} == {
        "PW6": 133.3,
        "PR101": 33.3,
        "base": 833.3,
    }
    assert chosen.recipe.delta_e["D65"] < 0.05, "it is its own target"
    assert "It is the recipe" in visitor.get(where).text
    undo(Act.objects.filter(job=job).latest("pk").pk)
    assert chosen_recipe(job) is None
    assert target(job) is None


def test_a_cup_of_a_recipe_and_a_part_larger_than_the_cup_are_refused(visitor: Client, job: Job) -> None:
    other = MixVessel.objects.create(job=job, kind="cup", name="With a recipe", capacity=100_000)
    assert visitor.get(f"/jobs/{job.pk}/colour/own/{other.pk}/").status_code == 404
    with pytest.raises(Refusal, match="One part must fit"):
        steps.Start("", 10.0, 20.0)
