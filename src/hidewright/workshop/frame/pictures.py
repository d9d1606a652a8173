"""Pictures that people bring, kept as JPEG of a size that a page can carry, without what the camera wrote about the place."""

import hashlib
import io
import secrets
from pathlib import Path

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from hidewright.pictures import decoded
from hidewright.refusals import Refusal

LONGEST = 1600
"""Pixels of the longer side: enough to see a scratch, small enough for the shop's network."""


def keep_picture(upload: "UploadedFile[bytes]", *, quality: int = 85) -> str:
    """Keep an uploaded picture; returns its file name under the pictures. Refuses what is no picture."""
    picture = decoded(upload.read(), LONGEST, where=str(upload.name))
    coded = io.BytesIO()
    picture.save(coded, "JPEG", quality=quality, subsampling=0 if quality > 90 else 2)
    # Named by what is in it, so that a picture that was changed or torn is known by its name.
    name = f"{hashlib.sha256(coded.getvalue()).hexdigest()[:32]}.jpg"
    folder = Path(settings.PICTURES_ROOT)
    folder.mkdir(parents=True, exist_ok=True)
    part = folder / f"{name}.{secrets.token_hex(4)}.part"
    part.write_bytes(coded.getvalue())
    part.replace(folder / name)
    return name


def picture_path(name: str) -> Path:
    """Where a kept picture lies; refuses a name that is not one of ours or is gone."""
    stem, dot, ending = name.partition(".")
    path = Path(settings.PICTURES_ROOT) / name
    if not (dot and ending == "jpg" and stem.isalnum() and path.is_file()):
        raise Refusal("The picture is not there any more.", where=name)
    return path
