"""Looking at pages in a real Chromium: start it, photograph, and find what does not fit or is hard to hit."""

import os
import shutil
from pathlib import Path

from playwright.sync_api import Browser, Page, Playwright

WIDTHS = (390, 820, 1280)
"""Widths in CSS px: a phone, a tablet, a laptop."""

TAP = 44
"""The least width and height of what is tapped, in CSS px (WCAG 2.2, 2.5.5, which goes further than 2.5.8's 24)."""

GLOVE = 56
"""The least height of what is tapped with gloves on, in CSS px: the pages of the bench, their headers too (the issue's own figure, no standard's)."""

FIRST_THIRD = 300
"""A bench page's own first control stands above this, in CSS px, on a phone of 390 by 844."""

SHOTS = Path(__file__).resolve().parents[2] / "build" / "shots"

QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

SMALL_TARGETS = """(least) => {
  const shown = (e) => {
    const box = e.getBoundingClientRect();
    if (!box.width || !box.height || box.right <= 0) return false;
    return e.checkVisibility({visibilityProperty: true, opacityProperty: true});
  };
  const inText = (e) => e.tagName === 'A' && getComputedStyle(e).display === 'inline'
    && [...e.parentElement.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
  const target = (e) => (e.matches('input[type=checkbox], input[type=radio]') && e.closest('label')) || e;
  const found = [];
  for (const e of document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary, [role=button]')) {
    if (!shown(e) || inText(e)) continue;
    const box = target(e).getBoundingClientRect();
    if (box.width < least - 0.5 || box.height < least - 0.5)
      found.push(`${Math.round(box.width)}x${Math.round(box.height)} ${e.outerHTML.slice(0, 110)}`);
  }
  return found;
}"""

FIRST_CONTROL = """() => {
  for (const e of document.querySelectorAll('main a[href], main button, main input:not([type=hidden]), main select, main textarea, main summary')) {
    const box = e.getBoundingClientRect();
    if (box.width && box.height && e.checkVisibility({visibilityProperty: true})) return Math.round(box.top + scrollY);
  }
  return null;
}"""

SQUEEZED = """(most) => {
  const lines = (e) => {
    const style = getComputedStyle(e);
    const line = parseFloat(style.lineHeight) || 1.3 * parseFloat(style.fontSize);
    return (e.clientHeight - parseFloat(style.paddingTop) - parseFloat(style.paddingBottom)) / line;
  };
  return [...document.querySelectorAll('button, a.button')]
    .filter((e) => e.checkVisibility({visibilityProperty: true}) && e.innerText.length < 40 && lines(e) > most)
    .map((e) => `${lines(e).toFixed(1)} lines ${e.outerHTML.slice(0, 110)}`);
}"""

TOO_WIDE = """() => {
  const width = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= width) return [];
  const scrolls = (e) => { for (let p = e.parentElement; p; p = p.parentElement)
    if (['auto', 'scroll', 'hidden', 'clip'].includes(getComputedStyle(p).overflowX)) return true; return false; };
  const found = [...document.querySelectorAll('body *')].filter((e) => e.getBoundingClientRect().right > width + 0.5 && !scrolls(e));
  return [`${document.documentElement.scrollWidth} > ${width}`, ...found.slice(0, 5).map((e) => e.outerHTML.slice(0, 110))];
}"""


def chromium_path() -> str:
    """The system's Chromium; HIDEWRIGHT_CHROMIUM names another one."""
    names = (os.environ.get("HIDEWRIGHT_CHROMIUM", ""), "chromium", "chromium-browser", "google-chrome")
    found = next((path for name in names if name and (path := shutil.which(name))), None)
    if found is None:
        raise RuntimeError("No Chromium was found; on Debian: apt-get install chromium")
    return found


def launch(play: Playwright) -> Browser:
    """Start the system's Chromium without a window and without any traffic of its own."""
    return play.chromium.launch(executable_path=chromium_path(), args=list(QUIET))


def too_wide(page: Page) -> list[str]:
    """What makes the page scroll sideways at its present width; empty where it does not."""
    return page.evaluate(TOO_WIDE)  # type: ignore[no-any-return]


def small_targets(page: Page) -> list[str]:
    """What can be tapped and is under 44 by 44 px; links within a line of text are left out (WCAG 2.5.8, Inline)."""
    return page.evaluate(SMALL_TARGETS, TAP)  # type: ignore[no-any-return]


def squeezed(page: Page) -> list[str]:
    """Buttons whose few words break over more than two lines: their column is too narrow."""
    return page.evaluate(SQUEEZED, 2.6)  # type: ignore[no-any-return]


def with_gloves(page: Page) -> list[str]:
    """What is wrong with a page of the bench at its present width: a target under 56 px, or, on a phone, the first control too far down."""
    if not page.evaluate("document.body.classList.contains('gloves')"):
        return []
    wrong = [f"for gloves: {what}" for what in page.evaluate(SMALL_TARGETS, GLOVE)]
    first = page.evaluate(FIRST_CONTROL)
    if (
        page.viewport_size
        and page.viewport_size["width"] == WIDTHS[0]
        and first is not None
        and first > FIRST_THIRD
    ):
        wrong.append(f"the first control stands at {first} px")
    return wrong


def no_sideways_scroll(page: Page) -> None:
    """Fail where the page scrolls sideways."""
    assert not (found := too_wide(page)), f"{page.url} scrolls sideways: {found}"


def tap_targets(page: Page) -> None:
    """Fail where something to tap is too small for a thumb."""
    assert not (found := small_targets(page)), f"{page.url}: too small to tap: {found}"


def look(page: Page, name: str = "", into: Path = SHOTS) -> list[str]:
    """See the page at all three widths, photograph it where it has a name; returns what is wrong with it."""
    wrong = []
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        wrong += [f"{width} px: sideways: {what}" for what in too_wide(page)]
        wrong += [f"{width} px: small: {what}" for what in small_targets(page)]
        wrong += [f"{width} px: squeezed: {what}" for what in squeezed(page)]
        wrong += [f"{width} px: {what}" for what in with_gloves(page)]
        if name:
            into.mkdir(parents=True, exist_ok=True)
            page.screenshot(path=into / f"{name}-{width}.png", full_page=True)
    return wrong


def shot(page: Page, name: str) -> None:
    """Photograph the page at three widths into build/shots, and fail where it does not fit."""
    assert not (wrong := look(page, name)), "\n".join([page.url, *wrong])
