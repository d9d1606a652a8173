"""The pages Colour and Pigments: forms that change things, refusals in words, empty states."""

import re
from html import unescape
from urllib.parse import urlencode

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from hidewright import demo
from hidewright.colour.recipes.match import match
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours import search_queries as stock
from hidewright.workshop.colours.models import Reading, Recipe, Target
from hidewright.workshop.pigments import actions as steps_actions
from hidewright.workshop.pigments import saving as keep
from hidewright.workshop.pigments import values as gather_values
from hidewright.workshop.pigments.models import ColourSetup, Drawdown
from hidewright.workshop.shelf.models import Pigment, PigmentLot
from hidewright.workshop.shop.models import Job, Run, RunState
from workshop.few_pigments import ASKED, FEW, few_drawdowns, few_fits

pytestmark = pytest.mark.django_db

SEARCH = {"load_low": "16", "load_high": "20", "most": "3", "lights": ["A", "FL11"]}


@pytest.fixture
def shop(db: None) -> None:
    """A shop with four pigments whose K and S are known."""
    steps_actions.import_pigments(demo.text("pigments.csv"))
    steps_actions.import_drawdowns(few_drawdowns())
    for key, fit in few_fits().items():
        keep.keep_fit(key, fit)


@pytest.fixture
def aimed(shop: None, job: Job) -> Job:
    """A job with target and old colour."""
    steps.import_readings(job, demo.text("readings.csv"))
    return job


def file(text: str) -> SimpleUploadedFile:
    return SimpleUploadedFile("f.csv", text.encode())


def page(visitor: Client, path: str) -> str:
    answer = visitor.get(path)
    assert answer.status_code == 200
    return unescape(answer.content.decode())


def test_empty_pages_say_what_to_do(visitor: Client, job: Job) -> None:
    colour = page(visitor, f"/jobs/{job.pk}/colour/")
    assert "No colour was read yet" in colour
    assert "Bring pigments and drawdowns" in colour
    assert "No pigment is listed yet" in page(visitor, "/pigments/")


def test_readings_are_brought_in_and_shown_against_the_old_colour(visitor: Client, job: Job) -> None:
    answer = visitor.post(f"/jobs/{job.pk}/colour/readings/", {"file-file": file(demo.text("readings.csv"))})
    assert answer.status_code == 302
    shown = page(visitor, f"/jobs/{job.pk}/colour/")
    found = gather.target(job)
    assert found is not None
    assert f'fill="{found.target.hex}"' in shown
    assert found.old is not None
    assert f'fill="{found.old.hex}"' in shown
    assert "A screen is no colour standard" in shown


def test_a_bad_file_is_refused_row_by_row(visitor: Client, job: Job) -> None:
    head = "name," + ",".join(str(nm) for nm in range(400, 701, 10))
    rows = ["A," + ",".join(["0.3"] * 30 + ["much"]), "B," + ",".join(["0.3"] * 29 + ["", "0.2"])]
    answer = visitor.post(f"/jobs/{job.pk}/colour/readings/", {"file-file": file("\n".join([head, *rows]))})
    text = unescape(visitor.get(answer.headers["Location"]).content.decode())
    assert "Row 2, 700 nm" in text
    assert "Row 3, 690 nm" in text
    assert not Reading.objects.exists()


def test_a_typed_colour_becomes_the_target_with_its_caution(visitor: Client, shop: None, job: Job) -> None:
    typed = {
        "name": "Letter",
        "l": "48",
        "a": "8",
        "b": "24",
        "light": "D65",
        "observer": "10",
        "state": "dry",
    }
    visitor.post(f"/jobs/{job.pk}/colour/typed/", {f"typed-{k}": v for k, v in typed.items()})
    row = Reading.objects.get()
    answer = visitor.post(f"/jobs/{job.pk}/colour/target/", {"target": row.pk, "old": "", "tolerance": "0.8"})
    assert answer.status_code == 302
    assert Target.objects.get().tolerance == 0.8
    assert "The target is a colour under one light only" in page(visitor, f"/jobs/{job.pk}/colour/")


@pytest.mark.parametrize("wrong", [{"l": "0"}, {"l": "words"}, {"a": "120", "b": "-120"}, {"name": ""}])
def test_an_impossible_colour_is_refused(visitor: Client, job: Job, wrong: dict[str, str]) -> None:
    typed = {"name": "x", "l": "50", "a": "0", "b": "0", "light": "D65", "observer": "10", "state": "dry"}
    sent = {f"typed-{k}": v for k, v in {**typed, **wrong}.items()}
    assert visitor.post(f"/jobs/{job.pk}/colour/typed/", sent).status_code == 422
    assert not Reading.objects.exists()


def test_from_search_to_choice_and_back(
    visitor: Client, aimed: Job, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    where = f"/jobs/{aimed.pk}/colour/"
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        assert visitor.post(f"{where}match/", SEARCH).status_code == 302
    assert Run.objects.get(kind="colour.match").state == RunState.DONE
    shown = page(visitor, where)
    first = Recipe.objects.get(rank=1)
    assert "Choose Recipe 1" in shown
    assert "sets of pigments" in shown
    visitor.post(f"{where}recipes/{first.pk}/choose/")
    shown = page(visitor, where)
    assert "Recipe 1 is chosen" in shown
    grams = first.data["parts"][0]["mass_g_per_l"]
    assert f"{grams:.1f}" in shown
    undo = re.search(r'action="(/undo/\d+/)"', shown)
    assert undo is not None
    visitor.post(undo[1], {"back": where})
    assert gather.chosen_recipe(aimed) is None
    assert "undone" in page(visitor, where)


def test_curves_come_as_a_fragment_or_a_page(visitor: Client, aimed: Job) -> None:
    asked = {"load": [0.16, 0.20], "most": 2, "lights": ["D65", "A", "FL11"]}
    row = steps.keep_match(aimed, match(stock.problem(aimed, asked)))[0]
    where = f"/jobs/{aimed.pk}/colour/recipes/{row.pk}/curves/"
    whole = page(visitor, where)
    assert "<html" in whole
    part = visitor.get(where, headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in part
    for text in (whole, part):
        assert "Old colour" in text
        assert "<svg" in text
    assert "<svg" in page(visitor, f"/jobs/{aimed.pk}/colour/readings/curves/")


@pytest.mark.parametrize(
    "wrong", [{"load_low": "25"}, {"load_low": "x"}, {"most": "9"}, {"lights": ["moon"]}]
)
def test_a_search_that_cannot_be_is_refused(visitor: Client, aimed: Job, wrong: dict[str, object]) -> None:
    answer = visitor.post(f"/jobs/{aimed.pk}/colour/match/", {**SEARCH, **wrong})
    assert answer.status_code == 422
    assert not Run.objects.exists()


def test_what_must_and_must_not_be_used_reaches_the_search_and_is_remembered(
    visitor: Client, aimed: Job
) -> None:
    red, white = (Pigment.objects.get(key=key) for key in ("PR101", "PW6"))
    sent = {**SEARCH, f"use_{red.pk}": "must", f"use_{white.pk}": "not"}
    assert visitor.post(f"/jobs/{aimed.pk}/colour/match/", sent).status_code == 302
    asked = Run.objects.get().asked
    assert asked["must_use"] == ["PR101"]
    assert asked["must_not_use"] == ["PW6"]
    assert '<option value="must" selected>' in page(visitor, f"/jobs/{aimed.pk}/colour/")


def test_recipes_of_another_target_say_so(visitor: Client, aimed: Job) -> None:
    asked = {"load": [0.16, 0.20], "most": 2, "lights": ["D65", "A", "FL11"]}
    steps.keep_match(aimed, match(stock.problem(aimed, asked)))
    old = Reading.objects.get(name__startswith="Old")
    steps.set_target(aimed, old.pk, None)
    assert "These were found for another target" in page(visitor, f"/jobs/{aimed.pk}/colour/")


def test_drawdowns_are_brought_in_and_found_in_a_run(
    visitor: Client, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    steps_actions.import_pigments(demo.text("pigments.csv"))
    assert "No drawdown yet" in page(visitor, "/pigments/")
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        answer = visitor.post("/pigments/drawdowns/", {"drawdowns-file": file(few_drawdowns())})
    assert answer.status_code == 302
    assert Run.objects.get().state == RunState.DONE
    assert len(gather_values.pigments()) == len(FEW)
    shown = page(visitor, "/pigments/")
    assert gather_values.masstone_hex(gather_values.pigments()[0]) in shown
    assert "its drawdowns fit" in shown


def test_a_reading_darker_than_the_surface_is_asked_about_and_as_set_refused_with_the_reason(
    visitor: Client, shop: None, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    row = Drawdown.objects.get(name="PBk7 masstone")
    Drawdown.objects.filter(pk=row.pk).update(over_black=[0.01] * 31)
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        visitor.post("/pigments/find/")
    held = Run.objects.get()
    assert held.state == RunState.DONE
    assert "read without the shine" in page(visitor, "/pigments/"), "first the setting is asked about"
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        visitor.post("/pigments/find/", {"how": "as set"})
    assert Run.objects.exclude(pk=held.pk).get().state == RunState.REFUSED
    assert "specular component excluded" in page(visitor, "/pigments/")


def test_a_pigment_s_page_shows_its_curves_and_changes_its_facts(visitor: Client, shop: None) -> None:
    row = Pigment.objects.get(key="PY42")
    shown = page(visitor, f"/pigments/{row.pk}/")
    assert "K, absorbs" in shown
    assert "PY42 masstone" in shown
    facts = {
        "name": "Ochre",
        "index": "PY42",
        "density": "1.6",
        "solids": "36",
        "price": "45",
        "version": "0",
    }
    assert visitor.post(f"/pigments/{row.pk}/", facts).status_code == 302
    row.refresh_from_db()
    assert (row.name, row.density, row.solids) == ("Ochre", 1.6, 0.36)
    late = visitor.post(f"/pigments/{row.pk}/", facts)
    assert late.status_code == 422
    assert "Somebody changed this pigment" in late.content.decode()


def test_shelf_lots_and_drawdowns_change_on_the_page(visitor: Client, shop: None) -> None:
    row = Pigment.objects.get(key="PY42")
    visitor.post(f"/pigments/{row.pk}/shelf/", {"on_shelf": "no"})
    assert not Pigment.objects.get(pk=row.pk).on_shelf
    visitor.post(f"/pigments/{row.pk}/lots/", {"lot-name": "B7", "lot-volume": "500", "lot-received": ""})
    lot = PigmentLot.objects.get()
    visitor.post(f"/pigments/lots/{lot.pk}/opened/")
    lot.refresh_from_db()
    assert lot.opened is not None
    again = visitor.post(f"/pigments/{row.pk}/lots/", {"lot-name": "B7"})
    assert again.status_code == 422
    drawdown = Drawdown.objects.get(name="PY42 tint")
    visitor.post(f"/pigments/drawdowns/{drawdown.pk}/aside/", {"back": row.pk})
    assert "The drawdowns changed" in page(visitor, "/pigments/")
    visitor.post(f"/pigments/drawdowns/{drawdown.pk}/back/", {"back": row.pk})
    assert "The drawdowns changed" not in page(visitor, "/pigments/")


def test_the_shop_s_own_window_becomes_the_start_of_a_search(visitor: Client, aimed: Job) -> None:
    sent = {"setup-specular": "no", "setup-coat": "9", "setup-load_low": "12", "setup-load_high": "14"}
    assert visitor.post("/pigments/setup/", sent).status_code == 302
    kept = ColourSetup.objects.get()
    assert (kept.specular, kept.coat) == (False, 9.0)
    assert 'value="12.0"' in page(visitor, f"/jobs/{aimed.pk}/colour/")
    assert visitor.post("/pigments/setup/", {**sent, "setup-load_low": "15"}).status_code == 422


def test_a_double_tap_on_choose_counts_once(visitor: Client, aimed: Job) -> None:
    asked = {"load": [0.16, 0.20], "most": 2, "lights": ["D65", "A", "FL11"]}
    row = steps.keep_match(aimed, match(stock.problem(aimed, asked)))[0]
    for _ in range(2):
        visitor.post(f"/jobs/{aimed.pk}/colour/recipes/{row.pk}/choose/", {"act": "the-same-token"})
    assert row.choices.count() == 1


def listed_names(visitor: Client, query: str = "") -> list[str]:
    shown = page(visitor, f"/pigments/{query}")
    return re.findall(r'<span class="told"><span><strong>([^<]+)</strong>', shown)


def test_one_of_many_pigments_is_found_by_name_key_or_bottle(visitor: Client, job: Job) -> None:
    steps_actions.import_pigments(demo.text("pigments.csv"))
    every = listed_names(visitor)
    assert len(every) == Pigment.objects.count() > 8
    yellow = Pigment.objects.get(key="PY42")
    visitor.post(f"/pigments/{yellow.pk}/lots/", {"lot-name": "Tub 17", "lot-volume": "500 mL"})
    for word in ("PY42", "yellow  OXIDE", "tub 17"):
        assert listed_names(visitor, f"?{urlencode({'q': word})}") == [yellow.name], word
    nothing = page(visitor, "/pigments/?q=%3Cb%3E")
    assert f"0 of {len(every)} with “<b>”" in nothing
    assert "Show all" in nothing
    assert "lot Tub 17, not opened" in page(visitor, "/pigments/")


def test_few_pigments_have_no_field_to_find_one_by(visitor: Client, db: None) -> None:
    lines = demo.text("pigments.csv").splitlines()
    steps_actions.import_pigments("\n".join(lines[:9]))
    assert 'id="q"' not in page(visitor, "/pigments/")
    steps_actions.import_pigments("\n".join(lines[:10]))
    assert 'id="q"' in page(visitor, "/pigments/")


def test_drawdowns_are_asked_for_above_the_list(visitor: Client, shop: None) -> None:
    shown = page(visitor, "/pigments/")
    assert shown.index("Bring drawdowns") < shown.index("On the list")
    assert "No drawdowns yet?" not in shown


def sheet_of(level: float, *, name: str = "Seat", count: int = 1, use: str = "target") -> str:
    """A file with so many readings of one flat colour."""
    bands = [str(nm) for nm in range(400, 710, 10)]
    row = ",".join([name, use, *([f"{level}"] * len(bands))])
    return "\n".join([",".join(["name", "use", *bands]), *([row] * count)])


@pytest.mark.parametrize(("level", "count", "warned"), [(0.05, 1, True), (0.05, 4, False), (0.4, 1, False)])
def test_a_dark_target_read_too_seldom_says_how_many_readings_it_wants(
    visitor: Client, job: Job, level: float, count: int, warned: bool
) -> None:
    steps.import_readings(job, sheet_of(level, count=count))
    assert Reading.objects.count() == 1, "rows of one name are one reading"
    shown = page(visitor, f"/jobs/{job.pk}/colour/")
    assert ("A dark target, read once" in shown) == warned
    assert ("Read 4 places" in shown) == warned
    assert (f"mean of {count} readings" in shown) == (count > 1)


def test_unlike_readings_of_one_name_are_kept_apart(job: Job) -> None:
    lines = [*sheet_of(0.2, name="Sample", use="").splitlines(), sheet_of(0.5, name="Sample").splitlines()[1]]
    assert steps.import_readings(job, "\n".join(lines)) == 2
    aimed = gather.target(job)
    assert aimed is not None
    assert aimed.target.name == "Sample (2)"


def test_a_pigment_s_page_says_how_often_its_masstone_is_best_read(visitor: Client, shop: None) -> None:
    black, white = (Pigment.objects.get(key=key) for key in ("PBk7", "PW6"))
    dark = page(visitor, f"/pigments/{black.pk}/")
    found = re.search(r"About <strong>(\d) readings</strong> of the masstone", dark)
    assert found, "a black wants several"
    assert "It was read once: set that drawdown aside" in dark
    assert "One reading of its masstone is enough" in page(visitor, f"/pigments/{white.pk}/")
    Drawdown.objects.filter(name="PBk7 masstone").update(readings=int(found[1]))
    assert f"It was read {found[1]} times." in page(visitor, f"/pigments/{black.pk}/")
    Drawdown.objects.filter(name="PBk7 masstone").update(aside="2026-03-02T08:00Z")
    assert "It was read" not in page(visitor, f"/pigments/{black.pk}/")


def test_recipes_that_wait_to_be_chosen_come_first_with_what_limits_them(
    visitor: Client, shop: None, job: Job
) -> None:
    steps.import_readings(job, sheet_of(0.05))
    Pigment.objects.filter(key="PBk7").update(provenance="Invented.")
    rows = steps.keep_match(job, match(stock.problem(job, ASKED)))
    shown = page(visitor, f"/jobs/{job.pk}/colour/")
    order = [
        "Recipes found, best first",
        "1 of the 4 pigments here are generic",
        "A dark target, read once",
        'id="target-h"',
        'id="find-h"',
    ]
    places = [shown.index(words) for words in order]
    assert places == sorted(places)
    assert all(shown.count(words) == 1 for words in order)
    steps.choose(rows[0])
    shown = page(visitor, f"/jobs/{job.pk}/colour/")
    order = [
        'id="chosen-h"',
        "pigments here are generic",
        "Mix it on the bench",
        "A dark target, read once",
        'id="find-h"',
        "Recipes found, best first",
    ]
    places = [shown.index(words) for words in order]
    assert places == sorted(places)
    assert all(shown.count(words) == 1 for words in order)
