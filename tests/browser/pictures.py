"""The guide's pictures: which page, how wide, and how much of it."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Page

INTO = Path(__file__).resolve().parents[2] / "docs" / "guide" / "pictures"


@dataclass(frozen=True)
class Picture:
    """One picture: its file's name, the words of the links that lead there from the first page, its frame in px, and the address below the job where no link names it."""

    name: str
    links: tuple[str, ...]
    width: int = 1280
    height: int = 860
    below: str = ""


PICTURES = (
    Picture("survey", ("Survey",)),
    Picture("colour", ("Colour",), 1280, 1000),
    Picture("quantities", ("Quantities",)),
    Picture("days", ("Days",), 1280, 1200),
    Picture("shop", ()),
    Picture("cup", (), below="mixing/1/"),
)


def take_all(page: Page) -> Iterator[str]:
    """Take every picture; says each file's name."""
    INTO.mkdir(parents=True, exist_ok=True)
    for picture in PICTURES:
        page.set_viewport_size({"width": picture.width, "height": picture.height})
        page.goto("/")
        if picture.links or picture.below:
            page.locator(".job-card h2 a").first.click()
        for words in picture.links:
            page.locator(".stages").get_by_role("link", name=words, exact=True).click()
            page.wait_for_load_state("networkidle")
        if picture.below:
            page.goto(f"{page.url}{picture.below}")
        page.screenshot(path=INTO / f"{picture.name}.png")
        yield f"{INTO.name}/{picture.name}.png"
