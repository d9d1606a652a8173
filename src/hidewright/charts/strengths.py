"""How strong each lot of a pigment is taken to be: before any cup, and as the cups taught, each with its spread."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from hidewright.charts import ink
from hidewright.refusals import Refusal

WIDE: Final = 420.0
NAMES: Final = 150.0
ROW: Final = 30.0
TOP: Final = 8.0
TONE: Final = "#1d5a8c"
Z90: Final = 1.6448536269514722


@dataclass(frozen=True, slots=True)
class Strength:
    """One belief: `percent` of the strength as drawn down, `sd` in the same, from so many `readings`."""

    label: str
    percent: float
    sd: float
    readings: int = 0

    def __post_init__(self) -> None:
        if not (self.percent > 0 and self.sd >= 0 and self.percent < 1e5 and self.sd < 1e5):
            raise Refusal("A strength is a per cent above nothing, with its spread.", where=self.label)

    @property
    def ends(self) -> tuple[float, float]:
        """What holds it nine times in ten; never below nothing."""
        return max(0.0, self.percent - Z90 * self.sd), self.percent + Z90 * self.sd


def strength_bars(lots: Sequence[Strength]) -> str:
    """A bar for each that holds it nine times in ten, with a dot at its middle, to one scale; SVG."""
    if not lots:
        raise Refusal("There is no strength to draw.", where="strengths")
    low = min(100.0, *(one.ends[0] for one in lots))
    high = max(100.0, *(one.ends[1] for one in lots))
    room = max(high - low, 2.0)
    low, high = low - 0.06 * room, high + 0.06 * room

    def across(percent: float) -> float:
        return NAMES + (WIDE - NAMES - 12) * (percent - low) / (high - low)

    foot = TOP + ROW * len(lots)
    body = []
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 10000) if (high - low) / s <= 6)
    for value in range(int(low // step + 1) * step, int(high) + 1, step):
        x = across(value)
        body.append(ink.line(x, TOP, x, foot, "#e3e6ea"))
        body.append(ink.words(x, foot + 14, f"{value} %", size=10, anchor="middle"))
    body.append(ink.line(across(100), TOP, across(100), foot, "#1f2328", stroke_dasharray="5 3"))
    for number, one in enumerate(lots):
        y = TOP + ROW * (number + 0.5)
        ends = [across(v) for v in one.ends]
        body.append(ink.words(0, y + 4, one.label, size=11))
        body.append(ink.rect(ends[0], y - 5, max(ends[1] - ends[0], 1.0), 10, "#cfe0ee", stroke=TONE))
        body.append(
            f'<circle cx="{ink.number(across(one.percent))}" cy="{ink.number(y)}" r="5" fill="{TONE}"/>'
        )
    told = ", ".join(f"{one.label} {one.percent:.0f} % ± {one.sd:.0f}" for one in lots)
    return ink.picture(WIDE, foot + 22, body, label=f"Strength against the drawdowns: {told}")
