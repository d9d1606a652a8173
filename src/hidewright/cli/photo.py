"""`hidewright photo`: a colour off a photo that shows the leather, a grey card and, better, a card of known patches."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from hidewright.colour.light.far import off_with_figure
from hidewright.refusals import Refusal
from hidewright.sheets import Row, read_each, read_sheet

from .files import IN, OUT, deliver, named, read_bytes, read_file

if TYPE_CHECKING:
    from collections.abc import Sequence

    from hidewright.colour.reading.photo import KnownPatch, Patch

COLUMNS = ("left", "top", "right", "bottom", "l", "a", "b")
BOX = "Write left, top, right, bottom in per cent of the picture, like “10 20 30 45”."
GREY = (49.5, 0.0, 0.0)
"""L*, a*, b* of a usual 18 % grey card (arithmetic: Y 18.0 gives L* 49.5); a card's own papers rule."""


def _numbers(text: str, count: int, where: str, remedy: str) -> list[float]:
    try:
        values = [float(part.rstrip("%")) for part in text.replace(";", " ").split()]
    except ValueError:
        values = []
    if len(values) != count or not np.all(np.isfinite(values)):
        raise Refusal(f"“{text[:40]}” cannot be read.", where=where, remedy=remedy)
    return values


def _patch(values: "Sequence[float]", where: str) -> "Patch":
    from hidewright.colour.reading.photo import Patch

    try:
        return Patch(*(v / 100.0 for v in values))
    except Refusal as refusal:
        raise Refusal(refusal.what, where=where, remedy=BOX) from refusal


def read_patches(text: str) -> "tuple[Patch | None, list[KnownPatch]]":
    """The leather's place and the known patches from a CSV: left, top, right, bottom in per cent, l, a, b; the leather's row has no l, a, b."""
    from hidewright.colour.reading.photo import KnownPatch

    sheet = read_sheet(text, columns=", ".join(COLUMNS))
    sheet.expect(COLUMNS, ("name",))

    def one(row: Row) -> "tuple[Patch, KnownPatch | None]":
        patch = _patch([_cell(row, column) for column in COLUMNS[:4]], "left")
        if not any(row.get(axis) for axis in "lab"):
            return patch, None
        return patch, KnownPatch(patch, np.array([_cell(row, axis) for axis in "lab"]))

    found = read_each(sheet.rows, one)
    leather = [patch for patch, known in found if known is None]
    if len(leather) > 1:
        raise Refusal(
            "Two rows have no l, a, b.", where="l", remedy="Only the leather's row is without them."
        )
    return (leather[0] if leather else None), [known for _, known in found if known is not None]


def _cell(row: Row, column: str) -> float:
    try:
        value = float(row.get(column).replace(",", ".").rstrip("%"))
    except ValueError:
        value = float("nan")
    if not -200.0 <= value <= 200.0:
        raise Refusal(
            f"“{row.get(column)[:30]}” cannot be.",
            where=column,
            remedy="Places in per cent, l a b in CIELAB units.",
        )
    return value


def _known(text: str) -> "KnownPatch":
    """A known patch from "60 20 70 40 = 52.1 -35 25"."""
    from hidewright.colour.reading.photo import KnownPatch

    place, mark, colour = text.partition("=")
    how = "Write its place and its L* a* b*, like “60 20 70 40 = 52.1 -35 25”."
    if not mark:
        raise Refusal(f"“{text[:40]}” has no = in it.", where="--patch", remedy=how)
    return KnownPatch(
        _patch(_numbers(place, 4, "--patch", how), "--patch"), np.array(_numbers(colour, 3, "--patch", how))
    )


@click.command()
@click.argument("picture", type=IN)
@click.option("--leather", default="", help="Where the leather lies: left, top, right, bottom in per cent.")
@click.option("--grey", default="", help="Where the grey card lies.")
@click.option(
    "--grey-lab", default="49.5 0 0", show_default=True, help="L* a* b* of the grey card, as its papers say."
)
@click.option(
    "--patch", "patches", multiple=True, help="A known patch, like “60 20 70 40 = 52.1 -35 25” (D65, 2°)."
)
@click.option(
    "--patches",
    "sheet",
    type=IN,
    help="CSV of places: left, top, right, bottom, l, a, b; the leather's row has no l, a, b.",
)
@click.option("--name", default="Photo", show_default=True, help="What the leather is called.")
@click.option("--out", type=OUT, help="Write the colour to a CSV that the other commands take.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
def command(
    picture: Path, leather: str, grey: str, grey_lab: str, patches: tuple[str, ...], sheet: Path | None, name: str,
    out: Path | None, as_json: bool,
) -> None:  # fmt: skip
    """Read the leather's colour off PICTURE, a JPEG or PNG with a grey card in it. A picture that is clipped or unevenly lit is refused, with the reason.

    Five known patches or more are far better than a grey card alone. A phone's photo never comes near an instrument: the spread says so.
    """
    from hidewright.colour.light.cie import hex_from_lab
    from hidewright.colour.reading.formats import write_csv
    from hidewright.colour.reading.photo import KnownPatch, read_photo

    place, known = read_file(sheet, read_patches) if sheet else (None, [])
    if leather:
        place = _patch(_numbers(leather, 4, "--leather", BOX), "--leather")
    if place is None:
        raise Refusal("Nothing says where the leather lies.", where="--leather", remedy=BOX)
    if grey:
        lab = np.array(_numbers(grey_lab, 3, "--grey-lab", "Write it like “49.5 0 0”."))
        known = [*known, KnownPatch(_patch(_numbers(grey, 4, "--grey", BOX), "--grey"), lab)]
    known = [*known, *(_known(text) for text in patches)]
    where = place
    found = named(picture, lambda: read_photo(read_bytes(picture), where, known, name))
    colour = found.reading.colour
    assert colour is not None
    spread = float(np.sqrt(np.trace(colour.covariance) / 3))
    told: dict[str, Any] = {
        "name": name,
        "lab": [round(float(v), 2) for v in colour.lab],
        "light": colour.light,
        "observer": colour.observer,
        "spread": round(spread, 2),
        "method": found.method,
        "residual": round(found.residual, 3),
        "hex": hex_from_lab(colour.lab),
    }

    def show() -> None:
        lightness, a, b = colour.lab
        click.echo(f"{name}: L* {lightness:.1f}, a* {a:.1f}, b* {b:.1f} (D65, 2°), by {found.method}.")
        click.echo(
            f"It may be off by about {spread:.1f} CIELAB units each way; the known patches came out off by {off_with_figure(found.residual)}."
        )

    deliver(
        told,
        show,
        as_json=as_json,
        out=out,
        text=lambda: write_csv([found.reading]),
        takers="readings, match and adjust take it",
    )
