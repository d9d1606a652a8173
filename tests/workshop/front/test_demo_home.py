"""The demonstration empties its own folder only: what a shop told is never taken for it."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from hidewright.cli.demo import empty
from hidewright.refusals import Refusal


def database(folder: Path, *demos: int) -> Path:
    """A database with a job for each of `demos`, 1 for an invented one."""
    with closing(sqlite3.connect(folder / "hidewright.sqlite3")) as opened, opened:
        opened.execute("CREATE TABLE workshop_job (id integer PRIMARY KEY, is_demo bool NOT NULL)")
        opened.executemany("INSERT INTO workshop_job (is_demo) VALUES (?)", [(demo,) for demo in demos])
    return folder / "hidewright.sqlite3"


def test_its_own_folder_is_emptied(tmp_path: Path) -> None:
    database(tmp_path, 1)
    for name in ("static", "papers", "pictures", "copies"):
        (tmp_path / name).mkdir()
    (tmp_path / "secret").write_text("x")
    empty(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["server.lock"]


def test_a_folder_with_a_shop_s_own_job_is_left_alone(tmp_path: Path) -> None:
    path = database(tmp_path, 1, 0)
    before = path.read_bytes()
    with pytest.raises(Refusal, match="a shop's own jobs") as refused:
        empty(tmp_path)
    assert refused.value.remedy
    assert path.read_bytes() == before


def test_what_cannot_be_read_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "hidewright.sqlite3").write_bytes(b"no database, but somebody's" * 50)
    with pytest.raises(Refusal):
        empty(tmp_path)
    assert (tmp_path / "hidewright.sqlite3").exists()


def test_a_folder_with_other_things_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letters.txt").write_text("Dear Sir")
    with pytest.raises(Refusal, match=r"letters\.txt"):
        empty(tmp_path)
    assert (tmp_path / "letters.txt").exists()
