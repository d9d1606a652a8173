"""Measured figures in the documents: each has its key, none is stale, and the tool that keeps them so notices what drifts."""

import importlib.util
import json
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture
def figures() -> ModuleType:
    """docs/figures.py as a module."""
    spec = importlib.util.spec_from_file_location("figures", ROOT / "docs/figures.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


PAGE = """# Measured

## Litres, on simulated jobs

| What | New shop | Goal |
|---|---|---|
| inside 90 % | 86.7 % | 85 to 95 %: holds |

<!-- the list, written by docs/figures.py -->
<!-- end of the list -->
"""


@pytest.fixture
def page(figures: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A page of its own, with one row that somebody wrote by hand."""
    page = tmp_path / "measured.md"
    page.write_text(PAGE, encoding="utf-8")
    (tmp_path / "figures.json").write_text("{}", encoding="utf-8")
    for name, value in {
        "ROOT": tmp_path,
        "LIST": tmp_path / "figures.json",
        "BENCH": tmp_path / "bench.json",
        "PAGE": page,
        "PAGES": [page],
        "commit": lambda: "0123456",
    }.items():
        monkeypatch.setattr(figures, name, value)
    return page


def test_a_row_written_by_hand_gets_its_key_and_then_cannot_go_stale(figures: ModuleType, page: Path) -> None:
    assert any("86.7 has no key" in words for words in figures.faults())
    figures.adopt("takeoff_odds", "11, n")
    page.write_text(figures.listed(page.read_text(encoding="utf-8"), figures.entries()), encoding="utf-8")
    assert figures.faults() == []
    text = page.read_text(encoding="utf-8")
    assert "86.7<!-- litres-on.inside-90.1 --> % | 85 to 95 %" in text
    assert "| `takeoff_odds` | 0123456 | 11, n |" in text
    page.write_text(text.replace("86.7<", "92.7<"), encoding="utf-8")
    assert any("says 92.7" in words for words in figures.faults())
    assert figures.written(page.read_text(encoding="utf-8"), figures.entries()) == text


def test_a_bench_that_says_otherwise_is_noticed(figures: ModuleType, page: Path, tmp_path: Path) -> None:
    figures.adopt("takeoff_odds", "11, n")
    known = figures.entries()
    known["litres-on.inside-90.1"] |= {"row": "new shop: inside", "form": ".1f"}
    figures.save(known)
    (tmp_path / "bench.json").write_text(
        json.dumps([{"name": "new shop: inside", "value": 88.04}]), encoding="utf-8"
    )
    assert any("the bench now says 88.0" in words for words in figures.faults())


def test_a_verdict_that_does_not_follow_from_the_figure_is_noticed(figures: ModuleType) -> None:
    known = {"a.b.1": {"value": ".875", "least": 0.88}}
    assert figures.verdicts("| jobs | .875<!-- a.b.1 --> | .88: holds |", known)
    assert not figures.verdicts("| jobs | .875<!-- a.b.1 --> | .88: **missed** |", known)
    assert figures.verdicts(
        "| jobs | .9<!-- a.b.1 --> | .88: **missed** |", {"a.b.1": {"value": ".9", "least": 0.88}}
    )


def test_a_science_page_that_quotes_a_measurement_without_a_key_is_noticed(figures: ModuleType) -> None:
    assert figures.unkeyed("We looked. Of 24 shops we measured .83 of them.")
    assert not figures.unkeyed("We measured .83<!-- a.b.1 --> of them.")
    assert not figures.unkeyed("K/S of .05 is 9.025 (Kubelka, Munk 1931).")
