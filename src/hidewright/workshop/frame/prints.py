"""Kept pictures as papers print them, and the shop's size of paper."""

import io

from hidewright.papers.record import RecordPicture
from hidewright.refusals import Refusal
from hidewright.workshop.frame.pictures import picture_path
from hidewright.workshop.shop.door import the_shop

PRINTED = 640
"""Pixels of the longer side: 260 dots an inch at a third of a page."""


def printed(name: str, caption: str) -> RecordPicture | None:
    """A kept picture, small enough for a paper; None where it is gone."""
    from PIL import Image

    try:
        path = picture_path(name)
    except Refusal:
        return None
    with Image.open(path) as opened:
        opened.thumbnail((PRINTED, PRINTED))
        coded = io.BytesIO()
        opened.convert("RGB").save(coded, "JPEG", quality=80)
        return RecordPicture(caption, coded.getvalue(), opened.width, opened.height)


def paper_size() -> str:
    """Letter where the shop measures in feet, A4 elsewhere."""
    return "us-letter" if the_shop().units == "us" else "a4"
