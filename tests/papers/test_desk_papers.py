"""Quotes, jar labels and touch-up sheets."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from hidewright.papers.jar_label import JarLabel, jar_labels_pdf
from hidewright.papers.mixing_card import CardLine
from hidewright.papers.quote import Quote, QuoteLine, quote_pdf
from hidewright.papers.touch_up import KitItem, TouchUpSheet, touch_up_pdf
from hidewright.refusals import Refusal

DAY = date(2026, 3, 2)
EVIL = "#evil *b* $x$ [y]"
QUOTE = Quote("Rail car", "A client", "The shop", (QuoteLine("Strip", Decimal("1200.005")),), DAY)
JAR = JarLabel("J-14", "Biscuit", "Rail car", 350, DAY, "#8a6a45", 0.178, 1.05, "Base, white, yellow oxide")
SHEET = TouchUpSheet(
    "Rail car", "Biscuit", (KitItem("Colour", "50 mL", "J-14"),), (CardLine("Base", 750),), DAY
)


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def test_quote_adds_up_what_it_prints() -> None:
    quote = replace(QUOTE, lines=(*QUOTE.lines, QuoteLine(EVIL, Decimal("-0.5"))), tax_rate=Decimal("0.19"))
    assert quote.net == Decimal("1199.51")
    assert quote.tax == Decimal("227.91")
    text = text_of(quote_pdf(quote))
    for wanted in ("$1,200.01", "−$0.50", "$1,199.51", "Tax 19 %", "$227.91", "$1,427.42", EVIL):
        assert wanted in text, wanted


@given(st.lists(st.decimals("-9999", "9999", places=3), min_size=1, max_size=20))
def test_the_printed_lines_always_sum_to_the_printed_sum(amounts: list[Decimal]) -> None:
    quote = replace(QUOTE, currency="", lines=tuple(QuoteLine("x", amount) for amount in amounts))

    def read(text: str) -> Decimal:
        return Decimal(text.replace(",", "").replace("−", "-"))

    content = quote.content()
    assert sum(read(line[2]) for line in content["lines"]) == read(content["sums"][0][1])


def test_empty_and_nonsense_are_refused() -> None:
    for wrong in (
        lambda: replace(QUOTE, lines=()),
        lambda: replace(QUOTE, tax_rate=Decimal(19)),
        lambda: QuoteLine("x", Decimal("NaN")),
        lambda: replace(JAR, code=" "),
        lambda: replace(JAR, volume_ml=0),
        lambda: replace(JAR, hex="tan"),
        lambda: jar_labels_pdf((), job="x", made_on=DAY),
        lambda: replace(SHEET, items=(), recipe=()),
        lambda: replace(SHEET, recipe=(CardLine("x", 0),)),
    ):
        with pytest.raises(Refusal):
            wrong()


def test_labels_carry_what_tells_jars_apart_ten_to_a_page() -> None:
    pdf = jar_labels_pdf(
        tuple(replace(JAR, code=f"J-{n}", colour=EVIL) for n in range(11)), job="x", made_on=DAY
    )
    assert len(PdfReader(BytesIO(pdf)).pages) == 2
    text = text_of(pdf)
    for wanted in ("J-0", "J-10", EVIL, "350 mL", "17.8 % pigment", "No crosslinked colour"):
        assert wanted in text, wanted


def test_touch_up_recipe_is_for_a_hundred_grams() -> None:
    sheet = replace(SHEET, recipe=(CardLine("Base", 750), CardLine(EVIL, 250)), job=EVIL)
    assert [line[1] for line in sheet.content()["recipe"]] == ["75.00", "25.00"]
    text = text_of(touch_up_pdf(sheet))
    for wanted in (EVIL, "75.00", "authorised person", "J-14"):
        assert wanted in text, wanted
    assert touch_up_pdf(sheet) == touch_up_pdf(sheet)
