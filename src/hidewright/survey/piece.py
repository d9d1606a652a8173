"""A piece: one part of the interior that lies on a table by itself."""

from dataclasses import dataclass, replace
from enum import StrEnum

from hidewright.refusals import Refusal

from .shapes import Face, faces_of
from .zones import Zone, checked_zones, shares, zone_keys


class Material(StrEnum):
    """What is coated."""

    LEATHER = "leather"
    VINYL = "vinyl"
    PLASTIC = "plastic"
    METAL = "metal"
    WOOD = "wood"


class Condition(StrEnum):
    """How it arrives: sound, worn (crust shows), overcoated (somebody else's coat must come off), damaged (needs repair first)."""

    SOUND = "sound"
    WORN = "worn"
    OVERCOATED = "overcoated"
    DAMAGED = "damaged"


NOT_BY_US = "not by us"
"""What stands in place of a colour where a piece is listed and somebody else coats it."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece.

    Dimensions in m. `sat_on`: people sit or lean on it, so its faces get a wiped-in coat first. `turned`: coated on both sides. `strip`: the
    old coat comes off first. `faces`: what is coated.
    """

    key: str
    name: str
    group: str
    shape: str
    length: float
    width: float
    thickness: float
    material: Material
    condition: Condition
    sat_on: bool
    turned: bool
    strip: bool
    faces: tuple[Face, ...]
    notes: str = ""
    measured: float = 0.0
    """Coated area in m² taken off a template; 0 where it is worked out from the shape."""
    colour: str = ""
    """The name of its colour among those of the job; empty for the job's first, `NOT_BY_US` where it is not coated here."""
    zones: tuple[Zone, ...] = ()
    """The zones in which it is coated one after the other; empty where it is coated side by side."""

    def __post_init__(self) -> None:
        if not self.key.strip() or len(self.key) > 40:
            raise Refusal(
                "A piece needs a short mark of its own.",
                where="key",
                remedy="Write one of up to 40 letters, such as LC3-back.",
            )
        if "/" in self.key:
            raise Refusal(
                "A mark holds no stroke (/).", where="key", remedy="Use a hyphen, such as LC3-back."
            )
        if not self.name.strip():
            raise Refusal(
                "A piece needs a name.", where="name", remedy="Write what it is, such as seat cushion."
            )
        if len(self.colour) > 60:
            raise Refusal(
                "The name of a colour has up to 60 letters.",
                where="colour",
                remedy="Write a short name, such as Tan.",
            )
        if not self.faces:
            raise Refusal("A piece has at least one face that is coated.", where=self.key)
        checked_zones(self.zones)

    @property
    def by_us(self) -> bool:
        """It is coated here."""
        return self.colour.casefold() != NOT_BY_US

    @property
    def area(self) -> float:
        """Coated area in m²."""
        return sum(face.area for face in self.faces)

    @property
    def area_sd(self) -> float:
        """Standard deviation of the area in m²; a piece's faces err together, since one tape measured them."""
        return sum(face.area_sd for face in self.faces)

    @property
    def wiped_faces(self) -> tuple[Face, ...]:
        """What gets a coat wiped in by hand first: the faces that are sat on, less the zones of the piece that are not."""
        faces = tuple(face for face in self.faces if face.sat_on)
        if not self.zones:
            return faces
        part = sum(share for zone, share in zip(self.zones, shares(self.zones), strict=True) if zone.sat_on)
        if not part:
            return ()
        return tuple(replace(face, area=face.area * part, area_sd=face.area_sd * part) for face in faces)

    @property
    def edge(self) -> float:
        """m of outline to mask."""
        return sum(face.edge for face in self.faces)

    @property
    def looks_mistyped(self) -> bool:
        """A size that parts of an interior hardly have: inches or centimetres read as millimetres, or the other way round (bounds of this tool's own)."""
        shorter, longer = sorted((self.length, self.width))
        return longer < 0.06 or longer > 4.0 or shorter < 0.008

    def side_area(self, side: str) -> float:
        """Coated area in m² of the faces that lie up in the pass of `side` (front or back)."""
        return sum(face.area for face in self.faces if face.side == side)

    def pass_share(self, pass_key: str, *, sat_on: bool = False) -> float:
        """What share 0..1 of its coated area (of what is `sat_on`) gets its coats in a pass: front, back, or zone1, zone2 …; 0 in any other."""
        if self.zones:
            keys = zone_keys(self.zones)
            if pass_key not in keys or (sat_on and not any(face.sat_on for face in self.faces)):
                return 0.0
            return shares(self.zones, sat_on=sat_on)[keys.index(pass_key)]
        faces = [face for face in self.faces if face.sat_on or not sat_on]
        whole = sum(face.area for face in faces)
        return sum(face.area for face in faces if face.side == pass_key) / whole if whole else 0.0

    @property
    def passes(self) -> tuple[str, ...]:
        """The passes in which it is coated, in order."""
        return zone_keys(self.zones) or (("front", "back") if self.turned else ("front",))

    @property
    def lies(self) -> tuple[float, float]:
        """Length and depth in m that the piece takes up on a table, the longer along the table."""
        along, deep = self.length, self.width
        return (max(along, deep), min(along, deep))

    def marked(self, key: str, name: str) -> "Piece":
        """The same piece with another mark and name."""
        return replace(self, key=key, name=name)


def make_piece(
    *,
    key: str,
    name: str,
    group: str,
    shape: str,
    length: float,
    width: float,
    thickness: float = 0.0,
    material: str = "leather",
    condition: str = "sound",
    sat_on: bool = False,
    turned: bool = False,
    strip: bool | None = None,
    notes: str = "",
    measured: float = 0.0,
    colour: str = "",
    zones: tuple[Zone, ...] = (),
) -> Piece:
    """A piece from what a survey says; refuses bad values, naming the field.

    `strip` left open follows the condition (overcoated pieces are stripped). `measured` m²: the whole coated area where it was taken off a template.
    """
    shape = shape.strip().lower()
    try:
        made_of = Material(material.strip().lower())
    except ValueError as error:
        raise Refusal(
            f"The material “{material}” is not known.",
            where="material",
            remedy=f"Use one of {', '.join(Material)}.",
        ) from error
    try:
        state = Condition(condition.strip().lower())
    except ValueError as error:
        raise Refusal(
            f"The condition “{condition}” is not known.",
            where="condition",
            remedy=f"Use one of {', '.join(Condition)}.",
        ) from error
    faces = faces_of(shape, length, width, thickness, sat_on=sat_on, turned=turned, measured=measured)
    strips = state is Condition.OVERCOATED if strip is None else strip
    return Piece(
        key.strip(),
        name.strip(),
        group.strip(),
        shape,
        length,
        width,
        thickness,
        made_of,
        state,
        sat_on,
        turned,
        strips,
        faces,
        notes.strip(),
        measured,
        colour.strip(),
        zones,
    )
