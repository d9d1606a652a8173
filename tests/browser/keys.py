"""Working a page by its keys alone: Tab to what is wanted, Enter or Space on it, and typing. No pointer, no focus set by script."""

from pathlib import Path

from playwright.sync_api import Locator, Page, expect

MOST = 400
"""Presses of Tab after which what is wanted counts as out of reach."""

PARTS = 6
"""More presses than one field has stops: a date has month, day, year and the calendar."""

FOCUS = """(wanted) => {
  const here = document.activeElement;
  if (!here || here === document.body) return { at: false, words: '', seen: true };
  // A radio button or tick that its label frames shows the focus there.
  const framed = here.matches('input[type=radio], input[type=checkbox]') ? here.closest('label') || here : here;
  const outlined = (e) => { const style = getComputedStyle(e); return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2; };
  const box = here.getBoundingClientRect();
  const inView = box.bottom > 0 && box.right > 0 && box.top < innerHeight && box.left < innerWidth;
  const quiet = here.id === 'main';
  return { at: here === wanted, words: here.outerHTML.slice(0, 120), seen: quiet || (inView && (outlined(here) || outlined(framed))) };
}"""


class Keys:
    """Somebody without a pointer."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def reach(self, wanted: Locator) -> None:
        """Press Tab until this has the focus. Fails where it is never reached, or where on the way nobody could see what has the focus."""
        expect(wanted).to_be_visible()
        element = wanted.element_handle()
        if self.page.evaluate(FOCUS, element)["at"]:
            return
        way: list[str] = []
        for _ in range(MOST):
            self.page.keyboard.press("Tab")
            focus = self.page.evaluate(FOCUS, element)
            assert focus["seen"], f"{self.page.url}: the focus is not seen on {focus['words']}"
            if focus["at"]:
                return
            way.append(focus["words"])
            assert len(way) < PARTS or len(set(way[-PARTS:])) > 1, f"{self.page.url}: Tab stays at {way[-1]}"
        raise AssertionError(f"{self.page.url}: Tab never reaches {wanted}; the last stops: {way[-5:]}")

    def press(self, wanted: Locator, key: str = "Enter") -> None:
        """Reach it and press a key on it."""
        self.reach(wanted)
        self.page.keyboard.press(key)

    def unfold(self, part: Locator) -> None:
        """Open a part of the page that is folded."""
        if part.get_attribute("open") is None:
            self.press(part.locator("summary").first)
            expect(part).to_have_attribute("open", "")

    def write(self, field: Locator, text: str) -> None:
        """Reach a field and type into it, over what stands there. A date is typed as this browser shows it: month, day, year."""
        self.reach(field)
        if field.get_attribute("type") == "date":
            year, month, day = text.split("-")
            self.page.keyboard.type(month + day + year)
        else:
            self.page.keyboard.press("Control+A")
            self.page.keyboard.type(text)
        expect(field).to_have_value(text)

    def choose(self, field: Locator, label: str) -> None:
        """Reach a choice and type the beginning of what is wanted."""
        self.reach(field)
        self.page.keyboard.type(label)
        assert field.evaluate("(e) => e.selectedOptions[0].label").startswith(label)

    def bring(self, field: Locator, file: Path) -> None:
        """Reach a file field and press Enter; the system's own window, which is no page of ours, gives the file."""
        with self.page.expect_file_chooser() as chooser:
            self.press(field)
        chooser.value.set_files(file)
