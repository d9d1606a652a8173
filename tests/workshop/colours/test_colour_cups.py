"""A cup's colour: readings kept with what was in it, advice, pours logged on the bench, and what the shop learns."""

import re
from datetime import date
from html import unescape

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from hidewright import demo
from hidewright.colour.learning.cup_rows import LEFT, STRAYS
from hidewright.colour.learning.lots import USUAL
from hidewright.colour.light import cie
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.reading.readings import Reading
from hidewright.mixing.recipe import recipe_of
from hidewright.refusals import Refusal
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import cup_actions as cup_steps_cup_actions
from hidewright.workshop.colours import cup_queries as told_cup_queries
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours.eye_queries import eye_state
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pigments import knowledge as told
from hidewright.workshop.pigments import learning_actions as cup_steps
from hidewright.workshop.pigments import values as gather_values
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.shelf import vessel_actions as mixing
from hidewright.workshop.shelf.models import MixVessel, Pigment, PigmentLot
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job, Run, RunState
from workshop.few_pigments import choose_the_best, know_the_few

pytestmark = pytest.mark.django_db

BATCH = 150_000


@pytest.fixture
def aimed(job: Job) -> Job:
    """A job with a target, four known pigments and a chosen recipe."""
    know_the_few()
    steps.import_readings(job, demo.text("readings.csv"))
    choose_the_best(job)
    return job


def a_cup(job: Job, *, slip: str = "", by: float = 1.0, lot: str = "") -> MixVessel:
    """A cup of the chosen recipe, one pigment poured `by` times as much."""
    chosen = gather.chosen_recipe(job)
    assert chosen is not None
    recipe = recipe_of(chosen.name, chosen.components)
    row = mixing.begin_cup(job, recipe, 150.0, capacity=300.0, hexes=chosen.hexes, mixed_hex=chosen.hex)
    for key, amount in recipe.amounts(BATCH).items():
        mixing.pour(row, key, round(amount * (by if key == slip else 1.0)), lot=lot if key != "base" else "")
    return row


@pytest.fixture
def slipped(aimed: Job) -> MixVessel:
    """A cup with nearly a third too much red oxide."""
    return a_cup(aimed, slip="PR101", by=1.3)


def test_a_cup_poured_to_the_recipe_is_told_to_stop(aimed: Job) -> None:
    state = told_cup_queries.cup_state(aimed, a_cup(aimed))
    assert state is not None
    assert state.advice is not None
    assert state.advice.stop, state.delta
    assert state.spread > 0.3, "nothing was read yet, so the forecast is wide"


def test_advice_brings_a_slipped_cup_back_and_never_takes_out(aimed: Job, slipped: MixVessel) -> None:
    state = told_cup_queries.cup_state(aimed, slipped)
    assert state is not None
    assert state.delta is not None
    assert state.advice is not None
    assert state.delta > 1.0
    best = state.advice.additions[0]
    assert min(best.grams.values()) > 0
    assert best.delta_e < 0.5
    cup_steps_cup_actions.pour_addition(aimed, slipped, best.grams, seen=len(state.pours))
    after = told_cup_queries.cup_state(aimed, slipped)
    assert after is not None
    assert after.delta == pytest.approx(best.delta_e, abs=0.15)
    assert after.pours[: len(state.pours)] == state.pours, "nothing that was poured is unpoured"


def test_advice_that_is_out_of_date_pours_nothing(aimed: Job, slipped: MixVessel) -> None:
    state = told_cup_queries.cup_state(aimed, slipped)
    assert state is not None
    assert state.advice is not None
    grams = state.advice.additions[0].grams
    cup_steps_cup_actions.pour_addition(aimed, slipped, grams, seen=len(state.pours))
    with pytest.raises(Refusal, match="since this was advised"):
        cup_steps_cup_actions.pour_addition(aimed, slipped, grams, seen=len(state.pours))
    assert len(told.pours_of(slipped)) == len(state.pours) + len(grams)


def test_a_reading_of_a_cup_that_was_taken_without_the_shine_is_brought_alike(aimed: Job) -> None:
    cup = a_cup(aimed)
    row = cup_steps_cup_actions.read_cup(cup, Reading("drawdown", np.full(31, 0.012)))
    assert row.reflectance == pytest.approx([0.052] * 31)
    assert "without the shine" in row.note


def test_a_reading_narrows_the_spread_and_teaches_the_pigments(aimed: Job) -> None:
    cup = a_cup(aimed)
    before = told_cup_queries.cup_state(aimed, cup)
    assert before is not None
    darker = np.clip(before.forecast.reflectance * 0.95, 0, 1)
    cup_steps_cup_actions.read_cup(cup, Reading("drawdown", darker))
    after = told_cup_queries.cup_state(aimed, cup)
    assert after is not None
    assert after.spread < 0.5 * before.spread
    assert after.forecast.lab()[0] == pytest.approx(cie.lab(darker)[0], abs=0.3)
    assert cup_steps.learn_now() == 4
    learned = Pigment.objects.get(key="PW6").learned
    assert learned is not None
    assert learned["readings"] == 1
    assert learned["sd"] < 0.1
    recipe_pigment = next(p for p in gather_values.pigments() if p.key == "PW6")
    assert np.allclose(recipe_pigment.k, learned["k"]), "recipes use what was learned"


def test_striking_a_reading_out_forgets_it(aimed: Job) -> None:
    cup = a_cup(aimed)
    row = cup_steps_cup_actions.read_cup(cup, Reading("odd", np.full(31, 0.3)))
    with pytest.raises(Refusal, match="why"):
        cup_steps_cup_actions.strike_sight(row, note=" ")
    cup_steps_cup_actions.strike_sight(row, note="read the wrong jar")
    cup_steps.learn_now()
    assert Pigment.objects.get(key="PW6").learned is None
    assert CupSight.objects.count() == 2, "the reading and its counter-entry stay on record"
    with pytest.raises(Refusal, match="already"):
        cup_steps_cup_actions.strike_sight(row, note="again")


def test_learning_anew_counts_only_later_readings_and_is_undone(aimed: Job) -> None:
    cup_steps_cup_actions.read_cup(a_cup(aimed), Reading("drawdown", np.full(31, 0.3)))
    cup_steps.learn_anew()
    assert told.standing_sights() == []
    acts.undo(Act.objects.order_by("-id")[0].pk)
    assert len(told.standing_sights()) == 1


def read_as_foretold(job: Job, cup: MixVessel) -> None:
    """A reading that says just what was foretold: it narrows what is known and moves nothing."""
    state = told_cup_queries.cup_state(job, cup)
    assert state is not None
    cup_steps_cup_actions.read_cup(cup, Reading("drawdown", state.forecast.reflectance))


def test_one_lot_is_learned_anew_and_nothing_else(aimed: Job, visitor: Client) -> None:
    """The red's own spread goes back to where it began; what the same cups told of white stays."""
    for key in ("PW6", "PY42", "PBk7", "PR101"):
        PigmentLot.objects.create(pigment=Pigment.objects.get(key=key), name="A", opened="2026-03-01")
    for by in (1.0, 1.4):
        read_as_foretold(aimed, a_cup(aimed, slip="PR101", by=by, lot="A"))
    fresh = told.knowledge(["PR101#A"], without=None).stock
    before = told.knowledge(told.current_lots().values())
    first = type(before).fresh(fresh).strength("PR101#A")[1]
    assert before.strength("PR101#A")[1] < 0.7 * first
    answer = visitor.post("/pigments/learn-anew/", {"lot": "PR101#A"})
    assert answer.status_code == 302
    after = told.knowledge(told.current_lots().values())
    assert after.strength("PR101#A") == pytest.approx((1.0, first), rel=1e-6)
    assert after.strength("PW6#A") == pytest.approx(before.strength("PW6#A"), rel=0.02)
    cup_steps.learn_now()
    learned = Pigment.objects.get(key="PR101").learned
    assert learned is None, "nothing is left that tells of it"
    white = Pigment.objects.get(key="PW6")
    assert ["PW6#A", 2] in [[lot[0], lot[3]] for lot in white.learned["lots"]]  # type: ignore[index]
    page = unescape(visitor.get(f"/pigments/{white.pk}/").content.decode())
    assert "from 2 readings of cups" in page
    assert "Readings that count (2)" in page
    acts.undo(Act.objects.filter(undo_name="cups.anew").latest("pk").pk)
    again = told.knowledge(told.current_lots().values())
    assert again.strength("PR101#A") == pytest.approx(before.strength("PR101#A"), rel=1e-6)


def test_a_new_bottle_widens_its_own_spread_and_no_other(aimed: Job) -> None:
    row = Pigment.objects.get(key="PR101")
    PigmentLot.objects.create(pigment=row, name="A", opened="2026-03-01")
    for by in (1.0, 1.4):
        read_as_foretold(aimed, a_cup(aimed, slip="PR101", by=by, lot="A"))
    before = told.knowledge(told.current_lots().values())
    PigmentLot.objects.create(pigment=row, name="B", opened="2026-03-05")
    after = told.knowledge(told.current_lots().values())
    assert told.current_lots()["PR101"] == "PR101#B"
    assert after.strength("PR101#B")[1] > 1.3 * before.strength("PR101#A")[1]
    for lot in ("PR101#A", "PW6#A"):
        assert after.strength(lot) == pytest.approx(before.strength(lot), rel=1e-3)


def test_what_an_eye_says_moves_the_cup_that_way(aimed: Job) -> None:
    cup = a_cup(aimed)
    before = eye_state(cup)
    cup_steps_cup_actions.say_by_eye(cup, [("darker", "clearly")])
    after = eye_state(cup)
    assert before is not None
    assert after is not None
    assert after.lab[0] - after.now.target[0] < before.lab[0] - before.now.target[0] - 0.3


def test_a_lot_that_was_logged_is_learned_as_its_own(aimed: Job) -> None:
    row = Pigment.objects.get(key="PR101")
    PigmentLot.objects.create(pigment=row, name="B7", opened="2026-03-01")
    cup = a_cup(aimed, lot="B7")
    assert ("PR101#B7" in dict(told.pours_of(cup))) is True
    cup_steps_cup_actions.read_cup(cup, Reading("drawdown", np.full(31, 0.3)))
    cup_steps.learn_now()
    learned = Pigment.objects.get(key="PR101").learned
    assert learned is not None
    assert learned["lot"] == "PR101#B7"


def test_a_pair_of_wet_and_dry_readings_teaches_the_base_s_milk(aimed: Job) -> None:
    cup = a_cup(aimed)
    state = told_cup_queries.cup_state(aimed, cup)
    assert state is not None
    drift = told_cup_queries.wet_drift(state)
    assert drift > 0.5, "a mix dries darker"
    dry = state.forecast.reflectance
    cup_steps_cup_actions.read_cup(cup, Reading("wet", np.clip(dry * 1.25 + 0.02, 0, 1)), state="wet")
    cup_steps_cup_actions.read_cup(cup, Reading("dry", dry))
    assert told.milk().pairs == 1
    stray = told.straying()
    assert told.milk().amplitude_sd >= LEFT * STRAYS[0] * stray.strength, "bottles that stray look like milk"
    assert told.milk().power_sd >= LEFT * STRAYS[1] * stray.shape
    later = told_cup_queries.cup_state(aimed, cup)
    assert later is not None
    assert told_cup_queries.wet_drift(later) != pytest.approx(drift, abs=0.05)


def test_an_empty_cup_and_an_unknown_target_are_told_in_words(visitor: Client, aimed: Job) -> None:
    chosen = gather.chosen_recipe(aimed)
    assert chosen is not None
    row = mixing.begin_cup(aimed, recipe_of("x", chosen.components), 100.0)
    where = f"/jobs/{aimed.pk}/colour/cups/{row.pk}/"
    assert "no pigment in this cup yet" in visitor.get(where).content.decode()
    with pytest.raises(Refusal, match="no pigment in this cup"):
        cup_steps_cup_actions.read_cup(row, Reading("r", np.full(31, 0.3)))


def test_the_page_takes_eye_file_and_numbers_and_logs_pours(
    visitor: Client, aimed: Job, slipped: MixVessel
) -> None:
    where = f"/jobs/{aimed.pk}/colour/cups/{slipped.pk}/"
    sent = {
        "eye-light": "",
        "eye-red": "clearly|redder",
        "eye-yellow": "",
        "eye-clean": "",
        "eye-state": "dry",
    }
    assert visitor.post(f"{where}eye/", sent).status_code == 302
    head = "name," + ",".join(str(nm) for nm in range(400, 701, 10))
    text = "\n".join([head, *(f"r{n}," + ",".join(["0.30"] * 31) for n in range(3))])
    file = SimpleUploadedFile("r.csv", text.encode())
    assert visitor.post(f"{where}file/", {"sight-file": file, "sight-state": "dry"}).status_code == 302
    averaged = CupSight.objects.get(source="file")
    assert averaged.spread == pytest.approx(0.0015 / np.sqrt(3), rel=1e-6)
    typed = {"l": "60", "a": "8", "b": "12", "light": "D65", "observer": "10", "state": "dry"}
    assert visitor.post(f"{where}typed/", {f"lab-{k}": v for k, v in typed.items()}).status_code == 302
    shown = unescape(visitor.get(where).content.decode())
    assert "By eye: clearly redder" in shown
    elsewhere = open_job("Another", starts=date(2026, 3, 2))
    for row in CupSight.objects.all():
        astray = where.replace(f"/jobs/{aimed.pk}/", f"/jobs/{elsewhere.pk}/")
        assert visitor.post(f"{astray}readings/{row.pk}/strike/", {"reason": "astray"}).status_code == 404
        visitor.post(f"{where}readings/{row.pk}/strike/", {"reason": "tried out"})
    shown = visitor.get(where).content.decode()
    adds = re.findall(r'name="add" value="([^"]+)"', shown.split("</form>")[1] + shown)
    seen = re.search(r'name="seen" value="(\d+)"', shown)
    assert adds
    assert seen is not None
    before = len(told.pours_of(slipped))
    assert visitor.post(f"{where}pour/", {"seen": seen[1], "add": adds[:1]}).status_code == 302
    assert len(told.pours_of(slipped)) == before + 1
    assert visitor.post(f"{where}pour/", {"seen": seen[1], "add": adds[:1]}).status_code == 422
    assert visitor.post(f"{where}pour/", {"seen": "99", "add": ["PW6|lots"]}).status_code == 422


def test_near_enough_is_said_with_the_doubt_that_is_left(visitor: Client, aimed: Job) -> None:
    cup = a_cup(aimed)
    where = f"/jobs/{aimed.pk}/colour/cups/{cup.pk}/"
    shown = unescape(visitor.get(where).content.decode())
    assert "likely near enough" in shown
    assert shown.index("Read it first.") < shown.index("By forecast: Stop here")
    cup_steps_cup_actions.say_by_eye(cup, [("yellower", "clearly")])
    shown = unescape(visitor.get(where).content.decode())
    assert "You may stop here" not in shown, "an eye that sees it clearly off is not told to stop"
    state = told_cup_queries.cup_state(aimed, cup)
    assert state is not None
    for _ in range(3):
        cup_steps_cup_actions.read_cup(cup, Reading("drawdown", state.forecast.reflectance))
    shown = unescape(visitor.get(where).content.decode())
    assert ">near enough</span>" in shown


def test_what_an_eye_sees_wet_steers_the_cup_and_is_noted_only_once_an_instrument_reads_it(
    visitor: Client, aimed: Job
) -> None:
    cup = a_cup(aimed)
    where = f"/jobs/{aimed.pk}/colour/cups/{cup.pk}/"
    cup_steps_cup_actions.say_by_eye(cup, [("lighter", "much")], state="wet")
    shown = unescape(visitor.get(where).content.decode())
    assert "What now, by eye" in shown
    assert '<span class="mark warn">noted only</span>' not in shown
    state = told_cup_queries.cup_state(aimed, cup)
    assert state is not None
    assert state.readings == 0
    cup_steps_cup_actions.read_cup(cup, Reading("drawdown", state.forecast.reflectance))
    assert told.milk().pairs == 0, "an eye's word and a spectrum are no pair"
    assert '<span class="mark warn">noted only</span>' in unescape(visitor.get(where).content.decode())


def test_a_dark_colour_says_how_often_the_cup_is_to_be_read(visitor: Client, aimed: Job) -> None:
    cup = a_cup(aimed)
    where = f"/jobs/{aimed.pk}/colour/cups/{cup.pk}/"
    assert "A dark colour." not in visitor.get(where).content.decode()
    dark = steps.type_colour(aimed, "Nearly black", (24.0, 0.5, 0.5))
    steps.set_target(aimed, dark.pk, None)
    shown = unescape(visitor.get(where).content.decode())
    words = r"A dark colour.*one reading of it may be off by <[^>]*>a touch</span>\. Read [45] places"
    assert re.search(words, shown)


def test_contradicting_words_are_refused(visitor: Client, aimed: Job, slipped: MixVessel) -> None:
    with pytest.raises(Refusal, match="same thing"):
        cup_steps_cup_actions.say_by_eye(slipped, [("lighter", "a touch"), ("darker", "a touch")])
    sent = {"eye-light": "hugely|lighter", "eye-state": "dry"}
    assert visitor.post(f"/jobs/{aimed.pk}/colour/cups/{slipped.pk}/eye/", sent).status_code == 422


def test_a_cup_that_nobody_logged_gets_advice_from_its_reading(visitor: Client, aimed: Job) -> None:
    old = gather.readings(aimed)[1]
    where = f"/jobs/{aimed.pk}/colour/unknown-cup/"
    assert visitor.get(where).status_code == 200
    shown = visitor.get(where, {"reading": old.id, "volume": "150"}).content.decode()
    assert "Add, in this order" in shown
    assert visitor.get(where, {"reading": old.id, "volume": "0"}).status_code == 422
    assert (
        "Add, in this order" in visitor.get(where, {"reading": old.id, "volume": "5 fl oz"}).content.decode()
    )


def test_an_unknown_cup_is_none_of_the_target_nor_a_wet_one(visitor: Client, aimed: Job) -> None:
    target, old = gather.readings(aimed)
    where = f"/jobs/{aimed.pk}/colour/unknown-cup/"
    assert visitor.get(where, {"reading": target.id, "volume": "150"}).status_code == 422
    wet = steps.type_colour(aimed, "Wet tub", (50.0, 8.0, 20.0), state="wet")
    listed = re.findall(r'<option value="(\d+)"', visitor.get(where).content.decode())
    assert [int(key) for key in listed] == [wet.pk, old.id], "the newest first, and not the target"
    answer = visitor.get(where, {"reading": wet.pk, "volume": "150"})
    assert answer.status_code == 422
    assert "Let a drawdown of it dry" in unescape(answer.content.decode())


def test_the_cups_tell_how_far_the_bottles_stray(aimed: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    """Cups whose red is half as strong again, read without noise, speak for bottles that stray far; few cups are not asked."""
    known = {p.key: p for p in gather_values.pigments()}
    strange = {"PR101": 1.5, "PY42": 0.65, "PBk7": 1.5}
    for number in range(3):
        cup = a_cup(aimed, slip="PR101", by=1.0 + 0.3 * number)
        held = {lot: grams / known[lot].density for lot, grams in told.pours_of(cup) if lot in known}
        k, s = (
            sum(v * strange.get(key, 1.0) * getattr(known[key], curve) for key, v in held.items())
            for curve in ("k", "s")
        )
        cup_steps_cup_actions.read_cup(cup, Reading("drawdown", seen(opaque(k, s), Surface())))
    assert told.told_straying() == USUAL, "three cups are too few"
    monkeypatch.setattr(told, "ENOUGH_CUPS", 3)
    fitted = told.told_straying()
    assert fitted.strength > 1.3 * USUAL.strength
    assert told.straying() == USUAL
    stray = {"strength": fitted.strength, "shape": fitted.shape}
    Run.objects.create(kind="colour.learn", state=RunState.DONE, result={"stray": stray})
    assert told.straying() == fitted
    assert told.knowledge().stock.prior.strength == fitted.strength
