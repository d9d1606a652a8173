"""axe-core on a page: what keeps somebody out who cannot see, cannot see well, or uses no pointer.

axe-core is MPL-2.0 and comes with the test requirements; it is put into the page that is tested and ships with nothing.
"""

from pathlib import Path

import axe_playwright_python
from playwright.sync_api import Page

SCRIPT = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")

OF_COLOUR = ("color-contrast", "link-in-text-block")
"""The rules that look at colours. In the dark theme only they are asked again: it differs from the light one by the values of its colours and by nothing else (tests/workshop/frame/test_look.py)."""

ASK = """async (rules) => {
  const options = { resultTypes: ['violations'], preload: false };
  if (rules) options.runOnly = { type: 'rule', values: rules };
  const found = await axe.run(document, options);
  return found.violations.flatMap((rule) => rule.nodes.map((node) => `${rule.id}: ${node.html.slice(0, 160)} ${node.failureSummary}`));
}"""
"""All of axe-core's own rules for what it can decide; none is switched off."""


def violations(page: Page) -> list[str]:
    """What axe-core finds on the page as it is now: all rules in the light theme, those of colour in the dark one too."""
    page.evaluate(SCRIPT)
    wrong = []
    for theme in ("dark", "light"):
        page.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        found = page.evaluate(ASK, list(OF_COLOUR) if theme == "dark" else None)
        wrong += [f"{theme}: {' '.join(what.split())}" for what in found]
    return wrong
