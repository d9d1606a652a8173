"""Characterising from drawdowns: refit, unseen mixes, and what one more drawdown is worth. Simulated and seeded.

The truth are the demonstration's invented pigments. Drawdowns: masstone and one white tint of each, 45 µm over a black and white card, readings with
sd 0.15 % and every weighing with an error of 0.5 %. Unseen mixes: three or four pigments, opaque. What is left is mostly the noise of dark readings, which three
readings of each film lessen. The same once more on the illustrative set, whose K and S come from optical constants by Mie's theory.
"""

import numpy as np

from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.light.local import lab_slopes, metric
from hidewright.colour.pigments.characterise import characterise_all
from hidewright.colour.pigments.drawdowns import Drawdown, Fit
from hidewright.colour.pigments.film import Surface, below, film, opaque, seen
from hidewright.colour.pigments.generic import generic_set
from hidewright.colour.pigments.pigment import Base, Pigment, dry_shares, mixed
from hidewright.demo.make_colours import CARD, pigments

SURFACE = Surface()
UM = 45.0


def drawdown(
    name: str,
    parts: dict[str, float],
    truth: dict[str, Pigment],
    rng: np.random.Generator,
    noise: float = 0.0015,
    readings: int = 1,
) -> Drawdown:
    """A drawdown as a shop would make it: weighed with errors, read with noise (so many readings averaged); the label keeps the intended shares."""
    total = sum(parts.values())
    volumes = {k: 0.18 * v / total for k, v in parts.items()}
    label = dry_shares(volumes, truth, Base(), 0.82)
    weighed = {k: v * float(np.exp(rng.normal(0, 0.005))) for k, v in volumes.items()}
    real = dry_shares(weighed, truth, Base(), 0.82)
    k, s = mixed(real, truth)
    cards = {side: np.full(31, value) for side, value in CARD.items()}
    read = [
        seen(film(k, s, UM, below(cards[side], SURFACE)), SURFACE)
        + rng.normal(0, noise, (readings, 31)).mean(axis=0)
        for side in ("black", "white")
    ]
    return Drawdown(
        name,
        label,
        UM,
        read[0],
        read[1],
        cards["black"],
        cards["white"],
        readings,
    )


def tint_share(key: str) -> float:
    """Strong pigments are let down further, as one would by eye."""
    return 0.06 if key in ("PBk7", "PB15", "PG7", "PV23") else 0.25


def set_of(
    truth: dict[str, Pigment], rng: np.random.Generator, *, black: bool = False, readings: int = 1
) -> list[Drawdown]:
    """Masstone and white tint of each pigment; with `black`, also a mix with about 5 % black."""
    made = [drawdown("PW6 masstone", {"PW6": 1.0}, truth, rng, readings=readings)]
    for key in truth:
        if key != "PW6":
            made.append(drawdown(f"{key} masstone", {key: 1.0}, truth, rng, readings=readings))
            tint = {key: tint_share(key), "PW6": 1.0}
            made.append(drawdown(f"{key} tint", tint, truth, rng, readings=readings))
            if black and key != "PBk7":
                made.append(drawdown(f"{key} shade", {key: 1.0, "PBk7": 0.05}, truth, rng))
    return made


def against_truth(d: Drawdown, fits: dict[str, Fit], truth: dict[str, Pigment]) -> list[float]:
    """ΔE00 of the fitted drawdown, over black and over white, from what it is without noise."""
    found = {k: Pigment(k, k, k, f.k, f.s) for k, f in fits.items()}
    off = []
    for card in (d.black, d.white):
        told, real = (
            seen(film(*mixed(d.shares, p), d.microns, below(card, SURFACE)), SURFACE) for p in (found, truth)
        )
        off.append(float(delta_e00(lab(told), lab(real))))
    return off


def unseen(
    truth: dict[str, Pigment], fits: dict[str, Fit], rng: np.random.Generator, count: int = 200
) -> np.ndarray:
    """ΔE00 between forecast and truth for opaque mixes of three or four pigments."""
    found = {k: Pigment(k, k, k, f.k, f.s) for k, f in fits.items()}
    off = []
    for _ in range(count):
        keys = rng.choice(list(truth), int(rng.integers(3, 5)), replace=False)
        parts = {
            str(k): float(v) * (0.2 if tint_share(str(k)) < 0.1 else 1.0)
            for k, v in zip(keys, rng.dirichlet(np.ones(len(keys))) + 0.03, strict=True)
        }
        told, real = (seen(opaque(*mixed(parts, p)), SURFACE) for p in (found, truth))
        off.append(float(delta_e00(lab(told), lab(real))))
    return np.array(off)


def floor_of(key: str, truth: dict[str, Pigment], unknowns: int = 3, noise: float = 0.0015) -> float:
    """ΔE00 (root mean square) by which no unbiased estimator can beat one pair of readings of a masstone: the Cramér-Rao bound.

    Even if ln k and ln s were known but for `unknowns` Legendre coefficients each (level, slope, bend …), and everything else exactly.
    """
    true, share = truth[key], dry_shares({key: 0.18}, truth, Base(), 0.82)[key]

    def read(change: np.ndarray, ground: str) -> np.ndarray:
        k, s = (share * curve * np.exp(by) for curve, by in zip((true.k, true.s), change, strict=True))
        return seen(film(k, s, UM, below(np.full(31, CARD[ground]), SURFACE)), SURFACE)

    curves = np.polynomial.legendre.legvander(np.linspace(-1, 1, 31), unknowns - 1)
    ways = [(which, curve) for which in (0, 1) for curve in curves.T]
    step, still = 1e-3, np.zeros((2, 31))
    slopes = []
    for ground in ("black", "white"):
        columns = []
        for which, curve in ways:
            change = np.zeros((2, 31))
            change[which] = step * curve
            columns.append((read(change, ground) - read(-change, ground)) / (2 * step))
        slopes.append(np.array(columns).T)
    here = read(still, "white")
    shift = metric(lab(here)) @ lab_slopes(here) @ slopes[1]
    _, sizes, turned = np.linalg.svd(np.concatenate(slopes) / noise, full_matrices=False)
    told = (
        sizes > 1e-6 * sizes[0]
    )  # what no film tells, an opaque film's level, does not shift its colour either
    return float(np.linalg.norm(shift @ turned[told].T / sizes[told]))


def row(name: str, value: float, goal: str, holds: bool | None, baseline: str = "") -> dict[str, object]:
    """One row of the bench."""
    return {
        "stage": "colour",
        "name": f"characterise: {name}",
        "value": round(float(value), 3),
        "unit": "ΔE00",
        "goal": goal,
        "holds": holds,
        "baseline": baseline,
    }


def every_one(truth: dict[str, Pigment], once: list[float], seeds: int) -> list[dict[str, object]]:
    """The worst of all drawdowns against its noise-free colour, and what reading each film three times does."""
    off = []
    for seed in range(seeds):
        made = set_of(truth, np.random.default_rng(100 + seed), readings=3)
        fits = characterise_all(made)
        off += [v for d in made for v in against_truth(d, fits, truth)]
    often = []
    for seed in range(seeds):
        made = set_of(truth, np.random.default_rng(100 + seed), readings=30)
        fits = characterise_all(made)
        often += [v for d in made for v in against_truth(d, fits, truth)]
    top, before = float(np.quantile(off, 0.95)), float(np.quantile(once, 0.95))
    within = float(np.mean(np.array(once) <= 0.2))
    return [
        row(
            "refit of a drawdown, the largest of all",
            max(once),
            "every one ≤ 0.2",
            max(once) <= 0.2,
            f"{within:.1%} within 0.2, against the colour without noise, which is harder than against the readings: a reading of the black is itself off by 1",
        ),
        row(
            "bound (Cramér-Rao) for the black masstone read once, its curves known but for level, slope and bend",
            floor_of("PBk7", truth),
            "",
            None,
            f"root mean square of any unbiased estimator (ours is not: it draws curves toward their kind); brown oxide {floor_of('PBr6', truth):.3f}, white {floor_of('PW6', truth):.3f}",
        ),
        row(
            "refit of a drawdown, each film read thirty times, the largest of all",
            max(often),
            "every one ≤ 0.2",
            max(often) <= 0.2,
            "what is missed with one reading is the noise of that reading, not the fit",
        ),
        row(
            "refit of a drawdown, each film read three times, 95th percentile",
            top,
            "less than read once",
            top < before,
            f"read once {before:.3f}; largest {max(off):.3f}; mean {np.mean(off):.3f} (once {np.mean(once):.3f})",
        ),
    ]


def grounded(seeds: int) -> list[dict[str, object]]:
    """The illustrative set of a new shop, whose films are darker and whose curves bend more."""
    truth = {one.pigment.key: one.pigment for one in generic_set()}
    refit, mixes = [], []
    for seed in range(seeds):
        made = set_of(truth, np.random.default_rng(100 + seed))
        fits = characterise_all(made)
        refit += [v for d in made for v in against_truth(d, fits, truth)]
        mixes.append(unseen(truth, fits, np.random.default_rng(seed)))
    off = np.concatenate(mixes)
    top = float(np.quantile(off, 0.95))
    told = f"refit: mean {np.mean(refit):.3f}, 95th percentile {np.quantile(refit, 0.95):.3f}, largest {max(refit):.3f}"
    return [
        row("illustrative set, unseen mixes, mean", off.mean(), "≤ 0.3", bool(off.mean() <= 0.3), told),
        row("illustrative set, unseen mixes, 95th percentile", top, "≤ 0.6", top <= 0.6),
    ]


def run(seeds: int = 3, further: int = 9) -> list[dict[str, object]]:
    """All rows of this bench; `further` sets of drawdowns tell how the refit does where nobody looked, and what a shade is worth."""
    truth = pigments()
    refit, noisy, plain, shaded, beyond = [], [], [], [], []
    for seed in range(seeds + further):
        rng = np.random.default_rng(100 + seed)
        made = set_of(truth, rng)
        fits = characterise_all(made)
        off = [v for d in made for v in against_truth(d, fits, truth)]
        if seed < seeds:
            noisy += [v for f in fits.values() for pair in f.misfit.values() for v in pair]
            refit += off
        else:
            beyond += off
        plain.append(unseen(truth, fits, np.random.default_rng(seed)))
        more = characterise_all(set_of(truth, np.random.default_rng(100 + seed), black=True))
        shaded.append(unseen(truth, more, np.random.default_rng(seed)))
    one, two = np.concatenate(plain), np.concatenate(shaded)

    return [
        row(
            "refit of a drawdown against its noise-free colour, 95th percentile",
            float(np.quantile(refit, 0.95)),
            "≤ 0.2",
            bool(np.quantile(refit, 0.95) <= 0.2),
            f"mean {np.mean(refit):.3f}, largest {max(refit):.3f}; against the noisy readings themselves: "
            f"mean {np.mean(noisy):.3f}, largest {max(noisy):.3f}",
        ),
        row("unseen mixes, mean, from masstone + one tint", one.mean(), "≤ 0.3", bool(one.mean() <= 0.3)),
        row(
            "unseen mixes, 95th percentile",
            float(np.quantile(one, 0.95)),
            "≤ 0.6",
            bool(np.quantile(one, 0.95) <= 0.6),
        ),
        row(
            "unseen mixes, 95th percentile, with a shade of 5 % black added",
            float(np.quantile(two, 0.95)),
            "better than without",
            bool(np.quantile(two, 0.95) < np.quantile(one, 0.95)),
            f"without {np.quantile(one, 0.95):.3f}; mean {two.mean():.3f}",
        ),
        *every_one(truth, refit, seeds),
        row(
            f"refit of a drawdown, {further} further sets, the largest of all",
            max(beyond),
            "",
            None,
            f"{np.mean(np.array(beyond) <= 0.2):.1%} within 0.2; mean {np.mean(beyond):.3f}, 95th percentile {np.quantile(beyond, 0.95):.3f}",
        ),
        *grounded(seeds),
    ]


if __name__ == "__main__":
    for line in run():
        print(line)
