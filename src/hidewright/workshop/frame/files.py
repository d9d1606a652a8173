"""Files that people bring to be kept: a PDF as it is, a picture as pictures are kept. They lie beside the pictures, named by what is in them."""

import hashlib
import secrets
from pathlib import Path

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.http import FileResponse

from hidewright.refusals import Refusal
from hidewright.workshop.frame.pictures import keep_picture

LARGEST = 20 * 2**20
"""Bytes of a PDF."""
TYPES = {"pdf": "application/pdf", "jpg": "image/jpeg"}


def keep_file(upload: "UploadedFile[bytes]") -> str:
    """Keep a PDF or a picture; returns its file name. Refuses what is neither, and a PDF over `LARGEST`."""
    start = upload.read(5)
    upload.seek(0)
    if start != b"%PDF-":
        return keep_picture(upload)
    if (upload.size or 0) > LARGEST:
        raise Refusal("The file is too large.", where=str(upload.name), remedy="It may hold up to 20 MB.")
    data = upload.read()
    name = f"{hashlib.sha256(data).hexdigest()[:32]}.pdf"
    folder = Path(settings.PICTURES_ROOT)
    folder.mkdir(parents=True, exist_ok=True)
    part = folder / f"{name}.{secrets.token_hex(4)}.part"
    part.write_bytes(data)
    part.replace(folder / name)
    return name


def file_path(name: str) -> Path:
    """Where a kept file lies; refuses a name that is not one of ours or is gone."""
    stem, dot, ending = name.partition(".")
    path = Path(settings.PICTURES_ROOT) / name
    if not (dot and ending in TYPES and stem.isalnum() and path.is_file()):
        raise Refusal("The file is not there any more.", where=name)
    return path


def file_answer(name: str) -> FileResponse:
    """A kept file; a PDF is handed over to be saved, so that nothing in it runs as a page of ours."""
    path = file_path(name)
    ending = path.suffix[1:]
    answer = FileResponse(
        path.open("rb"), content_type=TYPES[ending], as_attachment=ending == "pdf", filename=name
    )
    answer.headers["Cache-Control"] = "private, max-age=86400"
    answer.headers["X-Content-Type-Options"] = "nosniff"
    return answer
