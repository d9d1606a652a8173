"""What a list of pieces can hold, in the words that shops write, and how its rows become pieces.

The words are common practice, no source. A mark is never demanded: a row without one gets a mark from what it belongs to and what it is.
"""

import re
from collections import Counter

from hidewright.lists.cells import CellRefusal
from hidewright.lists.kinds import ListKind, Meaning, Sort
from hidewright.refusals import Refusal
from hidewright.sheets import Row

from .csv_in import pieces_of_row
from .piece import Piece

SHAPE_WORDS = {
    "panel": (
        "flat", "flat panel", "panel", "side panel", "headliner", "door card", "door panel", "kick panel", "sidewall", "bulkhead", "valance", "carpet edge", "platte",
        "verkleidung", "flach", "lid", "hatch", "insert",
    ),
    "cushion": (
        "cushion", "seat", "seat cushion", "seat bottom", "bottom cushion", "bottom", "pad", "squab", "back cushion", "kissen", "sitz", "sitzkissen", "polster", "mattress",
    ),
    "roll": ("roll", "bolster", "headrest", "head rest", "piping", "rolle", "nackenrolle", "kopfstütze", "tube", "pillow"),
    "shell": ("shell", "back", "backrest", "seat back", "curved", "curved back", "bucket", "schale", "lehne", "rückenlehne", "ruckenlehne", "surround"),
    "arm": ("arm", "armrest", "arm rest", "armlehne", "rail", "wrapped rail", "grab rail", "handrail"),
    "box": ("box", "drawer", "drawer front", "door", "fascia", "front", "ledge", "console", "table", "cabinet", "kasten", "schublade", "tür"),
}  # fmt: skip
_MATERIALS = {
    "leather": ("leather", "leder", "hide", "cuir", "cuero", "real leather"),
    "vinyl": ("vinyl", "pvc", "leatherette", "faux leather", "kunstleder", "ultraleather", "naugahyde"),
    "plastic": ("plastic", "abs", "kunststoff", "thermoplastic"),
    "metal": ("metal", "aluminium", "aluminum", "steel", "metall"),
    "wood": ("wood", "veneer", "holz", "ply"),
}
_CONDITIONS = {
    "sound": ("sound", "good", "ok", "fine", "gut", "clean"),
    "worn": ("worn", "wear", "crust", "faded", "abgenutzt", "scuffed", "fair"),
    "overcoated": ("overcoated", "painted", "recoated", "coated over", "refinished", "überlackiert"),
    "damaged": ("damaged", "torn", "cracked", "cut", "hole", "kaputt", "beschädigt", "ripped", "poor"),
}


def completed(rows: tuple[Row, ...]) -> tuple[Row, ...]:
    """The rows, those without a mark given one that no other has: C1-seat for a seat of Chair 1, S1, S2 … for seats of nothing."""
    used = {row.get("key").casefold() for row in rows if row.get("key")}
    wanted = Counter(_mark(row).casefold() for row in rows if not row.get("key"))
    made = []
    for row in rows:
        if row.get("key"):
            made.append(row)
            continue
        base = _mark(row)
        mark, n = base, 1
        if not row.get("group") or wanted[base.casefold()] > 1:
            mark = f"{base}{'-' if row.get('group') else ''}{n}"
        while mark.casefold() in used:
            n += 1
            mark = f"{base}{'-' if row.get('group') else ''}{n}"
        used.add(mark.casefold())
        made.append(Row(row.line, {**row.cells, "key": mark}))
    return tuple(made)


def _mark(row: Row) -> str:
    """What a mark begins with: the first letters and the number of what the piece belongs to, and what it is."""
    name = re.sub(r"[^\w]+", "-", row.get("name").strip()).strip("-")[:20].lower() or "piece"
    group = row.get("group")
    if not group:
        return "".join(word[0] for word in name.split("-") if word).upper()[:3] or "P"
    letters = "".join(word[0] for word in re.findall(r"[^\W\d_]+", group)).upper()[:4]
    number = re.search(r"\d+[a-zA-Z]?$|\d+", group)
    return f"{letters}{number[0] if number else ''}-{name}"[:36]


def doubles(made: tuple[tuple[int, Piece], ...]) -> tuple[tuple[int, Refusal], ...]:
    """A refusal for each mark that an earlier row has already, with one that is free proposed."""
    first: dict[str, int] = {}
    used = {piece.key.casefold() for _, piece in made}
    faults: dict[int, Refusal] = {}
    for line, piece in made:
        earlier = first.setdefault(piece.key.casefold(), line)
        if earlier != line:
            n = 2
            while f"{piece.key}-{n}".casefold() in used:
                n += 1
            used.add(f"{piece.key}-{n}".casefold())
            faults.setdefault(
                line,
                CellRefusal(
                    f"The mark {piece.key} is on line {earlier} too.",
                    where="key",
                    remedy="Give each its own mark.",
                    proposal=f"{piece.key}-{n}",
                ),
            )
    return tuple(faults.items())


PIECES = ListKind(
    "pieces",
    "pieces",
    "piece",
    (
        Meaning("key", "Mark", words=("tag", "id", "no", "nr", "part no", "part number", "item no", "label", "ref", "code", "kennung", "number", "#")),
        Meaning("name", "What it is", words=("name", "item", "part", "piece", "description", "what", "component", "teil", "bezeichnung", "beschreibung", "desc", "element"), must=True),
        Meaning("group", "Belongs to", words=("chair", "seat no", "unit", "location", "where", "area of", "position", "assembly", "set", "gruppe", "stuhl", "ort", "place", "room", "zone", "for")),
        Meaning("shape", "Shape", Sort.CHOICE, ("type", "kind", "form", "profile", "typ", "art"), choices=SHAPE_WORDS, fill_from="name"),
        Meaning("size", "Size (length x width x thickness)", Sort.SIZE, ("dimensions", "dims", "measure", "measures", "measurements", "maße", "masse", "l x w x t", "l x w", "lxwxh", "lxw", "größe", "abmessungen"), into=("length", "width", "thickness")),
        Meaning("length", "Length", Sort.LENGTH, ("l", "long", "len", "länge", "laenge", "longueur", "largo", "height", "high", "tall", "höhe")),
        Meaning("width", "Width", Sort.LENGTH, ("w", "wide", "wd", "breite", "b", "largeur", "ancho", "depth", "deep", "d", "tiefe", "diameter")),
        Meaning("thickness", "Thickness", Sort.LENGTH, ("t", "thk", "thick", "dicke", "stärke", "epaisseur", "grueso", "border", "h")),
        Meaning("area", "Area off a template", Sort.AREA, ("surface", "sq ft", "m2", "m²", "fläche", "flaeche", "sqft"), unit="m²"),
        Meaning("material", "Material", Sort.CHOICE, ("made of", "fabric", "stoff", "werkstoff", "substrate", "cover"), choices=_MATERIALS),
        Meaning("condition", "Condition", Sort.CHOICE, ("state", "zustand", "etat", "estado", "cond"), choices=_CONDITIONS),
        Meaning("sat_on", "Sat on", Sort.FLAG, ("sat on", "wear face", "seating", "sitzfläche", "sit", "contact", "people sit")),
        Meaning("turned", "Both sides", Sort.FLAG, ("both sides", "two sided", "double sided", "beidseitig", "turn", "both", "2 sides", "back too")),
        Meaning("strip", "Strip first", Sort.FLAG, ("strip", "stripped", "abbeizen", "remove old", "to strip")),
        Meaning("count", "How many", Sort.COUNT, ("qty", "quantity", "pcs", "how many", "anzahl", "stück", "menge", "number of", "no of", "off", "ea", "x", "nombre", "cantidad", "how many alike")),
        Meaning("notes", "Notes", words=("note", "remark", "remarks", "comment", "comments", "bemerkung", "bemerkungen", "notiz", "info")),
        Meaning("colour", "Colour", words=("color", "farbe", "finish", "couleur", "shade")),
        Meaning("zones", "Coated in zones", words=("coating zones", "coated in zones", "in zones", "zonen")),
    ),
    one=lambda row: tuple(pieces_of_row(row)),
    completed=completed,
    together=doubles,
)  # fmt: skip
"""The list of pieces."""
