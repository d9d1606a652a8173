"""The square code that leads from a paper to its page."""

from io import BytesIO

import segno


def qr_svg(address: str) -> str:
    """SVG of a QR code (ISO/IEC 18004, error level M) for `address`; empty for an empty address."""
    if not address:
        return ""
    out = BytesIO()
    segno.make(address, error="m", micro=False).save(out, kind="svg", border=2, xmldecl=False, svgns=True)
    return out.getvalue().decode()
