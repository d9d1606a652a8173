"""Rebuild `photo.jpg` and `patches.csv`: `python -m hidewright.demo.make_photo`.

A picture of an invented card of ten patches beside a strip of leather, as an invented camera with a warm cast sees it. Nothing here was photographed.
"""

from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import white, xyz_from_lab

Array = NDArray[np.float64]
CARD = (
    ("white", 95, 0, 0),
    ("light grey", 75, 0, 0),
    ("grey", 50, 0, 0),
    ("dark grey", 30, 0, 0),
    ("red", 50, 45, 25),
    ("green", 52, -35, 25),
    ("blue", 35, 10, -40),
    ("yellow", 75, 5, 65),
    ("tan", 60, 30, 40),
    ("sky", 65, -5, -25),
)
LEATHER = (55.0, 9.0, 16.0)
SRGB = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) * 100.0
"""IEC 61966-2-1."""
CROSSTALK = np.array([[0.93, 0.05, 0.02], [0.03, 0.94, 0.03], [0.01, 0.06, 0.93]])
GAIN = np.array([0.75, 0.70, 0.62])
WIDE, HIGH, NOISE, SEED = 80, 120, 0.004, 7


def picture() -> bytes:
    """The JPEG: ten patches and the leather side by side, left to right."""
    from PIL import Image

    colours = np.array([*(one[1:] for one in CARD), LEATHER], dtype=float)
    light = xyz_from_lab(colours, white("D65", "2")) @ np.linalg.inv(SRGB).T
    camera = (light @ CROSSTALK.T) * GAIN
    strip = np.repeat(camera, WIDE, axis=0)[None].repeat(HIGH, axis=0)
    curved = 1.055 * np.maximum(strip, 0.0) ** (1 / 2.4) - 0.055
    coded = np.where(strip <= 0.0031308, 12.92 * strip, curved)
    coded = coded + np.random.default_rng(SEED).normal(0.0, NOISE, coded.shape)
    out = BytesIO()
    Image.fromarray((np.clip(coded, 0, 1) * 255).round().astype(np.uint8)).save(out, "JPEG", quality=95)
    return out.getvalue()


def patches() -> str:
    """Where each patch lies, in per cent, and its colour; the leather's row has none."""
    lines = ["name,left,top,right,bottom,l,a,b"]
    part = 100.0 / (len(CARD) + 1)
    named = [*((one[0], ",".join(str(v) for v in one[1:])) for one in CARD), ("leather", ",,")]
    for i, (name, lab) in enumerate(named):
        lines.append(f"{name},{(i + 0.2) * part:.2f},10,{(i + 0.8) * part:.2f},90,{lab}")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Write both files beside this module."""
    here = Path(__file__).parent
    (here / "photo.jpg").write_bytes(picture())
    (here / "patches.csv").write_text(patches(), encoding="utf-8")


if __name__ == "__main__":
    main()
