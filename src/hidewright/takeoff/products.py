"""Products: what the shop pours besides pigments, with the facts of their data sheets.

Every figure is the user's own, copied from the product's data sheet, which rules. Money is Decimal.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from hidewright.defaults import CURE, TOUCH_DRY
from hidewright.refusals import Refusal


class Role(StrEnum):
    """What a product is for."""

    BASE = "base"
    CLEAR = "clear"
    CROSSLINKER = "crosslinker"
    STRIPPER = "stripper"
    CLEANER = "cleaner"
    SOLVENT = "solvent"
    PRIMER = "primer"
    FILLER = "filler"


@dataclass(frozen=True, slots=True)
class Product:
    """One product.

    `density` g/mL; `solids` volume share that stays when dry; `pack` mL in a pack; `price` money a pack; `ratio` share of the mix it is added to
    (crosslinkers); `pot_life` min after crosslinking (None: no limit given); `touch_dry`, `cure` min at 20 °C and 50 %; `lel` % by volume, `flash` °C,
    `limit_ppm` the exposure limit, `voc` g/L of the material, `molar_mass` g/mol on its data sheet (None: not given); `shelf` days it keeps once opened;
    `warm_cure` min until cured at `warm_at` °C, both only as a line of the data sheet says (None: the sheet says nothing, and warmth shortens no cure).
    """

    key: str
    name: str
    role: Role
    density: float = 1.0
    solids: float = 0.0
    pack: float = 1000.0
    price: Decimal = Decimal("0")
    ratio: float = 0.0
    pot_life: float | None = None
    touch_dry: float = TOUCH_DRY
    cure: float = CURE
    lel: float | None = None
    flash: float | None = None
    limit_ppm: float | None = None
    notes: str = ""
    voc: float | None = None
    molar_mass: float | None = None
    shelf: float | None = None
    warm_cure: float | None = None
    warm_at: float | None = None

    def __post_init__(self) -> None:
        if not self.key.strip() or not self.name.strip():
            raise Refusal(
                "A product needs a key and a name.",
                where="key" if self.name.strip() else "name",
                remedy="The key is a short mark such as clear-matt.",
            )
        for field, (low, high) in LIMITS.items():
            value = getattr(self, field)
            if value is not None and not low <= value <= high:
                raise Refusal(
                    f"{value:g} cannot be right.", where=field, remedy=f"It lies from {low:g} to {high:g}."
                )
        if not self.price.is_finite() or not 0 <= self.price < 10**7:
            raise Refusal("A price is from nothing to ten million.", where="price")
        self._check_warm_cure()
        if self.role is Role.CROSSLINKER and not self.ratio:
            raise Refusal(
                "A crosslinker needs its ratio.",
                where="ratio",
                remedy="Write the share of the mix, such as 0.03, as its data sheet says.",
            )

    def _check_warm_cure(self) -> None:
        if (self.warm_cure is None) != (self.warm_at is None):
            raise Refusal(
                "A cure when warm needs its minutes and its temperature.",
                where="warm_cure" if self.warm_cure is None else "warm_at",
                remedy="Copy both from the data sheet, or leave both empty.",
            )
        if self.warm_cure is not None and self.warm_cure > self.cure:
            raise Refusal(
                "It cures no slower when it is warm.",
                where="warm_cure",
                remedy="Check both times on the data sheet.",
            )

    @property
    def price_per_ml(self) -> Decimal:
        """Money a mL."""
        return self.price / Decimal(str(self.pack))


LIMITS = {
    "density": (0.5, 3.0),
    "solids": (0.0, 1.0),
    "pack": (1.0, 1e6),
    "ratio": (0.0, 1.0),
    "pot_life": (1.0, 50000.0),
    "touch_dry": (0.0, 20000.0),
    "cure": (0.0, 50000.0),
    "lel": (0.1, 100.0),
    "flash": (-100.0, 400.0),
    "limit_ppm": (0.0001, 100000.0),
    "voc": (0.0, 2000.0),
    "molar_mass": (1.0, 5000.0),
    "shelf": (1.0, 20000.0),
    "warm_cure": (1.0, 50000.0),
    "warm_at": (21.0, 60.0),
}
"""Lowest and highest value of each figure."""
