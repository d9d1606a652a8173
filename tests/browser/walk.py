"""Photograph every page of the demonstration at three widths, and its papers, into build/shots.

    python tests/browser/walk.py             makes the demonstration if it is not there, serves it, walks it
    python tests/browser/walk.py --fresh     makes it anew
    python tests/browser/walk.py --guide     takes the guide's pictures into docs/guide/pictures instead

Ends with code 1 where a page does not fit, complains, or has no link that leads to it.
"""

import argparse
import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
HOME = ROOT / "build" / "demo-home"
COMMAND = [sys.executable, "-m", "hidewright.cli"]
sys.path[:0] = [str(ROOT / "tests")]
os.environ["HIDEWRIGHT_HOME"] = str(HOME)
os.environ["DJANGO_SETTINGS_MODULE"] = "hidewright.workshop.settings"
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"


def demonstration(fresh: bool) -> None:
    """Have the demonstration done, in a home of its own."""
    if fresh:
        shutil.rmtree(HOME, ignore_errors=True)
    if not (HOME / "hidewright.sqlite3").exists():
        subprocess.run([*COMMAND, "demo", "--no-serve"], check=True)


def free_port() -> int:
    """A port that nothing listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def served() -> Iterator[str]:
    """Serve the demonstration while the walk lasts; gives its address."""
    port = free_port()
    process = subprocess.Popen([*COMMAND, "serve", "--port", str(port)], stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        for line in process.stdout:
            if line.startswith("Serving at"):
                break
        else:
            sys.exit("The server ended before it served.")
        yield f"http://localhost:{port}"
    finally:
        process.terminate()
        process.wait(15)


def pages_of(pdf: bytes, stem: Path) -> None:
    """Turn a PDF into pictures beside it, one a page."""
    stem.parent.mkdir(parents=True, exist_ok=True)
    stem.with_suffix(".pdf").write_bytes(pdf)
    if shutil.which("pdftoppm"):
        subprocess.run(["pdftoppm", "-r", "60", "-png", str(stem.with_suffix(".pdf")), str(stem)], check=True)


def main() -> int:
    """Make, serve, come in, and walk."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--fresh", action="store_true", help="make the demonstration anew")
    asked.add_argument("--guide", action="store_true", help="take the guide's pictures instead")
    told = asked.parse_args()
    demonstration(told.fresh)
    import django

    django.setup()
    from playwright.sync_api import sync_playwright

    from browser import pictures
    from browser.eyes import SHOTS, launch
    from browser.walking import walk
    from hidewright.workshop.shop.door import make_link

    with served() as address, sync_playwright() as play:
        browser = launch(play)
        page = browser.new_context(base_url=address, reduced_motion="reduce").new_page()
        page.goto(make_link())
        page.get_by_role("button", name="Come in").click()
        page.wait_for_url(f"{address}/")
        if told.guide:
            print(*pictures.take_all(page), sep="\n")
            return 0
        found = walk(page)
        browser.close()
    for path, body in found.papers.items():
        if body.startswith(b"%PDF-"):
            name = path.partition("?")[0].strip("/").removesuffix(".pdf").replace("/", "-")
            pages_of(body, SHOTS / "papers" / name)
    print(f"{len(found.seen)} pages and papers seen; photographs are in {SHOTS.relative_to(ROOT)}")
    print(*found.faults, sep="\n")
    return int(bool(found.faults))


if __name__ == "__main__":
    sys.exit(main())
