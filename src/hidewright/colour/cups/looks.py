"""All looks and readings of a job as one row of measurements: values, forecasts, exact slopes by every unknown, and noise.

A look measures ΔLab = Lab(A) − Lab(B) along axes of CIEDE2000's local metric at the target's present estimate. Wet looks see the difference through the milk of the base, and
have an offset of their own; an eye has a gain; a camera has a gain and an offset.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.learning.cupmodel import CupModel, stacked
from hidewright.colour.learning.lots import Stock
from hidewright.colour.light.local import metric
from hidewright.colour.pigments.wet import Milk

from .colours import Palette
from .memory import AXIS_SPREAD, EYE, EYE_SPREAD, MILK_SPREAD
from .things import Comparison, CupAt, Difference, Job, Side
from .words import EVERYWHERE, Words, axes_at, told_by

Array = NDArray[np.float64]
CAMERA_GAIN = 0.15
"""sd of the camera's ln gain."""
CAMERA_OFFSET = np.array([0.5, 1.2, 0.8])
"""sd of the camera's offset in ΔE00 along lightness, red and yellow."""
PHOTO_SD = np.array([0.5, 0.7, 0.6])
PHOTO_SHARE = 0.12
"""A photo's own noise: sd in ΔE00 along these axes, and a share of its largest axis."""
MILK_STEP = 0.02
"""Step of the ln of the milk for its slope."""
PHOTO_AXES = ("lightness", "red", "yellow")
FILM_OFFSET, FILM_LEAST = 1.7, 0.9
"""sd in ΔE00, along each axis, of what every cup of a job differs by from its forecast in the same way: what no bottle explains. It cancels between cups. The first where bottles are known
by drawdowns of their own; less where they are so wide that they explain most of it, and the second from `WIDE` times as wide on (measured: docs/history.md)."""
WIDE = 4.0
WET_OFFSET = (0.6, 1.0)
"""sd in ΔE00 of what wet looks differ by beside the forecast: so much, and so much more from white to black."""
REPEATED = 0.6
"""Correlation of two looks of one kind at the same two things: the second tells little that the first did not."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where each unknown is in the vector: stock, eye and milk (5), camera (4), wet offset (3), offset of the film (3), swatches (3 each), pours."""

    theta: int
    swatches: tuple[str, ...]
    pours: tuple[tuple[str, int], ...]

    @property
    def camera(self) -> slice:
        """The camera's ln gain, then its offset; the eye's are just before it, from `theta`."""
        return slice(self.theta + EYE, self.theta + EYE + 4)

    @property
    def wet(self) -> slice:
        """The offset of wet looks."""
        return slice(self.theta + EYE + 4, self.theta + EYE + 7)

    @property
    def film(self) -> slice:
        """The offset of every cup's colour."""
        return slice(self.theta + EYE + 7, self.theta + EYE + 10)

    @property
    def milk(self) -> int:
        """The ln of the base's milk."""
        return self.theta + EYE - 1

    def swatch(self, name: str) -> slice:
        """A swatch's Lab."""
        at = self.theta + EYE + 10 + 3 * self.swatches.index(name)
        return slice(at, at + 3)

    def pour(self, cup: str) -> slice:
        """The errors of a cup's pours."""
        at = self.theta + EYE + 10 + 3 * len(self.swatches)
        for name, count in self.pours:
            if name == cup:
                return slice(at, at + count)
            at += count
        raise KeyError(cup)

    @property
    def size(self) -> int:
        """All unknowns."""
        return self.theta + EYE + 10 + 3 * len(self.swatches) + sum(count for _, count in self.pours)


def amounts_of(model: CupModel, errors: Array, after: int) -> tuple[Array, float, Array]:
    """What is in a cup after so many pours: mL by lot (lots,), mL of base, and slopes of the lots' mL by each pour's error (pours, lots)."""
    volume = model.nominal * np.exp(model.error * errors)
    amounts, base = np.zeros(len(model.stock.lots)), 0.0
    slopes = np.zeros((len(volume), len(amounts)))
    for i, number in enumerate(model.numbers[:after]):
        if number is None:
            base += float(volume[i])
        else:
            amounts[number] += volume[i]
            slopes[i, number] = volume[i] * model.error[i]
    return amounts, base, slopes


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """How a cup looks in one state: Lab (3,) dry with its slopes (3, unknowns); wet its gain (3, 3), its shift (3,) and how that grows with the ln of the milk (3,)."""

    lab: Array
    slopes: Array
    gain: Array
    shift: Array
    by_milk: Array


Colours = dict[CupAt, State]


def film_offset(stock: Stock) -> float:
    """sd in ΔE00 along each axis of the film's offset, by how far these bottles may be off (geometric mean of their spreads)."""
    wide = float(np.exp(np.mean([np.log(lot.spread) for lot in stock.lots]))) if stock.lots else 1.0
    share = np.clip(np.log(wide) / np.log(WIDE), 0.0, 1.0)
    return float(FILM_OFFSET * (FILM_LEAST / FILM_OFFSET) ** share)


def film_root(job: Job, stock: Stock) -> Array:
    """What one sd of a job's offset of the film is in Lab, (3, 3)."""
    return np.asarray(np.linalg.inv(metric(job.swatches[job.target].lab)) * film_offset(stock))


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Measurements in a row: `values`, `forecasts` (n,), `slopes` (n, unknowns), `noise` (n, n); `least` (n, 2) of what is open upward (see `words.Told`), else NaN."""

    values: Array
    forecasts: Array
    slopes: Array
    noise: Array
    least: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """One comparison as numbers; `ways` (m, 3) are the directions that its rows look along, unit vectors of a space of its kind."""

    values: Array
    forecasts: Array
    slopes: Array
    sd: Array
    ways: Array
    least: Array


class Looks:
    """A job's looks as functions of all unknowns."""

    def __init__(self, job: Job, stock: Stock, milk: Milk) -> None:
        self.job, self.stock, self.milk = job, stock, milk
        self.layout = Layout(
            stock.size, tuple(job.swatches), tuple((cup.name, len(cup.pours)) for cup in job.cups)
        )
        self.comparisons = [c for c in job.comparisons if not c.struck]
        self.models = {cup.name: CupModel(stock, cup.pours) for cup in job.cups}
        sides = [side for c in self.comparisons for side in (c.a, c.b) if isinstance(side, CupAt)]
        self.states = list(dict.fromkeys(sides))
        self.film = film_root(job, stock)
        self.roots = {name: np.linalg.cholesky(one.covariance) for name, one in job.swatches.items()}

    @property
    def any(self) -> bool:
        """True when something was seen."""
        return bool(self.comparisons) or any(not s.struck for cup in self.job.cups for s in cup.sights)

    def swatch(self, name: str, mean: Array) -> Array:
        """Lab (3,) of a swatch."""
        return self.job.swatches[name].lab + self.roots[name] @ mean[self.layout.swatch(name)]

    def at(self, mean: Array) -> Rows:
        """All measurements, linearised."""
        colours = self._colours(mean)
        target = self.swatch(self.job.target, mean)
        m = metric(target)
        looks = [self._look(c, mean, colours, target, m) for c in self.comparisons]
        keys = [
            (c.a, c.b, c.wet, type(c.seen))
            for c, look in zip(self.comparisons, looks, strict=True)
            for _ in look.sd
        ]
        ways = np.concatenate([look.ways for look in looks]) if looks else np.zeros((0, 3))
        sd = np.concatenate([look.sd for look in looks]) if looks else np.zeros(0)
        values, forecasts, slopes = (
            [getattr(look, part) for look in looks] for part in ("values", "forecasts", "slopes")
        )
        least = [look.least for look in looks]
        blocks = [_repeated(sd, keys, ways)]
        for cup in self.job.cups:
            sights = [sight for sight in cup.sights if not sight.struck]
            if sights:
                told, part = self._read(cup.name, mean)
                values += [sight.values for sight in sights]
                least.append(np.full((len(told), 2), np.nan))
                forecasts.append(told)
                slopes.append(part)
                floor = self.stock.prior.floor**2
                blocks += [s.noise + (0.0 if s.is_colour else floor) * np.eye(s.values.size) for s in sights]
        return Rows(
            np.concatenate(values),
            np.concatenate(forecasts),
            np.concatenate(slopes),
            _beside(blocks),
            np.concatenate(least),
        )

    def _read(self, name: str, mean: Array) -> tuple[Array, Array]:
        """Forecasts and slopes of a cup's own readings."""
        sights = [sight for sight in self.job.cup(name).sights if not sight.struck]
        theta, where = self.layout.theta, self.layout.pour(name)
        full = np.concatenate([mean[:theta], mean[where]])
        told, part = stacked(self.models[name], full, sights, full.size)
        wide = np.zeros((len(told), self.layout.size))
        wide[:, :theta], wide[:, where] = part[:, :theta], part[:, theta:]
        return told, wide

    def _colours(self, mean: Array) -> Colours:
        """How every state of a cup that was compared looks."""
        if not self.states:
            return {}
        palette = Palette(self.stock, mean[: self.layout.theta])
        held = [amounts_of(self.models[s.cup], mean[self.layout.pour(s.cup)], s.after) for s in self.states]
        amounts = np.array([a for a, _, _ in held])
        looks = palette.slopes(amounts)
        base = np.array([b for _, b, _ in held])
        ln_milk = MILK_SPREAD * float(mean[self.layout.milk])
        gain, shift = palette.wet(amounts, base, self.milk.times(ln_milk))
        more = palette.wet(amounts, base, self.milk.times(ln_milk + MILK_STEP))[1]
        found = {}
        for row, state in enumerate(self.states):
            out = np.zeros((3, self.layout.size))
            out[:, : self.layout.theta] = looks.by_theta[row]
            out[:, self.layout.pour(state.cup)] = looks.by_amount[row] @ held[row][2].T
            out[:, self.layout.film] = self.film
            dry = looks.labs[row] + self.film @ mean[self.layout.film]
            found[state] = State(dry, out, gain[row], shift[row], (more[row] - shift[row]) / MILK_STEP)
        return found

    def _side(self, side: Side, mean: Array, colours: Colours) -> tuple[Array, Array]:
        if isinstance(side, CupAt):
            return colours[side].lab, colours[side].slopes
        out = np.zeros((3, self.layout.size))
        out[:, self.layout.swatch(side.name)] = self.roots[side.name]
        return self.swatch(side.name, mean), out

    def _look(
        self,
        comparison: Comparison,
        mean: Array,
        colours: Colours,
        target: Array,
        m: Array,
    ) -> _Look:
        a, by_a = self._side(comparison.a, mean, colours)
        b, by_b = self._side(comparison.b, mean, colours)
        delta, by_delta = a - b, by_a - by_b
        if comparison.wet:
            delta, by_delta = self._wet(comparison, mean, delta, by_delta, colours, target, m)
        if isinstance(comparison.seen, Words):
            return self._said(comparison.seen, mean, delta, by_delta, target, m)
        return self._measured(comparison.seen, mean, delta, by_delta, target, m)

    def _wet(
        self,
        comparison: Comparison,
        mean: Array,
        delta: Array,
        by_delta: Array,
        colours: Colours,
        target: Array,
        m: Array,
    ) -> tuple[Array, Array]:
        """The difference as it shows through the milk; against a swatch also with the job's wet offset."""
        cups = [side for side in (comparison.a, comparison.b) if isinstance(side, CupAt)]
        if cups:
            gain = colours[cups[0]].gain
            delta, by_delta = gain @ delta, gain @ by_delta
            for cup in cups:
                sign = 1.0 if cup == comparison.a else -1.0
                delta = delta + sign * colours[cup].shift
                by_delta[:, self.layout.milk] += sign * MILK_SPREAD * colours[cup].by_milk
        if len(cups) == 1:
            sign = 1.0 if comparison.a == cups[0] else -1.0
            root = sign * np.linalg.inv(m) * (WET_OFFSET[0] + WET_OFFSET[1] * (1.0 - target[0] / 100.0))
            delta = delta + root @ mean[self.layout.wet]
            by_delta = by_delta.copy()
            by_delta[:, self.layout.wet] += root
        return delta, by_delta

    def _said(
        self, words: Words, mean: Array, delta: Array, by_delta: Array, target: Array, m: Array
    ) -> _Look:
        at = self.layout.theta
        gain = float(np.exp(EYE_SPREAD * mean[at]))
        own = np.exp(AXIS_SPREAD * mean[at + 1 : at + 4])
        told = told_by(words, target, m)
        rows = gain * told.rows * own
        forecasts, slopes = rows @ delta, rows @ by_delta
        slopes[:, at] += EYE_SPREAD * forecasts
        slopes[:, at + 1 : at + 4] += AXIS_SPREAD * rows * delta
        return _Look(told.values, forecasts, slopes, told.sd, told.rows @ np.linalg.inv(m), told.least)

    def _measured(
        self, seen: Difference, mean: Array, delta: Array, by_delta: Array, target: Array, m: Array
    ) -> _Look:
        axes = axes_at(m)
        rows = np.array([axes[name] for name in PHOTO_AXES])
        values = rows @ seen.delta
        own = np.sqrt(np.einsum("ij,jk,ik->i", rows, seen.covariance, rows))
        if seen.how == "instrument":
            return _Look(values, rows @ delta, rows @ by_delta, own, np.eye(3), np.full((3, 2), np.nan))
        at = self.layout.camera.start
        gain = float(np.exp(CAMERA_GAIN * mean[at]))
        plain = gain * (rows @ delta)
        slopes = gain * (rows @ by_delta)
        slopes[:, at] += CAMERA_GAIN * plain
        slopes[:, at + 1 : at + 4] += np.diag(CAMERA_OFFSET)
        noise = np.hypot(np.hypot(PHOTO_SD, PHOTO_SHARE * np.abs(values).max()), np.hypot(own, EVERYWHERE))
        return _Look(
            values,
            plain + CAMERA_OFFSET * mean[at + 1 : at + 4],
            slopes,
            noise,
            np.eye(3),
            np.full((3, 2), np.nan),
        )


def _repeated(sd: Array, keys: Sequence[Hashable], ways: Array) -> Array:
    """Noise of looks in a row: those of one key (the same two things, the same kind of look) repeat part of their error, as far as they look along the same direction."""
    numbers = {key: number for number, key in enumerate(dict.fromkeys(keys))}
    who = np.array([numbers[key] for key in keys], dtype=int)
    alike = REPEATED * (who[:, None] == who[None, :]) * (ways @ ways.T) + (1.0 - REPEATED) * np.eye(len(sd))
    return np.asarray(alike * np.outer(sd, sd))


def _beside(blocks: Sequence[Array]) -> Array:
    """A matrix with these blocks along its diagonal."""
    size = sum(len(block) for block in blocks)
    out, at = np.zeros((size, size)), 0
    for block in blocks:
        out[at : at + len(block), at : at + len(block)] = block
        at += len(block)
    return out
