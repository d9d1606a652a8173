"""Finding recipes: every small set of pigments at once, the best polished, rounded to what can be weighed, and judged again.

All subsets of up to `most` pigments are solved side by side (`search`), for an opaque film or for so many coats over the old colour. The best are
polished on CIEDE2000 itself, under the first light, the worst of them or weighted ones; rounded to 0.1 g in a litre by a search over neighbouring
amounts; and everything is worked out again from the rounded grams. Leftover jars are components like pigments (`shelf.jar`).
"""

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import LightLike, lab, weights
from hidewright.colour.light.far import off_by
from hidewright.colour.light.spectra import amounts, each_once, spectrum, within
from hidewright.colour.pigments.film import Surface, below
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.refusals import Refusal

from .recipe import Recipe, Setting, judge
from .search import Batch, Sheet, View, polished

Array = NDArray[np.float64]
Progress = Callable[[float, str], None]
STEP_G = 0.1
"""What the balance can weigh, in g, for one litre of mix."""
LEAST_STEP_G = 1e-3
"""g per litre below which a step no longer matters, whatever the batch (convention of this tool)."""
POLISHED = 3
"""How many of the best sets are ended by SLSQP when the worst light judges."""
CHUNK = 2000
"""Sets solved in one go; more would not be faster and a stop would come later."""


def step_per_litre(step_g: float, batch_ml: float = 1000.0) -> float:
    """What a balance with a last digit of `step_g` g can weigh into a batch of `batch_ml`, in g per litre of mix: `MatchProblem.step_g`."""
    within(step_g, 1e-4, 1e3, "A step of the balance in g", "step")
    within(batch_ml, 1.0, 1e6, "A batch in mL", "batch")
    return max(step_g * 1000.0 / batch_ml, LEAST_STEP_G)


@dataclass(frozen=True, slots=True, eq=False)
class MatchProblem:
    """What is asked: a target reading (31,) and what may be used.

    `load` the window of pigment volume per mix volume (16-20 % is common practice, no source); `must_use`, `must_not_use` pigment keys; `most`
    pigments in a recipe (1..5); `lights` the first is the main one; `worst` judges by the worst light, `importance` (light name to weight) by a
    weighted root mean square, otherwise the first light judges. `coats` None matches the opaque colour, a number that many coats of `coat_um`
    dry µm over `old`. `shelf_ml` what is left of each pigment in mL (absent: enough) for a batch of `batch_ml`; `use_up` leftovers that must be used, and as much of them as the colour bears. `step_g` is what can be weighed, in g
    per litre of mix (a drop of 0.05 g on a 150 g cup is about 0.35).
    """

    target: Array
    pigments: Sequence[Pigment]
    base: Base = field(default_factory=Base)
    old: Array | None = None
    lights: tuple[LightLike, ...] = ("D65", "A", "FL11")
    worst: bool = False
    load: tuple[float, float] = (0.16, 0.20)
    most: int = 4
    must_use: frozenset[str] = frozenset()
    must_not_use: frozenset[str] = frozenset()
    surface: Surface = field(default_factory=Surface)
    coat_um: float = 7.5
    keep: int = 12
    importance: Mapping[str, float] | None = None
    coats: int | None = None
    shelf_ml: Mapping[str, float] = field(default_factory=dict)
    batch_ml: float = 1000.0
    step_g: float = STEP_G
    use_up: frozenset[str] = frozenset()
    guessed: tuple[str, ...] = ()
    """Names of the lights under which the target is a guess (`Reading.guessed`): recipes and result carry them on."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "target", spectrum(self.target, "target", upper=1.3))
        object.__setattr__(self, "must_use", self.must_use | self.use_up)
        if self.old is not None:
            object.__setattr__(self, "old", spectrum(self.old, "old colour", upper=1.3))
        low, high = self.load
        if not 0.005 <= low <= high <= 0.9:
            raise Refusal(
                f"The window of pigment {low:.0%} to {high:.0%} cannot be.",
                where="load",
                remedy="Write it like 16 % to 20 %.",
            )
        if not self.lights:
            raise Refusal("No light is chosen.", where="light", remedy="Choose D65.")
        for light in self.lights:
            weights(light)
        if not 1 <= self.most <= 5:
            raise Refusal("A recipe has one to five pigments.", where="most")
        within(self.keep, 1, 1000, "A number of recipes", "keep")
        within(self.step_g, 1e-4, 1e4, "A step", "step")
        within(self.coat_um, 0.1, 1000.0, "A coat in µm", "coat")
        each_once([p.key for p in self.pigments], "pigments")
        if self.shelf_ml:
            amounts(self.shelf_ml, "shelf")
        self._check_pigments()
        self._check_film()

    def _check_pigments(self) -> None:
        allowed = {p.key for p in self.pigments} - self.must_not_use
        usable = allowed - self._gone()
        if allowed and not usable:
            raise Refusal(
                f"There is too little on the shelf for {self.batch_ml:.0f} mL of anything.",
                where="shelf",
                remedy="Make a smaller batch, or order more.",
            )
        if not usable:
            raise Refusal("No pigment is left to use.", where="pigments", remedy="Allow at least one.")
        missing = self.must_use - usable
        if missing:
            raise Refusal(f"{', '.join(sorted(missing))} must be used but is not there.", where="pigments")
        if len(self.must_use) > self.most:
            raise Refusal("More pigments must be used than a recipe may have.", where="most")

    def _check_film(self) -> None:
        if self.coats is not None and self.old is None:
            raise Refusal(
                "A number of coats needs a reading of the old colour.",
                where="old colour",
                remedy="Read the old colour, or match the opaque colour.",
            )
        if self.coats is not None and not 1 <= self.coats <= 12:
            raise Refusal("One to twelve coats can be matched.", where="coats")
        if not 1.0 <= self.batch_ml <= 1e6:
            raise Refusal("A batch is 1 mL to 1000 L.", where="batch", remedy="Write it in mL.")
        if self.use_up - set(self.shelf_ml):
            raise Refusal("What is to be used up needs an amount.", where="shelf", remedy="Write it in mL.")
        if self.importance is not None:
            names = {str(light) for light in self.lights}
            fits = set(self.importance) <= names and sum(self.importance.values()) > 0
            if not fits or min(self.importance.values()) < 0:
                raise Refusal(
                    "The lights' weights do not fit the lights.",
                    where="light",
                    remedy=f"Give weights from 0 up to some of {', '.join(sorted(names))}.",
                )

    def _gone(self) -> set[str]:
        """What there is less of than one step of the balance."""
        known = {p.key: p for p in self.pigments}
        least = self.step_g * self.batch_ml / 1000.0
        return {
            key
            for key, amount in self.shelf_ml.items()
            if key in known and amount * known[key].density < least
        }

    def caps(self, keys: Sequence[str]) -> Array | None:
        """The most of the mix's volume (0..1) that each may be, by what is on the shelf for the batch; None when there is enough of everything."""
        if not any(key in self.shelf_ml for key in keys):
            return None
        return np.array([self.shelf_ml.get(key, np.inf) / self.batch_ml for key in keys])

    @property
    def setting(self) -> Setting:
        """What recipes are judged in."""
        known = {p.key: p for p in self.pigments}
        return Setting(
            self.target,
            known,
            self.base,
            self.lights,
            self.old,
            self.surface,
            self.coat_um,
            self.coats,
            self.guessed,
        )

    @property
    def judging(self) -> tuple[LightLike, ...]:
        """The lights that count in the search."""
        if self.importance is not None:
            return tuple(light for light in self.lights if self.importance.get(str(light), 0.0) > 0)
        return self.lights if self.worst else self.lights[:1]

    @property
    def sheet(self) -> Sheet:
        """What the search lays the mix out as: opaque, or the asked coats over the old colour at the middle of the load window."""
        load = sum(self.load) / 2
        if self.coats is None or self.old is None:
            return Sheet(self.surface, self.base, load=load)
        return Sheet(self.surface, self.base, below(self.old, self.surface), self.coats * self.coat_um, load)

    def subsets(self) -> list[tuple[str, ...]]:
        """Every set of pigments that may be tried, as keys."""
        barred = self.must_not_use | self.must_use | self._gone()
        free = [p.key for p in self.pigments if p.key not in barred]
        must = tuple(sorted(self.must_use))
        sizes = range(max(0, 1 - len(must)), self.most - len(must) + 1)
        return [must + more for size in sizes for more in itertools.combinations(free, size)]


@dataclass(frozen=True, slots=True)
class MatchResult:
    """Recipes, best first; `tried` sets of pigments; `stopped` True when a person ended the search early.

    `reachable` is False when the best is more than ΔE00 1 away under the main light; `outside` then says which way the target lies. `short`
    says how many recipes were left out because the shelf does not hold enough of them. `guessed` names the lights whose ΔE00 is a guess (see `Recipe`).
    """

    recipes: tuple[Recipe, ...]
    tried: int
    stopped: bool
    reachable: bool
    outside: str
    short: int = 0
    guessed: tuple[str, ...] = ()


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
    view = View.of(problem.target, problem.judging)
    say(0.02, f"Trying {len(subsets)} sets of pigments")
    rough, stopped = _rough(problem, view, subsets, say, stop)
    found = _refined(problem, view, rough)
    recipes: list[Recipe] = []
    for number, (_, keys, shares) in enumerate(found):
        if recipes and stop():
            stopped = True
            break
        recipes.append(_rounded(problem, setting, view, keys, shares))
        best = min(problem_score(problem, r) for r in recipes)
        say(
            0.6 + 0.4 * (number + 1) / len(found),
            f"{number + 1} of {len(found)} polished; the best is off by {off_by(best)}",
        )
    enough = [r for r in recipes if _enough(problem, r)]
    if not enough:
        raise Refusal(
            f"No recipe for {problem.batch_ml:.0f} mL can be made from what is on the shelf.",
            where="shelf",
            remedy="Make a smaller batch, or order more.",
        )
    ranked = _ranked(problem, enough)[: problem.keep]
    main = str(problem.lights[0])
    best_recipe = min(ranked, key=lambda r: r.delta_e[main])
    near = best_recipe.delta_e[main] <= 1.0
    words = "" if near else _which_way(problem, best_recipe)
    guessed = best_recipe.guessed
    return MatchResult(tuple(ranked), len(subsets), stopped, near, words, len(recipes) - len(enough), guessed)


def nearest(problem: MatchProblem) -> tuple[float, dict[str, float]]:
    """The nearest that can be reached before any rounding: ΔE00 under the judging lights (worst or only), and relative dispersion volumes."""
    view = View.of(problem.target, problem.judging)
    rough, _ = _rough(problem, view, problem.subsets(), lambda fraction, text: None, lambda: False)
    off, keys, shares = _refined(problem, view, rough)[0]
    return off, dict(zip(keys, (float(v) for v in shares), strict=True))


def problem_score(problem: MatchProblem, recipe: Recipe) -> float:
    """What a recipe is judged by: ΔE00 under the first light, the worst, or the weighted root mean square."""
    if problem.worst:
        return max(recipe.delta_e.values())
    if problem.importance is not None:
        total = sum(problem.importance.values())
        squares = sum(w * recipe.delta_e[name] ** 2 for name, w in problem.importance.items())
        return float(np.sqrt(squares / total))
    return recipe.delta_e[str(problem.lights[0])]


def _enough(problem: MatchProblem, recipe: Recipe) -> bool:
    return all(
        part.volume * problem.batch_ml / 1000.0 <= problem.shelf_ml.get(part.key, np.inf)
        for part in recipe.parts
    )


def _merit(problem: MatchProblem, recipe: Recipe, dearest: float) -> float:
    """Colour first; then constancy across the lights, coats, how much a drop too many hurts, cost, and few pigments."""
    others = [recipe.delta_e[str(light)] for light in problem.lights[1:]]
    coats = recipe.coats if recipe.coats is not None else (0 if problem.old is None else 13)
    return (
        2.0 * max(problem_score(problem, recipe) - 0.1, 0.0)
        + 0.5 * max(others, default=0.0)
        + 0.15 * coats
        + 0.3 * recipe.drop
        + 0.2 * float(recipe.cost) / dearest
        + 0.1 * len(recipe.pigments)
    )


def _ranked(problem: MatchProblem, recipes: Sequence[Recipe]) -> list[Recipe]:
    """Best merit first; a recipe that uses much the same pigments as those before it steps back a little, so that the list offers a choice."""
    dearest = max(float(r.cost) for r in recipes) or 1.0
    left = {id(r): (_merit(problem, r, dearest), r) for r in recipes}
    chosen: list[Recipe] = []
    while left:
        _, recipe = min(left.values(), key=lambda pair: pair[0] + 0.3 * _likeness(pair[1], chosen))
        chosen.append(recipe)
        del left[id(recipe)]
    return chosen


def _likeness(recipe: Recipe, chosen: Sequence[Recipe]) -> float:
    mine = {p.key for p in recipe.pigments}
    alike = [len(mine & (o := {p.key for p in r.pigments})) / len(mine | o) for r in chosen]
    return max(0.0, max(alike, default=0.0) - 0.5)


Rough = tuple[float, tuple[str, ...], Array]


def _rough(
    problem: MatchProblem,
    view: View,
    subsets: Sequence[tuple[str, ...]],
    say: Progress,
    stop: Callable[[], bool],
) -> tuple[list[Rough], bool]:
    """Every subset's best z and its approximate ΔE00; True when stopped before all were tried."""
    found: list[Rough] = []
    done = 0
    for size in sorted({len(s) for s in subsets}):
        same = [s for s in subsets if len(s) == size]
        for start in range(0, len(same), CHUNK):
            chunk = same[start : start + CHUNK]
            batch = _batch(problem, view, chunk)
            batch.importance = _importance(problem, len(chunk))
            z, cost = batch.solve(np.zeros((len(chunk), size)), 10)
            found += [(float(c), keys, row) for c, keys, row in zip(np.sqrt(cost), chunk, z, strict=True)]
            done += len(chunk)
            say(0.02 + 0.5 * done / len(subsets), f"{done} of {len(subsets)} sets tried")
            if stop():
                return found, done < len(subsets)
    return found, False


def _batch(problem: MatchProblem, view: View, sets: Sequence[Sequence[str]]) -> Batch:
    """Sets of one size laid side by side, held to what is on the shelf."""
    known = {p.key: p for p in problem.pigments}
    batch = Batch([[known[key] for key in keys] for keys in sets], view, problem.sheet)
    caps = [problem.caps(keys) for keys in sets]
    if any(row is not None for row in caps):
        free = np.full(len(sets[0]), np.inf)
        batch.caps = np.array([free if row is None else row for row in caps])
        batch.leftover = np.array([[float(key in problem.use_up) for key in keys] for keys in sets])
    return batch


def _importance(problem: MatchProblem, count: int) -> Array:
    if problem.importance is None:
        return np.ones((count, len(problem.judging)))
    shares = np.array([problem.importance[str(light)] for light in problem.judging])
    return np.tile(shares / shares.sum(), (count, 1))


def _refined(problem: MatchProblem, view: View, rough: list[Rough]) -> list[Rough]:
    """The best sets solved again on CIEDE2000 itself, best first: (ΔE00, keys, relative volumes)."""
    rough.sort(key=lambda found: found[0])
    solved: list[tuple[float, Batch, tuple[str, ...], Array]] = []
    some = _diverse(rough, max(problem.keep + 8, 20))
    for size in sorted({len(keys) for _, keys, _ in some}):
        same = [(keys, z) for _, keys, z in some if len(keys) == size]
        batch = _batch(problem, view, [keys for keys, _ in same])
        z, off = _exact(problem, batch, np.array([z for _, z in same]))
        for row, (keys, _) in enumerate(same):
            solved.append((float(off[row]), batch.taken(np.array([row])), keys, z[row]))
    solved.sort(key=lambda one: one[0])
    ends: list[Rough] = []
    for rank, (off_, batch, keys, z_) in enumerate(solved):
        if problem.worst and rank < POLISHED and len(keys) > 1 and len(problem.judging) > 1:
            z_ = polished(batch, z_)
            off_ = float(batch.differences(z_[None]).max() + batch.excess(z_[None])[0])
        ends.append((off_, keys, np.exp(z_ - z_.max())))
    return sorted(ends, key=lambda found: found[0])


def _exact(problem: MatchProblem, batch: Batch, z: Array) -> tuple[Array, Array]:
    """Each set from its rough answer and from equal volumes; the better one, and its score."""

    def score(at: Array) -> Array:
        return _judged(problem, batch.differences(at)) + batch.excess(at)

    def solve(start: Array) -> Array:
        batch.importance = _importance(problem, len(start))
        at, _ = batch.solve(start, 12, exact=True)
        return at

    first, second = solve(z), solve(np.zeros_like(z))
    one, two = score(first), score(second)
    best, off = np.where((one <= two)[:, None], first, second), np.minimum(one, two)
    if not problem.worst or len(problem.judging) == 1:
        return best, off
    hopeful = np.flatnonzero(off <= 2.0 * off.min() + 0.05)
    part = batch.taken(hopeful)
    best[hopeful] = part.solve_worst(best[hopeful])
    return best, score(best)


def _judged(problem: MatchProblem, off: Array) -> Array:
    """One number (n,) from ΔE00 under the judging lights (n, L): the worst, or the weighted root mean square."""
    if problem.importance is None:
        return np.asarray(off.max(axis=1))
    return np.sqrt((off**2 * _importance(problem, len(off))).sum(axis=1))


def _diverse(rough: Sequence[Rough], keep: int) -> list[Rough]:
    """The best, leaving out a set in which a pigment does next to nothing (its smaller set is there too); some small sets always."""
    useful = [r for r in rough if r[2].min() - r[2].max() > -8.5] or list(rough)
    chosen = list(useful[:keep])
    small = [r for r in useful if len(r[1]) <= 3][: max(2, keep // 5)]
    known = {r[1] for r in chosen}
    return chosen + [r for r in small if r[1] not in known]


def _rounded(
    problem: MatchProblem, setting: Setting, view: View, keys: tuple[str, ...], shares: Array
) -> Recipe:
    """Grams of each pigment in a litre on the balance's grid: the best of the neighbours of the exact amounts. Base fills up the load window's middle."""
    parts = [setting.pigments[key] for key in keys]
    density, share = np.array([p.density for p in parts]), np.array([p.load for p in parts])
    middle = sum(problem.load) / 2
    exact = shares * (middle * 1000.0 / float(shares @ share)) * density
    step = problem.step_g
    down = np.maximum(np.floor(exact / step), 0.0)
    grid = np.array(list(itertools.product((0.0, 1.0), repeat=len(keys)))) + down
    caps = problem.caps(keys)
    if caps is not None:
        grid = np.minimum(grid, np.floor(caps * 1000.0 * density / step + 1e-9))
    grams = np.maximum(grid, 1.0) * step
    batch = Batch([parts] * len(grams), view, problem.sheet)
    off = batch.differences(np.log(grams / density))
    best = grams[int(np.argmin(_judged(problem, off)))]
    volume = best / density
    base_ml = max(float(volume @ share) / middle - float(volume.sum()), 0.0)
    weighed = {key: round(float(g), 3) for key, g in zip(keys, best, strict=True)}
    base_g = round(round(base_ml * setting.base.density / step) * step, 6)
    return judge(weighed, base_g, setting)


def _which_way(problem: MatchProblem, best: Recipe) -> str:
    """In words: how the target differs from the nearest colour that can be reached."""
    light = problem.lights[0]
    dl, da, db = lab(problem.target, light) - np.array(best.labs[str(light)])
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
