"""Which sheet a paper is printed on: A4, or US Letter."""

from hidewright.refusals import Refusal

PAPER = "a4"
SIZES = {"a4": "A4", "us-letter": "Letter"}
"""The sheets that a paper can be set on, by the name that the press knows, and what people call them."""


def check_paper(name: str) -> None:
    """Refuse a sheet that is not known."""
    if name not in SIZES:
        raise Refusal(
            f"“{name}” is no size of paper here.", where="paper", remedy=f"Use {' or '.join(SIZES)}."
        )
