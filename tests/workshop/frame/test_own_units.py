"""No page and no paper shows the other system's units: every page is asked for in a shop of each, and what a person sees on it is searched.

Left in both systems: grams (the balance), g/mL and g/L, nm, ppm and µm of films, and what was logged: it stays as it was written.
"""

import html
import io
import re

import pytest
from pypdf import PdfReader

from hidewright.workshop.shop.models import Act, Shop
from known_pages import known_pages
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
_UNSEEN = re.compile(r"<(script|style|svg|option|textarea)\b.*?</\1>|<!--.*?-->", re.DOTALL | re.IGNORECASE)


def seen(page: str) -> str:
    """What a person reads on a page: no code, no choices of a list, no pictures; fields with what they hold."""
    text = _UNSEEN.sub(" ", page)
    text = re.sub(r"<input[^>]*type=\"hidden\"[^>]*>", " ", text)
    text = re.sub(r"<input[^>]*\bvalue=\"([^\"]*)\"[^>]*>", r" \1 ", text)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def printed(pdf: bytes) -> str:
    """What a person reads on a paper."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


@pytest.mark.parametrize("units", OTHERS)
def test_no_page_shows_the_units_of_the_other_system(units: str, world: World, browser: Browser) -> None:
    Shop.objects.update(units=units)
    visitor, faults = browser(), []
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
        text = printed(content) if content.startswith(b"%PDF") else seen(content.decode(errors="replace"))
        for line in logged:
            text = text.replace(line, " ")
        faults += [
            f"{page.name}: …{text[max(0, m.start() - 50) : m.end() + 20]}…"
            for m in OTHERS[units].finditer(text)
        ]
        faults += [f"{page.name}: the day {m[0]}" for m in FIGURES.finditer(text)]
    assert not faults, "\n".join(faults)
