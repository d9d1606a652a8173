"""A person's eye and a phone's camera, as the benches "by eye" draw them: in another difference space and with other faults than the estimator's.

The eye sees lightness, chroma and hue in DIN99b (G. Cui, M. R. Luo, B. Rigg, G. Roesler, K. Witt, Color Res. Appl. 27 (2002) 282), names hues by the unique hues (R. W. G. Hunt, M. R. Pointer,
Measuring Colour, 4th ed. 2011: red 20.14°, yellow 90°, green 164.25°, blue 237.53°, taken as CIELAB angles), has thresholds of its own that differ for the two ends of each
word, tires of small differences, keeps part of its error from look to look within a job, and now and then says the wrong word. All sizes are from memory and conventions
of this bench.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import white, xyz_from_lab

Array = NDArray[np.float64]
UNIQUE = {"redder": 20.14, "yellower": 90.0, "greener": 164.25, "bluer": 237.53}
STRENGTHS = ("a touch", "clearly", "much", "far off")
LIMITS = (0.45, 1.35, 2.9, 6.0)
"""DIN99b differences from which an average eye uses each strength."""
OPPOSITE = {
    "lighter": "darker",
    "redder": "greener",
    "yellower": "bluer",
    "cleaner": "greyer",
} | {"darker": "lighter", "greener": "redder", "bluer": "yellower", "greyer": "cleaner"}
NEAR_GREY = 4.0


def din99b(lab: Array) -> Array:
    """DIN99b (L, a, b) of CIELAB, shape (..., 3), kE = kCH = 1 (Cui and others 2002)."""
    colour = np.asarray(lab, dtype=float)
    turn = np.radians(26.0)
    light = 303.67 * np.log(1.0 + 0.0039 * colour[..., 0])
    e = colour[..., 1] * np.cos(turn) + colour[..., 2] * np.sin(turn)
    f = 0.83 * (colour[..., 2] * np.cos(turn) - colour[..., 1] * np.sin(turn))
    chroma = np.hypot(e, f)
    drawn = 23.0 * np.log(1.0 + 0.075 * chroma)
    hue = np.arctan2(f, e) + turn
    return np.stack([light, drawn * np.cos(hue), drawn * np.sin(hue)], axis=-1)


Words = tuple[tuple[str, str], ...]


class Observer:
    """One person. `noisier` multiplies all that is random in their seeing."""

    def __init__(self, rng: np.random.Generator, noisier: float = 1.0) -> None:
        self.random, self.noisier = rng, noisier
        self.gain = float(np.exp(rng.normal(0.0, 0.25)))
        self.axes = np.exp(rng.normal(0.0, 0.12, 3))
        self.limits = np.array(LIMITS) * np.exp(rng.normal(0.0, 0.12, 4))
        self.ends = {word: float(np.exp(rng.normal(0.0, 0.12))) for word in OPPOSITE}
        self.slip = 0.02 * noisier
        self.lasting = np.zeros(3)
        self.begin()

    def begin(self) -> None:
        """A new job: another light, another mood."""
        self.lasting = self.random.normal(0.0, 0.12 * self.noisier, 3)

    def compare(self, cup: Array, target: Array) -> Words:
        """What is said of the cup against the target (CIELAB, (3,) each): at most three words, none where it looks the same."""
        seen = self._felt(cup, target)
        found = []
        light = "lighter" if seen[0] > 0 else "darker"
        found.append((light, abs(seen[0])))
        found += self._hue_words(seen[1:], target)
        strongest = max(size for _, size in found)
        said = []
        for word, size in found:
            strength = int(np.searchsorted(self.limits * self.ends[word], size))
            # what is small beside something large goes unsaid
            if strength and size > 0.35 * strongest:
                said.append((self._spoken(word), STRENGTHS[self._slipped(strength) - 1]))
        words = dict(said)
        return tuple((w, s) for w, s in words.items() if OPPOSITE[w] not in words)

    def _felt(self, cup: Array, target: Array) -> Array:
        true = din99b(cup) - din99b(target)
        size = float(np.linalg.norm(true))
        noise = np.hypot(0.28, 0.17 * size) * self.noisier
        return self.gain * self.axes * true + self.lasting + self.random.normal(0.0, noise, 3)

    def _hue_words(self, seen: Array, target: Array) -> list[tuple[str, float]]:
        """The best word for a shift of colour (2,), then the best for what it leaves: a unique hue, or cleaner and greyer."""
        aim = din99b(target)[1:]
        ways = {word: np.array([np.cos(np.radians(h)), np.sin(np.radians(h))]) for word, h in UNIQUE.items()}
        if np.linalg.norm(aim) > NEAR_GREY:
            ways["cleaner"] = aim / np.linalg.norm(aim)
            ways["greyer"] = -ways["cleaner"]
        best = max(ways, key=lambda word: float(seen @ ways[word]))
        first = float(seen @ ways[best])
        left = seen - first * ways[best]
        others = {w: v for w, v in ways.items() if w != best and abs(float(v @ ways[best])) < 0.8}
        if not others:
            return [(best, first)]
        next_one = max(others, key=lambda word: float(left @ others[word]))
        return [(best, first), (next_one, float(left @ others[next_one]))]

    def _spoken(self, word: str) -> str:
        return OPPOSITE[word] if self.random.random() < 0.3 * self.slip else word

    def _slipped(self, strength: int) -> int:
        if self.random.random() < self.slip:
            strength += int(self.random.choice((-1, 1)))
        return int(np.clip(strength, 1, len(STRENGTHS)))


_TO_RGB = np.linalg.inv(
    np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
)


def _coded(light: Array, gamma: float) -> Array:
    return np.clip(light, 1e-4, 1.2) ** (1.0 / gamma)


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """A phone on one job: channels that leak into one another, a white balance, a tone curve, light that falls unevenly, and what it
    makes of two spectra that an eye takes for one (`metameric`, CIELAB (3,)); all this bench's own."""

    leak: Array
    balance: Array
    gamma: float
    shadow: float
    metameric: Array

    @classmethod
    def drawn(cls, rng: np.random.Generator) -> "Camera":
        """A phone in this job's light."""
        leak = np.eye(3) + rng.normal(0.0, 0.035, (3, 3))
        leak /= leak.sum(axis=1, keepdims=True)
        balance, gamma = np.exp(rng.normal(0.0, 0.05, 3)), 2.4 * float(np.exp(rng.normal(0.0, 0.05)))
        return cls(leak, balance, gamma, 0.015, rng.normal(0.0, (0.35, 0.7, 0.55)))

    def lab(self, colour: Array, level: float = 1.0) -> Array:
        """What the phone makes of CIELAB (3,) under `level` times the light, as CIELAB."""
        light = _TO_RGB @ (xyz_from_lab(colour, white("D65", "10")) / white("D65", "10") * _WHITE)
        raw = self.leak @ (light * level) * self.balance
        shown = _coded(raw, self.gamma) ** 2.4
        return _lab(np.linalg.inv(_TO_RGB) @ shown)

    def difference(self, cup: Array, target: Array, rng: np.random.Generator) -> Array:
        """Cup less target off one picture that holds both, CIELAB (3,)."""
        levels = np.exp(rng.normal(0.0, self.shadow, 2))
        shot = self.lab(cup, levels[0]) - self.lab(target, levels[1])
        return shot + self.metameric + rng.normal(0.0, 0.35, 3)


_WHITE = np.array([0.9505, 1.0, 1.089])


def _lab(xyz: Array) -> Array:
    t = np.maximum(xyz / _WHITE, 1e-6)
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


GREY_CARD = {"balance": 0.085, "level": 0.09, "leak": 0.07}
"""Faults of a colour read beside one grey card, so large that it is off by about ΔE00 4.3 on average (the bench measures and shows it)."""


def off_grey_card(target: Array, rng: np.random.Generator) -> Array:
    """A target's colour as a photo with one grey card gives it: light that differs between card and piece, channels that leak."""
    leak = np.eye(3) + rng.normal(0.0, GREY_CARD["leak"], (3, 3))
    leak /= leak.sum(axis=1, keepdims=True)
    balance = np.exp(rng.normal(0.0, GREY_CARD["balance"], 3))
    return Camera(leak, balance, 2.4, 0.0, np.zeros(3)).lab(
        target, float(np.exp(rng.normal(0.0, GREY_CARD["level"] * 2)))
    )


def guessed(target: Array, rng: np.random.Generator) -> Array:
    """A colour as somebody picks it from memory out of a row of swatches: lightness, chroma and hue each off."""
    chroma, hue = float(np.hypot(target[1], target[2])), float(np.arctan2(target[2], target[1]))
    chroma = max(chroma * float(np.exp(rng.normal(0.0, 0.22))) + float(rng.normal(0.0, 2.0)), 0.0)
    hue += float(rng.normal(0.0, np.radians(10.0)))
    light = float(np.clip(target[0] + rng.normal(0.0, 6.5), 8.0, 95.0))
    return np.array([light, chroma * np.cos(hue), chroma * np.sin(hue)])
