"""Finding recipes: every small set of pigments at once, the best polished, rounded to what can be weighed, and judged again.

All subsets of up to `most` pigments are solved side by side by a damped Gauss-Newton on the colour difference, in softmax shares at the middle
of the load window (for an opaque film the load hardly matters; it is then chosen inside the window). The residuals are CIELAB differences
seen through the local metric of CIEDE2000 at the target, under every light asked for. The best are polished on CIEDE2000 itself
(`scipy.optimize`), rounded to 0.1 g in a litre by a search over neighbouring amounts, and everything is worked out again from the rounded grams.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hidewright.refusals import Refusal

from .cie import delta_e00, lab, lab_from_xyz, weights, white
from .film import Surface, opaque, seen
from .pigments import Base, Pigment, spectrum
from .recipes import Recipe, Setting, judge

Array = NDArray[np.float64]
Progress = Callable[[float, str], None]
STEP_G = 0.1
"""What the balance can weigh, in g, for one litre of mix."""


@dataclass(frozen=True, slots=True, eq=False)
class MatchProblem:
    """What is asked: a target reading (31,) and what may be used.

    `load` the window of pigment volume per mix volume (16-20 % is common practice, no source); `must_use`, `must_not_use` pigment keys; `most`
    pigments in a recipe (1..5); `lights` the first is the main one; `worst` judges by the worst light instead of the first.
    """

    target: Array
    pigments: Sequence[Pigment]
    base: Base = field(default_factory=Base)
    old: Array | None = None
    lights: tuple[str, ...] = ("D65", "A", "FL11")
    worst: bool = False
    load: tuple[float, float] = (0.16, 0.20)
    most: int = 4
    must_use: frozenset[str] = frozenset()
    must_not_use: frozenset[str] = frozenset()
    surface: Surface = field(default_factory=Surface)
    coat_um: float = 7.5
    keep: int = 12

    def __post_init__(self) -> None:
        object.__setattr__(self, "target", spectrum(self.target, "target", upper=1.3))
        if self.old is not None:
            object.__setattr__(self, "old", spectrum(self.old, "old colour", upper=1.3))
        low, high = self.load
        if not 0.005 <= low <= high <= 0.9:
            raise Refusal(
                f"The load window {low:.0%} to {high:.0%} cannot be.",
                where="load",
                remedy="Write it like 16 % to 20 %.",
            )
        if not 1 <= self.most <= 5:
            raise Refusal("A recipe has one to five pigments.", where="most")
        usable = {p.key for p in self.pigments} - self.must_not_use
        if not usable:
            raise Refusal("No pigment is left to use.", where="pigments", remedy="Allow at least one.")
        missing = self.must_use - usable
        if missing:
            raise Refusal(f"{', '.join(sorted(missing))} must be used but is not there.", where="pigments")
        if len(self.must_use) > self.most:
            raise Refusal("More pigments must be used than a recipe may have.", where="most")

    @property
    def setting(self) -> Setting:
        """What recipes are judged in."""
        known = {p.key: p for p in self.pigments}
        return Setting(self.target, known, self.base, self.lights, self.old, self.surface, self.coat_um)

    def subsets(self) -> list[tuple[str, ...]]:
        """Every set of pigments that may be tried, as keys."""
        free = [p.key for p in self.pigments if p.key not in self.must_not_use | self.must_use]
        must = tuple(sorted(self.must_use))
        sizes = range(max(0, 1 - len(must)), self.most - len(must) + 1)
        return [must + more for size in sizes for more in itertools.combinations(free, size)]


@dataclass(frozen=True, slots=True)
class MatchResult:
    """Recipes, best first; `tried` sets of pigments; `stopped` True when a person ended the search early.

    `reachable` is False when the best is more than ΔE00 1 away under the main light; `outside` then says which way the target lies.
    """

    recipes: tuple[Recipe, ...]
    tried: int
    stopped: bool
    reachable: bool
    outside: str


def match(
    problem: MatchProblem,
    *,
    on_progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> MatchResult:
    """Find recipes for the target; a stop keeps the best so far."""
    say = on_progress or (lambda fraction, text: None)
    stop = should_stop or (lambda: False)
    setting = problem.setting
    subsets = problem.subsets()
    say(0.02, f"Trying {len(subsets)} sets of pigments")
    rough = _rough(problem, subsets, say, stop)
    rough.sort(key=lambda found: found[0])
    recipes: list[Recipe] = []
    wanted = _diverse(rough, problem.keep)
    stopped = False
    for number, (_, keys, shares) in enumerate(wanted):
        if recipes and stop():
            stopped = True
            break
        recipes.append(_finish(problem, setting, keys, shares))
        best = min(_score(problem, r) for r in recipes)
        say(
            0.4 + 0.6 * (number + 1) / len(wanted),
            f"{number + 1} of {len(wanted)} polished; best ΔE00 {best:.2f}",
        )
    ranked = _rank(problem, recipes)
    best_recipe = min(ranked, key=lambda r: r.delta_e[problem.lights[0]])
    near = best_recipe.delta_e[problem.lights[0]] <= 1.0
    return MatchResult(
        tuple(ranked), len(subsets), stopped, near, "" if near else _which_way(problem, best_recipe)
    )


def _score(problem: MatchProblem, recipe: Recipe) -> float:
    return max(recipe.delta_e.values()) if problem.worst else recipe.delta_e[problem.lights[0]]


def _rank(problem: MatchProblem, recipes: Sequence[Recipe]) -> list[Recipe]:
    """Colour first; then constancy across the lights, coats, how much a drop too many hurts, and few pigments."""

    def merit(recipe: Recipe) -> float:
        others = [recipe.delta_e[light] for light in problem.lights[1:]]
        coats = recipe.coats if recipe.coats is not None else (0 if problem.old is None else 13)
        return (
            2.0 * max(_score(problem, recipe) - 0.1, 0.0)
            + 0.5 * max(others, default=0.0)
            + 0.15 * coats
            + 0.3 * recipe.drop
            + 0.1 * len(recipe.pigments)
        )

    return sorted(recipes, key=merit)


def _metric(target: Array) -> Array:
    """A (3, 3) matrix M so that |M·ΔLab| is the CIEDE2000 difference for small ΔLab at the target."""
    step = 1e-2
    square = np.zeros((3, 3))
    eye = np.eye(3) * step
    single = [float(delta_e00(target, target + eye[i])) ** 2 for i in range(3)]
    for i in range(3):
        square[i, i] = single[i] / step**2
    for i, j in itertools.combinations(range(3), 2):
        both = float(delta_e00(target, target + eye[i] + eye[j])) ** 2
        square[i, j] = square[j, i] = (both - single[i] - single[j]) / (2 * step**2)
    return np.asarray(np.linalg.cholesky(square).T, dtype=float)


class _Batch:
    """All subsets of one size: shares by softmax, residuals through the local metric, shape (subsets, residuals)."""

    def __init__(self, problem: MatchProblem, keys: Sequence[tuple[str, ...]]) -> None:
        known = {p.key: p for p in problem.pigments}
        self.k = np.array([[known[key].k for key in subset] for subset in keys])
        self.s = np.array([[known[key].s for key in subset] for subset in keys])
        self.surface = problem.surface
        lights = problem.lights if problem.worst else problem.lights[:1]
        self.views = [
            (weights(v), white(v), lab(problem.target, v), _metric(lab(problem.target, v))) for v in lights
        ]

    def residuals(self, z: Array) -> Array:
        f = np.exp(z - z.max(axis=1, keepdims=True))
        f /= f.sum(axis=1, keepdims=True)
        k = np.einsum("np,npb->nb", f, self.k)
        s = np.einsum("np,npb->nb", f, self.s)
        read = seen(opaque(k, s), self.surface)
        parts = [(lab_from_xyz(read @ w, p) - t) @ m.T for w, p, t, m in self.views]
        return np.concatenate(parts, axis=1)

    def solve(self, z: Array, rounds: int = 25) -> tuple[Array, Array]:
        damp = np.full(len(z), 1e-2)
        miss = self.residuals(z)
        cost = (miss**2).sum(axis=1)
        size = z.shape[1]
        for _ in range(rounds):
            jac = np.stack([(self.residuals(z + 1e-5 * e) - miss) / 1e-5 for e in np.eye(size)], axis=-1)
            normal = np.einsum("nri,nrj->nij", jac, jac)
            gradient = np.einsum("nri,nr->ni", jac, miss)
            lifted = normal + (damp[:, None, None] + 1e-9) * np.eye(size) * (
                1.0 + np.einsum("nii->n", normal)[:, None, None]
            )
            step = np.clip(np.linalg.solve(lifted, gradient[..., None])[..., 0], -2.0, 2.0)
            trial = np.clip(z - step, -12.0, 12.0)
            new_miss = self.residuals(trial)
            new = (new_miss**2).sum(axis=1)
            better = new < cost
            z = np.where(better[:, None], trial, z)
            miss = np.where(better[:, None], new_miss, miss)
            cost = np.where(better, new, cost)
            damp = np.clip(np.where(better, damp / 4, damp * 5), 1e-9, 1e6)
        return z, cost


Rough = tuple[float, tuple[str, ...], Array]


def _rough(
    problem: MatchProblem, subsets: Sequence[tuple[str, ...]], say: Progress, stop: Callable[[], bool]
) -> list[Rough]:
    """Every subset's best shares (of its pigments among themselves) and its approximate ΔE00."""
    found: list[Rough] = []
    sizes = sorted({len(s) for s in subsets})
    done = 0
    for size in sizes:
        same = [s for s in subsets if len(s) == size]
        for start in range(0, len(same), 1000):
            chunk = same[start : start + 1000]
            batch = _Batch(problem, chunk)
            best_z, best_cost = batch.solve(np.zeros((len(chunk), size)))
            for lead in range(size if size > 1 else 0):
                z, cost = batch.solve(np.eye(size)[lead] * 3.0 * np.ones((len(chunk), 1)))
                better = cost < best_cost
                best_z, best_cost = np.where(better[:, None], z, best_z), np.where(better, cost, best_cost)
            f = np.exp(best_z - best_z.max(axis=1, keepdims=True))
            f /= f.sum(axis=1, keepdims=True)
            found += [
                (float(np.sqrt(c)), keys, row) for c, keys, row in zip(best_cost, chunk, f, strict=True)
            ]
            done += len(chunk)
            say(0.02 + 0.38 * done / len(subsets), f"{done} of {len(subsets)} sets tried")
            if stop() and found:
                return found
    return found


def _diverse(rough: Sequence[Rough], keep: int) -> list[Rough]:
    """The best, leaving out a set in which a pigment does next to nothing (its smaller set is there too)."""
    useful = [r for r in rough if r[2].min() > 2e-4] or list(rough)
    chosen = list(useful[:keep])
    small = [r for r in useful if len(r[1]) <= 3][: max(2, keep // 4)]
    known = {r[1] for r in chosen}
    return chosen + [r for r in small if r[1] not in known]


def _finish(problem: MatchProblem, setting: Setting, keys: tuple[str, ...], shares: Array) -> Recipe:
    """Polish on CIEDE2000, choose the load, round to 0.1 g in a litre, judge again."""
    polished = _polish(problem, setting, keys, shares)
    load = sum(problem.load) / 2
    return _rounded(problem, setting, keys, polished, load)


def _aim(problem: MatchProblem, setting: Setting, keys: tuple[str, ...]) -> Callable[[Array], float]:
    k = np.array([setting.pigments[key].k for key in keys])
    s = np.array([setting.pigments[key].s for key in keys])
    lights = problem.lights if problem.worst else problem.lights[:1]
    targets = [(light, lab(problem.target, light)) for light in lights]

    def aim(f: Array) -> float:
        read = seen(opaque(f @ k, f @ s), setting.surface)
        return max(float(delta_e00(lab(read, light), target)) for light, target in targets)

    return aim


def _polish(problem: MatchProblem, setting: Setting, keys: tuple[str, ...], shares: Array) -> Array:
    """Nelder-Mead on the worst (or only) CIEDE2000, in log shares; volumes of dispersion relative to one another."""
    from scipy.optimize import minimize

    aim = _aim(problem, setting, keys)
    if len(keys) == 1:
        return shares
    start = np.log(np.maximum(shares, 1e-6))

    def of_log(z: Array) -> float:
        f = np.exp(z - z.max())
        return aim(f / f.sum())

    found = minimize(
        of_log, start, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-4, "maxfev": 400}
    )
    f = np.exp(found.x - found.x.max())
    return np.asarray(f / f.sum()) if found.fun < aim(shares) else shares


def _rounded(
    problem: MatchProblem, setting: Setting, keys: tuple[str, ...], shares: Array, load: float
) -> Recipe:
    """Grams of each pigment in a litre on the 0.1 g grid: the best of the neighbours of the exact amounts."""
    density = np.array([setting.pigments[key].density for key in keys])
    exact = shares * load * 1000.0 * density
    base_g = (1.0 - load) * 1000.0 * setting.base.density
    aim = _aim(problem, setting, keys)
    down = np.maximum(np.floor(exact / STEP_G), 1.0)
    choices = [np.array(c) for c in itertools.product((0.0, 1.0), repeat=len(keys))]
    grams = min(
        ((down + c) * STEP_G for c in choices),
        key=lambda g: aim((g / density) / (g / density).sum()),
    )
    weighed = {key: round(float(g), 1) for key, g in zip(keys, grams, strict=True)}
    return judge(weighed, round(base_g, 1), setting)


def _which_way(problem: MatchProblem, nearest: Recipe) -> str:
    """In words: how the target differs from the nearest colour that can be reached."""
    light = problem.lights[0]
    dl, da, db = lab(problem.target, light) - np.array(nearest.labs[light])
    words = [
        word
        for size, word in (
            (dl, "lighter"),
            (-dl, "darker"),
            (da, "redder"),
            (-da, "greener"),
            (db, "yellower"),
            (-db, "bluer"),
        )
        if size > 0.5
    ]
    return f"The target is {' and '.join(words) or 'a little off'} from the nearest these pigments reach."
