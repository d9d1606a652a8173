"""Large swatches that touch: target against batch, wet against dry, one light against another.

They touch with no line between them, because the eye judges a difference at an edge. A screen or a sheet of
paper is no colour standard: whoever shows swatches says so beside them (`CAUTION`).
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from hidewright.charts import ink
from hidewright.refusals import Refusal

CAUTION: Final = (
    "Screen and paper are no colour standard. Judge the colour on dried leather, under the agreed light."
)

LABEL: Final = 12.5
NOTE: Final = 11.8
"""Letters, in units of a row 360 wide, which a phone of 390 px shows at 93 %: none is under 11 px there."""

_HEX = re.compile(r"#[0-9a-fA-F]{6}")


@dataclass(frozen=True)
class Swatch:
    """A patch: `hex` is an sRGB colour like #8a6a45; `label` and `note` stand below it."""

    hex: str
    label: str
    note: str = ""

    def __post_init__(self) -> None:
        if not _HEX.fullmatch(self.hex):
            raise Refusal(f"“{self.hex}” is no colour.", where=self.label, remedy="Write it like #8a6a45.")


def touching_swatches(
    swatches: Sequence[Swatch], *, caption: str = "", width: float = 360, height: float = 120
) -> str:
    """One row of touching patches with their words below; SVG, `width` × (`height` + words) units."""
    if not swatches:
        raise Refusal("There is no swatch to show.", remedy="Give at least one.")
    each = width / len(swatches)
    top = 20 if caption else 0
    body = [ink.words(0, 14, caption, size=LABEL, weight=600)] if caption else []
    for index, swatch in enumerate(swatches):
        overlap = 0 if index == len(swatches) - 1 else 0.5
        body.append(ink.rect(index * each, top, each + overlap, height, swatch.hex))
    body += [
        ink.lettering(
            (
                (index * each + 2, top + height + 16, ink.shortened(swatch.label, each - 4, LABEL))
                for index, swatch in enumerate(swatches)
            ),
            size=LABEL,
            weight=600,
        ),
        ink.lettering(
            (
                (index * each + 2, top + height + 32, ink.shortened(swatch.note, each - 4, NOTE))
                for index, swatch in enumerate(swatches)
            ),
            size=NOTE,
            fill=ink.QUIET,
        ),
    ]
    label = f"{caption}: " if caption else ""
    label += ", ".join(f"{swatch.label} {swatch.hex} {swatch.note}".strip() for swatch in swatches)
    return ink.picture(width, top + height + 38, body, label=label)
