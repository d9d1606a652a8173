"""Labels for jars: what is inside, of which day, and what may never go back in."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from hidewright.charts.swatches import Swatch
from hidewright.dates import long_day
from hidewright.papers.figures import fixed, percent, volume
from hidewright.papers.paper_size import PAPER
from hidewright.papers.press import press
from hidewright.papers.qr import qr_svg
from hidewright.refusals import Refusal

USUAL_WARNING = "No crosslinked colour in this jar. Read the data sheet of the products named."


@dataclass(frozen=True)
class JarLabel:
    """One jar: `volume_ml` in mL, `pigment_share` 0..1 by mass (0: not stated), `hex` an sRGB colour or empty."""

    code: str
    colour: str
    job: str
    volume_ml: float
    mixed_on: date
    hex: str = ""
    pigment_share: float = 0.0
    density_g_ml: float = 0.0
    contents: str = ""
    warning: str = USUAL_WARNING
    page_url: str = ""
    units: str = "metric"

    def __post_init__(self) -> None:
        if not self.code.strip():
            raise Refusal(
                "A jar needs a code.", where="jar label", remedy="Write what tells it from other jars."
            )
        if not 0 < self.volume_ml < 1e6:
            raise Refusal("A jar holds between 0 and 1000 L.", where=self.code)
        if self.hex:
            Swatch(self.hex, self.code)

    def content(self) -> dict[str, str]:
        """The label as the template takes it: text only."""
        facts = [volume(self.volume_ml, self.units)]
        if self.pigment_share:
            facts.append(f"{percent(self.pigment_share)} pigment")
        if self.density_g_ml:
            facts.append(f"{fixed(self.density_g_ml, 3)} g/mL")
        return {
            "code": self.code,
            "colour": self.colour,
            "job": self.job,
            "facts": " · ".join(facts),
            "mixed_on": f"Mixed {long_day(self.mixed_on)}",
            "hex": self.hex,
            "contents": self.contents,
            "warning": self.warning,
            "qr": qr_svg(self.page_url),
        }


def jar_labels_pdf(labels: tuple[JarLabel, ...], *, job: str, made_on: date, paper: str = PAPER) -> bytes:
    """A sheet (or several) of labels, two by five on a page, with lines to cut along."""
    if not labels:
        raise Refusal("There is no jar to label.", where=job)
    content: dict[str, Any] = {
        "title": "Jar labels",
        "job": job,
        "made_on": long_day(made_on),
        "labels": [label.content() for label in labels],
        "cautions": [],
        "qr": "",
        "url": "",
    }
    return press("jar_labels", content, made_on=made_on, paper=paper)
