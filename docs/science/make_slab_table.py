"""Write the table of docs/science/films.md, two fluxes against radiative transfer: `python docs/science/make_slab_table.py`.

The witness is adding-doubling by iadpython (S. A. Prahl; a test-time dependency): a slab without a surface, isotropic scattering, diffuse light.
"""

from pathlib import Path

import iadpython

from hidewright.colour.pigments.film import film

PAGE = Path(__file__).parent / "films.md"
ALBEDOS = (0.999, 0.99, 0.95, 0.9, 0.7, 0.5, 0.2)
DEPTHS = (0.5, 1.0, 2.0, 5.0, 10.0, 1000.0)
START, END = "<!-- slabs: made by make_slab_table.py -->", "<!-- end of slabs -->"


def slab(albedo: float, depth: float) -> tuple[float, float]:
    """Reflectance of a slab over black for diffuse light: by radiative transfer, and by Kubelka and Munk with K = 2μa, S = ¾μs."""
    _, _, witness, _ = iadpython.Sample(a=albedo, b=depth, g=0, n=1, quad_pts=32).rt()
    return float(witness), float(film(2.0 * (1.0 - albedo), 0.75 * albedo, depth, 0.0))


def table() -> str:
    """The table as Markdown; a cell that misses by more than .01 is bold."""
    head = "| albedo | " + " | ".join(f"depth {depth:g}" for depth in DEPTHS) + " | misses by at most |"
    rows = [head, "|---" * (len(DEPTHS) + 2) + "|"]
    for albedo in ALBEDOS:
        pairs = [slab(albedo, depth) for depth in DEPTHS]
        cells = [f"{a:.3f} / {b:.3f}" for a, b in pairs]
        cells = [f"**{c}**" if abs(a - b) > 0.01 else c for c, (a, b) in zip(cells, pairs, strict=True)]
        share = max(abs(a - b) / a for a, b in pairs)
        rows.append(
            f"| {albedo:g} | {' | '.join(cells)} | {max(abs(a - b) for a, b in pairs):.3f}; {share:.1%} |"
        )
    return "\n".join(rows)


def main() -> None:
    """Put the table between its two marks."""
    text = PAGE.read_text(encoding="utf-8")
    before, rest = text.split(START)
    PAGE.write_text(f"{before}{START}\n{table()}\n{END}{rest.split(END)[1]}", encoding="utf-8")


if __name__ == "__main__":
    main()
