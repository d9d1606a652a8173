"""Run a command beside a PostgreSQL of its own, which answers on a socket only and is gone afterwards.

    python tests/postgres.py pytest tests/workshop

The command finds the server in DATABASE_URL. PostgreSQL refuses to run as root: then it runs as the user `postgres`.
"""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from urllib.parse import quote

FAST = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off -c jit=off -c max_connections=40"
"""Nothing in this server has to survive anything, and no query of a test is worth being compiled for."""


def programs() -> Path:
    """The folder of the newest PostgreSQL's programs, from Debian's place or from the path."""
    versions = [p for p in Path("/usr/lib/postgresql").glob("*/bin") if (p / "initdb").exists()]
    if versions:
        return max(versions, key=lambda p: float(p.parent.name))
    found = shutil.which("initdb")
    if found is None:
        sys.exit("PostgreSQL's initdb was not found; on Debian: apt-get install postgresql")
    return Path(found).resolve().parent


def as_owner() -> list[str]:
    """What to put before a command so that it runs as somebody whom PostgreSQL accepts."""
    if os.geteuid() != 0:
        return []
    return ["setpriv", "--reuid=postgres", "--regid=postgres", "--init-groups", "--"]


@contextmanager
def server() -> Iterator[str]:
    """Start a server in a temporary folder; gives its DATABASE_URL; stops and removes it at the end."""
    home = Path(tempfile.mkdtemp(prefix="hw-pg-"))
    if as_owner():
        shutil.chown(home, "postgres", "postgres")
    data, log, control = home / "data", home / "log", [*as_owner(), str(programs() / "pg_ctl")]
    try:
        init = [str(programs() / "initdb"), "-D", str(data), "-U", "hidewright", "-A", "trust", "-E", "UTF8"]
        run([*as_owner(), *init, "--locale=C", "--no-sync"], home)
        listen = f"-k {home} -c listen_addresses='' {FAST}"
        try:
            run([*control, "-D", str(data), "-l", str(log), "-o", listen, "-w", "start"], home)
        except SystemExit:
            sys.stderr.write(log.read_text() if log.exists() else "")
            raise
        yield f"postgres://hidewright@{quote(str(home), safe='')}/postgres"
    finally:
        subprocess.run(
            [*control, "-D", str(data), "-m", "immediate", "-w", "stop"],
            cwd=home,
            capture_output=True,
            check=False,
        )
        shutil.rmtree(home, ignore_errors=True)


def run(words: list[str], place: Path) -> None:
    """Run one of PostgreSQL's own programs; ends with what it said where it fails."""
    done = subprocess.run(
        words, cwd=place, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL
    )
    if done.returncode:
        sys.exit(f"{words[-1]}: {done.stdout}{done.stderr}")


def stopped(number: int, frame: FrameType | None) -> None:
    """Turn a request to end into an orderly one."""
    sys.exit(128 + number)


def main() -> int:
    """Run the words of the command line; answers with their exit code."""
    signal.signal(signal.SIGTERM, stopped)
    with server() as address:
        return subprocess.run(
            sys.argv[1:], env={**os.environ, "DATABASE_URL": address}, check=False
        ).returncode


if __name__ == "__main__":
    sys.exit(main())
