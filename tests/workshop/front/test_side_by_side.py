"""Server, worker, copy and restore beside each other, as real processes on a folder of their own."""

import json
import os
import re
import signal
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from hidewright.machine import Lock
from hidewright.workshop.front import restore_actions
from own_shop import PATIENCE, environment, free_port, hidewright, words

pytestmark = pytest.mark.own_sqlite


@contextmanager
def served(home: Path) -> Iterator[subprocess.Popen[str]]:
    """A server that has said that it serves."""
    said = words("serve", "--port", str(free_port()))
    process = subprocess.Popen(said, env=environment(home), stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        for line in process.stdout:
            if line.startswith("Serving"):
                break
        yield process
    finally:
        process.kill()
        process.wait(PATIENCE)


def worker_is_gone(home: Path) -> bool:
    lock = Lock.take(home / "worker.lock", alone=True, wait=PATIENCE)
    if lock is not None:
        lock.release()
    return lock is not None


def test_a_restore_beside_a_server_is_refused_and_a_killed_server_takes_its_worker_along(
    tmp_path: Path,
) -> None:
    home, copy = tmp_path / "home", tmp_path / "shop.zip"
    with served(home) as server:
        assert hidewright(home, "copy", str(copy)).returncode == 0
        for said in (["restore", str(copy), "--over"], ["serve", "--port", str(free_port())]):
            refused = hidewright(home, *said)
            assert refused.returncode == 2
            assert "A server works in this folder" in refused.stderr
        server.send_signal(signal.SIGKILL)
        server.wait(PATIENCE)
        assert worker_is_gone(home)
    assert hidewright(home, "restore", str(copy)).returncode == 0

    (home / "hidewright.sqlite3").write_bytes(b"no database any more")
    assert "damaged" in hidewright(home, "serve", "--port", str(free_port())).stderr
    assert hidewright(home, "restore", str(copy)).returncode == 2
    assert hidewright(home, "restore", str(copy), "--over").returncode == 0
    kept = [path.read_bytes() for path in (home / "copies").glob("before-*.sqlite3")]
    assert b"no database any more" in kept
    told = json.loads(hidewright(home, "doctor", "--json").stdout)
    assert {one["name"] for one in told["troubles"]} <= {"copy-none", "disk-full"}


def test_a_network_is_not_served_without_an_owner(tmp_path: Path) -> None:
    refused = hidewright(tmp_path, "serve", "--network", "--port", str(free_port()))
    assert refused.returncode == 2
    assert "hidewright owner" in refused.stderr
    assert hidewright(tmp_path, "owner", "Ada", "--password-from", os.devnull).returncode == 2


def test_a_worker_whose_server_is_gone_before_it_can_look_ends(tmp_path: Path) -> None:
    assert hidewright(tmp_path, "link").returncode == 0
    worker = subprocess.Popen(
        words("manage", "work", "--with-server"), env=environment(tmp_path), stdin=subprocess.PIPE
    )
    assert worker.stdin is not None
    worker.stdin.close()
    assert worker.wait(PATIENCE) is not None


def test_shared_locks_keep_out_who_wants_to_be_alone(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    first, second = Lock.take(path, alone=False), Lock.take(path, alone=False)
    assert first is not None
    assert second is not None
    assert Lock.take(path, alone=True) is None
    first.release()
    assert Lock.take(path, alone=True) is None
    second.release()
    with Lock.take(path, alone=True) or pytest.fail("the lock was not free"):
        assert Lock.take(path, alone=False) is None


STEPS = ("link", "unlink", "replace")


@pytest.mark.parametrize("step", range(1, 9))
def test_a_swap_that_is_broken_off_anywhere_is_finished_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, settings: object, step: int
) -> None:
    """The plug is pulled before each step that changes the folder; then it is finished, and both databases are whole."""
    settings.COPIES_ROOT = tmp_path / "copies"  # type: ignore[attr-defined]
    path, new = tmp_path / "hidewright.sqlite3", tmp_path / restore_actions.NEW
    for file, data in ((path, b"old"), (tmp_path / "hidewright.sqlite3-wal", b"old wal"), (new, b"new")):
        file.write_bytes(data)
    monkeypatch.setattr(restore_actions, "database_file", lambda: path)
    restore_actions._note_swap(path)
    passed = [0]

    def pulled(owner: object, name: str) -> None:
        plain = getattr(owner, name)

        def wrapped(*args: object, **how: object) -> object:
            passed[0] += 1
            if passed[0] == step:
                raise KeyboardInterrupt
            return plain(*args, **how)

        monkeypatch.setattr(owner, name, wrapped)

    pulled(os, "link")
    pulled(Path, "unlink")
    pulled(Path, "replace")
    try:
        restore_actions.finish_swap()
    except KeyboardInterrupt:
        assert path.exists()
    passed[0] = 100
    restore_actions.finish_swap()
    assert path.read_bytes() == b"new"
    assert not (tmp_path / "hidewright.sqlite3-wal").exists()
    (kept,) = (tmp_path / "copies").glob("before-*.sqlite3")
    assert kept.read_bytes() == b"old"
    assert kept.with_name(f"{kept.name}-wal").read_bytes() == b"old wal"
    assert not restore_actions.swap_was_broken_off()
    assert not re.findall("restoring", " ".join(p.name for p in tmp_path.iterdir()))
