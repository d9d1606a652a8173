"""Cautions beside the act: which ones, from what is done and from the facts of what is used. Each says to whom it defers.

No figure here clears anything. The texts are the tool's own; the facts are the user's, from the data sheets of the products.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

SHEET = "the product’s data sheet"
CODE = "the local code"
PEOPLE = "a licensed or authorised person"
FLASH_LIMIT_C = 37.8
"""A flash point below 100 °F (37.8 °C) is where US rules (OSHA, NFPA 30) long drew the line of “flammable”. From memory; only sets how loud the words are."""


class Operation(StrEnum):
    """What is being done."""

    WEIGH = "weigh"
    CROSSLINK = "crosslink"
    SPRAY = "spray"
    WIPE = "wipe"
    STRIP = "strip"
    SAND = "sand"
    DRY = "dry"
    DISCARD = "discard"
    JAR = "jar"
    REPAIR = "repair"
    FINISH = "finish"


class Facts(Protocol):
    """What a caution needs to know of a product (takeoff's Product has it)."""

    @property
    def name(self) -> str: ...
    @property
    def role(self) -> str: ...
    @property
    def lel(self) -> float | None: ...
    @property
    def flash(self) -> float | None: ...
    @property
    def limit_ppm(self) -> float | None: ...
    @property
    def pot_life(self) -> float | None: ...


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: a few words, a sentence or two, and to whom it defers."""

    title: str
    text: str
    defers: tuple[str, ...]

    @property
    def words(self) -> str:
        """All of it in one line."""
        return f"{self.title}: {self.text} {self.deference}"

    @property
    def deference(self) -> str:
        """Who decides."""
        who = " and ".join(
            [", ".join(self.defers[:-1]), self.defers[-1]] if len(self.defers) > 1 else self.defers
        )
        return f"What {who} say{'s' if len(self.defers) == 1 else ''} goes before this."


GENERAL: dict[Operation, tuple[Caution, ...]] = {
    Operation.WEIGH: (
        Caution("Gloves and eyes", "Wear gloves and eye protection; wipe up spills at once. Dry pigment is never sanded or blown about.", (SHEET,)),
    ),
    Operation.CROSSLINK: (
        Caution("Crosslinkers hurt skin and lungs", "Polyaziridines are harmful and irritant; isocyanates can make the airways allergic for life. Gloves, goggles, moving air; a respirator as the data sheet says. Who is already sensitised stays away.", (SHEET, CODE)),
        Caution("No way back", "Crosslinked colour is sprayed within its pot life or discarded. It never goes back into a jar.", (SHEET,)),
    ),
    Operation.SPRAY: (
        Caution("Breathe no mist", "Move the air away from your face, wear the respirator that the data sheet names, and keep others out of the spray.", (SHEET, CODE)),
        Caution("No spark", "No flame, pilot light, heater or switch that sparks near solvent spray; ground metal vessels.", (SHEET, CODE)),
    ),
    Operation.WIPE: (
        Caution("Solvent on rags", "Moving air, gloves that the solvent does not go through, and used rags in a closed metal can.", (SHEET, CODE)),
    ),
    Operation.STRIP: (
        Caution("Strippers burn skin and eyes", "Gloves and goggles that the data sheet names, moving air, and water at hand. Try it on a hidden spot first.", (SHEET, CODE)),
    ),
    Operation.SAND: (
        Caution("Old coatings in the dust", "An old coating may hold lead or chromate. Sand damp, take the dust off at the source, wear a dust respirator.", (SHEET, CODE)),
    ),
    Operation.DRY: (
        Caution("Vapour goes on", "Coated parts give off vapour while they dry: keep the air moving, at night too.", (SHEET, CODE)),
    ),
    Operation.DISCARD: (
        Caution("Not down the drain", "Collect what is left and dispose of it as waste of its kind. Reacting leftovers get warm: leave the lid loose.", (SHEET, CODE)),
    ),
    Operation.JAR: (
        Caution("Label it now", "A jar without a label is waste. Keep it closed, from frost and from heat, out of reach of children.", (SHEET,)),
    ),
    Operation.REPAIR: (
        Caution("Fillers and glues", "Moving air and gloves; no flame near solvent glue.", (SHEET, CODE)),
    ),
    Operation.FINISH: (
        Caution("Burn behaviour counts the finish", "In aircraft, rail cars, ships and road vehicles a new coat can change how the material burns (14 CFR 25.853(a) counts finishes). Keep the records; do not install on this tool’s word.", (CODE, PEOPLE)),
    ),
}  # fmt: skip


def beside(operation: Operation, products: Iterable[Facts] = ()) -> tuple[Caution, ...]:
    """The cautions that stand beside an act: those of the operation, then those that the products' facts call for."""
    found = list(GENERAL[operation])
    for product in products:
        found += _of_product(operation, product)
    return tuple(dict.fromkeys(found))


AIRBORNE = frozenset(
    {Operation.SPRAY, Operation.WIPE, Operation.STRIP, Operation.DRY, Operation.WEIGH, Operation.REPAIR}
)


def _of_product(operation: Operation, product: Facts) -> list[Caution]:
    found = []
    if operation in AIRBORNE and product.flash is not None and product.flash < FLASH_LIMIT_C:
        lel = (
            f" Its vapour can burn from {product.lel:g} % in air; the usual line is a quarter of that."
            if product.lel
            else ""
        )
        found.append(
            Caution(
                f"{product.name} catches fire easily",
                f"Flash point {product.flash:g} °C as entered.{lel}",
                (SHEET, CODE),
            )
        )
    if operation in AIRBORNE and product.limit_ppm is not None:
        found.append(
            Caution(
                f"{product.name} has an exposure limit",
                f"{product.limit_ppm:g} ppm as entered; the limit of your place may be lower.",
                (SHEET, CODE),
            )
        )
    if operation is Operation.CROSSLINK and product.role == "crosslinker":
        life = (
            f"{product.name} gives {product.pot_life:g} min as entered, shorter when warm."
            if product.pot_life
            else f"No pot life is entered for {product.name}: look it up before you pour."
        )
        found.append(Caution("Pot life", life, (SHEET,)))
    return found
