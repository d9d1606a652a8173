"""Draw the app's icons from its mark: run by hand after the mark changed.

    python docs/draw_icons.py
"""

import base64
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
STATIC = ROOT / "src" / "hidewright" / "workshop" / "static"
ICONS = {"mark-180": (180, 1.0), "mark-192": (192, 1.0), "mark-512": (512, 1.0), "mark-masked-512": (512, 0.7)}
"""Each icon's side in px, and how much of it the mark fills: a device may cut a masked one down to a circle of 80 %."""
GROUND = "#0b5563"


def main() -> None:
    """Photograph the mark at each size."""
    sys.path.insert(0, str(ROOT / "tests"))
    from browser.eyes import launch
    from playwright.sync_api import sync_playwright

    mark = base64.b64encode((STATIC / "mark.svg").read_bytes()).decode()
    with sync_playwright() as play:
        browser = launch(play)
        for name, (side, part) in ICONS.items():
            page = browser.new_page(viewport={"width": side, "height": side})
            ground = GROUND if part < 1 else "transparent"
            page.set_content(
                f'<body style="margin:0;background:{ground};display:grid;place-items:center;height:100vh">'
                f'<img width="{side * part}" src="data:image/svg+xml;base64,{mark}">'
            )
            page.screenshot(path=STATIC / "icons" / f"{name}.png", omit_background=True)
        browser.close()


if __name__ == "__main__":
    main()
