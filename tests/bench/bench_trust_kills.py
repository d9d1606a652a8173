"""What survives a pulled plug, on running processes: server, worker, copy, restore and migration are killed at random moments, on SQLite and PostgreSQL.

Three writers bring lots to the shelf through the server's own pages while it is killed and started again; what was not answered is sent again under
the same token. In the end every lot that was acknowledged must be there exactly once. The count is made by SQL of this file, not by the app.
HIDEWRIGHT_KILLS says how many kills of each kind (starting value 4; the goal of 500 in all is 50 of each on both databases).

    python tests/bench/bench_trust_kills.py begin | count      used by the benchmark itself, in the home of its environment
"""

import http.client
import json
import os
import random
import subprocess
import sys
import tempfile
import threading
import time
import uuid
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import own_shop

HERE = Path(__file__).resolve()
KILLS = int(os.environ.get("HIDEWRIGHT_KILLS", "4"))
WRITERS = 3
PATIENCE = 120.0
CSRF = "k" * 32
FINE = {"copy-none", "copy-old", "disk-full"}
"""Troubles that a fresh shop on a full machine has by right."""


@dataclass
class Found:
    """What the kills did on one database."""

    kills: int = 0
    acknowledged: set[str] = field(default_factory=set)
    orphans: int = 0
    faults: list[str] = field(default_factory=list)


def run() -> list[dict[str, Any]]:
    """The rows of both databases; PostgreSQL only where its programs are."""
    rows = tried("SQLite", None)
    import postgres

    try:
        postgres.programs()
    except SystemExit:
        return rows
    with postgres.server() as address:
        return rows + tried("PostgreSQL", address)


def tried(name: str, database: str | None) -> list[dict[str, Any]]:
    """All kinds of kills on one database, and the rows of what was found."""
    found = Found()
    with tempfile.TemporaryDirectory(prefix="hidewright-kills-", ignore_cleanup_errors=True) as folder:
        env = own_shop.environment(Path(folder) / "home", database)
        cookie = json.loads(said(env, str(HERE), "begin"))["cookie"]
        killed_servers(env, cookie, found)
        killed_commands(env, Path(folder), found)
        rows = json.loads(said(env, str(HERE), "count"))
        if database is None:
            killed_migrations(Path(folder), found)
    moves: dict[str, int] = rows["moves"]
    lost = [lot for lot in found.acknowledged if moves.get(lot, 0) < 1]
    doubled = [lot for lot, count in moves.items() if count > 1]
    unsaid = [lot for lot in moves if lot not in found.acknowledged]
    values = (
        ("acknowledged entries that are not there", len(lost)),
        ("entries that are there twice", len(doubled)),
        ("entries that were done and never answered, though sent again", len(unsaid)),
        ("processes left running", found.orphans),
        ("faults of the data, or commands that did not work afterwards", len(found.faults)),
    )
    for fault in found.faults:
        print(f"  {name}: {fault}")
    return [
        {
            "stage": "trust",
            "name": f"{name}: {what}",
            "value": value,
            "unit": "",
            "goal": "none",
            "holds": value == 0,
            "baseline": f"{found.kills} kills, {len(found.acknowledged)} acknowledged entries",
        }
        for what, value in values
    ]


def said(env: dict[str, str], *words: str) -> str:
    """The last line that a Python process prints; raises where it fails."""
    done = subprocess.run([sys.executable, *words], env=env, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{words}: {done.stderr[-600:]}")
    return done.stdout.splitlines()[-1]


def hidewright(env: dict[str, str], *words: str) -> subprocess.Popen[bytes]:
    """The command as a process that can be killed; silent."""
    return subprocess.Popen(
        own_shop.words(*words), env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )


@contextmanager
def served(env: dict[str, str], port: int) -> Iterator[subprocess.Popen[bytes]]:
    """A server that answers."""
    process = hidewright(env, "serve", "--port", str(port))
    until = time.monotonic() + PATIENCE
    pause = threading.Event()
    while time.monotonic() < until:
        with suppress(OSError, http.client.HTTPException):
            connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
            connection.request("GET", "/")
            connection.getresponse().read()
            break
        if process.poll() is not None:
            raise RuntimeError("the server did not start again")
        pause.wait(0.1)
    try:
        yield process
    finally:
        process.kill()
        process.wait()


def send(port: int, cookie: str, lot: str) -> bool:
    """Bring one lot to the shelf; whether the server answered that it is done."""
    body = f"in-volume=2+L&in-lot={lot}&act={lot}"
    headers = {
        "Cookie": f"hidewright={cookie}; csrftoken={CSRF}",
        "X-CSRFToken": CSRF,
        "Content-Type": "application/x-www-form-urlencoded",
    }
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    try:
        connection.request("POST", "/products/clear/receive/", body, headers)
        answer = connection.getresponse()
        answer.read()
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()
    if answer.status not in (302, 503):
        raise RuntimeError(f"a lot was answered with {answer.status}")
    return answer.status == 302


def killed_servers(env: dict[str, str], cookie: str, found: Found) -> None:
    """Writers at work while the server is killed, again and again; at last one that lives takes what is still open."""
    draw = random.Random(20261129)
    waiting: list[str] = []
    for _ in range(KILLS):
        port = own_shop.free_port()
        with served(env, port) as server:
            stop = threading.Event()
            work = [
                threading.Thread(target=write, args=(port, cookie, stop, waiting, found))
                for _ in range(WRITERS)
            ]
            for thread in work:
                thread.start()
            enough = len(found.acknowledged) + draw.randint(1, 15)
            until = time.monotonic() + PATIENCE
            while (
                len(found.acknowledged) < enough
                and time.monotonic() < until
                and any(t.is_alive() for t in work)
            ):
                stop.wait(0.002)
            stop.wait(draw.uniform(0.0, 0.05))
            server.kill()
            stop.set()
            for thread in work:
                thread.join(PATIENCE)
        found.kills += 1
        found.orphans += not worker_is_gone(Path(env["HIDEWRIGHT_HOME"]))
    port = own_shop.free_port()
    with served(env, port):
        found.acknowledged.update(lot for lot in waiting if send(port, cookie, lot))


def write(port: int, cookie: str, stop: threading.Event, waiting: list[str], found: Found) -> None:
    """Send lots, first those that were not answered, until told to stop or the server is gone."""
    while not stop.is_set():
        lot = waiting.pop() if waiting else uuid.uuid4().hex
        if send(port, cookie, lot):
            found.acknowledged.add(lot)
        else:
            waiting.append(lot)
            return


def worker_is_gone(home: Path) -> bool:
    """Whether the worker's lock becomes free."""
    from hidewright.machine import Lock

    lock = Lock.take(home / "worker.lock", alone=True, wait=PATIENCE)
    if lock is None:
        return False
    lock.release()
    return True


def killed_commands(env: dict[str, str], folder: Path, found: Found) -> None:
    """A copy and a restore killed at random moments of their usual length; the shop is whole afterwards, a copy is whole or not there."""
    draw = random.Random(11)
    good = folder / "good.zip"
    lasts = timed(env, "copy", str(good))
    for number in range(KILLS):
        target = folder / f"copy-{number}.zip"
        broken(env, draw.uniform(0.3, 1.0) * lasts, "copy", str(target))
        found.kills += 1
        if target.exists():
            with zipfile.ZipFile(target) as packed:
                if packed.testzip():
                    found.faults.append(f"copy {number} is torn")
    lasts = timed(env, "restore", str(good), "--over")
    for number in range(KILLS):
        broken(env, draw.uniform(0.3, 1.0) * lasts, "restore", str(good), "--over")
        found.kills += 1
        if wrong := troubles(env):
            found.faults.append(f"after restore {number}: {', '.join(wrong)}")


def killed_migrations(folder: Path, found: Found) -> None:
    """The first start of a new shop killed at random moments; the next start brings it up all the same."""
    draw = random.Random(7)
    lasts = timed(own_shop.environment(folder / "new", None), "link")
    for number in range(KILLS):
        env = own_shop.environment(folder / f"new-{number}", None)
        broken(env, draw.uniform(0.2, 1.0) * lasts, "link")
        found.kills += 1
        if hidewright(env, "link").wait(PATIENCE) or troubles(env):
            found.faults.append(f"start {number} after a killed migration")


def timed(env: dict[str, str], *words: str) -> float:
    """Seconds that a command takes; raises where it fails."""
    began = time.monotonic()
    if code := hidewright(env, *words).wait():
        raise RuntimeError(f"{words[0]} ended with {code}")
    return time.monotonic() - began


def broken(env: dict[str, str], after: float, *words: str) -> None:
    """Start a command and kill it after so many seconds."""
    process = hidewright(env, *words)
    with suppress(subprocess.TimeoutExpired):
        process.wait(after)
    process.kill()
    process.wait()


def troubles(env: dict[str, str]) -> list[str]:
    """What the doctor names beyond what is so by right."""
    done = subprocess.run(
        own_shop.words("doctor", "--json"), env=env, capture_output=True, text=True, check=False
    )
    try:
        return [one["name"] for one in json.loads(done.stdout)["troubles"] if one["name"] not in FINE]
    except ValueError:
        return [f"the doctor failed: {done.stderr[-200:]}"]


def begin() -> dict[str, str]:
    """A new shop with one product, and the cookie of a device that is in."""
    from hidewright.workshop import server
    from workshop import killed

    server.set_up()
    return {"cookie": killed.ready().cookies["hidewright"].value}


def count() -> dict[str, Any]:
    """How many movements each lot has."""
    from hidewright.workshop import server

    server.ready()
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT l.name, COUNT(*) FROM workshop_stockmove m JOIN workshop_productlot l ON l.id = m.lot_id GROUP BY l.name"
        )
        return {"moves": dict(cursor.fetchall())}


if __name__ == "__main__":
    print(json.dumps({"begin": begin, "count": count}[sys.argv[1]]()))
