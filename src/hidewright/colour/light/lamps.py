"""The spectrum of a lamp, as a spectrometer writes it: the light of a cabin, a saloon or a lobby, to judge recipes under."""

import numpy as np
from numpy.typing import NDArray

from hidewright.refusals import Refusal
from hidewright.sheets import Row, read_each, read_sheet

Array = NDArray[np.float64]
COLUMNS = ("wavelength", "power")
"""Columns of a lamp's CSV: nm, and relative power in any unit. It covers 380 to 730 nm in steps of 10 nm or less."""


def read_lamp(text: str) -> tuple[Array, Array]:
    """Wavelengths in nm (n,), rising, and relative power (n,) from a CSV with the columns of `COLUMNS`; `light_from_spectrum` makes a light of them.

    Raises `Refusals` naming every line and column that must be put right.
    """
    sheet = read_sheet(text, columns=", ".join(COLUMNS))
    sheet.expect(COLUMNS)
    points = sorted(read_each(sheet.rows, _point, unique="wavelength"))
    return np.array([nm for nm, _ in points]), np.array([power for _, power in points])


def _point(row: Row) -> tuple[float, float]:
    return _number(row, "wavelength", 100.0, 3000.0), _number(row, "power", 0.0, 1e12)


def _number(row: Row, column: str, low: float, high: float) -> float:
    text = row.get(column)
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise Refusal(
            f"“{text[:30]}” is no {column}." if text else f"The {column} is missing.",
            where=column,
            remedy="Write the wavelength in nm, and the power from 0 up.",
        )
    return value
