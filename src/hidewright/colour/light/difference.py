"""The CIEDE2000 colour difference, vectorised.

Source: G. Sharma, W. Wu, E. N. Dalal, Color Res. Appl. 30 (2005) 21, eq. 2-22; CIE 142-2001, ISO/CIE 11664-6.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
_C7 = 25.0**7


def parts_e00(first: ArrayLike, second: ArrayLike) -> Array:
    """CIEDE2000 as three residuals, shape (..., 3), whose squares sum to ΔE00²: for least squares on the difference itself.

    Eq. 22's rotation term is completed to squares: (ΔL, ΔC + RT/2·ΔH, √(1 − RT²/4)·ΔH), each divided by its S.
    """
    dl, dc, dh, rt = _terms(first, second)
    return np.stack([dl, dc + 0.5 * rt * dh, np.sqrt(np.maximum(1.0 - 0.25 * rt * rt, 0.0)) * dh], axis=-1)


def delta_e00(first: ArrayLike, second: ArrayLike) -> Array:
    """CIEDE2000 between Lab colours of shape (..., 3), parametric factors 1; returns shape (...)."""
    dl, dc, dh, rt = _terms(first, second)
    return np.sqrt(np.maximum(dl**2 + dc**2 + dh**2 + rt * dc * dh, 0.0))


def _terms(first: ArrayLike, second: ArrayLike) -> tuple[Array, Array, Array, Array]:
    """ΔL'/SL, ΔC'/SC, ΔH'/SH and RT."""
    l1, a1, b1 = np.moveaxis(np.asarray(first, dtype=float), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(second, dtype=float), -1, 0)
    c7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    g = 0.5 * (1 - np.sqrt(c7 / (c7 + _C7)))
    p1, p2 = (1 + g) * a1, (1 + g) * a2
    c1, c2 = np.hypot(p1, b1), np.hypot(p2, b2)
    h1 = np.degrees(np.arctan2(b1, p1)) % 360
    h2 = np.degrees(np.arctan2(b2, p2)) % 360
    grey = c1 * c2 == 0
    dh = np.where(grey, 0.0, (h2 - h1 + 180) % 360 - 180)
    dh = np.where((dh == -180) & (h2 > h1), 180.0, dh)
    hue_step = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(dh / 2))
    total = h1 + h2
    far = np.abs(h1 - h2) > 180
    mean_h = np.where(far, np.where(total < 360, total + 360, total - 360), total) / 2
    mean_h = np.where(grey, total, mean_h)
    mean_l, mean_c = (l1 + l2) / 2, (c1 + c2) / 2
    t = (
        1
        - 0.17 * np.cos(np.radians(mean_h - 30))
        + 0.24 * np.cos(np.radians(2 * mean_h))
        + 0.32 * np.cos(np.radians(3 * mean_h + 6))
        - 0.20 * np.cos(np.radians(4 * mean_h - 63))
    )
    lift = (mean_l - 50) ** 2
    sl = 1 + 0.015 * lift / np.sqrt(20 + lift)
    sc = 1 + 0.045 * mean_c
    sh = 1 + 0.015 * mean_c * t
    m7 = mean_c**7
    turn = np.radians(60 * np.exp(-(((mean_h - 275) / 25) ** 2)))
    rt = -2 * np.sqrt(m7 / (m7 + _C7)) * np.sin(turn)
    return (l2 - l1) / sl, (c2 - c1) / sc, hue_step / sh, rt
