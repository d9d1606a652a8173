"""Pictures that people bring, decoded in a process of its own that may take only so much memory and time.

What a picture costs to decode is not said by the bytes of its file, so a child process does it, behind limits of the system. It knows
JPEG, PNG and WebP by what is in the file, whatever its name; no other decoder of the library is ever asked.
"""

import os
import subprocess
import sys
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from .machine import limit
from .refusals import Refusal

if TYPE_CHECKING:
    from PIL.Image import Image as Picture

FORMATS = ("JPEG", "PNG", "WEBP")
LARGEST = 20 * 2**20
"""Bytes of a file."""
MOST_PIXELS = 50_000_000
"""Width times height; at four bytes a pixel, and twice that while colours are converted."""
MEMORY = 600 * 2**20
"""Bytes that the child may take."""
SECONDS = 15
"""Seconds of computing that the child may take; the parent waits a little longer."""
WAIT = 60.0
"""Seconds by the clock that somebody waits for a picture at most."""
QUEUED_WAIT = 900.0
"""The same for a picture in a queue, where nobody waits: on a busy machine a good one takes minutes, and only its seconds of computing say that it is none."""
GIVES_WAY = "gives-way"
"""What tells the child that pages come first."""
TOO_MANY, UNREADABLE = 3, 4
"""How the child ends where it refuses."""


def decoded(data: bytes, longest: int, *, where: str = "", queued: bool = False) -> "Picture":
    """The picture in `data`: RGB, upright, at most `longest` pixels a side. Refuses what is none, and what would cost too much.

    One that is `queued` gives way to everything else on the machine, and has its time: nobody waits for it.
    """
    from PIL import Image

    if len(data) > LARGEST:
        raise Refusal(
            "The picture is too large.",
            where=where,
            remedy=f"It may hold up to {LARGEST >> 20} MB: send a smaller copy.",
        )
    words = [sys.executable, "-m", "hidewright.pictures", str(longest), *([GIVES_WAY] if queued else [])]
    path = os.pathsep.join(
        filter(None, (str(Path(__file__).resolve().parents[1]), os.environ.get("PYTHONPATH")))
    )
    try:
        done = subprocess.run(
            words,
            input=data,
            capture_output=True,
            check=False,
            timeout=QUEUED_WAIT if queued else WAIT,
            env={**os.environ, "PYTHONPATH": path},
        )
    except subprocess.TimeoutExpired:
        raise Refusal(
            "The picture takes too long to read.", where=where, remedy="Send a smaller copy."
        ) from None
    if done.returncode == TOO_MANY:
        raise Refusal("The picture has too many pixels.", where=where, remedy="Make it smaller first.")
    if done.returncode:
        raise Refusal(
            "This file is no picture that can be read.", where=where, remedy="Bring a JPEG or a PNG."
        )
    head, _, raw = done.stdout.partition(b"\n")
    width, height = map(int, head.split())
    return Image.frombytes("RGB", (width, height), raw)


def main() -> int:
    """The child: a file from standard input, its size and pixels to standard output."""
    limit(memory=MEMORY, seconds=SECONDS)
    if GIVES_WAY in sys.argv and hasattr(os, "nice"):
        os.nice(10)
    from PIL import Image, ImageOps, UnidentifiedImageError

    longest = int(sys.argv[1])
    try:
        with Image.open(BytesIO(sys.stdin.buffer.read()), formats=FORMATS) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                return TOO_MANY
            opened.draft("RGB", (longest, longest))
            picture = opened.convert("RGB")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
        return UNREADABLE
    except (MemoryError, Image.DecompressionBombError):
        return TOO_MANY
    picture.thumbnail((longest, longest))
    upright = ImageOps.exif_transpose(picture)
    sys.stdout.buffer.write(f"{upright.width} {upright.height}\n".encode() + upright.tobytes())
    return 0


if __name__ == "__main__":
    sys.exit(main())
