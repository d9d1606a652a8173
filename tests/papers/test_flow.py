"""Names that people type keep their place on a paper: right-to-left letters in an English line, and words longer than a column."""

import unicodedata
from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from hidewright.papers.flow import BREAK, END, START, flowing
from hidewright.papers.record import Record, RecordPart, RecordTable, record_pdf

DAY = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("text", "apart"),
    [
        ("As it was: הרוזנת אליזבת, 29 Nov 2026", ["הרוזנת אליזבת"]),
        ("مشغل الجلود, 29 Nov 2026", ["مشغل الجلود"]),
        ("chairs مقعد, כיסא", ["مقعد", "כיסא"]),
        ("كرسي الصالون 1", ["كرسي الصالون 1"]),
        ("الجلد ممزق (12 cm) ويجب استبداله", ["الجلد ممزق (12 cm) ويجب استبداله"]),
        ("C1 م", ["م"]),
        ("Gräfin Wąż-Śliwińska", []),
    ],
)
def test_right_to_left_letters_are_set_apart(text: str, apart: list[str]) -> None:
    """UAX 9 by Unicode's own classes: what is set apart begins and ends with letters of class R or AL, and none of them lies outside."""
    made = flowing(text)
    assert made.replace(START, "").replace(END, "") == text
    pieces = [part.split(END)[0] for part in made.split(START)[1:]]
    assert pieces == apart
    outside = "".join(part.split(END)[-1] for part in made.split(START)[1:]) + made.split(START)[0]
    assert not any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in outside)


def test_long_words_may_break_and_sums_stay_whole() -> None:
    assert flowing("9" * 40).count(BREAK) == 39
    assert flowing("Extra-long-mark-of-the-upholsterer-126") == "Extra-long-mark-of-the-upholsterer-126"
    assert BREAK not in flowing("Rückenpolster, Gräfin Śliwińska")
    half = "0123456789abcdef" * 2
    assert flowing({"rows": [[half]], "svg": "<svg " + "x" * 40}) == {
        "rows": [[half]],
        "svg": "<svg " + "x" * 40,
    }


def test_nothing_runs_out_of_its_column_and_arabic_has_a_font_of_its_own() -> None:
    """A number of sixty figures takes several lines of its column."""
    table = RecordTable(("Number", "Test"), (("9" * 60, "Burn"), ("مقعد جلدي", "Look")))
    page = PdfReader(
        BytesIO(record_pdf(Record("Closing", "Job", "Job", DAY, (RecordPart("Papers", table=table),))))
    ).pages[0]
    lines = [line for line in page.extract_text().replace(BREAK, "").split("\n") if "9999" in line]
    assert len(lines) > 1, "on several lines"
    fonts = {str(one.get_object()["/BaseFont"]) for one in page["/Resources"]["/Font"].values()}
    assert any("DejaVuSans" in name for name in fonts)
    assert not any("Mono" in name or "Libertinus" in name for name in fonts), fonts
