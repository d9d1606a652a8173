"""Learning from cups: every reading of a cup of known content tells about the lots in it.

All unknowns (two of the surface, a strength and two smooth curves a lot) have one Gaussian with full covariance. A cup's readings are taken together
with the errors of its own pours, by an iterated extended Kalman update (B. M. Bell, F. W. Cathey, IEEE Trans. Autom. Control 38 (1993) 294: the same as
Gauss-Newton); `settle` solves all cups at once. A reading that is far from its forecast counts less, and one that is absurd is set aside and named.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import LightLike, lab
from hidewright.colour.light.local import lab_slopes, metric
from hidewright.colour.light.spectra import within
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.pigment import Pigment

from .cup import Cup, Pour, Sight
from .cupmodel import CupModel, noise_of, stacked
from .lots import Stock

Array = NDArray[np.float64]
ODD, ABSURD = 2.5, 10.0
"""How many times its expected square a reading may miss its forecast before it counts less, and before it is set aside."""
HELD = 2.0
"""How many forecasts that missed by just what they said stand beside the shop's own (convention of this tool)."""
Z90 = 1.6448536269514722
"""A normal variable lies within this many sd 90 % of the time."""


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """What a mix will look like: `reflectance` (31,) as read, dry and hiding; its `covariance` (31, 31): lots, surface and pours."""

    reflectance: Array
    covariance: Array

    def lab(self, light: LightLike = "D65") -> Array:
        """Lab (3,) under the light."""
        return lab(self.reflectance, light)

    def lab_covariance(self, light: LightLike = "D65") -> Array:
        """Covariance (3, 3) of Lab."""
        slopes = lab_slopes(self.reflectance, light)
        return np.asarray(slopes @ self.covariance @ slopes.T)

    def interval90(self, light: LightLike = "D65") -> tuple[Array, Array]:
        """Lab's lower and upper ends, (3,) each, that hold the truth 90 % of the time."""
        middle, half = self.lab(light), Z90 * np.sqrt(np.diag(self.lab_covariance(light)))
        return middle - half, middle + half

    def spread(self, light: LightLike = "D65") -> float:
        """One ΔE00-like number: root mean square distance of the truth from the forecast, through CIEDE2000's local metric."""
        m = metric(self.lab(light))
        return float(np.sqrt(np.trace(m @ self.lab_covariance(light) @ m.T)))


@dataclass(frozen=True, slots=True)
class Odd:
    """A reading that did not fit: its cup, its place there, how many times the expected square it missed by, and whether it was set aside."""

    cup: str
    sight: int
    times: float
    aside: bool


@dataclass(frozen=True, slots=True, eq=False)
class Knowledge:
    """What is known of the stock: mean and covariance of its unknowns, how many readings told it, and which did not fit."""

    stock: Stock
    mean: Array
    covariance: Array
    readings: int = 0
    odd: tuple[Odd, ...] = ()

    @classmethod
    def fresh(cls, stock: Stock) -> "Knowledge":
        """Nothing read yet."""
        return cls(stock, *stock.fresh())

    @property
    def surface(self) -> Surface:
        """The surface as now believed."""
        return self.stock.surface_at(self.mean)

    def pigments(self) -> tuple[Pigment, ...]:
        """The lots as pigments with what has been learned, keyed by lot; for `match` and `adjust`."""
        found = []
        for number, lot in enumerate(self.stock.lots):
            k, s = self.stock.curves_at(self.mean, number)
            found.append(replace(lot.pigment, key=lot.key, k=k, s=s))
        return tuple(found)

    def strength(self, key: str) -> tuple[float, float]:
        """Strength of a lot against its pigment's drawdowns (1 is as drawn), mean over the bands, and its relative sd."""
        number = self.stock.number(key)
        where = self.stock.where(number)
        rank = self.stock.basis.shape[1]
        average = np.zeros(self.stock.width)
        average[0], shape = self.stock.spread_of(number)
        average[1 : 1 + rank] = average[1 + rank :] = shape * self.stock.basis.mean(axis=0) / 2
        sd = float(np.sqrt(average @ self.covariance[where, where] @ average))
        return float(np.exp(average @ self.mean[where])), sd

    def forecast(self, grams: Mapping[str, float], *, weighed: bool = True) -> Forecast:
        """What a mix of these grams (lots and base) will look like; `weighed` includes the errors of weighing it out."""
        pours = tuple(Pour(key, g) for key, g in grams.items() if g > 0)
        return self.open(Cup("forecast", pours)).forecast() if weighed else self._sure(pours)

    def _sure(self, pours: tuple[Pour, ...]) -> Forecast:
        exact = replace(self.stock, prior=replace(self.stock.prior, weighing=1e-9))
        return Knowledge(exact, self.mean, self.covariance).open(Cup("forecast", pours)).forecast()

    def missed_colour(self, cup: Cup) -> list[float]:
        """For each spectrum of a cup that counts: squared distance of its Lab from the forecast, in units of the forecast's own spread and the reading's, a number."""
        model = CupModel(self.stock, cup.pours)
        mean, covariance = with_pours(self, len(cup.pours))
        found = []
        for sight in cup.sights:
            if not (sight.struck or sight.is_colour):
                told, slopes = stacked(model, mean, [sight], mean.size)
                turn = lab_slopes(told)
                spread = slopes @ covariance @ slopes.T + noise_of(self.stock, [sight], [1.0])
                off = turn @ (sight.values - told)
                found.append(float(off @ np.linalg.solve(turn @ spread @ turn.T, off)) / 3.0)
        return found

    def doubted(self, missed: Sequence[float]) -> "Knowledge":
        """The same, less sure of itself where its forecasts missed by more than they said: its covariance times the mean of their later half, held to 1 by `HELD` more.

        What no prior describes, such as an edge that moves, makes the spread too small only once much has been learned.
        """
        late = [min(m, ODD * 2) for m in missed[len(missed) // 2 :]]
        times = max(1.0, (sum(late) + HELD) / (len(late) + HELD))
        return replace(self, covariance=times * self.covariance)

    def open(self, cup: Cup) -> "OpenCup":
        """The cup with all that was seen of it, on top of what is known; `close` of it gives the knowledge after."""
        return _opened(self, cup)

    def after(self, cup: Cup) -> "Knowledge":
        """What is known once a cup and its readings are taken in."""
        return self.open(cup).close()


@dataclass(frozen=True, slots=True, eq=False)
class OpenCup:
    """A cup being worked on: the unknowns with the errors of its pours behind them (in units of their sd)."""

    before: Knowledge
    cup: Cup
    mean: Array
    covariance: Array
    odd: tuple[Odd, ...]
    used: int

    @property
    def knowledge(self) -> Knowledge:
        """What is known of the lots with this cup's readings taken in."""
        return self.close()

    def close(self) -> Knowledge:
        """Leave the cup: keep what it told about the lots."""
        size = self.before.stock.size
        return Knowledge(
            self.before.stock,
            self.mean[:size],
            self.covariance[:size, :size],
            self.before.readings + self.used,
            self.before.odd + self.odd,
        )

    def forecast(self, more: Sequence[Pour] = ()) -> Forecast:
        """What is in the cup, or will be after pouring more, looks like; its spread includes all pours."""
        model = CupModel(self.before.stock, self.cup.pours + tuple(more))
        mean = np.concatenate([self.mean, np.zeros(len(more))])
        covariance = np.eye(mean.size)
        covariance[: self.mean.size, : self.mean.size] = self.covariance
        read, slopes, where = model.at(mean, len(model.pours))
        spread = slopes @ covariance[np.ix_(where, where)] @ slopes.T
        return Forecast(read, spread + self.before.stock.prior.floor**2 * np.eye(read.size))

    def volumes(self) -> dict[str, float]:
        """mL of each lot and of base now believed to be in the cup."""
        model = CupModel(self.before.stock, self.cup.pours)
        total: dict[str, float] = {}
        for pour, millilitres in zip(self.cup.pours, model.millilitres(self.mean), strict=True):
            total[pour.lot] = total.get(pour.lot, 0.0) + float(millilitres)
        return total


def _opened(before: Knowledge, cup: Cup) -> OpenCup:
    stock = before.stock
    model = CupModel(stock, cup.pours)
    size = stock.size + len(cup.pours)
    mean, covariance = with_pours(before, len(cup.pours))
    sights = [(i, s) for i, s in enumerate(cup.sights) if not s.struck]
    weighed = [_trusted(cup, i, s, *_missed(model, mean, covariance, s)) for i, s in sights]
    kept = [(s, w) for (_, s), (w, _) in zip(sights, weighed, strict=True) if w > 0]
    odd = tuple(o for _, o in weighed if o is not None)
    if kept:
        chosen, trust = [s for s, _ in kept], [w for _, w in kept]
        mean, covariance = _updated(
            mean,
            covariance,
            lambda at: stacked(model, at, chosen, size),
            values_of(chosen),
            noise_of(stock, chosen, trust),
        )
    return OpenCup(before, cup, mean, covariance, odd, len(kept))


def with_pours(known: Knowledge, pours: int) -> tuple[Array, Array]:
    """Mean and covariance with the errors of so many pours (0 to 10,000) behind them."""
    within(pours, 0, 10_000, "A number of pours", "cup")
    size = known.stock.size
    mean, covariance = np.zeros(size + pours), np.eye(size + pours)
    mean[:size], covariance[:size, :size] = known.mean, known.covariance
    return mean, covariance


def values_of(sights: Sequence[Sight]) -> Array:
    return np.concatenate([s.values for s in sights])


def _missed(model: CupModel, mean: Array, covariance: Array, sight: Sight) -> tuple[float, int]:
    """Squared distance of a reading from its forecast in units of its spread, and how many numbers it has."""
    told, slopes = stacked(model, mean, [sight], mean.size)
    spread = slopes @ covariance @ slopes.T + noise_of(model.stock, [sight], [1.0])
    off = sight.values - told
    return float(off @ np.linalg.solve(spread, off)), off.size


def _trusted(cup: Cup, number: int, sight: Sight, square: float, count: int) -> tuple[float, Odd | None]:
    """A reading's weight, 1 to 0, and a note when it does not fit."""
    times = square / count
    if sight.is_colour or times <= ODD:
        return 1.0, None
    aside = times > ABSURD
    return (0.0 if aside else (ODD / times) ** 2), Odd(cup.name, number, times, aside)


def _updated(
    start: Array,
    prior: Array,
    model: Callable[[Array], tuple[Array, Array]],
    values: Array,
    noise: Array,
    rounds: int = 20,
) -> tuple[Array, Array]:
    """Gauss-Newton on prior and readings; returns mean and covariance."""
    mean = start
    for _ in range(rounds):
        told, slopes = model(mean)
        gain = np.linalg.solve(slopes @ prior @ slopes.T + noise, slopes @ prior).T
        new = start + gain @ (values - told - slopes @ (start - mean))
        step = float(np.abs(new - mean).max())
        mean = mean + (new - mean) * min(1.0, 2.0 / max(step, 1e-12))
        if step < 1e-3:
            break
    told, slopes = model(mean)
    gain = np.linalg.solve(slopes @ prior @ slopes.T + noise, slopes @ prior).T
    covariance = prior - gain @ (slopes @ prior)
    return mean, 0.5 * (covariance + covariance.T)


def learn(
    stock: Stock, cups: Iterable[Cup], on_progress: Callable[[float, str], None] | None = None
) -> Knowledge:
    """What all cups tell, taken in one after the other and then settled together."""
    every = list(cups)
    known, missed = Knowledge.fresh(stock), []
    for number, cup in enumerate(every):
        missed += known.missed_colour(cup)
        known = known.after(cup)
        if on_progress:
            on_progress((number + 1) / len(every), f"{number + 1} of {len(every)} cups taken in")
    return settle(known, every).doubted(missed)


def settle(known: Knowledge, cups: Sequence[Cup], rounds: int = 3) -> Knowledge:
    """Solve all cups at once (Gauss-Newton over everything), leaving out what was set aside; the order of the cups no longer matters."""
    stock = known.stock
    start, prior = stock.fresh()
    information = np.linalg.inv(prior)
    aside = {(o.cup, o.sight) for o in known.odd if o.aside}
    weak = {(o.cup, o.sight): (ODD / o.times) ** 2 for o in known.odd if not o.aside}
    mean, total = known.mean, information
    for _ in range(rounds):
        total, pull = information.copy(), information @ start
        for cup in cups:
            kept = [(i, s) for i, s in enumerate(cup.sights) if not s.struck and (cup.name, i) not in aside]
            if not kept:
                continue
            chosen, trust = [s for _, s in kept], [weak.get((cup.name, i), 1.0) for i, _ in kept]
            model = CupModel(stock, cup.pours)
            full = np.concatenate([mean, np.zeros(len(cup.pours))])
            told, slopes = stacked(model, full, chosen, full.size)
            own, pours = slopes[:, : stock.size], slopes[:, stock.size :]
            noise = noise_of(stock, chosen, trust) + pours @ pours.T
            where = np.flatnonzero(np.any(own != 0, axis=0))
            part = own[:, where]
            weighted = np.linalg.solve(noise, part).T
            total[np.ix_(where, where)] += weighted @ part
            pull[where] += weighted @ (values_of(chosen) - told + part @ mean[where])
        mean = np.linalg.solve(total, pull)
    covariance = np.linalg.inv(total)
    return Knowledge(stock, mean, 0.5 * (covariance + covariance.T), known.readings, known.odd)
