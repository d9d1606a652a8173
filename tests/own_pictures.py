"""Pictures painted from colours through colour-science's own functions, not through the readers' matrix: for tests of photos."""

import io

import colour
import numpy as np
from numpy.typing import NDArray
from PIL import Image

Array = NDArray[np.float64]
WHITE_XY = np.array([0.31270, 0.32900])


def rgb_of(lab: Array) -> Array:
    """Linear sRGB of a Lab (D65, 2°) by colour-science."""
    xyz = colour.Lab_to_XYZ(lab, WHITE_XY)
    return np.asarray(colour.XYZ_to_RGB(xyz, "sRGB", apply_cctf_encoding=False))


def lab_of(rgb: Array) -> Array:
    """Lab (D65, 2°) of linear sRGB by colour-science."""
    return np.asarray(colour.XYZ_to_Lab(colour.RGB_to_XYZ(rgb, "sRGB", apply_cctf_decoding=False), WHITE_XY))


def coded(linear: Array) -> Array:
    """Linear light (high, wide, 3) as sRGB codes it, 0..1."""
    return np.asarray(colour.cctf_encoding(np.clip(linear, 0.0, 1.0), function="sRGB"))


def png(linear: Array) -> bytes:
    """The picture (high, wide, 3) of linear light as a file."""
    held = io.BytesIO()
    Image.fromarray(np.round(255 * coded(linear)).astype(np.uint8)).save(held, "PNG", compress_level=1)
    return held.getvalue()
