"""The closing file as a zip: rows, pictures, the paper, and a list of hashes by which it is known to be whole.

`about.json` says what it is, with the SHA-256 of each member; `rows/<table>.jsonl` holds rows a line each, as a whole-shop copy does;
`pictures/` what was photographed; `closing.pdf` all of it to read. The seal is a hash over all hashes but the paper's: the paper prints it.
"""

import hashlib
import io
import json
import zipfile
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from django.conf import settings
from django.utils import timezone

from hidewright import __version__
from hidewright.papers.record import record_pdf
from hidewright.workshop.closing.paper_queries import closing_record
from hidewright.workshop.closing.selection_queries import counts, files_of, selection
from hidewright.workshop.front.copy_file import newest_migration, row_line, schema, tables
from hidewright.workshop.shop.models import Job

WHAT = "the closing file of a Hidewright job"
FORMAT = 1
PAPER = "closing.pdf"


@dataclass(frozen=True, slots=True)
class Contents:
    """What a closing file holds: members by name but the paper, what each table counts, the pictures that are gone, the seal."""

    members: dict[str, bytes]
    rows: dict[str, int]
    gone: tuple[str, ...]
    seal: str


def seal_of(sums: dict[str, str]) -> str:
    """The SHA-256 over all names and hashes but the paper's, in the order of the names."""
    lines = (f"{name} {sums[name]}\n" for name in sorted(sums) if name != PAPER)
    return hashlib.sha256("".join(lines).encode()).hexdigest()


def contents_of(job: Job) -> Contents:
    """Everything of a job as it is now, but the paper."""
    found = selection(job)
    members: dict[str, bytes] = {}
    for model in tables():
        if rows := found.rows(model):
            members[f"rows/{model._meta.model_name}.jsonl"] = b"".join(row_line(row) for row in rows)
    folder, gone = Path(settings.PICTURES_ROOT), []
    for name in files_of(list(members.values())):
        if (folder / name).is_file():
            members[f"pictures/{name}"] = (folder / name).read_bytes()
        else:
            gone.append(name)
    return Contents(members, dict(counts(found)), tuple(gone), seal_of(sums_of(members)))


def sums_of(members: dict[str, bytes]) -> dict[str, str]:
    """Member → its SHA-256."""
    return {name: hashlib.sha256(data).hexdigest() for name, data in members.items()}


def closing_pdf(job: Job, held: Contents, *, made: datetime, page_url: str = "", paper: str = "") -> bytes:
    """The closing file as a paper; `paper` names its size, else it is the usual one of the shop."""
    record = closing_record(
        job,
        made_on=timezone.localdate(made),
        sums=sums_of(held.members),
        seal=held.seal,
        gone=held.gone,
        page_url=page_url,
    )
    return record_pdf(replace(record, paper=paper) if paper else record)


def write_closing(job: Job, to: IO[bytes], *, page_url: str = "") -> str:
    """Write the closing file of a job; returns its seal."""
    made = timezone.now()
    held = contents_of(job)
    members = {**held.members, PAPER: closing_pdf(job, held, made=made, page_url=page_url)}
    about: dict[str, Any] = {
        "what": WHAT,
        "format": FORMAT,
        "version": __version__,
        "migration": newest_migration(),
        "schema": schema(tables()),
        "made": made.isoformat(),
        "job": job.pk,
        "name": job.name,
        "rows": held.rows,
        "gone": list(held.gone),
        "seal": held.seal,
        "sha256": sums_of(members),
    }
    with zipfile.ZipFile(to, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in members.items():
            kind = zipfile.ZIP_STORED if name.startswith("pictures/") else zipfile.ZIP_DEFLATED
            packed.writestr(name, data, kind)
        packed.writestr("about.json", json.dumps(about, indent=1, ensure_ascii=False))
    return held.seal


def closing_zip(job: Job, *, page_url: str = "") -> io.BytesIO:
    """The closing file in memory, read from its beginning."""
    file = io.BytesIO()
    write_closing(job, file, page_url=page_url)
    file.seek(0)
    return file
