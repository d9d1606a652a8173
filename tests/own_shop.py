"""A shop in processes of its own, run as people run it, for tests and benchmarks: where its folder is, on which database, and what it said."""

import json
import os
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

PATIENCE = 240
"""Seconds that a process of a busy machine may take; no test asserts a time."""


def environment(home: Path, database: str | None = None) -> dict[str, str]:
    """A shop in `home`, on SQLite or on `database`, whatever database the tests themselves run on."""
    kept = {k: v for k, v in os.environ.items() if k not in ("DATABASE_URL", "DJANGO_SETTINGS_MODULE")}
    path = os.pathsep.join(filter(None, [str(Path(__file__).parent), *sys.path]))
    made = {**kept, "HIDEWRIGHT_HOME": str(home), "PYTHONPATH": path}
    return {**made, "DATABASE_URL": database} if database else made


def this_database(name: str) -> str:
    """The address of a database of the PostgreSQL of this run."""
    address, _, _ = os.environ["DATABASE_URL"].rpartition("/")
    return f"{address}/{name}"


def words(*said: str) -> list[str]:
    """The command as it is called."""
    return [sys.executable, "-m", "hidewright.cli", *said]


def hidewright(home: Path, *said: str) -> subprocess.CompletedProcess[str]:
    """The command in a SQLite shop, to its end."""
    return subprocess.run(
        words(*said),
        env=environment(home),
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE,
    )


def script(
    path: str | Path, *said: object, home: Path, database: str | None = None
) -> "subprocess.Popen[str]":
    """A script of the tests, with the shop's own settings."""
    env = {**environment(home, database), "DJANGO_SETTINGS_MODULE": "hidewright.workshop.settings"}
    return subprocess.Popen(
        [sys.executable, str(path), *map(str, said)], env=env, stdout=subprocess.PIPE, text=True
    )


def answer(process: "subprocess.Popen[str]") -> Any:
    """The JSON that a script prints last; it must have ended well."""
    text, _ = process.communicate(timeout=PATIENCE)
    assert process.returncode == 0
    return json.loads(text.splitlines()[-1])


def migrated(home: Path) -> None:
    """Make the tables of a SQLite shop."""
    said = [sys.executable, "-m", "django", "migrate", "--verbosity=0", "--skip-checks"]
    env = {**environment(home), "DJANGO_SETTINGS_MODULE": "hidewright.workshop.settings"}
    subprocess.run(said, env=env, check=True)


def free_port() -> int:
    """A port that nobody has now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
