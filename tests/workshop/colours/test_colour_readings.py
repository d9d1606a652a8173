"""Readings from other files, off a photo, compared, and the target shifted."""

import io
import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from hidewright import demo
from hidewright.colour.light import cie
from hidewright.colour.light.far import off_by
from hidewright.colour.recipes.match import match
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours import search_queries as stock
from hidewright.workshop.colours.models import Reading
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.quantities.colour_change import Downstream, downstream
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job
from workshop.few_pigments import ASKED, choose_the_best, know_the_few

pytestmark = pytest.mark.django_db

GREY = (119, 119, 119)
LEATHER = (150, 110, 80)


@pytest.fixture
def aimed(job: Job) -> Job:
    """A job with target and old colour."""
    steps.import_readings(job, demo.text("readings.csv"))
    return job


def a_photo(leather: tuple[int, int, int] = LEATHER) -> SimpleUploadedFile:
    """Leather on the left, a grey card on the right."""
    picture = Image.new("RGB", (600, 400), (60, 60, 60))
    picture.paste(leather, (50, 50, 250, 350))
    picture.paste(GREY, (350, 50, 550, 350))
    held = io.BytesIO()
    picture.save(held, "PNG")
    return SimpleUploadedFile("p.png", held.getvalue())


def test_a_cgats_text_is_told_by_its_sections(job: Job) -> None:
    bands = " ".join(f"SPECTRAL_NM{nm}" for nm in range(400, 701, 10))
    row = " ".join(["30.0"] * 31)
    text = f'CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME {bands}\nEND_DATA_FORMAT\nBEGIN_DATA\n"Seat" {row}\nEND_DATA\n'
    assert steps.import_readings(job, text) == 1
    found = gather.readings(job)[0]
    assert found.name == "Seat"
    assert found.reflectance == pytest.approx(np.full(31, 0.3))


def test_a_reading_darker_than_the_shine_is_brought_alike_and_says_so(job: Job) -> None:
    bands = ",".join(str(nm) for nm in range(400, 701, 10))
    steps.import_readings(job, f"name,{bands}\nSeat,{','.join(['0.012'] * 31)}\n")
    (found,) = gather.readings(job)
    assert found.reflectance == pytest.approx(np.full(31, 0.052))
    (row,) = Reading.objects.filter(job=job)
    assert "without the shine" in row.note


def test_every_reading_says_how_it_was_taken_and_what_it_matters(visitor: Client, job: Job) -> None:
    bands = ",".join(str(nm) for nm in range(400, 701, 10))
    rows = "".join(
        f"{name},{','.join([value] * 31)}\n" for name, value in (("Dark", "0.06"), ("Pale", "0.8"))
    )
    steps.import_readings(job, f"name,{bands}\n{rows}")
    dark, pale = gather.readings(job)
    k1 = 0.04
    off = float(cie.delta_e00(cie.lab(np.full(31, 0.06)), cie.lab(np.full(31, 0.06 - k1))))
    assert f"off by {off_by(off)}" in dark.note
    assert off > 4, "a dark colour read the other way is far off"
    assert off_by(off) not in pale.note
    assert "taken as read with the shine" in visitor.get(f"/jobs/{job.pk}/colour/").text


def test_a_cgats_text_with_colours_only_keeps_them_as_colours(job: Job) -> None:
    text = "CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\nSeat 48 8 24\nEND_DATA\n"
    steps.import_readings(job, text)
    row = Reading.objects.get()
    assert row.reflectance is None
    assert row.lab == [48.0, 8.0, 24.0]
    assert gather.readings(job)[0].assumed


def test_xml_that_is_no_cxf_is_refused(visitor: Client, job: Job) -> None:
    file = SimpleUploadedFile("f.cxf", b'<?xml version="1.0" encoding="UTF-8"?><nothing/>')
    answer = visitor.post(f"/jobs/{job.pk}/colour/readings/", {"file-file": file})
    assert answer.status_code == 422
    assert "no object with a spectrum" in answer.content.decode()


def test_a_colour_is_read_off_a_photo_with_a_grey_card(visitor: Client, job: Job) -> None:
    where = f"/jobs/{job.pk}/colour/photo/"
    answer = visitor.post(where, {"photo": a_photo()})
    assert answer.status_code == 302
    picked = answer.headers["Location"]
    assert visitor.get(picked).status_code == 200
    source = re.search(r'src="([^"]+picture\.jpg)"', visitor.get(picked).content.decode())
    assert source is not None
    assert visitor.get(source[1])["Content-Type"] == "image/jpeg"
    sent = {"name": "Seat", "sample-box": "10 20 40 80", "known1-box": "60 20 90 80"}
    sent |= {"known1-l": "50", "known1-a": "0", "known1-b": "0"}
    assert visitor.post(picked, sent).status_code == 302
    row = Reading.objects.get()
    assert row.source == "photo"
    assert row.spread >= 4, "with a grey card only the spread is wide (from memory)"
    lab = row.lab
    assert lab is not None
    assert lab[1] > 5
    assert lab[2] > 10


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"sample-box": ""}, "The leather is not marked"),
        ({"sample-box": "10 20 40"}, "cannot be read"),
        ({"sample-box": "40 20 10 80"}, "inside the picture"),
        ({"known1-box": ""}, "needs a grey card"),
        ({"known2-box": "60 20 90 80"}, "Known patch 2 needs its L*"),
    ],
)
def test_patches_that_cannot_be_are_refused(
    visitor: Client, job: Job, wrong: dict[str, str], words: str
) -> None:
    picked = visitor.post(f"/jobs/{job.pk}/colour/photo/", {"photo": a_photo()}).headers["Location"]
    sent = {"name": "Seat", "sample-box": "10 20 40 80", "known1-box": "60 20 90 80"}
    sent |= {"known1-l": "50", "known1-a": "0", "known1-b": "0"}
    answer = visitor.post(picked, {**sent, **wrong})
    assert answer.status_code == 422
    assert words in unescape(answer.content.decode())
    assert not Reading.objects.exists()


def test_a_clipped_photo_is_refused_with_the_reason(visitor: Client, job: Job) -> None:
    photo = a_photo(leather=(255, 255, 255))
    picked = visitor.post(f"/jobs/{job.pk}/colour/photo/", {"photo": photo}).headers["Location"]
    sent = {"name": "Seat", "sample-box": "10 20 40 80", "known1-box": "60 20 90 80"}
    sent |= {"known1-l": "50", "known1-a": "0", "known1-b": "0"}
    assert "clipped" in visitor.post(picked, sent).content.decode()


def test_two_readings_are_compared_with_the_warning_for_unlike_ones(visitor: Client, aimed: Job) -> None:
    first, second = gather.readings(aimed)
    Reading.objects.filter(pk=second.id).update(state="wet")
    shown = visitor.get(f"/jobs/{aimed.pk}/colour/compare/", {"first": first.id, "second": second.id})
    text = unescape(shown.content.decode())
    assert f"{float(cie.delta_e00(cie.lab(first.reflectance), cie.lab(second.reflectance))):.2f}" in text
    assert "One is wet and one is dry" in text
    assert (
        visitor.get(f"/jobs/{aimed.pk}/colour/compare/", {"first": "999", "second": "1"}).status_code == 422
    )


def test_a_shift_is_looked_at_then_aimed_at_then_undone(visitor: Client, aimed: Job) -> None:
    where = f"/jobs/{aimed.pk}/colour/shift/"
    before = gather.target(aimed)
    assert before is not None
    asked = {"way": "lighter", "amount": "3", "swatch": ""}
    looked = visitor.get(where, asked)
    assert looked.status_code == 200
    assert "Aim at the shifted colour" in looked.content.decode()
    assert gather.target(aimed).target.id == before.target.id  # type: ignore[union-attr]
    assert visitor.post(where, asked).status_code == 302
    after = gather.target(aimed)
    assert after is not None
    assert after.target.labs["D65"][0] == pytest.approx(before.target.labs["D65"][0] + 3, abs=0.02)
    assert after.old is not None, "the old colour stays"
    acts.undo(Act.objects.order_by("-id")[0].pk)
    assert gather.target(aimed).target.id == before.target.id  # type: ignore[union-attr]


@pytest.mark.parametrize(
    "asked",
    [
        {"way": "toward", "amount": "50"},
        {"way": "neutral", "amount": "-60"},
        {"way": "lighter", "amount": "60"},
    ],
)
def test_a_shift_that_cannot_be_is_refused(visitor: Client, aimed: Job, asked: dict[str, str]) -> None:
    assert visitor.get(f"/jobs/{aimed.pk}/colour/shift/", asked).status_code == 422


def chosen_and_shifted(job: Job, amount: float) -> tuple[gather.Chosen, Downstream]:
    """The chosen recipe, and what a lighter target would change."""
    chosen, aimed = gather.chosen_recipe(job), gather.target(job)
    assert chosen is not None
    assert aimed is not None
    found = downstream(job, steps.shifted(aimed, "lighter", amount, None).reflectance)
    assert found is not None
    return chosen, found


def test_no_shift_changes_nothing_down_the_line(aimed: Job) -> None:
    know_the_few()
    best = min(match(stock.problem(aimed, ASKED)).recipes, key=lambda r: r.delta_e["D65"])
    steps.choose(steps.keep_match(aimed, replace(match(stock.problem(aimed, ASKED)), recipes=(best,)))[0])
    chosen, aim = gather.chosen_recipe(aimed), gather.target(aimed)
    assert chosen is not None
    assert aim is not None
    found = downstream(aimed, aim.target.reflectance)
    assert found is not None
    assert found.delta_e == pytest.approx(best.delta_e["D65"], abs=0.05)
    assert found.ml_now is None, "there are no pieces yet"
    for _, now, then in found.pours:
        assert then == pytest.approx(now, rel=0.1, abs=2.0)


def test_the_page_says_what_a_shift_changes_and_how_wet_differs(visitor: Client, aimed: Job) -> None:
    know_the_few()
    choose_the_best(aimed)
    shown = unescape(visitor.get(f"/jobs/{aimed.pk}/colour/").content.decode())
    assert re.search(r'Wet in the cup it looks <span class="far"[^>]* title="ΔE00', shown)
    import_csv(aimed, demo.text("pieces.csv"))
    page = visitor.get(f"/jobs/{aimed.pk}/colour/shift/", {"way": "lighter", "amount": "-15", "swatch": ""})
    looked = unescape(page.content.decode())
    assert "What it changes" in looked
    assert "Mixed colour for the whole job" in looked
    now, then = chosen_and_shifted(aimed, -15.0)
    assert then.delta_e > 0
    assert len(then.pours) == len(now.recipe.parts)
    for words in then.words:
        assert words in looked
    steps.shift_target(aimed, "lighter", -15.0)
    steps.keep_match(aimed, match(stock.problem(aimed, ASKED)))
    shown = unescape(visitor.get(f"/jobs/{aimed.pk}/colour/").content.decode())
    assert "Against the chosen recipe" in shown


def test_a_colour_seen_under_one_light_stays_a_guess_under_others_when_it_is_shifted(job: Job) -> None:
    seen = steps.type_colour(job, "From a letter", (60.0, 8.0, 18.0), light="A", observer="2")
    steps.set_target(job, seen.pk, None)
    row, _ = steps.shift_target(job, "lighter", 3.0)
    shifted = gather.reading_value(row)
    assert shifted.guessed(("D65", "A")) == gather.reading_value(seen).guessed(("D65", "A"))
    assert shifted.guessed(("D65",)) == ("D65",)
    assert row.lab[0] == pytest.approx(63.0, abs=0.1), "the light it was seen under is kept"
    assert row.spread == seen.spread
