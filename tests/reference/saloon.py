"""An interior of our own invention for the trade's checks: the saloon and the wheelhouse of a motor yacht. No real boat; all sizes are made up.

Areas are worked out here by hand from length, width and height, not by the survey's shapes.
"""

from hidewright.survey import Piece, make_piece

# what, shape, length, width, thickness m, how many, sat on, coated on both sides, strip
SALOON = (
    ("dinette seat pad", "cushion", 0.95, 0.62, 0.12, 4, True, True, True),
    ("dinette back pad", "cushion", 0.95, 0.42, 0.09, 4, True, False, True),
    ("corner pad", "cushion", 0.62, 0.62, 0.12, 2, True, True, True),
    ("helm seat pad", "cushion", 0.52, 0.50, 0.10, 2, True, False, False),
    ("helm back shell", "shell", 0.66, 0.52, 0.00, 2, True, False, False),
    ("berth bolster", "roll", 1.40, 0.18, 0.00, 2, True, True, False),
    ("rail pad", "arm", 1.25, 0.09, 0.06, 6, False, False, False),
    ("locker front", "box", 0.58, 0.40, 0.02, 8, False, False, False),
    ("lining panel", "panel", 1.60, 0.70, 0.00, 3, False, False, False),
)


def pieces() -> list[Piece]:
    """Every piece of the saloon, one by one: 33 of them."""
    made = []
    for number, (name, shape, length, width, thick, count, sat, turned, strip) in enumerate(SALOON, start=1):
        for each in range(1, count + 1):
            made.append(
                make_piece(
                    key=f"Y{number}-{each}",
                    name=name,
                    group="Saloon",
                    shape=shape,
                    length=length,
                    width=width,
                    thickness=thick,
                    sat_on=sat,
                    turned=turned,
                    strip=strip,
                )
            )
    return made


def flat_area(*, sat_only: bool = False) -> float:
    """m² as a tape lays it flat: length x width for each coated side, and the borders of what is thick. A roll is its girth times its length."""
    whole = 0.0
    for _, shape, length, width, thick, count, sat, turned, _ in SALOON:
        if sat_only and not sat:
            continue
        if shape == "roll":
            one = 3.14159 * width * length * (1.0 if turned else 0.5) + (
                0.0 if sat_only else 3.14159 * width**2 / 2
            )
        else:
            one = length * width * (2 if turned else 1)
            one += 0.0 if sat_only else 2 * (length + width) * thick
        whole += count * one
    return whole
