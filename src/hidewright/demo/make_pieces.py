"""Rebuild `pieces.csv`, the invented rail car's pieces: `python -m hidewright.demo.make_pieces`."""

import csv
import io
from pathlib import Path

from hidewright.survey.csv_in import COLUMNS


def rows() -> list[list[str]]:
    """Every row of the file: six lounge chairs, two settees, eight dining chairs, trim panels and drawer fronts."""
    made: list[list[str]] = []

    def add(
        key: str,
        name: str,
        group: str,
        shape: str,
        sizes: tuple[int, int, int],
        *,
        material: str = "leather",
        condition: str = "overcoated",
        sat_on: bool = False,
        turned: bool = False,
        notes: str = "",
    ) -> None:
        flags = ["yes" if sat_on else "no", "yes" if turned else "no", ""]
        made.append(
            [
                key,
                name,
                group,
                shape,
                *(str(s) if s else "" for s in sizes),
                material,
                condition,
                *flags,
                "1",
                notes,
            ]
        )

    for n in range(1, 7):
        group, mark = f"Lounge chair {n}", f"LC{n}"
        add(f"{mark}-seat", "seat cushion", group, "cushion", (560, 540, 130), sat_on=True, turned=True)
        add(f"{mark}-back", "back shell", group, "shell", (720, 560, 0), sat_on=True, turned=True)
        add(f"{mark}-head", "head roll", group, "roll", (420, 110, 0), sat_on=True)
        add(f"{mark}-armL", "left arm", group, "arm", (520, 95, 180), sat_on=True)
        add(f"{mark}-armR", "right arm", group, "arm", (520, 95, 180), sat_on=True)
        add(
            f"{mark}-skirt",
            "skirt panel",
            group,
            "panel",
            (560, 190, 0),
            notes="clips at the back" if n == 1 else "",
        )
        if n <= 4:
            add(f"{mark}-leg", "leg rest", group, "cushion", (480, 300, 80), sat_on=True)
    for n in range(1, 3):
        group, mark = f"Settee {n}", f"ST{n}"
        for place in ("left", "middle", "right"):
            add(
                f"{mark}-seat-{place}",
                f"seat cushion, {place}",
                group,
                "cushion",
                (620, 580, 140),
                sat_on=True,
                turned=True,
            )
            add(
                f"{mark}-back-{place}",
                f"back cushion, {place}",
                group,
                "cushion",
                (600, 480, 120),
                sat_on=True,
            )
        add(f"{mark}-armL", "left arm", group, "arm", (780, 130, 240), sat_on=True)
        add(f"{mark}-armR", "right arm", group, "arm", (780, 130, 240), sat_on=True)
    for n in range(1, 9):
        group, mark = f"Dining chair {n}", f"DC{n}"
        worn = "worn" if n in (3, 7) else "overcoated"
        add(f"{mark}-seat", "seat pad", group, "cushion", (460, 440, 60), sat_on=True, condition=worn)
        add(
            f"{mark}-back",
            "back pad",
            group,
            "panel",
            (440, 360, 0),
            sat_on=True,
            turned=True,
            condition=worn,
        )
    for n in range(1, 9):
        add(
            f"TP{n}",
            "window trim panel",
            "Trim",
            "panel",
            (1180, 260, 0),
            material="vinyl",
            condition="sound",
        )
    for n in range(1, 5):
        add(
            f"DF{n}",
            "drawer front",
            "Galley",
            "box",
            (520, 210, 22),
            condition="worn",
            notes="handle off first",
        )
    add(
        "DR1",
        "door pull panel",
        "Galley",
        "panel",
        (880, 300, 0),
        condition="damaged",
        notes="tear 40 mm at the lower corner",
    )
    add("HC1", "heater cover", "Trim", "panel", (900, 240, 0), material="metal", condition="sound")
    return made


def main() -> None:
    """Write the file beside this module."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(rows())
    Path(__file__).with_name("pieces.csv").write_text(out.getvalue(), encoding="utf-8")


if __name__ == "__main__":
    main()
