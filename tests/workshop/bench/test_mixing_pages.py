"""The Mixing page of a job and the Jars page of the shop, through real forms."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from hidewright import demo
from hidewright.workshop.bench import jar_actions as jar_steps
from hidewright.workshop.bench import load_actions as portions
from hidewright.workshop.bench.queries import boxable
from hidewright.workshop.colours import models as colour_rows
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixEntry, MixVessel
from hidewright.workshop.shop.models import Job, Token

pytestmark = pytest.mark.django_db

PARTS = [
    {"key": "PW6", "name": "White", "hex": "#f4f2ec", "mass_g_per_l": 234.0, "volume_ml_per_l": 120.0},
    {"key": "PBr7", "name": "Umber", "hex": "#5b4636", "mass_g_per_l": 87.0, "volume_ml_per_l": 60.0},
    {"key": "base", "name": "Clear base", "hex": "#e9e6df", "mass_g_per_l": 844.6, "volume_ml_per_l": 820.0},
]


@pytest.fixture
def chosen(job: Job) -> Job:
    """A job with a chosen recipe of three parts."""
    grey = [0.3] * 31
    reading = colour_rows.Reading.objects.create(job=job, name="Target", reflectance=grey)
    target = colour_rows.Target.objects.create(job=job, reading=reading)
    data = {
        "parts": PARTS, "load": 0.18, "density": 1.1656, "hex": "#a08060", "labs": {"D65": [55, 6, 14]},
        "delta_e": {"D65": 0.4}, "coats": 2, "cost_per_l": "31.00", "drop": 0.6, "drop_of": "PBr7",
        "reflectance": grey,
    }  # fmt: skip
    recipe = colour_rows.Recipe.objects.create(
        job=job, target=target, name="Recipe 1", rank=1, batch=1, data=data
    )
    colour_rows.Choice.objects.create(job=job, recipe=recipe)
    return job


def begin(visitor: Client, job: Job, **more: str) -> MixVessel:
    told = {"aim": "500 mL", "capacity": "700 mL", "measure": "running", "name": "", "tare": "", **more}
    answer = visitor.post(f"/jobs/{job.pk}/mixing/begin/", told)
    assert answer.status_code == 302, answer.content.decode()
    return MixVessel.objects.latest("pk")


def at(row: MixVessel, act: str = "") -> str:
    return f"/jobs/{row.job_id}/mixing/{row.pk}/{act}"


def pour(visitor: Client, row: MixVessel, component: str, **told: str) -> int:
    row.refresh_from_db()
    seen = told.pop("seen", str(row.turns))
    return visitor.post(at(row, "pour/"), {"component": component, "seen": seen, **told}).status_code


def finish(visitor: Client, row: MixVessel) -> None:
    for key in ("base", "PW6", "PBr7"):
        assert pour(visitor, row, key, how="shown") == 302


def test_without_a_recipe_the_page_leads_to_the_colour(visitor: Client, job: Job) -> None:
    page = visitor.get(f"/jobs/{job.pk}/mixing/").content.decode()
    assert "No recipe is chosen yet" in page
    answer = visitor.post(f"/jobs/{job.pk}/mixing/begin/", {"aim": "500", "measure": "running"})
    assert answer.status_code == 422
    assert MixVessel.objects.count() == 0


def test_a_cup_is_begun_and_its_first_pour_stands_large(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen, tare="20")
    page = visitor.get(at(row)).content.decode().replace("&nbsp;", " ")
    assert "Clear base" in page
    assert "422.3 g" in page
    assert "442.3 g" in page
    assert "Poured as shown" in page
    assert "Gloves and eyes" in page


def test_a_cup_too_big_for_its_vessel_is_refused_in_the_form(visitor: Client, chosen: Job) -> None:
    told = {"aim": "500 mL", "capacity": "400 mL", "measure": "running"}
    answer = visitor.post(f"/jobs/{chosen.pk}/mixing/begin/", told)
    assert answer.status_code == 422
    assert "100.0 mL too many" in answer.content.decode()


def test_five_pours_with_an_overshoot_and_a_mistake_taken_back(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    assert pour(visitor, row, "base", how="shown") == 302
    assert pour(visitor, row, "PW6", how="read", value="562.7 g") == 302
    page = visitor.get(at(row)).content.decode()
    assert "White went over by 12 mL" in page
    assert "600 mL" in page
    assert pour(visitor, row, "base", how="shown") == 302
    assert pour(visitor, row, "PBr7", how="read", value="700") == 302
    wrong = MixEntry.objects.latest("pk")
    assert visitor.post(at(row, f"back/{wrong.pk}/")).status_code == 302
    assert pour(visitor, row, "PBr7", how="shown") == 302
    state = gather.state_of(row)
    assert state.finished
    assert state.volume == pytest.approx(600, abs=0.1)
    page = visitor.get(at(row)).content.decode()
    assert "taken back" in page
    assert "Mixed" in page
    assert "colour standard" in page


def test_a_double_tap_logs_once(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    told = {"component": "base", "seen": "0", "how": "shown", "act": "token-of-the-form"}
    assert visitor.post(at(row, "pour/"), told).status_code == 302
    assert visitor.post(at(row, "pour/"), told).status_code == 302
    assert MixEntry.objects.count() == 1


def test_a_pour_that_another_tablet_logged_meanwhile_is_asked_about(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    assert pour(visitor, row, "base", how="shown") == 302
    assert pour(visitor, row, "base", how="read", value="800", seen="0") == 422
    assert MixEntry.objects.count() == 1
    assert pour(visitor, row, "PW6", how="shown", seen="0") == 302, "another part is another pour"


def test_a_reading_that_is_less_than_before_is_refused(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    assert pour(visitor, row, "base", how="shown") == 302
    assert pour(visitor, row, "PW6", how="read", value="100") == 422
    assert pour(visitor, row, "PW6", how="read", value="a little") == 422
    assert MixEntry.objects.count() == 1


def test_drops_and_millilitres_and_grams_each_are_read(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen, measure="drops")
    assert pour(visitor, row, "PBr7", how="read", value="20") == 302
    told = {"measure": "mL", "tare": "0", "grain": "0.1"}
    assert visitor.post(at(row, "measure/"), told).status_code == 302
    assert pour(visitor, row, "PBr7", how="read", value="2,5") == 302
    assert visitor.post(at(row, "measure/"), {**told, "measure": "each"}).status_code == 302
    assert pour(visitor, row, "PBr7", how="read", value="1.45") == 302
    assert gather.state_of(row).contents["PBr7"] == 1000 + 2500 + 1000
    assert "drop" in visitor.get(at(row)).content.decode()
    calibrated = visitor.post(at(row, "drop/"), {"component": "PBr7", "drops": "20", "grams": "1.16"})
    assert calibrated.status_code == 302
    assert (
        visitor.post(at(row, "drop/"), {"component": "PBr7", "drops": "20", "grams": "900"}).status_code
        == 422
    )


def test_a_gun_load_is_drawn_crosslinked_sprayed_and_the_rest_discarded(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    finish(visitor, row)
    assert visitor.post(at(row, "load/"), {"amount": "200 mL"}).status_code == 302
    load = MixVessel.objects.get(kind="portion")
    told = {"product": "Polyaziridine", "ratio": "3", "pot_life": "240"}
    assert visitor.post(at(load, "crosslink/"), told).status_code == 302
    page = visitor.get(at(load)).content.decode()
    assert "of pot life left" in page
    assert "act-jar" not in page
    refused = visitor.post(at(load, "jar/"), {"amount": "50", "until": "2099-01-01"})
    assert refused.status_code == 422
    assert "it would set" in refused.content.decode()
    assert visitor.post(at(load, "use/"), {"amount": "150 mL"}).status_code == 302
    MixEntry.objects.filter(act="crosslink").update(at=timezone.now() - timedelta(minutes=200))
    assert "ending" in visitor.get(at(load)).content.decode()
    MixEntry.objects.filter(act="crosslink").update(at=timezone.now() - timedelta(minutes=241))
    assert "Pot life is over" in visitor.get(at(load)).content.decode()
    assert gather.colour_in_hand(chosen) == pytest.approx(300)
    assert visitor.post(at(load, "discard/"), {"amount": "56 mL"}).status_code == 302
    assert visitor.post(at(load, "put-away/")).status_code == 302


def test_the_header_tells_the_colour_in_hand(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    finish(visitor, row)
    page = visitor.get(f"/jobs/{chosen.pk}/mixing/").content.decode()
    assert "500 mL" in page
    assert gather.colour_in_hand(chosen) == pytest.approx(500, abs=0.2)


def test_a_jar_is_kept_labelled_found_and_made_again(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    finish(visitor, row)
    answer = visitor.post(
        at(row, "jar/"), {"amount": "80 mL", "name": "Chairs left over", "until": "2099-01-01"}
    )
    jar = MixVessel.objects.get(kind="jar")
    assert answer.headers["Location"] == f"/jars/{jar.pk}/"
    shelf = visitor.get("/jars/").content.decode()
    assert "Chairs left over" in shelf
    assert "White 12.0 %" in shelf
    page = visitor.get(f"/jars/{jar.pk}/").content.decode()
    assert "<svg" in page
    label = visitor.get(f"/jars/{jar.pk}/label.pdf")
    assert label.content.startswith(b"%PDF")
    again = visitor.post(f"/jars/{jar.pk}/again/", {"aim": "60 mL", "job": str(chosen.pk)})
    assert again.status_code == 302
    cup = MixVessel.objects.latest("pk")
    assert gather.state_of(cup).need.total == 60_000  # type: ignore[union-attr]
    poured = visitor.post(f"/jars/{jar.pk}/pour/", {"amount": "30 mL", "vessel": str(cup.pk)})
    assert poured.status_code == 302
    assert gather.state_of(cup).volume == 30
    assert visitor.post(f"/jars/{jar.pk}/put-away/").status_code == 422
    assert visitor.post(f"/jars/{jar.pk}/discard/", {"amount": "50 mL"}).status_code == 302
    assert visitor.post(f"/jars/{jar.pk}/put-away/").status_code == 302
    assert "No jar is kept" in visitor.get("/jars/").content.decode()


def test_a_jar_past_its_day_says_so(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    finish(visitor, row)
    jar = jar_steps.keep_jar(row, 80)
    MixVessel.objects.filter(pk=jar.pk).update(keep_until=timezone.localdate() - timedelta(days=1))
    assert "past its day" in visitor.get("/jars/").content.decode()


def test_a_bigger_vessel_is_offered_where_the_overshoot_does_not_fit(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    assert pour(visitor, row, "PW6", how="read", value="234") == 302
    page = visitor.get(at(row)).content.decode()
    assert "at least 1000 mL" in page
    assert visitor.post(at(row, "bigger/"), {"capacity": "1.2 L"}).status_code == 302
    larger = MixVessel.objects.latest("pk")
    assert "Poured as shown" in visitor.get(at(larger)).content.decode()


def test_a_top_up_is_the_batch_as_it_stands_and_is_boxed(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    finish(visitor, row)
    portions.use(row, 400)
    assert visitor.post(at(row, "top-up/"), {"aim": "200 mL"}).status_code == 302
    cup = MixVessel.objects.latest("pk")
    for part in gather.state_of(cup).need.parts:  # type: ignore[union-attr]
        assert pour(visitor, cup, part.key, how="shown") == 302
    page = visitor.get(at(row)).content.decode()
    assert "Box with another" in page
    here = next(value for value, _ in boxable(chosen, row) if value.startswith(f"{cup.pk}:here:"))
    assert visitor.post(at(row, "box/"), {"vessel": here}).status_code == 302
    assert gather.state_of(row).volume == pytest.approx(300, abs=0.2)


def test_taken_as_it_is_and_another_job_s_vessel_is_not_found(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    assert pour(visitor, row, "base", how="shown") == 302
    assert visitor.post(at(row, "accept/")).status_code == 302
    assert "What next" in visitor.get(at(row)).content.decode()
    assert visitor.get(f"/jobs/{chosen.pk + 1}/mixing/{row.pk}/").status_code == 404


def test_drops_of_a_bottle_that_nobody_weighed_are_warned_of_and_only_whole_ones_count(
    visitor: Client, chosen: Job
) -> None:
    row = begin(visitor, chosen, measure="drops")
    page = visitor.get(at(row)).content.decode()
    assert "The drop of this bottle was not weighed." in page
    assert "Too many drops to count." in page
    for odd in ("-3", "2.5", "1e9", "11000"):
        assert pour(visitor, row, "base", how="read", value=odd) == 422
    answer = visitor.post(at(row, "pour/"), {"component": "base", "how": "read", "value": "-3"})
    assert "-3 drops cannot be counted." in answer.content.decode()
    assert not MixEntry.objects.exists()
    assert (
        visitor.post(at(row, "drop/"), {"component": "base", "drops": "20", "grams": "1.2"}).status_code
        == 302
    )
    assert "was not weighed" not in visitor.get(at(row)).content.decode()


def test_a_second_tap_whose_answer_led_nowhere_leads_back_to_the_page(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    Token.objects.create(key="busy")
    answer = visitor.post(
        at(row, "pour/"),
        {"act": "busy", "component": "base", "how": "shown"},
        HTTP_REFERER=f"http://testserver{at(row)}",
    )
    assert answer.status_code == 302
    assert answer.headers["Location"].endswith(at(row)), "not to an address that takes no visit"
    away = visitor.post(at(row, "pour/"), {"act": "busy"}, HTTP_REFERER="http://elsewhere.invalid/")
    assert away.headers["Location"] == at(row, "pour/")
    assert not MixEntry.objects.exists()


def test_a_pour_as_shown_that_another_logged_is_refused_without_a_word_about_an_empty_field(
    visitor: Client, chosen: Job
) -> None:
    """The other form on the page was not sent: nothing is said of it."""
    row = begin(visitor, chosen)
    assert pour(visitor, row, "base", how="shown", seen="0") == 302
    answer = visitor.post(at(row, "pour/"), {"component": "base", "seen": "0", "how": "shown"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Another device logged" in page
    assert 'class="error"' not in page


def test_an_overshoot_that_does_not_fit_may_be_taken_as_it_is(visitor: Client, chosen: Job) -> None:
    """A bigger vessel and taking the pour back are not the only ways: the cup may stay as it is and be adjusted by colour."""
    row = begin(visitor, chosen, capacity="600 mL")
    assert pour(visitor, row, "base", how="shown") == 302
    assert pour(visitor, row, "PW6", value="700") == 302
    page = visitor.get(at(row)).content.decode()
    assert "It does not fit" in page
    assert "Take it as it is" in page
    assert visitor.post(at(row, "accept/")).status_code == 302
    row.refresh_from_db()
    assert gather.state_of(row).finished


def test_the_page_names_the_pour_that_went_over_and_not_those_that_matched_it(
    visitor: Client, chosen: Job
) -> None:
    row = begin(visitor, chosen, capacity="900 mL")
    assert pour(visitor, row, "base", how="shown") == 302
    assert pour(visitor, row, "PW6", value="560") == 302
    assert "White went over by" in visitor.get(at(row)).content.decode()
    assert pour(visitor, row, "base", how="shown") == 302
    page = visitor.get(at(row)).content.decode()
    assert "White went over by" in page
    assert "Clear base went over" not in page


def test_what_is_left_is_thrown_away_without_typing_how_much(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    finish(visitor, row)
    assert visitor.post(at(row, "discard/"), {"amount": "", "note": "past its pot life"}).status_code == 302
    assert gather.state_of(row).volume == 0
    answer = visitor.post(at(row, "discard/"), {"amount": ""})
    assert answer.status_code == 422, "there is nothing left"


def test_with_colour_mixed_another_cup_of_the_recipe_is_folded_and_warned_of(
    visitor: Client, chosen: Job
) -> None:
    """More of the same colour is a top-up like the batch, not another cup of the first recipe."""
    where = f"/jobs/{chosen.pk}/mixing/"
    import_csv(chosen, demo.text("pieces.csv"))
    assert "all the same" not in visitor.get(where).content.decode()
    row = begin(visitor, chosen)
    pour(visitor, row, "base", how="shown")
    assert f"Go on with {row.name}" in visitor.get(where).content.decode()
    pour(visitor, row, "PW6", how="shown")
    pour(visitor, row, "PBr7", how="shown")
    page = visitor.get(where).content.decode()
    assert "Go on with" not in page
    assert "There is colour mixed already" in page
    told = {"aim": "12 oz", "measure": "running"}
    refused = visitor.post(f"{where}begin/", told).content.decode()
    assert "<details open><summary>Begin another cup" in refused


def test_a_gun_load_shows_what_to_do_with_it_and_no_comparing(visitor: Client, chosen: Job) -> None:
    row = begin(visitor, chosen)
    finish(visitor, row)
    visitor.post(at(row, "load/"), {"amount": "100"})
    load = MixVessel.objects.get(kind="portion")
    page = visitor.get(at(load)).content.decode()
    assert "Log what was sprayed" in page
    assert "How it should look when dry" not in page


def test_an_entry_is_taken_back_only_from_a_vessel_it_touched(visitor: Client, chosen: Job) -> None:
    first, second = begin(visitor, chosen), begin(visitor, chosen)
    pour(visitor, first, "base", how="shown")
    entry = MixEntry.objects.get()
    assert visitor.post(at(second, f"back/{entry.pk}/")).status_code == 404
    assert MixEntry.objects.count() == 1
    assert visitor.post(at(first, f"back/{entry.pk}/")).status_code == 302
    assert MixEntry.objects.count() == 2
