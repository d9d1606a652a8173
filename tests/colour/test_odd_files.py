"""Every command that takes colour files, given what nobody should give it: refused in words or taken, never a fault of ours, and never half a file written."""

import random
from importlib.resources import files
from pathlib import Path

import pytest

from hidewright import demo
from hidewright.colour.learning.library import Library, write_csv, write_json
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.pigment import Pigment
from hidewright.refusals import Refusal
from odd_files import JUNK, TRIES, ended, spoiled

CUP = "PW6=20 PY42=6 PBk7=0.4 base=90"
RUNS = {
    "readings": [
        "readings",
        "{readings}",
        "--compare",
        "Target, under the cushion",
        "Old coat, back of chair 3",
    ],
    "cgats": ["readings", "{cgats}"],
    "drawdowns": ["characterise", "{drawdowns}"],
    "shelf": ["characterise", "{plain}", "--shelf", "{shelf}"],
    "cups": ["learn", "{cups}", "--pigments", "{library}"],
    "library": ["learn", "{few}", "--pigments", "{library}"],
    "sheet": ["dry", "--cup", CUP, "--pigments", "{sheet}"],
    "pairs": ["dry", "--cup", CUP, "--pigments", "{library}", "--pairs", "{pairs}"],
    "wet": ["dry", "{wet}", "--state", "wet", "--cup", CUP, "--pigments", "{library}"],
    "photo": ["photo", "{photo}", "--patches", "{patches}"],
    "patches": ["photo", "{photo}", "--patches", "{patches}"],
    "target": ["adjust", "{target}", "--pigments", "{library}", "--cup", CUP],
    "swatch": ["shift", "{few_readings}", "toward", "{swatch}", "10"],
    "match": ["match", "{match}", "--pigments", "{library}", "--keep", "1", "--most", "1"],
    "learned": ["adjust", "{few_readings}", "--pigments", "{learned}", "--cup", CUP],
}
"""The file that is spoiled, and the command that takes it."""


@pytest.fixture(scope="module")
def good(pigments: dict[str, Pigment]) -> dict[str, bytes]:
    """A good file of every kind, small."""
    drawdowns = demo.text("drawdowns.csv").splitlines()
    few = [line for line in drawdowns if line.startswith(("name", "card", "PW6", "PY42"))]
    cups = demo.text("cups.csv").splitlines()
    three = Library(tuple(pigments[k] for k in pigments), Surface())
    two = Library(tuple(pigments[k] for k in ("PW6", "PY42", "PBk7")), Surface())
    nm = range(400, 701, 10)
    fields, row = " ".join(f"NM_{w}" for w in nm), " ".join("0.3" for _ in nm)
    readings = demo.text("readings.csv").encode()
    sheet = "\n".join(few).encode()
    return {
        "readings": readings,
        "few_readings": readings,
        "target": readings,
        "swatch": readings,
        "match": readings,
        "wet": readings,
        "cgats": f"BEGIN_DATA_FORMAT\nSAMPLE_ID {fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n1 {row}\nEND_DATA\n".encode(),
        "drawdowns": sheet,
        "plain": sheet,
        "shelf": demo.text("pigments.csv").encode(),
        "library": write_json(three).encode(),
        "sheet": write_csv(two).encode(),
        "learned": _learned(two).encode(),
        "cups": "\n".join(cups[:6]).encode(),
        "few": "\n".join(cups[:3]).encode(),
        "pairs": "\n".join([cups[0], *(line for line in cups if line.startswith("Cup 2,"))]).encode(),
        "patches": demo.text("patches.csv").encode(),
        "photo": (files(demo) / "photo.jpg").read_bytes(),
    }


def _learned(library: Library) -> str:
    from hidewright.colour.learning.learn import Knowledge
    from hidewright.colour.learning.lots import stock_of

    return write_json(Library.of(Knowledge.fresh(stock_of(library.pigments))))


@pytest.mark.parametrize("name", RUNS)
def test_good_files_are_taken(name: str, good: dict[str, bytes], tmp_path: Path) -> None:
    assert ended(_words(name, good, tmp_path, good[name])) in (0, 1)


@pytest.mark.parametrize("name", RUNS)
def test_junk_is_refused(name: str, good: dict[str, bytes], tmp_path: Path) -> None:
    for junk in JUNK:
        assert ended(_words(name, good, tmp_path, junk)) == 2, junk[:60]


@pytest.mark.parametrize("name", RUNS)
def test_a_good_file_with_one_thing_wrong_never_breaks(
    name: str, good: dict[str, bytes], tmp_path: Path
) -> None:
    random_ = random.Random(name)
    codes = [ended(_words(name, good, tmp_path, spoiled(good[name], random_))) for _ in range(TRIES)]
    assert set(codes) <= {0, 1, 2}


def _words(name: str, good: dict[str, bytes], folder: Path, data: bytes) -> list[str]:
    paths = {}
    for kind, content in good.items():
        paths[kind] = folder / f"{kind}.dat"
        if f"{{{kind}}}" in RUNS[name] or kind == name:
            paths[kind].write_bytes(data if kind == name else content)
    return [word.format(**paths) if word.startswith("{") else word for word in RUNS[name]]


def test_a_file_too_large_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from hidewright import sheets as door

    monkeypatch.setattr(door, "LARGEST", 1000)
    path = tmp_path / "large.csv"
    path.write_bytes(b"name,400\n" + b"a,0.3\n" * 400)
    with pytest.raises(Refusal, match="too large"):
        door.read_file(path, len)


def test_nothing_is_written_when_it_is_refused(good: dict[str, bytes], tmp_path: Path) -> None:
    out = tmp_path / "out.json"
    for name in ("drawdowns", "cups"):
        words = [*_words(name, good, tmp_path, b"name\nx\n"), "--out", str(out)]
        assert ended(words) == 2
        assert not out.exists()
