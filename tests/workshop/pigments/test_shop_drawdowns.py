"""Drawdowns as a shop has them, on the pages: grams and a wet film come in, are shown both ways, and follow a density that is put right."""

from html import unescape
from urllib.parse import urlencode

import pytest
from django.test import Client

from hidewright.lists.grid import grid_of_text
from hidewright.workshop.lists import actions as lists
from hidewright.workshop.lists.queries import draft, taker_of
from hidewright.workshop.pigments import actions as pigments
from hidewright.workshop.pigments import saving, values
from hidewright.workshop.pigments.models import Drawdown
from hidewright.workshop.pigments.queries import behind
from hidewright.workshop.shelf.models import Pigment
from workshop.sends import file, film_file

pytestmark = pytest.mark.django_db

NM = ";".join(f"{wave}" for wave in range(400, 701, 20))


def sheet(head: str, film: str) -> str:
    """A shop's sheet of one film over both sides, with its bare card."""
    blank = ";" * film.count(";")
    rows = [
        f"{name};{side};{rest};" + ";".join([read] * 16)
        for name, rest, reads in (("card", blank, ("0,05", "0,85")), ("White 1", film, ("0,6", "0,8")))
        for side, read in zip(("black", "white"), reads, strict=True)
    ]
    return f"Film;Side;{head};{NM}\n" + "\n".join(rows) + "\n"


GRAMS = sheet("Recipe;Wet film (mil)", "PW6 39 g + base 82,4 g;4")


def page(visitor: Client, path: str) -> str:
    answer = visitor.get(path)
    assert answer.status_code == 200
    return unescape(answer.content.decode())


@pytest.fixture
def white() -> Pigment:
    return pigments.add_pigment(
        "PW6", name="White", index="PW6", density=1.95, solids=0.40, price=38, note=""
    )


def kept(text: str) -> Drawdown:
    """The one drawdown of a sheet, taken in as its page takes it."""
    row = lists.bring(None, "drawdowns", "sheet.csv", grid_of_text(text))
    taker = taker_of("drawdowns", of_job=False)
    assert taker is not None
    ready = draft(row, taker.kind, "us")
    lists.take(row, taker, how="keep", fingerprint=ready.fingerprint, units="us")
    return Drawdown.objects.get()


def test_what_was_weighed_and_what_it_becomes_are_both_shown(visitor: Client, white: Pigment) -> None:
    row = lists.bring(None, "drawdowns", "sheet.csv", grid_of_text(GRAMS))
    before = page(visitor, f"/lists/brought/{row.pk}/")
    both = "White 20 % by volume is 32.1 % by weight"
    assert "PW6 39 g; base 82.4 g" in before
    assert both in before
    drawn = kept(GRAMS)
    assert (drawn.mix, drawn.film) == ("PW6 39 g; base 82.4 g", "wet 101.6 µm")
    assert drawn.shares == {"PW6": pytest.approx(20 / 28)}
    after = page(visitor, f"/pigments/{white.pk}/")
    assert drawn.mix in after
    assert both in after


def test_a_density_put_right_moves_what_was_weighed(visitor: Client, white: Pigment) -> None:
    """Of 39 g a paste of 1.30 g/mL is 30 mL, of which 12 stay, beside 20 of the base: 30 in 32 of dry film [A]."""
    drawn = kept(GRAMS)
    saving.keep_turned([values.drawdown_value(drawn)])
    Pigment.objects.update(misfit={drawn.name: [0, 0]}, characterised="2026-03-02T08:00Z")
    assert not behind()
    white.refresh_from_db()
    facts = {"name": "White", "index": "PW6", "solids": 0.40, "price": 38, "note": ""}
    pigments.edit_pigment(white, version=white.version, density=1.30, **facts)
    assert values.drawdown_value(drawn).shares == {"PW6": pytest.approx(30 / 32)}
    assert behind()
    assert "drawdowns changed" in page(visitor, "/pigments/")
    saving.keep_turned([values.drawdown_value(drawn)])
    assert not behind()
    assert Drawdown.objects.get().mix == "PW6 39 g; base 82.4 g"


def test_weight_or_volume_is_asked_once(visitor: Client, white: Pigment) -> None:
    """A sheet that says neither is asked about; the answer is kept for the next sheet of that heading."""
    text = sheet("Paste;Load;Wet film (µm)", "PW6;18 %;100")
    row = lists.bring(None, "drawdowns", "sheet.csv", grid_of_text(text))
    look = f"/lists/brought/{row.pk}/"
    assert "Are the columns right?" in page(visitor, look)
    answers = {"c3": "share", "u3": "% by volume", "look": "1"}
    taker = taker_of("drawdowns", of_job=False)
    assert taker is not None
    for column in draft(row, taker.kind, "us").columns[:5]:
        answers.setdefault(f"c{column.at}", column.meaning)
    visitor.post(look, answers)
    assert "White 18 % by volume is 29.4 % by weight" in page(visitor, look)
    again = lists.bring(None, "drawdowns", "next.csv", grid_of_text(text.replace("18 %", "10 %")))
    assert draft(again, taker.kind, "us").ready


FIELDS = {"name": "White, thin", "unit": "g", "thing0": "PW6", "amount0": "39", "thing1": "base", "amount1": "82.4", "how": "wet", "film": "4 mil"}  # fmt: skip
FORM = "/pigments/drawdowns/new/"


def test_one_is_entered_on_its_page(visitor: Client, white: Pigment) -> None:
    """What it becomes is shown while it is typed; kept, its unit and its card serve for the next."""
    becomes = page(visitor, "/pigments/drawdowns/becomes/?" + urlencode(FIELDS))
    assert "White 20 % by volume is 32.1 % by weight" in becomes
    assert "102 µm" in becomes
    assert "28.4 µm" in becomes
    answer = visitor.post(FORM, {**FIELDS, "file": film_file()}, follow=True)
    assert "Kept the drawdown White, thin: White 20 % by volume is 32.1 % by weight" in unescape(
        answer.content.decode()
    )
    drawn = Drawdown.objects.get()
    assert (drawn.mix, drawn.film) == ("PW6 39 g; base 82.4 g", "wet 4 mil")
    assert drawn.microns == pytest.approx(101.6 * 0.28)
    assert (drawn.over_white[0], drawn.black[0]) == (0.80, 0.05)
    sides = (
        "name,"
        + ",".join(str(nm) for nm in range(400, 701, 10))
        + "".join(f"\nover {side}" + ",0.4" * 31 for side in ("black", "white"))
    )
    again = {
        **FIELDS,
        "name": "White, thick",
        "unit": "by volume",
        "amount0": "18 %",
        "amount1": "",
        "film": "200",
        "how": "gap",
    }
    visitor.post(FORM, {**again, "file": file("two.csv", sides)})
    second = Drawdown.objects.get(name="White, thick")
    assert (second.mix, second.film) == ("PW6 18 % by volume", "gap 200 µm")
    assert second.white == drawn.white
    assert '<option value="by volume" selected>' in page(visitor, FORM)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"film": "3"}, "A wet film of 3 µm cannot be"),
        ({"film": "1.2 mm"}, "from 5 µm to 1 mm"),
        ({"film": ""}, "Write how thick it is"),
        ({"amount0": "1,234"}, "can mean 1234 or 1.234"),
        ({"amount0": "1,234 g"}, "can mean 1234 or 1.234"),
        ({"how": "wire", "film": "50 µm"}, "has a number"),
        ({"amount0": "a bit"}, "is not a number"),
        ({"amount1": ""}, "Write how much"),
        ({"unit": "by weight", "amount0": "70", "amount1": "50"}, "more than 100 %"),
        ({"thing0": "water"}, "no pigment in this mix"),
        ({"name": "card"}, "another name"),
    ],
)
def test_what_cannot_be_is_said_and_what_was_typed_stays(
    visitor: Client, white: Pigment, change: dict[str, str], words: str
) -> None:
    answer = visitor.post(FORM, {**FIELDS, **change, "file": film_file()})
    assert answer.status_code == 422
    shown = unescape(answer.content.decode())
    assert words in shown
    assert 'value="82.4"' in shown or "amount1" in change
    assert not Drawdown.objects.exists()


def test_readings_that_name_no_side_are_refused(visitor: Client, white: Pigment) -> None:
    head = "name," + ",".join(str(nm) for nm in range(400, 701, 10))
    answer = visitor.post(FORM, {**FIELDS, "file": file("r.csv", f"{head}\nreading 1" + ",0.4" * 31)})
    assert "Nothing says over which side “reading 1” was read" in unescape(answer.content.decode())
