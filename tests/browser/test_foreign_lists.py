"""Four lists as other people write them, brought in a real browser: with what is asked once the first time, and in three taps or fewer the second."""

from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Page

from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pieces.queries import listed
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job, Shop
from lists.foreign import (
    MERGED_ROWS,
    MERGED_SPANS,
    MERGED_TRUTH,
    OWN,
    OWN_TRUTH,
    PASTE,
    PASTE_TRUTH,
    TABBED,
    TABBED_TRUTH,
    xlsx,
)

pytestmark = pytest.mark.django_db(transaction=True)

MOST_TAPS = 3
FAULTY = (
    "name;group;shape;length (cm);width (cm);thickness (cm);count\n"
    "Seat;A;cushion;56 inn;54,0;13,2;1\nSeat;B;cushion;56,5;54,0;;1\nBack;E;shell;72-74;56 20;;2 pcs\nBack;F;shell;72;56,0;;2.5\n"
)
"""Five faults in four rows."""
NO_GUESS = {"wing": "shell", "lee board": "panel"}
"""Words of the lists that say nothing of a shape; somebody points at its picture."""


class Hands:
    """Somebody who brings lists; every tap beyond the choice of the file is counted."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def press(self, button: str) -> None:
        """Press the first such button, and wait for the page that comes."""
        self.taps += 1
        with self.page.expect_navigation():
            self.page.locator(button).first.click()

    def look(self, job: Job, file: Path | None, paste: str = "") -> None:
        """Choose a file, or paste; then have it looked at."""
        self.taps = 0
        self.page.goto(f"/jobs/{job.pk}/survey/")
        if file is not None:
            self.page.get_by_label("File").set_input_files(file)
        else:
            self.page.get_by_label("or rows copied from a spreadsheet").fill(paste)
        self.press("button:has-text('Look at it')")

    def take(self) -> None:
        """Answer what is asked and take the list."""
        for _ in range(4):
            if self.page.locator("button[name=take]").count():
                return self.press("button[name=take]")
            for word, shape in NO_GUESS.items():
                tile = self.page.locator("fieldset.tiles", has_text=f"“{word}”").locator(
                    f"input[value={shape}]"
                )
                if tile.count():
                    self.taps += 1
                    tile.check(force=True)
            self.press("button.primary[name=look]")
        raise AssertionError(self.page.locator("main").inner_text()[:600])


def sizes(job: Job) -> dict[str, tuple[float, float, float]]:
    """Name without its number → length, width and thickness in m, as stored."""
    return {p.name.rstrip(" 123456789"): (p.length, p.width, p.thickness) for p in listed(job)}


def berths(job: Job) -> dict[int, tuple[float, float, float]]:
    """The same of the paste, by the berth's number."""
    return {int(p.group.split()[1]): (p.length, p.width, p.thickness) for p in listed(job)}


def test_foreign_lists_come_in_and_are_known_the_second_time(page: Page, tmp_path: Path) -> None:
    the_shop()
    hands, cases = Hands(page), []
    for name, data, truth, us in (
        ("own.csv", OWN.encode(), OWN_TRUTH, True),
        ("yacht.xlsx", xlsx(MERGED_ROWS, MERGED_SPANS), MERGED_TRUTH, True),
        ("liste.tsv", TABBED.encode(), TABBED_TRUTH, False),
    ):
        (tmp_path / name).write_bytes(data)
        cases.append((name, tmp_path / name, "", truth, us, sizes))
    cases.append(("paste", None, PASTE, PASTE_TRUTH, False, berths))
    for name, file, paste, truth, us, stored in cases:
        Shop.objects.update(units="us" if us else "metric")
        taps = []
        for time in ("first", "second"):
            job = open_job(f"{name}, {time}", starts=date(2026, 3, 2))
            hands.look(job, file, paste)
            hands.take()
            found = stored(job)
            assert found.keys() == truth.keys(), name
            assert all(found[key] == pytest.approx(truth[key], abs=1e-6) for key in truth), f"{name}: {found}"
            taps.append(hands.taps)
        assert taps[1] <= MOST_TAPS, f"{name} took {taps} taps"
    job = open_job("Faulty", starts=date(2026, 3, 2))
    (tmp_path / "faulty.csv").write_text(FAULTY)
    hands.look(job, tmp_path / "faulty.csv")
    wrong = page.locator("ul.mend > li")
    assert wrong.count() == 5, "every fault is named at once"
    assert "Nothing has changed yet" in page.locator("main").inner_text()
    assert not listed(job)
