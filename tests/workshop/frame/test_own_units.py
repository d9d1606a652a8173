"""No page and no paper shows the other system's units, nor a word that docs/guide/words.md leaves to science or to books: every page is asked for in a shop of
each system, and what a person sees on it is searched.

Left in both systems: grams (the balance), g/mL and g/L, nm, ppm and µm of films, and what was logged: it stays as it was written.
"""

import html
import io
import re

import pytest
from pypdf import PdfReader

from hidewright.workshop.shop.models import Act, Shop
from known_pages import known_pages
from word_list import unwanted
from workshop.frame.test_every_act import DOORS, OF_FILES, PAGES, Browser
from workshop.sends import address
from workshop.world import World

pytestmark = pytest.mark.django_db

BOTH = {
    "brought_list": "shows a list as it was written beside what it is read as",
    "brought_job_list": "likewise",
    "given_quote_pdf": "is the quote as the customer has it",
}
"""Pages that name units of both systems, with why."""
FIGURES = re.compile(r"\b\d{1,2}[./]\d{1,2}[./]20\d\d\b")
"""A day in figures, which one shop reads as March and the next as April."""
OTHERS = {
    "us": re.compile(r"\d\s?(?:mm|cm|m|m²|m³|m³/h|mL|L|kg|°C|km|dm)(?![\w/²³])|\bA4\b"),
    "metric": re.compile(
        r"\d\s?(?:ft|sq ft|fl oz|oz|qt|gal|lb|°F|cfm|ft³|mil|mils)(?![\w/²³])|\d in(?=\s*[.,;:)×]|$)|\bUS Letter\b"
    ),
}
_WHY = re.compile(r"<details\b[^>]*>\s*<summary[^>]*>(?:\s|<[^>]*>)*Why\b.*?</details>", re.DOTALL)
"""What is folded behind “Why”: there the words of science are at home."""
_BEHIND = re.compile(r"\(ΔE00 [\d.]+\)")
"""On paper nobody can tap: the figure follows the words in brackets."""
MONEY = re.compile(r"\$(?!\d{1,3}(?:,\d{3})*(?:\.\d\d)?(?![\d,.]*\d))\s?[\d.,]*\d")
"""The shop's sign before a figure that is written in another way than money is (docs/decisions/0018)."""
_BLOCK = re.compile(
    r"</?(?:li|tr|p|h\d|div|dt|dd|summary|label|section|form|ul|ol|table|figure|figcaption|fieldset|details|button|dl|main|header|nav)\b[^>]*>"
)
"""What parts a page into its lines; the cells of a row of a table belong together."""
_MARK = re.compile(r"(?<![Ll]ot )(?<!Clear base )\bC[12]\b")
"""The marks of the world's pieces, each a “Seat”; a lot of its base is called so too."""
_DRAWN = {"table_maps_pdf", "day_sheet_pdf"}
"""Papers with marks in pictures: there a line above the pictures, or the day's list, says what they are called."""
_UNSEEN = re.compile(r"<(script|style|svg|option|textarea)\b.*?</\1>|<!--.*?-->", re.DOTALL | re.IGNORECASE)


def seen(page: str) -> str:
    """What a person reads on a page: no code, no choices of a list, no pictures; fields with what they hold."""
    text = _UNSEEN.sub(" ", page)
    text = re.sub(r"<input[^>]*type=\"(?:hidden|radio|checkbox)\"[^>]*>", " ", text)
    text = re.sub(r"<input[^>]*\bvalue=\"([^\"]*)\"[^>]*>", r" \1 ", text)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def lines(page: str) -> list[str]:
    """What a person reads on a page, line by line."""
    bare = re.sub(r"<input[^>]*>", " ", _UNSEEN.sub(" ", page))
    return [seen(line) for line in _BLOCK.split(bare)]


def nameless(text: str) -> bool:
    """Whether a line shows a piece's mark and not what it is called."""
    return bool(_MARK.search(text)) and "Seat" not in text


def around(text: str) -> list[str]:
    """What stands around each mark on a paper, where rows have no borders in the text."""
    return [text[max(0, m.start() - 60) : m.end() + 60] for m in _MARK.finditer(text)]


def _without(page: str, logged: list[str]) -> str:
    """A page without what was logged: it stays as it was written."""
    for line in logged:
        page = page.replace(html.escape(line), " ").replace(line, " ")
    return page


def printed(pdf: bytes) -> str:
    """What a person reads on a paper."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


@pytest.mark.parametrize("units", OTHERS)
def test_no_page_shows_the_units_of_the_other_system(units: str, world: World, browser: Browser) -> None:
    Shop.objects.update(units=units)
    visitor, faults, strange = browser(), [], unwanted("anywhere", "pages and papers")
    logged = sorted(set(Act.objects.values_list("text", flat=True)), key=len, reverse=True)
    for page in known_pages():
        if not page.is_shown or page.name in OF_FILES | DOORS | set(BOTH):
            continue
        args = PAGES.get(
            page.name, lambda w, page=page: (w.mine.job.pk,) if "/jobs/N/" in page.route else ()
        )(world)  # type: ignore[misc]
        batch = {"batch": "1 qt" if units == "us" else "1 L"} if page.name == "mixing_card_pdf" else {}
        answer = visitor.get(address(page.name, (args, {})), batch)
        content = b"".join(answer.streaming_content) if answer.streaming else answer.content
        if "html" not in answer.headers["Content-Type"] and not content.startswith(b"%PDF"):
            continue
        paper = content.startswith(b"%PDF")
        text = printed(content) if paper else seen(content.decode(errors="replace"))
        plain = _BEHIND.sub("", text) if paper else seen(_WHY.sub(" ", content.decode(errors="replace")))
        for line in logged:
            text = text.replace(line, " ")
        faults += [
            f"{page.name}: “{m[0]}” in …{plain[max(0, m.start() - 50) : m.end() + 20]}…"
            for m in strange.finditer(plain)
        ]
        faults += [
            f"{page.name}: …{text[max(0, m.start() - 50) : m.end() + 20]}…"
            for m in OTHERS[units].finditer(text)
        ]
        if page.name not in _DRAWN:
            parts = around(text) if paper else lines(_without(content.decode(errors="replace"), logged))
            faults += [f"{page.name}: a mark without a name: {part}" for part in parts if nameless(part)]
        faults += [f"{page.name}: the money {m[0]}" for m in MONEY.finditer(text)]
        faults += [f"{page.name}: the day {m[0]}" for m in FIGURES.finditer(text)]
    assert not faults, "\n".join(faults)
