"""A cup steered by eye alone: a target by a word, looks wet and dry, and advice that never stops against a standing difference."""

import re
from urllib.parse import parse_qs, urlsplit

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from hidewright import demo
from hidewright.mixing.recipe import recipe_of
from hidewright.refusals import Refusal
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours.cup_actions import Against, read_colour, say_by_eye
from hidewright.workshop.colours.eye_queries import eye_advice, eye_state
from hidewright.workshop.colours.models import Reading, Target
from hidewright.workshop.pigments import knowledge as told
from hidewright.workshop.pigments import memory
from hidewright.workshop.pigments.knowledge import pours_of
from hidewright.workshop.pigments.learning_actions import learn_anew
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.shelf import vessel_actions as mixing
from hidewright.workshop.shelf.models import MixMove, MixVessel
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo
from workshop.few_pigments import choose_the_best, know_the_few
from workshop.sticks import stick_picture

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


def test_a_look_keeps_both_sides_and_the_words_and_no_colour(red_cup: MixVessel) -> None:
    row = say_by_eye(red_cup, [("redder", "clearly"), ("lighter", "a touch")], state="wet")
    assert row.said == [["redder", "clearly"], ["lighter", "a touch"]]
    assert row.lab is None
    assert row.reflectance is None
    assert row.aimed == Target.objects.get().reading
    assert say_by_eye(red_cup, []).said == [], "no words are the same, not nothing"


def another(row: MixVessel, **times: float) -> MixVessel:
    """A second cup like the first, some of its parts so many times as much."""
    twin = MixVessel.objects.create(job=row.job, kind="cup", name="Second cup", capacity=row.capacity)
    for component, amount in MixMove.objects.filter(target=row.key).values_list("component", "amount"):
        mixing.pour(twin, component, round(amount * times.get(component, 1.0)))
    return twin


def test_a_cup_against_a_cup_is_kept_as_it_was_then_and_teaches_the_bottle(red_cup: MixVessel) -> None:
    """The second cup holds twice the black: how much darker it looks beside the first says how strong the black is, and nothing of the piece."""
    twin = another(red_cup, PBk7=2.0)
    names = told.knowledge().stock
    before = memory.known().strength("PBk7")
    row = say_by_eye(twin, [("darker", "far off")], against=Against(red_cup))
    assert [lot for lot, _ in row.beside_pours] == [lot for lot, _ in pours_of(red_cup)]
    mixing.pour(red_cup, "PW6", 5_000)
    after = memory.known().strength("PBk7")
    assert after[0] != pytest.approx(before[0], rel=1e-3)
    assert after[1] < before[1]
    assert memory.known().stock.size == names.size
    with pytest.raises(Refusal, match="itself"):
        say_by_eye(twin, [], against=Against(twin))


def test_what_an_eye_taught_stays_for_the_next_job_and_is_forgotten_and_remembered(
    visitor: Client, red_cup: MixVessel
) -> None:
    say_by_eye(red_cup, [("redder", "much")])
    say_by_eye(another(red_cup, PR101=0.6), [("greener", "clearly")], against=Against(red_cup))
    fresh, taught = told.knowledge().strength("PR101"), memory.known().strength("PR101")
    assert taught[1] < fresh[1], "the bottle is surer than by its readings alone"
    assert [eye.looks for eye in memory.eyes()] == [2]
    page = visitor.get("/eye/").text
    assert "times as large as usual" in page
    assert visitor.post("/pigments/learn-anew/", {"lot": memory.EYE}).headers["Location"] == "/eye/"
    assert memory.eyes() == []
    assert memory.known().strength("PR101")[1] == pytest.approx(taught[1], rel=0.05), "the bottles stay"
    undo(Act.objects.latest("pk").pk)
    assert [eye.looks for eye in memory.eyes()] == [2]
    learn_anew()
    assert memory.known().strength("PR101") == pytest.approx(fresh)
    undo(Act.objects.latest("pk").pk)
    assert memory.known().strength("PR101") == pytest.approx(taught)


def test_an_instrument_bought_later_reads_the_piece_and_nothing_said_is_lost(
    red_cup: MixVessel, job: Job
) -> None:
    """Three looks while only a word was known of the piece; then its reading becomes the target, and the looks still count."""
    steps.aim_at_family(job, "tan")
    say_by_eye(red_cup, [("redder", "clearly")])
    wide = eye_state(red_cup)
    steps.import_readings(job, demo.text("readings.csv"))
    narrow = eye_state(red_cup)
    assert wide is not None
    assert narrow is not None
    assert len(narrow.rows) == 1
    assert narrow.target_spread < 0.5 * wide.target_spread
    assert {side.name for side in (c.b for c in narrow.now.job.comparisons)} == {"piece"}  # type: ignore[union-attr]
    steps.shift_target(job, "lighter", 5.0)
    shifted = eye_state(red_cup)
    assert shifted is not None
    assert {side.name for side in (c.b for c in shifted.now.job.comparisons)} != {"piece"}, "another thing"  # type: ignore[union-attr]


def test_a_stick_photo_finds_its_marks_shows_the_difference_and_feeds_the_estimate(
    visitor: Client, red_cup: MixVessel
) -> None:
    data = stick_picture((120, 88, 60), (150, 118, 88))
    sent = {"photo": SimpleUploadedFile("s.png", data), "against": "piece", "state": "wet", "sample": ""}
    answer = visitor.post(f"{at(red_cup)}stick/", sent)
    assert answer.status_code == 302
    where = answer.headers["Location"]
    assert "x1=" in where, "found by itself"
    assert re.search(r"<b>[1-9]\d*\.\d darker</b>", visitor.get(where).text)
    fields = {key: value[0] for key, value in parse_qs(urlsplit(where).query).items()}
    refused = visitor.post(f"{at(red_cup)}stick/keep/", {**fields, "x2": fields["x1"], "y2": fields["y1"]})
    assert refused.status_code == 422
    assert "overlap" in refused.text
    assert visitor.post(f"{at(red_cup)}stick/keep/", fields).status_code == 302
    row = CupSight.objects.get(source="photo")
    assert row.delta[0] < -5
    assert row.state == "wet"
    now = eye_state(red_cup)
    assert now is not None
    assert now.lab[0] < now.now.target[0] - 2, "the cup is darker than the piece"


def test_a_photo_in_which_nothing_is_found_asks_for_two_taps(visitor: Client, red_cup: MixVessel) -> None:
    data = stick_picture((120, 88, 60), (120, 88, 60))
    sent = {"photo": SimpleUploadedFile("s.png", data), "against": "piece", "state": "dry", "sample": ""}
    where = visitor.post(f"{at(red_cup)}stick/", sent).headers["Location"]
    assert "x1=" not in where
    page = visitor.get(where).text
    assert "Tap first on the colour of" in page
    assert "See the difference" in page
    assert visitor.get(f"{at(red_cup)}stick/?picture=gone").status_code == 404


def test_a_cup_that_is_too_red_gets_no_more_red_and_the_pour_is_logged(
    visitor: Client, red_cup: MixVessel
) -> None:
    visitor.post(f"{at(red_cup)}eye/", {"eye-state": "wet", "eye-red": "clearly|redder"})
    advice = eye_advice(red_cup)
    assert advice is not None
    assert advice.act == "pour"
    assert "PR101" not in {lot.partition("/")[0] for lot, *_ in advice.pours}
    page = visitor.get(at(red_cup)).text
    assert "What now, by eye" in page
    assert "What to add" not in page, "one advice at a time"
    sent = {"seen": str(advice.poured), "add": [f"{lot}|{grams:.6f}" for lot, _, grams, *_ in advice.pours]}
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
