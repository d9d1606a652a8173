"""Copies of everything: made every hour while the server runs, kept for a while, brought back into a new shop."""

import os
import re
import tempfile
from datetime import date, datetime
from pathlib import Path
from typing import IO

from django.conf import settings
from django.utils import timezone

from hidewright.refusals import Refusal
from hidewright.workshop.front import copy_file as keep
from hidewright.workshop.shop.models import Device

DAYS, MONTHS = 14, 12
"""How many days, and then how many months, keep their newest copy."""
DAILY = re.compile(r"(\d{4})-(\d\d)-(\d\d)\.zip")


def take_copy(to: Path, migration: str = "") -> keep.About:
    """Write a copy of everything to a file; it stands there whole or not at all. `migration`: how far the tables have come, if not to the last one."""
    to.parent.mkdir(parents=True, exist_ok=True)
    part = to.with_name(f"{to.name}.part")
    try:
        with part.open("wb") as file:
            about = keep.write_copy(file, migration)
            file.flush()
            os.fsync(file.fileno())
        part.replace(to)
    finally:
        part.unlink(missing_ok=True)
    return about


def fresh_copy() -> IO[bytes]:
    """A copy of everything in a file that goes when it is closed, read from its beginning."""
    file = tempfile.TemporaryFile()  # noqa: SIM115 - whoever sends it closes it
    keep.write_copy(file)
    file.seek(0)
    return file


def keep_today() -> Path:
    """Write today's copy anew among those the shop keeps, and let old ones go."""
    today = timezone.localdate()
    path = Path(settings.COPIES_ROOT) / f"{today}.zip"
    take_copy(path)
    for name in too_old([one.name for one in path.parent.iterdir()], today):
        (path.parent / name).unlink(missing_ok=True)
    return path


def too_old(names: list[str], today: date) -> list[str]:
    """The daily copies that may go: neither of the last `DAYS` days nor the newest of one of the last `MONTHS` months."""
    days = {}
    for name in names:
        if found := DAILY.fullmatch(name):
            try:
                days[date(*map(int, found.groups()))] = name
            except ValueError:
                continue
    newest = {(day.year, day.month): day for day in sorted(days)}
    months = sorted(newest)[-MONTHS:]
    kept = {newest[month] for month in months} | {day for day in days if (today - day).days < DAYS}
    return [name for day, name in sorted(days.items()) if day not in kept]


def bring_back(
    file: IO[bytes], *, over: bool = False, device_name: str = ""
) -> tuple[keep.About, Device | None]:
    """Put a copy in the place of what is here; refuses where something is, unless `over`, and then keeps a copy of that first.

    All devices must be let in anew; only one named `device_name` is in at once. On a refusal nothing has changed.
    """
    with keep.opened(file) as packed:
        about = keep.read_about(packed)
        keep.check_whole(packed)
        if about.older:
            raise Refusal(
                f"The copy was made by an earlier version ({about.version}), and is brought up to this one on SQLite only.",
                remedy="Say hidewright restore FILE with a new folder in HIDEWRIGHT_HOME and without DATABASE_URL; a copy of that comes back here.",
            )
        if there := keep.holds():
            if not over:
                most = sorted(there.items(), key=lambda item: -item[1])[:3]
                raise Refusal(
                    f"This shop is not empty: it holds {', '.join(f'{count} {name}' for name, count in most)}.",
                    remedy="Name a new folder in HIDEWRIGHT_HOME, or say --over: what is here is copied first.",
                )
            take_copy(Path(settings.COPIES_ROOT) / f"before-{datetime.now():%Y-%m-%d-%H%M%S}.zip")
        keep.put_back(packed)
    device = Device.objects.create(name=device_name) if device_name else None
    return about, device
