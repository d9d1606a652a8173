"""The mixing card: what goes into the cup, in which order, to a running total on the balance."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.charts.swatches import CAUTION, Swatch
from hidewright.colour.recipes.recipe import in_steps
from hidewright.dates import long_day
from hidewright.mixing.grain import HONEST, USUAL_STEP_G, places_of
from hidewright.papers.figures import fixed, volume
from hidewright.papers.paper_size import PAPER
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal

USUAL_CAUTIONS = (
    CAUTION,
    "Read each product's data sheet first. Wear the gloves, eye and breathing protection that it names.",
    "Add the crosslinker only to what this session sprays. Never pour crosslinked colour back into the jar.",
)


@dataclass(frozen=True)
class CardLine:
    """One thing to pour, in g; `hex` is its sRGB colour, or empty for a clear thing."""

    name: str
    grams: float
    hex: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise Refusal("A line of the card has no name.", remedy="Name the pigment or product.")
        if not 0 <= self.grams < 1e6:
            raise Refusal("The amount must be between 0 and 1 000 000 g.", where=self.name)
        if self.hex:
            Swatch(self.hex, self.name)


@dataclass(frozen=True)
class MixingCard:
    """Everything that stands on a mixing card. `batch_ml` in mL, `density_g_ml` in g/mL (0: not stated); `advice` how much colour the job wants now, and why; `plane` the a*b* plane as SVG;
    `step_g` the last digit of the balance in g: every amount is printed in whole steps of it; `units` metric or us."""

    job: str
    colour: str
    vessel: str
    batch_ml: float
    lines: tuple[CardLine, ...]
    made_on: date
    density_g_ml: float = 0.0
    swatches: tuple[Swatch, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    cautions: tuple[str, ...] = USUAL_CAUTIONS
    page_url: str = ""
    portions: tuple[str, ...] = ()
    advice: str = ""
    plane: str = ""
    step_g: float = USUAL_STEP_G
    units: str = "metric"

    def __post_init__(self) -> None:
        if not self.lines or self.total_g <= 0:
            raise Refusal("The card has nothing to pour.", where=self.colour, remedy="Choose a recipe first.")
        if not 0 < self.batch_ml < 1e6:
            raise Refusal("The batch must hold between 0 and 1000 L.", where=self.colour)
        if not 1e-3 <= self.step_g <= 100:
            raise Refusal("A balance has steps of 0.001 g to 100 g.", where="balance")

    def weighed(self, line: CardLine) -> float:
        """g of a line in whole steps of the balance: at least one of whatever the recipe holds."""
        return in_steps(line.grams, self.step_g)

    @property
    def small(self) -> str:
        """Why the batch is too small for the balance, and from how much on it is not; empty where it is large enough."""
        least = min((line for line in self.lines if line.grams > 0), key=lambda line: line.grams)
        off = 0.5 * self.step_g / least.grams
        if off <= HONEST * (1 + 1e-9):
            return ""
        enough = self.batch_ml * off / HONEST
        return (
            f"This batch is small for the balance: {least.name} comes to only {fixed(least.grams / self.step_g)} × {self.step_g:g} g "
            f"and may end {fixed(100 * min(off, 9.99), 0)} % off. From {volume(enough)} on it is not."
        )

    def _written(self, amount: float) -> str:
        """An amount as the balance shows it."""
        return fixed(amount, places_of(self.step_g))

    @property
    def total_g(self) -> float:
        """The sum of the amounts as they are printed, in g."""
        return sum(self.weighed(line) for line in self.lines)

    def content(self) -> dict[str, Any]:
        """The card as the template takes it: text only, every number already written."""
        return {
            "title": "Mixing card",
            "job": self.job,
            "colour": self.colour,
            "made_on": long_day(self.made_on),
            "vessel": self.vessel,
            "batch": volume(self.batch_ml, self.units),
            "total": f"{self._written(self.total_g)} g",
            "density": f"{fixed(self.density_g_ml, 3)} g/mL" if self.density_g_ml else "",
            "lines": list(self._rows()),
            "swatches": [{"hex": s.hex, "label": s.label, "note": s.note} for s in self.swatches],
            "facts": [list(fact) for fact in self.facts],
            "portions": list(self.portions),
            "advice": " ".join(text for text in (self.small, self.advice) if text),
            "plane": self.plane,
            "cautions": list(self.cautions),
            "qr": qr_svg(self.page_url),
            "url": self.page_url,
        }

    def _rows(self) -> Sequence[dict[str, str]]:
        rows = []
        running = 0.0
        for order, line in enumerate(self.lines, 1):
            amount = self.weighed(line)
            running += amount
            rows.append(
                {
                    "order": str(order),
                    "name": line.name,
                    "note": line.note,
                    "hex": line.hex,
                    "grams": self._written(amount),
                    "running": self._written(running),
                    "parts": fixed(1000 * amount / self.total_g, 1),
                }
            )
        return rows


def mixing_card_pdf(card: MixingCard, paper: str = PAPER) -> bytes:
    """The card as PDF, one A4 page for an ordinary recipe."""
    return press("mixing_card", card.content(), made_on=card.made_on, paper=paper)
