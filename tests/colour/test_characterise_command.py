"""`hidewright characterise`: residuals, flags, what to draw next, and a library that the other commands take."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from hidewright import demo
from hidewright.cli.characterise import command
from hidewright.cli.match import command as match
from hidewright.colour.learning.library import read_library
from hidewright.colour.pigments.film import Surface, below, film, seen
from hidewright.colour.pigments.pigment import Pigment
from hidewright.demo.make_colours import CARD
from hidewright.refusals import Refusal


def run(*words: str) -> Result:
    return CliRunner().invoke(command, words, catch_exceptions=False)


def sheet(*keys: str) -> list[str]:
    """The demonstration's drawdowns that hold nothing but these pigments, with the card."""
    lines = demo.text("drawdowns.csv").splitlines()
    kept = []
    for line in lines[1:]:
        name, shares = line.split(",")[:2]
        if name == "card" or {part.split("=")[0] for part in shares.split()} <= set(keys):
            kept.append(line)
    return [lines[0], *kept]


@pytest.fixture
def few(tmp_path: Path) -> Path:
    path = tmp_path / "few.csv"
    path.write_text("\n".join(sheet("PW6", "PY42", "PR101", "PBk7")), encoding="utf-8")
    (tmp_path / "pigments.csv").write_text(demo.text("pigments.csv"), encoding="utf-8")
    (tmp_path / "readings.csv").write_text(demo.text("readings.csv"), encoding="utf-8")
    return path


@pytest.mark.parametrize("ending", ["json", "csv"])
def test_a_library_is_written_that_match_takes(few: Path, ending: str, pigments: dict[str, Pigment]) -> None:
    out = few.parent / f"library.{ending}"
    done = run(str(few), "--shelf", str(few.parent / "pigments.csv"), "--out", str(out), "--json")
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)
    assert {p["key"] for p in told["pigments"]} == {"PW6", "PY42", "PR101", "PBk7"}
    # the target of issue 3: every drawdown told within ΔE00 0.2 on average, a masstone black within its own noise
    assert np.mean([d["over_black"] for d in told["drawdowns"]]) < 0.2
    assert len(told["drawdowns"]) == 7
    library = read_library(out.read_text(encoding="utf-8"))
    by_key = {p.key: p for p in library.pigments}
    assert by_key["PY42"].density == 1.5
    assert by_key["PY42"].name == "Yellow oxide"
    np.testing.assert_allclose(by_key["PY42"].k, pigments["PY42"].k, rtol=0.35, atol=0.01)
    found = CliRunner().invoke(
        match,
        [str(few.parent / "readings.csv"), "--pigments", str(out), "--json", "--keep", "4"],
        catch_exceptions=False,
    )
    recipes = json.loads(found.stdout)["recipes"]
    assert {p["key"] for r in recipes for p in r["parts"]} <= {"PW6", "PY42", "PR101", "PBk7", "base"}
    assert found.exit_code == 0, found.stderr


def test_without_a_shelf_density_is_said_to_be_a_starting_value(few: Path) -> None:
    done = run(str(few))
    assert done.exit_code == 0
    assert "usual figures" in done.stdout
    assert "Dark films want several readings" in done.stdout


def test_a_drawdown_that_contradicts_is_named_and_ends_with_1(few: Path) -> None:
    lines = few.read_text(encoding="utf-8").splitlines()
    wrong = [
        line.replace(line.split(",")[1], "PY42=0.3 PW6=0.4") if line.startswith("PY42 tint") else line
        for line in lines
    ]
    few.write_text("\n".join(wrong), encoding="utf-8")
    done = run(str(few), "--json")
    told = json.loads(done.stdout)
    assert done.exit_code == 1
    odd = [d["name"] for d in told["drawdowns"] if d["contradicts"]]
    # with two drawdowns of it, either may be the wrong one; what holds no yellow is not blamed
    assert odd
    assert set(odd) <= {"PY42 masstone", "PY42 tint"}
    assert any("does not go with" in words for words in told["words"])


def test_masstone_alone_leaves_scattering_open_and_proposes_what_to_draw(
    tmp_path: Path, pigments: dict[str, Pigment]
) -> None:
    """A thick masstone reads alike over black and white: it says nothing of S by itself."""
    path = tmp_path / "alone.csv"
    black, surface = pigments["PBk7"], Surface()
    noise = np.random.default_rng(3)
    lines = sheet("PW6")
    for side, ground in CARD.items():
        film_ = film(0.6 * black.k, 0.6 * black.s, 400.0, below(np.full(31, ground), surface))
        values = seen(film_, surface) + noise.normal(0, 0.0015, 31)
        lines.append(f"PBk7 thick,PBk7=0.6,400,{side}," + ",".join(f"{v:.5f}" for v in values))
    path.write_text("\n".join(lines), encoding="utf-8")
    done = run(str(path), "--json")
    told = json.loads(done.stdout)
    black = next(p for p in told["pigments"] if p["key"] == "PBk7")
    assert black["undetermined"]
    assert done.exit_code == 1
    assert told["next"]
    best = told["next"][0]
    assert best["mixes_foretold_to"] < best["instead_of"]
    assert any("next to nothing" in words for words in told["words"])


def test_a_reading_without_the_shine_read_as_with_it_is_refused(few: Path) -> None:
    lines = few.read_text(encoding="utf-8").splitlines()
    dull = [lines[0]]
    for line in lines[1:]:
        cells = line.split(",")
        dull.append(",".join([*cells[:4], *(f"{max(float(v) - 0.04, 0.0005):.5f}" for v in cells[4:])]))
    few.write_text("\n".join(dull), encoding="utf-8")
    with pytest.raises(Refusal, match="specular"):
        run(str(few))
    assert run(str(few), "--specular", "ex").exit_code == 0


def test_another_ending_is_refused_before_any_work(few: Path) -> None:
    with pytest.raises(Refusal, match=r"\.json or \.csv"):
        run(str(few), "--out", str(few.parent / "library.xls"))
