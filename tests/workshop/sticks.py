"""Pictures of a stick that holds two colours side by side, on a dark table."""

from io import BytesIO

import numpy as np
from PIL import Image

RGB = tuple[int, int, int]


def stick_picture(left: RGB, right: RGB) -> bytes:
    """A PNG of 640 × 480 with a little noise; the two colours part the middle."""
    rng = np.random.default_rng(3)
    picture = np.full((480, 640, 3), 40.0)
    picture[140:340, 120:320], picture[140:340, 320:520] = left, right
    out = BytesIO()
    noisy = np.clip(picture + rng.normal(0.0, 1.5, picture.shape), 0, 255).astype(np.uint8)
    Image.fromarray(noisy).save(out, "PNG")
    return out.getvalue()
