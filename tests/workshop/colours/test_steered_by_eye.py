"""A cup steered by eye alone: a target by a word, looks wet and dry, and advice that never stops against a standing difference."""

import pytest
from django.test import Client

from hidewright import demo
from hidewright.mixing.recipe import recipe_of
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours.cup_actions import read_colour, say_by_eye
from hidewright.workshop.colours.eye_queries import eye_advice, words_of
from hidewright.workshop.colours.models import Reading, Target
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.shelf import vessel_actions as mixing
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo
from workshop.few_pigments import choose_the_best, know_the_few

pytestmark = pytest.mark.django_db


@pytest.fixture
def red_cup(job: Job) -> MixVessel:
    """A cup of the recipe with a third too much red oxide."""
    know_the_few()
    steps.import_readings(job, demo.text("readings.csv"))
    choose_the_best(job)
    chosen = gather.chosen_recipe(job)
    assert chosen is not None
    recipe = recipe_of(chosen.name, chosen.components)
    row = mixing.begin_cup(job, recipe, 150.0, capacity=300.0)
    for key, amount in recipe.amounts(150_000).items():
        mixing.pour(row, key, round(amount * (1.33 if key == "PR101" else 1.0)))
    return row


def at(row: MixVessel) -> str:
    return f"/jobs/{row.job_id}/colour/cups/{row.pk}/"


def test_a_job_begins_with_a_word_and_that_is_undone_whole(visitor: Client, job: Job) -> None:
    assert "I have only my eye" in visitor.get(f"/jobs/{job.pk}/colour/").text
    assert visitor.post(f"/jobs/{job.pk}/colour/word/", {"family-word": "tan"}).status_code == 302
    aimed = gather.target(job)
    assert aimed is not None
    assert aimed.target.name == "tan, a guess"
    assert visitor.post(f"/jobs/{job.pk}/colour/word/", {"family-word": "sunshine"}).status_code == 422
    undo(Act.objects.latest("pk").pk)
    assert gather.target(job) is None
    assert not Reading.objects.filter(job=job, struck=None).exists()
    assert Target.objects.filter(job=job, withdrawn=None).count() == 0


def test_what_was_said_is_read_off_the_look(red_cup: MixVessel) -> None:
    row = say_by_eye(red_cup, [("redder", "clearly"), ("lighter", "a touch")], state="wet")
    words = words_of(row)
    assert words is not None
    assert [(word.word, word.strength) for word in words.said] == [
        ("redder", "clearly"),
        ("lighter", "a touch"),
    ]
    same = words_of(say_by_eye(red_cup, []))
    assert same is not None
    assert same.same


def test_a_cup_that_is_too_red_gets_no_more_red_and_the_pour_is_logged(
    visitor: Client, red_cup: MixVessel
) -> None:
    visitor.post(f"{at(red_cup)}eye/", {"eye-state": "wet", "eye-red": "clearly|redder"})
    advice = eye_advice(red_cup)
    assert advice is not None
    assert advice.act == "pour"
    assert "PR101" not in {lot.partition("/")[0] for lot, _, _ in advice.pours}
    page = visitor.get(at(red_cup)).text
    assert "What now, by eye" in page
    assert "What to add" not in page, "one advice at a time"
    sent = {"seen": str(advice.poured), "add": [f"{lot}|{grams:.6f}" for lot, _, grams in advice.pours]}
    assert visitor.post(f"{at(red_cup)}pour/", sent).status_code == 302
    after = eye_advice(red_cup)
    assert after is not None
    assert after.poured == advice.poured + len(advice.pours)
    assert after.looks == 1, "the look before still counts, of the cup as it was"
    assert after.act == "look", "the cup changed: it must be looked at again"


def test_a_standing_difference_is_never_told_to_stop_and_it_ends_dry(red_cup: MixVessel) -> None:
    say_by_eye(red_cup, [("darker", "much")], state="wet")
    for _ in range(3):
        advice = eye_advice(red_cup)
        assert advice is not None
        assert advice.act != "done"
        say_by_eye(red_cup, [("darker", "much")], state="wet")
    say_by_eye(red_cup, [], state="wet")
    wet = eye_advice(red_cup)
    assert wet is not None
    assert wet.act == "look dry"
    say_by_eye(red_cup, [], state="dry")
    dry = eye_advice(red_cup)
    assert dry is not None
    assert dry.act in ("done", "look again")


def test_an_instrument_that_read_the_cup_has_the_word(red_cup: MixVessel) -> None:
    say_by_eye(red_cup, [("redder", "clearly")])
    read_colour(red_cup, (50.0, 10.0, 12.0))
    assert eye_advice(red_cup) is None
    assert CupSight.objects.count() == 2
