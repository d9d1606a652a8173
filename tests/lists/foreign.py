"""Four lists as other people write them, invented here, and what is in them; and a writer of small xlsx files that shares nothing with the reader."""

import io
import zipfile
from xml.sax.saxutils import escape

INCH = 0.0254

OWN = """Refit of a saloon, listed in May
Tag;Item;For;Qty;How long;Wide;Thick;Made of;State;People sit;Two-sided
;Seat bottom;Chair 1;1;22 in;21 in;5 in;hide;painted;x;x
;Seat bottom;Chair 2;1;22 in;21 in;5 in;hide;painted;x;x
;Back rest;Chair 1;1;28;22;;hide;painted;ja;ja
;Wing;Chair 1;2;18;9 1/2;;hide;worn;-;
LG;Ledge;Side wall;3;48;6;1;vinyl;fine;no;no
"""
"""Own columns and words, a title above, some sizes with a unit and some without."""
OWN_TRUTH = {
    "Seat bottom": (22 * INCH, 21 * INCH, 5 * INCH),
    "Back rest": (28 * INCH, 22 * INCH, 0.0),
    "Wing": (18 * INCH, 9.5 * INCH, 0.0),
    "Ledge": (48 * INCH, 6 * INCH, 1 * INCH),
}

TABBED = (
    "Bezeichnung\tGruppe\tForm\tLänge (cm)\tBreite (cm)\tDicke (cm)\tAnzahl\n"
    "Sitz vorn\tStuhl 1\tKissen\t56,5\t54,0\t13,2\t1\n"
    "Lehne\tStuhl 1\tSchale\t72,0\t56,3\t\t1\n"
    "Armlehne\tStuhl 1\tarm\t52,25\t9,5\t18,0\t2\n"
    "Blende\tWand\tPlatte\t1,18 m\t26,0\t\t8\n"
)
"""Tab-separated, decimal commas, German headings and words."""
TABBED_TRUTH = {
    "Sitz vorn": (0.565, 0.54, 0.132),
    "Lehne": (0.72, 0.563, 0.0),
    "Armlehne": (0.5225, 0.095, 0.18),
    "Blende": (1.18, 0.26, 0.0),
}

PASTE = "\n".join(
    f"Berth {n}\tSquab\t{70 + n}\t{60 - n}\t12" if n % 2 else f"Berth {n}\tLee board\t{150 + n}\t{20 + n}\t"
    for n in range(1, 13)
)
"""Twelve rows out of a spreadsheet, without headings; sizes in centimetres, which nothing says."""
PASTE_TRUTH = {
    **{n: ((70 + n) / 100, (60 - n) / 100, 0.12) for n in range(1, 13, 2)},
    **{n: ((150 + n) / 100, (20 + n) / 100, 0.0) for n in range(2, 13, 2)},
}

MERGED_ROWS: list[list[str | float]] = [
    ["Interior of a motor yacht", "", "", "", "", "", ""],
    ["Where", "Part", "Size", "", "", "Coated", ""],
    ["", "", "L (in)", "W (in)", "T (in)", "both sides", "people sit"],
    ["Settee 1", "Seat cushion", "24 1/2", 22.0, 4.5, "yes", "yes"],
    ["", "Back cushion", "24.5 in", "0,45 m", 4.0, "no", "yes"],
    ["", "Bolster", 24.5, "15 cm", "", "no", "yes"],
    ["Table", "Table edge", "6 ft 2", 2.25, 0.5, "no", "no"],
    ["Total", "", "", "", "", "", ""],
]
MERGED_SPANS = ["A1:G1", "A2:A3", "B2:B3", "C2:E2", "F2:G2", "A4:A6"]
"""An xlsx with merged headings in two rows, merged groups, and units in cells."""
MERGED_TRUTH = {
    "Seat cushion": (24.5 * INCH, 22 * INCH, 4.5 * INCH),
    "Back cushion": (24.5 * INCH, 0.45, 4 * INCH),
    "Bolster": (24.5 * INCH, 0.15, 0.0),
    "Table edge": (74 * INCH, 2.25 * INCH, 0.5 * INCH),
}

_TYPES = (
    '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" '
    'ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>'
    '<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
    '<Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>'
)
_RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_RELATIONS = '<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="{type}" Target="{target}"/></Relationships>'
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def xlsx(rows: list[list[str | float]], spans: list[str] = []) -> bytes:  # noqa: B006 - never changed
    """A small xlsx (ISO/IEC 29500-1, SpreadsheetML) with one sheet; numbers as numbers, texts inline."""
    lines = []
    for n, row in enumerate(rows, 1):
        cells = "".join(_cell(f"{chr(65 + at)}{n}", value) for at, value in enumerate(row) if value != "")
        lines.append(f'<row r="{n}">{cells}</row>')
    merged = "".join(f'<mergeCell ref="{span}"/>' for span in spans)
    sheet = f'<?xml version="1.0"?><worksheet xmlns="{_MAIN}"><sheetData>{"".join(lines)}</sheetData>{f"<mergeCells>{merged}</mergeCells>" if spans else ""}</worksheet>'
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("[Content_Types].xml", _TYPES)
        packed.writestr(
            "_rels/.rels", _RELATIONS.format(type=f"{_RELATION}/officeDocument", target="xl/workbook.xml")
        )
        packed.writestr(
            "xl/workbook.xml",
            f'<?xml version="1.0"?><workbook xmlns="{_MAIN}" xmlns:r="{_RELATION}"><sheets><sheet name="List" sheetId="1" r:id="rId1"/></sheets></workbook>',
        )
        packed.writestr(
            "xl/_rels/workbook.xml.rels",
            _RELATIONS.format(type=f"{_RELATION}/worksheet", target="worksheets/sheet1.xml"),
        )
        packed.writestr("xl/worksheets/sheet1.xml", sheet)
    return out.getvalue()


def _cell(place: str, value: str | float) -> str:
    if isinstance(value, str):
        return f'<c r="{place}" t="inlineStr"><is><t>{escape(value)}</t></is></c>'
    return f'<c r="{place}"><v>{value}</v></c>'


def ods(rows: list[list[str | float]]) -> bytes:
    """A small ods (OASIS OpenDocument 1.2) with one sheet."""
    names = (
        'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
        'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"'
    )
    lines = "".join(
        "<table:table-row>"
        + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{escape(value)}</text:p></table:table-cell>'
            if isinstance(value, str)
            else f'<table:table-cell office:value-type="float" office:value="{value}"><text:p>{value}</text:p></table:table-cell>'
            for value in row
        )
        + "</table:table-row>"
        for row in rows
    )
    content = f'<?xml version="1.0"?><office:document-content {names} office:version="1.2"><office:body><office:spreadsheet><table:table table:name="List">{lines}</table:table></office:spreadsheet></office:body></office:document-content>'
    manifest = (
        '<?xml version="1.0"?><manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.2">'
        '<manifest:file-entry manifest:full-path="/" manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/>'
        '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>'
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        packed.writestr("META-INF/manifest.xml", manifest)
        packed.writestr("content.xml", content)
    return out.getvalue()
