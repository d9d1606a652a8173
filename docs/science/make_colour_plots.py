"""Draw the plots of the colour notes: `python docs/science/make_colour_plots.py`."""

from pathlib import Path

import numpy as np

from hidewright.charts.curves import Curve, reflectance_curves
from hidewright.charts.render import to_svg
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface, below, film, opaque, seen
from hidewright.colour.pigments.pigment import Base, dry_shares, mixed
from hidewright.colour.pigments.wet import look_dry, look_wet
from hidewright.demo.make_colours import pigments

HERE = Path(__file__).parent
TAN = {"PW6": 10.0, "PBr7": 3.6, "PY42": 4.2, "PR101": 1.0}


def main() -> None:
    """Write both pictures beside this file."""
    known, surface = pigments(), Surface()
    k, s = mixed(dry_shares(TAN, known, Base(), 85.0), known)
    old = np.full(31, 0.08)
    curves = [Curve("Old colour", old)]
    for coats in (1, 2, 4):
        name = "One coat" if coats == 1 else f"{coats} coats"
        curves.append(Curve(name, seen(film(k, s, 7.5 * coats, below(old, surface)), surface)))
    curves.append(Curve("Hiding", seen(opaque(k, s), surface)))
    label = "Reflectance of a tan colour over a dark old colour, coat by coat"
    (HERE / "coats.svg").write_text(to_svg(reflectance_curves(curves), label=label), encoding="utf-8")
    cup = Contents({"PBr7": 12.0, "PR101": 3.0, "PW6": 1.5}, 83.0)
    pair = [
        Curve("Wet", look_wet(cup, list(known.values()))),
        Curve("Dry", look_dry(cup, list(known.values()))),
    ]
    label = "Reflectance of one brown mix, wet and dry"
    (HERE / "wet-and-dry.svg").write_text(to_svg(reflectance_curves(pair), label=label), encoding="utf-8")


if __name__ == "__main__":
    main()
