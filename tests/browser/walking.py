"""Walking the whole app by its links, as a person would, and saying what does not fit and what nothing leads to."""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urljoin, urlsplit, urlunsplit

from django.urls import Resolver404, resolve
from playwright.sync_api import Page

from browser.axe import violations
from browser.eyes import SHOTS, look
from known_pages import known_pages

NOT_WALKED = frozenset({"come_in"})
"""The door: a device that is in does not need it."""

BY_AN_ACT = frozenset(
    {"bring_list", "bring_job_list", "brought_job_list", "brought_list", "pick_patches", "photo_picture", "viewed_sheet", "viewed_sheet_pdf"}
)  # fmt: skip
"""What an act leads to (bringing a file or a photo, sending a colour sheet's link), not a link."""

BY_HOW_THINGS_STAND = frozenset({"left_over", "jar", "jar_label_pdf", "kept_copy", "eye_memory", "hand_over"})
"""What is linked only where there is something to show: work left over, a jar that was kept, a copy of the days before, what an eye taught, all packed."""

HEAVIEST = 100_000
"""Bytes of a page's HTML at most: a phone at the far end of the shop fetches it too."""

PICTURES_ONLY = frozenset({"whole_plan", "day_pictures"})
"""Pages of nothing but pictures, which are opened for them alone and may weigh more."""

NO_WORKER = "Service Worker registration blocked by Playwright"
"""What the browser says where a test wants pages from the server alone: test_offline.py looks after the worker."""

PATIENCE = 120_000
"""Milliseconds for a page to come on a busy machine; how fast pages are is measured by `make bench`, not here."""

LINKS = """() => [
  ...[...document.querySelectorAll('a[href]')].map((e) => e.href),
  ...[...document.querySelectorAll('form[method=get][action]')].map(
    (e) => e.action + '?' + new URLSearchParams(new FormData(e))),
]"""
OPEN_ALL = (
    "() => document.querySelectorAll('main details, .job-head details').forEach((e) => { e.open = true; })"
)


@dataclass
class Walk:
    """What a walk found: each address by its name, faults by address, names that no link leads to, and pages of the bench."""

    seen: dict[str, str] = field(default_factory=dict)
    wrong: dict[str, list[str]] = field(default_factory=dict)
    papers: dict[str, bytes] = field(default_factory=dict)
    gloved: set[str] = field(default_factory=set)
    not_reached: list[str] = field(default_factory=list)

    @property
    def faults(self) -> list[str]:
        """All faults, a line each."""
        lines = [f"{path}: {what}" for path, found in self.wrong.items() for what in found]
        return [*lines, *(f"no link leads to {route}" for route in self.not_reached)]


def walk(page: Page, start: tuple[str, ...] = ("/",), into: Path | None = SHOTS) -> Walk:
    """Visit one address of each name by following links from `start`; photographs go `into` a folder."""
    done = Walk()
    page.set_default_navigation_timeout(PATIENCE)
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console",
        lambda line: (
            complaints.append(line.text)
            if line.type in ("error", "warning") and NO_WORKER not in line.text
            else None
        ),
    )
    known = {entry.name: entry for entry in known_pages() if entry.is_shown and entry.name not in NOT_WALKED}
    waiting = deque(start)
    while waiting:
        path = waiting.popleft()
        name = name_of(path)
        if name not in known or name in done.seen:
            continue
        done.seen[name] = path
        complaints.clear()
        if known[name].is_paper:
            wrong = fetch(page, path, done)
        else:
            wrong = visit(page, path, name if into else "", into or SHOTS, waiting)
            if page.locator("body.gloves").count():
                done.gloved.add(name)
        if wrong := [*wrong, *complaints]:
            done.wrong[path] = wrong
    excused = done.seen.keys() | BY_AN_ACT | BY_HOW_THINGS_STAND
    done.not_reached = [entry.route for entry in known.values() if entry.name not in excused]
    return done


def name_of(path: str) -> str:
    """The name of an address in the URL conf; empty where it is none of ours."""
    try:
        return str(resolve(urlsplit(path).path).url_name)
    except Resolver404:
        return ""


def visit(page: Page, path: str, name: str, into: Path, waiting: deque[str]) -> list[str]:
    """Open a page, look at it as it comes and with everything unfolded, ask axe-core in both themes, note its links; returns what is wrong."""
    answer = page.goto(path)
    if answer is None or answer.status != 200:
        return [f"answered {answer.status if answer else 'nothing'}"]
    wrong = look(page, name, into)
    weight = len(answer.body())
    if weight > HEAVIEST and name_of(path) not in PICTURES_ONLY:
        wrong.append(f"weighs {weight} bytes")
    waiting.extend(links_of(page))
    if page.locator("main details").count():
        page.evaluate(OPEN_ALL)
        wrong += [f"unfolded: {what}" for what in look(page, f"{name}-unfolded" if name else "", into)]
    wrong += violations(page)
    return list(dict.fromkeys(wrong))


def links_of(page: Page) -> Iterator[str]:
    """The paths of all links of a page that stay within the app; a form that only asks is sent as it stands."""
    here = urlsplit(page.url)
    for href in page.evaluate(LINKS):
        there = urlsplit(urljoin(page.url, href))
        if there.netloc == here.netloc:
            yield urlunsplit(("", "", there.path, there.query, ""))


def fetch(page: Page, path: str, done: Walk) -> list[str]:
    """Fetch a file and keep it; returns what is wrong with it."""
    answer = page.request.get(path)
    body = answer.body()
    done.papers[path] = body
    if answer.status != 200:
        return [f"answered {answer.status}"]
    if urlsplit(path).path.endswith(".pdf") and not body.startswith(b"%PDF-"):
        return ["is no PDF"]
    return [] if body else ["is empty"]
