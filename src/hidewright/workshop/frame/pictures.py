"""Pictures that people bring, kept as JPEG of a size that a page can carry, without what the camera wrote about place and device.

One store for all of them: each file is named by the first 32 hex digits of its SHA-256, so that one that was changed or torn is known by its name.
What waits for its turn to be made smaller lies under `incoming`, as it came.
"""

import hashlib
import io
import secrets
import time
from pathlib import Path
from typing import TYPE_CHECKING

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from hidewright.pictures import LARGEST, decoded
from hidewright.refusals import Refusal

if TYPE_CHECKING:
    from PIL.Image import Image as Decoded

LONGEST = 1600
"""Pixels of the longer side: enough to see a scratch, small enough for the shop's network."""
SMALL = 320
"""Pixels of the longer side of a thumbnail."""
FORGOTTEN = 24 * 3600.0
"""Seconds after which a file that came in and that no row names is thrown away."""


def keep_picture(upload: "UploadedFile[bytes]", *, quality: int = 85) -> str:
    """Keep an uploaded picture; returns its file name under the pictures. Refuses what is no picture."""
    return _keep(decoded(upload.read(), LONGEST, where=str(upload.name)), quality)


def keep_both(data: bytes, where: str) -> tuple[str, str]:
    """Keep a picture of the queue and its thumbnail; returns their file names. Refuses what is no picture, naming it as `where`."""
    picture = decoded(data, LONGEST, where=where, queued=True)
    file = _keep(picture, 85)
    picture.thumbnail((SMALL, SMALL))
    return file, _keep(picture, 78)


def _keep(picture: "Decoded", quality: int) -> str:
    coded = io.BytesIO()
    picture.save(coded, "JPEG", quality=quality, subsampling=0 if quality > 90 else 2)
    name = f"{hashlib.sha256(coded.getvalue()).hexdigest()[:32]}.jpg"
    folder = Path(settings.PICTURES_ROOT)
    folder.mkdir(parents=True, exist_ok=True)
    part = folder / f"{name}.{secrets.token_hex(4)}.part"
    part.write_bytes(coded.getvalue())
    part.replace(folder / name)
    return name


def put_in_queue(upload: "UploadedFile[bytes]") -> str:
    """Keep a file as it came, to be looked at later; returns its name under `incoming`. Refuses one that is empty or too large, by its name."""
    if not upload.size:
        raise Refusal(
            "There is nothing in this file.", where=str(upload.name), remedy="Take the picture again."
        )
    if upload.size > LARGEST:
        raise Refusal(
            "The picture is too large.",
            where=str(upload.name),
            remedy=f"It may hold up to {LARGEST >> 20} MB.",
        )
    folder = _incoming()
    folder.mkdir(parents=True, exist_ok=True)
    name = secrets.token_hex(16)
    with (folder / name).open("wb") as out:
        for chunk in upload.chunks():
            out.write(chunk)
    return name


def from_queue(name: str) -> bytes:
    """A file as it came; refuses one that is gone."""
    try:
        return (_incoming() / name).read_bytes()
    except OSError as error:
        raise Refusal("It was lost before it was looked at.", remedy="Bring it again.") from error


def out_of_queue(name: str) -> None:
    """Throw away a file as it came; what it held is kept, or could not be read."""
    (_incoming() / name).unlink(missing_ok=True)


def tidy_queue(wanted: set[str]) -> int:
    """Throw away files that came in long ago and that no row names (an act was broken off); returns how many."""
    gone = 0
    folder = _incoming()
    for path in folder.iterdir() if folder.is_dir() else ():
        if path.name not in wanted and time.time() - path.stat().st_mtime > FORGOTTEN:
            path.unlink(missing_ok=True)
            gone += 1
    return gone


def _incoming() -> Path:
    return Path(settings.PICTURES_ROOT) / "incoming"


def picture_path(name: str) -> Path:
    """Where a kept picture lies; refuses a name that is not one of ours or is gone."""
    stem, dot, ending = name.partition(".")
    path = Path(settings.PICTURES_ROOT) / name
    if not (dot and ending == "jpg" and stem.isalnum() and path.is_file()):
        raise Refusal("The picture is not there any more.", where=name)
    return path
