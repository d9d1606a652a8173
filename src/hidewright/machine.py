"""What differs from one kind of computer to another: locks, limits, who may read a file, a parent that is gone.

The only file that calls what POSIX or Windows alone has. Every such module is looked for when it is needed and may be
missing: then a lock is refused in words, and a limit that the system cannot set is left to the parent's clock.
"""

import contextlib
import importlib
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any

from .refusals import Refusal

ONE_THREAD = "OPENBLAS_NUM_THREADS"
SEATS = 64
"""How many may share a lock at once where the system has no shared locks: each takes a byte, and who wants it alone takes all."""
LOOK_EVERY = 0.05
"""Seconds between two tries for a lock that is waited for."""


def one_thread() -> None:
    """Keep the linear algebra of this process and its children to one thread, where nobody set it otherwise; call it before numpy is loaded.

    The matrices are many and small: threads only get into each other's way (measured: 50 times slower on two busy cores). The command and the app call this; a program that imports
    `hidewright.api` decides for itself.
    """
    os.environ.setdefault(ONE_THREAD, "1")


def _module(name: str) -> Any:
    """A module that only some systems have; none where it is missing."""
    try:
        return importlib.import_module(name)
    except ImportError:
        return None


class Lock:
    """A lock on a file, held by this process until `release` or until the process ends, however it ends.

    `take` gives none where somebody else holds it. A child process does not inherit it.
    """

    def __init__(self, descriptor: int) -> None:
        self._descriptor: int | None = descriptor

    @classmethod
    def take(cls, path: Path, *, alone: bool, wait: float = 0.0) -> "Lock | None":
        """Lock `path`, making it if need be, for this process alone or shared; waits up to `wait` seconds for others to let go."""
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        until = time.monotonic() + wait
        pause = threading.Event()
        while not _locked(descriptor, alone):
            if time.monotonic() >= until:
                os.close(descriptor)
                return None
            pause.wait(LOOK_EVERY)
        return cls(descriptor)

    def release(self) -> None:
        """Let go; a second call does nothing."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None

    def __enter__(self) -> "Lock":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()


def _locked(descriptor: int, alone: bool) -> bool:
    """Whether the lock was got at once."""
    fcntl, msvcrt = _module("fcntl"), _module("msvcrt")
    if fcntl is not None:
        try:
            fcntl.flock(descriptor, (fcntl.LOCK_EX if alone else fcntl.LOCK_SH) | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
    if msvcrt is None:
        raise Refusal(
            "This system has no locks on files.", remedy="Run Hidewright on Linux, macOS or Windows."
        )
    for seat in (0,) if alone else range(SEATS):
        os.lseek(descriptor, seat, os.SEEK_SET)
        with contextlib.suppress(OSError):
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, SEATS if alone else 1)
            return True
    return False


def private() -> None:
    """From here on, files that this process makes can be read by its own user only."""
    os.umask(0o077)


def limit(*, memory: int, seconds: int) -> None:
    """Let this process take no more than `memory` bytes and `seconds` of computing; where the system cannot, its parent watches the clock."""
    resource = _module("resource")
    if resource is None:
        return
    for kind, most in ((resource.RLIMIT_AS, memory), (resource.RLIMIT_CPU, seconds)):
        _, hard = resource.getrlimit(kind)
        # macOS refuses a limit of memory; the clock remains.
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(kind, (most if hard < 0 else min(most, hard), hard))


def settled(folder: Path) -> None:
    """Have a folder's list of names written to the disk, so that a renaming outlasts a loss of power; Windows does so itself."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def when_parent_ends(then: Callable[[], None]) -> None:
    """Call `then` in a thread once the pipe at this process's standard input is closed, which happens however the parent ends."""

    def watch() -> None:
        # Below Python's buffers: a thread that waits inside one makes the interpreter's end fail.
        with contextlib.suppress(OSError):
            while os.read(0, 1):
                continue
        then()

    threading.Thread(target=watch, daemon=True).start()
