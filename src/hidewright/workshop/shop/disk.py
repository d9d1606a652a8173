"""Room on the disk where the shop's data lies, and what says that there is none."""

import errno
import shutil
from collections.abc import Iterable

from django.conf import settings
from django.db import DatabaseError

LITTLE_ROOM = 200 * 10**6
"""Free bytes below which the shop is warned: a copy and a day's work need some."""
NO_ROOM = 20 * 10**6
"""Free bytes below which the shop is only read: what is begun must be able to end."""


def free_space() -> int:
    """Bytes that are free where the shop's data lies."""
    return shutil.disk_usage(settings.HOME).free


def little_room() -> int | None:
    """Free MB where they are too few for a copy and a day's work; None where there is room."""
    free = free_space()
    return free // 10**6 if free < LITTLE_ROOM else None


def is_full(error: BaseException) -> bool:
    """Whether an error says that nothing can be written any more: a full or read-only disk."""
    if isinstance(error, OSError):
        return error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EROFS)
    words = str(error)
    marks: Iterable[str] = (
        "disk is full",
        "readonly database",
        "No space left",
        "disk I/O error",
        "could not extend file",
    )
    return isinstance(error, DatabaseError) and any(mark in words for mark in marks)
