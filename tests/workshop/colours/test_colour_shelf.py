"""What a search may draw on: bottles with what is left in them, leftover jars, lamps that were measured, weighed lights, coats."""

import re
from html import unescape

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from hidewright import demo
from hidewright.colour.light.cie import lab, weights
from hidewright.mixing.recipe import recipe_of
from hidewright.workshop.bench import jar_actions as jars
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours import search_queries as shelf
from hidewright.workshop.colours.models import Recipe
from hidewright.workshop.pieces.colour_actions import add_colour
from hidewright.workshop.pigments import actions as pigments
from hidewright.workshop.pigments import actions as steps_actions
from hidewright.workshop.pigments import lamp_queries as shelf_lamp_queries
from hidewright.workshop.pigments.models import Lamp
from hidewright.workshop.shelf import stock_queries as shelf_stock_queries
from hidewright.workshop.shelf import vessel_actions as mixing
from hidewright.workshop.shelf import vessel_queries as bench
from hidewright.workshop.shelf.models import MixVessel, Pigment, PigmentLot
from hidewright.workshop.shop import models as acts_models
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Job, Run, RunState
from workshop.few_pigments import few_drawdowns, know_the_few

pytestmark = pytest.mark.django_db

SEARCH = {"load_low": "16", "load_high": "20", "most": "4", "lights": ["A", "FL11"]}


@pytest.fixture
def aimed(job: Job) -> Job:
    """A job with target and old colour, and four known pigments."""
    know_the_few()
    steps.import_readings(job, demo.text("readings.csv"))
    return job


def search(visitor: Client, job: Job, callbacks: pytest.FixtureRequest, **more: object) -> list[Recipe]:
    """Search through the page; gives the recipes."""
    with callbacks(execute=True):  # type: ignore[operator]
        answer = visitor.post(f"/jobs/{job.pk}/colour/match/", {**SEARCH, **more})
    assert answer.status_code == 302, unescape(answer.content.decode())
    assert Run.objects.filter(kind="colour.match").first().state == RunState.DONE  # type: ignore[union-attr]
    return gather.newest_recipes(job)


def a_jar(job: Job, millilitres: float) -> MixVessel:
    """A jar of the first recipe of the target."""
    recipe = gather.recipe_value(gather.newest_recipes(job)[0].data)
    cup = mixing.begin_cup(job, recipe_of("Mix", recipe.parts), 300.0, capacity=400.0)
    for key, amount in recipe_of("Mix", recipe.parts).amounts(300_000).items():
        mixing.pour(cup, key, amount)
    return jars.keep_jar(cup, millilitres, name="Jar of tan")


def test_a_leftover_jar_is_used_up_and_the_bench_takes_the_recipe(
    visitor: Client, aimed: Job, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    search(visitor, aimed, django_capture_on_commit_callbacks)
    jar = a_jar(aimed, 200.0)
    shown = unescape(visitor.get(f"/jobs/{aimed.pk}/colour/").content.decode())
    assert "Leftover jars" in shown
    assert "200 mL left" in shown
    found = search(
        visitor, aimed, django_capture_on_commit_callbacks, batch="600 mL", **{f"jar_{jar.pk}": "up"}
    )
    best = found[0].data
    poured = {p["key"]: p["volume_ml_per_l"] for p in best["pours"]}
    assert 170 <= 0.6 * poured[f"jar-{jar.pk}"] <= 200.0
    assert not any(p["key"].startswith("jar") for p in best["parts"])
    whole = sum(p["volume_ml_per_l"] for p in best["parts"])
    assert whole == pytest.approx(1000, abs=1e-6)
    assert sum(p["mass_g_per_l"] for p in best["parts"]) == pytest.approx(
        sum(p["mass_g_per_l"] for p in best["pours"])
    )
    shown = unescape(visitor.get(f"/jobs/{aimed.pk}/colour/").content.decode())
    assert "For 600 mL" in shown
    assert "Jar of tan" in shown
    # the bench: once the jar is in, what is still needed is what stands beside it in the recipe
    steps.choose(found[0])
    chosen = gather.chosen_recipe(aimed)
    assert chosen is not None
    cup = mixing.begin_cup(aimed, recipe_of(chosen.name, chosen.components), 600.0, recipe_id=chosen.row.pk)
    assert [one.name for one in shelf.jars_of_recipe(cup)] == ["Jar of tan"]
    page = unescape(visitor.get(f"/jobs/{aimed.pk}/mixing/{cup.pk}/").content.decode())
    assert "of Jar of tan" in page
    jars.from_jar(jar, cup, 0.6 * poured[f"jar-{jar.pk}"])
    need = bench.state_of(cup).need
    assert need is not None
    still = {part.key: part.need / 600 for part in need.parts}
    for part in best["pours"]:
        if not part["key"].startswith("jar"):
            assert still[part["key"]] == pytest.approx(part["volume_ml_per_l"], abs=0.6)
    assert not shelf.jars_of_recipe(cup)


def test_what_is_left_of_one_colour_goes_into_another_of_the_same_job_out_of_its_open_cup(
    visitor: Client, aimed: Job, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    search(visitor, aimed, django_capture_on_commit_callbacks)
    recipe = gather.recipe_value(gather.newest_recipes(aimed)[0].data)
    made = recipe_of("Seats", recipe.parts)
    cup = mixing.begin_cup(aimed, made, 300.0, capacity=400.0)
    for key, amount in made.amounts(300_000).items():
        mixing.pour(cup, key, amount)
    trim = add_colour(aimed, "Trim")
    first = gather.target_row(aimed)
    assert first is not None
    steps.set_target(aimed, first.reading_id, None, number=trim.number)
    assert [one.key for one in shelf.jars_offered(aimed, trim.number)] == [f"jar-{cup.pk}"]
    assert not shelf.jars_offered(aimed, 0), "a colour is no leftover for itself"
    page = unescape(visitor.get(f"/jobs/{aimed.pk}/colour/?of={trim.number}").content.decode())
    assert "300 mL left, in an open cup of another colour of this job" in page
    asked = {"of": str(trim.number), "batch": "600 mL", f"jar_{cup.pk}": "up"}
    search(visitor, aimed, django_capture_on_commit_callbacks, **asked)
    best = gather.newest_recipes(aimed, trim.number)[0]
    poured = {p["key"]: p["volume_ml_per_l"] for p in best.data["pours"]}
    wanted = 0.6 * poured.pop(f"jar-{cup.pk}")
    assert 0.85 * 300 <= wanted <= 300
    steps.choose(best)
    chosen = gather.chosen_recipe(aimed, trim.number)
    assert chosen is not None
    into = mixing.begin_cup(
        aimed, recipe_of(chosen.name, chosen.components), 600.0, recipe_id=best.pk, number=trim.number
    )
    (begins,) = shelf.jars_of_recipe(into)
    assert begins.open
    assert begins.millilitres == pytest.approx(wanted, abs=0.01)
    shown = unescape(visitor.get(f"/jobs/{aimed.pk}/mixing/{into.pk}/").content.decode())
    assert f"/jars/{cup.pk}/pour/" in shown
    sent = {"vessel": str(into.pk), "amount": f"{wanted:.2f} mL"}
    answer = visitor.post(f"/jars/{cup.pk}/pour/", {**sent, "amount": "400 mL"}, follow=True)
    assert "Nothing was poured" in unescape(answer.content.decode()), "there are 300 mL in it"
    assert visitor.post(f"/jars/{cup.pk}/pour/", sent).status_code == 302
    for key, volume in poured.items():
        mixing.pour(into, key, round(600 * volume))
    # By hand: what came out of the first cup, as the part of its 300 mL that was poured, and what is fresh.
    in_first = {part.key: 300 * part.share for part in made.parts}
    held = dict.fromkeys({*in_first, *poured}, 0.0)
    for key in held:
        held[key] = wanted / 300 * in_first.get(key, 0.0) + 0.6 * poured.get(key, 0.0)
    book = bench.by_component(bench.ledger_of([into]), into.key)
    for key, millilitres in held.items():
        assert book.get(key, 0) / 1000 == pytest.approx(millilitres, abs=0.05), key
    assert bench.state_of(cup).volume == pytest.approx(300 - wanted, abs=0.02)
    assert bench.state_of(into).volume == pytest.approx(600, abs=0.05)
    # A litre of the recipe as pigments and base is the same mix, by the masses that the bench weighs.
    for part in best.data["parts"]:
        assert held[part["key"]] == pytest.approx(0.6 * part["volume_ml_per_l"], abs=0.2), part["key"]


def test_an_empty_or_vanished_jar_is_refused(visitor: Client, aimed: Job) -> None:
    answer = visitor.post(f"/jobs/{aimed.pk}/colour/match/", {**SEARCH, "jar_99": "up"})
    assert answer.status_code == 302, "a field that the form does not have is passed over"
    with pytest.raises(Exception, match="jar that was chosen"):
        steps.check_match(aimed, {"load": [0.16, 0.2], "jars": [99]})


def test_what_is_left_in_the_bottles_bounds_the_recipes(
    visitor: Client, aimed: Job, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    yellow = Pigment.objects.get(key="PY42")
    lot = pigments.add_lot(yellow, name="B7", volume=100.0, received=None)
    assert shelf_stock_queries.left_ml() == {"PY42": 100.0}
    cup = mixing.begin_cup(
        aimed,
        recipe_of(
            "x", gather.recipe_value(search(visitor, aimed, django_capture_on_commit_callbacks)[0].data).parts
        ),
        300.0,
    )
    logged = mixing.pour(cup, "PY42", 30_000, lot="B7")
    assert shelf_stock_queries.left_ml()["PY42"] == pytest.approx(70.0)
    mixing.take_back(logged.entry.pk)
    assert shelf_stock_queries.left_ml()["PY42"] == pytest.approx(100.0)
    answer = visitor.post(f"/pigments/lots/{lot.pk}/left/", {"left-left": "20 mL"})
    assert answer.status_code == 302
    assert shelf_stock_queries.left_ml()["PY42"] == pytest.approx(20.0)
    assert "20 mL left" in visitor.get(f"/pigments/{yellow.pk}/").content.decode()
    for recipe in search(visitor, aimed, django_capture_on_commit_callbacks, on_shelf="on", batch="1 L"):
        used = {p["key"]: p["volume_ml_per_l"] for p in recipe.data["parts"]}
        assert used.get("PY42", 0.0) <= 20.0
    acts.undo(acts_models.Act.objects.filter(undo_name="pigments.lot_left").latest("pk").pk)
    assert shelf_stock_queries.left_ml()["PY42"] == pytest.approx(100.0)
    pigments.add_lot(yellow, name="B8", volume=None, received=None)
    assert shelf_stock_queries.left_ml() == {}, "a bottle of unknown amount means that there may be enough"
    assert PigmentLot.objects.count() == 2


def lamp_a() -> str:
    """CIE's standard illuminant A by its own formula (CIE 15:2018, §4.1.1), as a spectrometer might write it."""
    nm = np.arange(360.0, 781.0, 5.0)
    c2, t = 1.435e7, 2848.0
    power = 100 * (560 / nm) ** 5 * (np.exp(c2 / (t * 560)) - 1) / (np.exp(c2 / (t * nm)) - 1)
    return "\n".join(["wavelength,power", *(f"{n:g},{p:.5f}" for n, p in zip(nm, power, strict=True))])


def test_a_lamp_is_brought_and_recipes_are_judged_under_it(
    visitor: Client, aimed: Job, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    file = SimpleUploadedFile("lamp.csv", lamp_a().encode())
    where = f"/jobs/{aimed.pk}/colour/"
    assert visitor.post(f"{where}lamps/", {"lamp-name": "Saloon", "lamp-file": file}).status_code == 302
    row = Lamp.objects.get()
    assert np.array(row.table) == pytest.approx(weights("A"), abs=0.02)
    found = search(
        visitor, aimed, django_capture_on_commit_callbacks, lights=["A", "Saloon"], judge="weighed",
        weight_0="1", weight_8="2",
    )  # fmt: skip
    told = found[0].data["delta_e"]
    assert told["Saloon"] == pytest.approx(told["A"], abs=0.02)
    assert Run.objects.filter(kind="colour.match").first().asked["weights"] == {"D65": 1.0, "Saloon": 2.0}  # type: ignore[union-attr]
    shown = unescape(visitor.get(where).content.decode())
    assert "Saloon" in shown
    acts.undo(acts_models.Act.objects.filter(undo_name="colour.lamp").latest("pk").pk)
    assert not shelf_lamp_queries.lamps()
    assert "Saloon" in unescape(visitor.get(where).content.decode()), (
        "recipes that were judged under it keep it"
    )


@pytest.mark.parametrize(
    "text", ["wavelength,power\n400,1\n500,x", "nm,power\n400,1", "wavelength,power\n400,1\n700,1"]
)
def test_a_lamp_that_cannot_be_is_refused(visitor: Client, aimed: Job, text: str) -> None:
    sent = {"lamp-name": "L", "lamp-file": SimpleUploadedFile("l.csv", text.encode())}
    assert visitor.post(f"/jobs/{aimed.pk}/colour/lamps/", sent).status_code == 422
    assert not Lamp.objects.exists()


def test_a_number_of_coats_is_matched_as_laid(
    visitor: Client, aimed: Job, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    found = search(visitor, aimed, django_capture_on_commit_callbacks, coats="2")
    recipe = found[0].data
    assert recipe["judged_coats"] == 2
    aim = gather.target(aimed)
    assert aim is not None
    off = lab(np.array(recipe["reflectance"])) - np.array(aim.target.labs["D65"])
    assert np.abs(off).max() < 2
    shown = unescape(visitor.get(f"/jobs/{aimed.pk}/colour/").content.decode())
    assert re.search(r"Judged as 2 coats over the old colour", shown)


def test_weights_must_be_told_when_lights_are_weighed(visitor: Client, aimed: Job) -> None:
    answer = visitor.post(f"/jobs/{aimed.pk}/colour/match/", {**SEARCH, "judge": "weighed"})
    assert answer.status_code == 422
    assert "how much each light counts" in unescape(answer.content.decode())


def test_the_page_proposes_the_next_drawdown_and_names_what_contradicts(
    visitor: Client, db: None, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    """From masstones alone next to nothing is known of scattering: a tint with white is what tells most."""
    lines = few_drawdowns().splitlines()
    alone = [lines[0], *(line for line in lines[1:] if "masstone" in line or line.startswith("card"))]
    assert len(alone) == 1 + 2 + 2 * 4, [line[:30] for line in lines]
    steps_actions.import_pigments(demo.text("pigments.csv"))
    steps_actions.import_drawdowns("\n".join(alone))
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        visitor.post("/pigments/find/")
    told = Run.objects.get(kind="colour.characterise").result
    assert told["next"][0]["after"] < told["mixes"]
    assert not told["next"][0]["again"]
    shown = unescape(visitor.get("/pigments/").content.decode())
    assert "What to draw next" in shown
    assert "White 1" in shown
