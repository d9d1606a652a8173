"""Papers: text stays text, figures add up, and the same content gives the same bytes."""

from dataclasses import replace
from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from hidewright.charts.swatches import Swatch
from hidewright.charts.tables import PartLying, TableTop, tables_from_above
from hidewright.papers.day_sheet import DayItem, DaySheet, PersonList, TablePicture, day_sheet_pdf
from hidewright.papers.mixing_card import CardLine, MixingCard, mixing_card_pdf
from hidewright.papers.press import press
from hidewright.refusals import Refusal

EVIL = "#evil *b* _i_ $x$ @ref <l> `c` \\ // [y] = h"

CARD = MixingCard(
    job="Rail car",
    colour="Biscuit",
    vessel="1 L pot",
    batch_ml=900,
    density_g_ml=1.05,
    lines=(
        CardLine("Clear base", 700.44),
        CardLine("White", 120.44, "#f4f4f0"),
        CardLine("Black", 2.26, "#111111"),
    ),
    swatches=(Swatch("#8a6a45", "Target"), Swatch("#8b6b44", "Recipe, dry", "ΔE00 0.6")),
    facts=(("D65, 10°", "ΔE00 0.6"),),
    page_url="http://127.0.0.1:8000/jobs/1/mixing/",
    made_on=date(2026, 3, 2),
)

SHEET = DaySheet(
    job="Rail car",
    day=date(2026, 3, 3),
    headline="Day 2 of 9",
    people=(
        PersonList(
            "Ana", "08:00–17:00", (DayItem("08:00", "08:30", ("C01",), "Seat, top", "Strip", "Table A"),)
        ),
        PersonList("Ben", "", ()),
    ),
    pictures=(
        TablePicture(
            "09:00", tables_from_above([TableTop("T", 3, 1)], [PartLying("T", 0, 1, 1, "C01", "wet")])
        ),
    ),
    made_on=date(2026, 3, 2),
)


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_card_prints_amounts_running_totals_and_cautions() -> None:
    text = text_of(mixing_card_pdf(CARD))
    for wanted in ("Biscuit", "900 mL in 1 L pot", "700.4", "820.8", "823.1", "2.3", "no colour standard"):
        assert wanted in text, wanted
    assert CARD.total_g == pytest.approx(823.1)
    rows = CARD.content()["lines"]
    assert sum(float(r["parts"]) for r in rows) == pytest.approx(1000, abs=0.15)
    assert float(rows[-1]["running"]) == pytest.approx(sum(float(r["grams"]) for r in rows))


@pytest.mark.parametrize("place", ["job", "colour", "vessel"])
def test_markup_in_user_text_stays_text_on_the_card(place: str) -> None:
    card = replace(
        CARD, **{place: EVIL}, lines=(CardLine(EVIL, 5, note=EVIL),), cautions=(EVIL,), facts=((EVIL, EVIL),)
    )
    text = text_of(mixing_card_pdf(card))
    assert text.count("#evil *b* _i_ $x$ @ref <l> `c` \\ // [y] = h") >= 4


def test_markup_in_user_text_stays_text_on_the_day_sheet() -> None:
    people = (PersonList(EVIL, EVIL, (DayItem("08:00", "09:00", (EVIL,), EVIL, EVIL, EVIL, EVIL),)),)
    text = text_of(day_sheet_pdf(replace(SHEET, job=EVIL, headline=EVIL, people=people, overnight=EVIL)))
    assert text.replace(" ", "").count("#evil*b*_i_$x$@ref<l>`c`\\//[y]=h") >= 6


def test_same_content_same_bytes_other_content_other_bytes() -> None:
    assert mixing_card_pdf(CARD) == mixing_card_pdf(CARD)
    assert day_sheet_pdf(SHEET) == day_sheet_pdf(SHEET)
    assert mixing_card_pdf(CARD) != mixing_card_pdf(replace(CARD, vessel="2 L pot"))


def test_only_the_shipped_font_is_used() -> None:
    fonts = set()
    for page in PdfReader(BytesIO(day_sheet_pdf(SHEET))).pages:
        resources = page["/Resources"]
        fonts |= {str(f.get_object()["/BaseFont"]) for f in resources.get("/Font", {}).values()}
    assert fonts
    assert all("OpenSans" in name for name in fonts), fonts


def test_a_person_without_work_is_named_and_a_day_without_people_refused() -> None:
    assert "Nothing planned" in text_of(day_sheet_pdf(SHEET))
    with pytest.raises(Refusal, match="Nobody works"):
        replace(SHEET, people=())
    with pytest.raises(Refusal, match="order of time"):
        PersonList(
            "Ana", "", (DayItem("09:00", "10:00", ("b",), "", ""), DayItem("08:00", "09:00", ("a",), "", ""))
        )


def test_card_refuses_what_cannot_be_poured() -> None:
    with pytest.raises(Refusal, match="nothing to pour"):
        replace(CARD, lines=())
    with pytest.raises(Refusal, match="between 0 and"):
        CardLine("White", -1)
    with pytest.raises(Refusal, match="no colour"):
        CardLine("White", 1, "white")


def test_unknown_paper_is_refused() -> None:
    with pytest.raises(Refusal, match="no paper called"):
        press("poster", {}, made_on=date(2026, 3, 2))
