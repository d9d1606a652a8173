"""`hidewright takeoff`, `plan` and `paper`, given files that nobody should bring: refused in words, never a fault of ours. (Colour: `colour/test_odd_files`.)"""

import json
import random
from pathlib import Path

import pytest

from hidewright import demo
from hidewright.charts.plan_json import plan_to_data
from odd_files import JUNK, TRIES, ended, spoiled, spoiled_json
from papers.test_paper_command import MATCH, PLAN

ROOM = ["--tables", "{tables}", "--hours", "{hours}", "--people", "{people}"]
DAYS = ["--start", "2026-03-02", "--seconds", "0"]
RUNS = {
    "pieces": ["takeoff", "{pieces}"],
    "products": ["takeoff", "{few}", "{products}"],
    "job": ["takeoff", "{few}", "--job", "{job}"],
    "parts": ["plan", "{parts}", *ROOM, *DAYS],
    "tables": ["plan", "{few}", *ROOM, *DAYS],
    "hours": ["plan", "{few}", *ROOM, *DAYS],
    "people": ["plan", "{few}", *ROOM, *DAYS],
    "card": ["paper", "mixing-card", "{card}", "-o", "{out}"],
    "sheet": ["paper", "day-sheet", "{sheet}", "-o", "{out}"],
    "maps": ["paper", "table-maps", "{maps}", "-o", "{out}"],
}
"""The file that is spoiled, and the command that takes it."""
JSON = ("card", "sheet", "maps")
HELD_BY_NONE = ("job",)
"""Kinds of which an empty file is a good one."""
A_LIST_IN_LATIN = b"name,400\n\xc3\x28,\n"
"""A list of one person with an odd name, in the letters of an older computer: junk to everything but a list of people."""


@pytest.fixture(scope="module")
def good() -> dict[str, bytes]:
    """A good file of every kind, small."""
    pieces = demo.text("pieces.csv").splitlines()
    few = "\n".join(pieces[:4]).encode()
    plan = json.dumps({"shown": plan_to_data(PLAN)}).encode()
    return {
        "pieces": few,
        "few": few,
        "parts": few,
        "products": demo.text("products.csv").encode(),
        "job": demo.text("job.toml").encode(),
        "tables": demo.text("tables.csv").encode(),
        "hours": demo.text("hours.csv").encode(),
        "people": demo.text("people.csv").encode(),
        "card": json.dumps(MATCH).encode(),
        "sheet": plan,
        "maps": plan,
        "out": b"",
    }


def _words(name: str, good: dict[str, bytes], folder: Path, data: bytes) -> list[str]:
    paths = {kind: folder / f"{kind}.dat" for kind in good}
    for kind, content in good.items():
        if f"{{{kind}}}" in RUNS[name] and kind != "out":
            paths[kind].write_bytes(data if kind == name else content)
    return [word.format(**paths) for word in RUNS[name]]


@pytest.mark.parametrize("name", RUNS)
def test_good_files_are_taken(name: str, good: dict[str, bytes], tmp_path: Path) -> None:
    assert ended(_words(name, good, tmp_path, good[name])) in (0, 1)


@pytest.mark.parametrize("name", RUNS)
def test_junk_is_refused(name: str, good: dict[str, bytes], tmp_path: Path) -> None:
    for junk in JUNK:
        code = ended(_words(name, good, tmp_path, junk))
        good_enough = (name in HELD_BY_NONE and not junk.strip()) or (
            name == "people" and junk == A_LIST_IN_LATIN
        )
        assert code == 2 or good_enough, junk[:60]


@pytest.mark.parametrize("name", RUNS)
def test_a_good_file_with_one_thing_wrong_never_breaks(
    name: str, good: dict[str, bytes], tmp_path: Path
) -> None:
    random_ = random.Random(name)
    spoil = spoiled_json if name in JSON else spoiled
    for _ in range(TRIES):
        data = spoil(good[name], random_)
        assert ended(_words(name, good, tmp_path, data)) in (0, 1, 2), data[:200]
