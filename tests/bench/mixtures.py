"""The measured mixtures of tests/reference/measured_mixtures.csv as drawdowns: 143 films of one of 13 watercolours and 780 of two, on one white paper (source and licence: tests/reference/make_mixtures.py)."""

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.pigments.characterise import characterise
from hidewright.colour.pigments.drawdowns import Drawdown
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.joint import Joint, together
from hidewright.colour.pigments.residual import residual_of

Array = NDArray[np.float64]
FILE = Path(__file__).resolve().parents[1] / "reference" / "measured_mixtures.csv"
MICRONS, PER_ML = 100.0, 10.0
"""Nobody measured the films' thickness: a millilitre counts as ten shares of a film of 100 µm, since only the product tells."""
READ = Surface(specular=False)
"""The darkest reading is .01: they were taken without the shine."""


@dataclass(frozen=True, slots=True, eq=False)
class Mixtures:
    """All films: `alone` and `mixed`, each read over `paper` (31,) only."""

    alone: tuple[Drawdown, ...]
    mixed: tuple[Drawdown, ...]
    paper: Array


@lru_cache
def mixtures() -> Mixtures:
    """All of them, in the file's order."""
    with FILE.open(encoding="utf-8", newline="") as text:
        rows = list(csv.reader(text))[1:]
    paper = np.array([float(v) for v in rows[0][4:]])
    films = []
    for row in rows[1:]:
        read = np.array([float(v) for v in row[4:]])
        parts = ((row[0], row[1]), (row[2], row[3]))
        shares = {f"P{int(p):02d}": PER_ML * float(ml) for p, ml in parts if p != "0"}
        name = " + ".join(f"{float(ml):g} mL of {p}" for p, ml in parts if p != "0")
        films.append(Drawdown(name, shares, MICRONS, read, read, paper, paper))
    return Mixtures(
        tuple(f for f in films if len(f.shares) == 1), tuple(f for f in films if len(f.shares) == 2), paper
    )


def amounts(films: Sequence[Drawdown], *ml: float) -> list[Drawdown]:
    """Those films of one pigment that hold these amounts in mL."""
    wanted = [PER_ML * each for each in ml]
    return [f for f in films if np.isclose(next(iter(f.shares.values())), wanted).any()]


def found(drawdowns: Sequence[Drawdown], surface: Surface = READ) -> Joint:
    """All pigments from these films: each from its own films first, then all together."""
    keys = sorted({key for d in drawdowns for key in d.shares})
    own = {key: [d for d in drawdowns if set(d.shares) == {key}] for key in keys}
    return together(drawdowns, {key: characterise(key, own[key], {}, surface) for key in keys}, surface)


def off(joint: Joint, films: Sequence[Drawdown], taught: Sequence[Drawdown] = ()) -> Array:
    """ΔE00 (D65) of each film from its forecast; with the residual that `taught` films teach, if any."""
    residual = residual_of(joint, taught)
    told = []
    for f in films:
        told.append(residual.read(f.shares, f.microns, f.white)[0] if residual else plain(joint, f))
    return delta_e00(lab(np.array(told)), lab(np.array([f.over_white for f in films])))


def plain(joint: Joint, f: Drawdown) -> Array:
    """The film alone, (31,)."""
    from hidewright.colour.pigments.film import below, film, seen

    k, s = joint.curves(f.shares)
    return seen(film(k, s, f.microns, below(f.white, joint.surface)), joint.surface)


def held(joint: Joint, films: Sequence[Drawdown], taught: Sequence[Drawdown]) -> float:
    """Share of 90 % intervals of L*, a* and b* by the residual's spread that hold what was read."""
    from hidewright.colour.light.local import lab_slopes

    residual = residual_of(joint, taught)
    assert residual is not None
    inside = []
    for f in films:
        read, spread = residual.read(f.shares, f.microns, f.white)
        slopes = lab_slopes(read)
        sd = np.sqrt(np.diag(slopes @ spread @ slopes.T))
        inside.append(np.abs(lab(read) - lab(f.over_white)) <= 1.645 * sd)
    return float(np.mean(inside))


def shares_of(films: Sequence[Drawdown], keys: Sequence[str]) -> Array:
    """Shares (n, P) of films."""
    mixes: list[Mapping[str, float]] = [f.shares for f in films]
    return np.array([[mix.get(key, 0.0) for key in keys] for mix in mixes])
