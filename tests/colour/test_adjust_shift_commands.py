"""`hidewright adjust`, `hidewright shift` and what `hidewright match` takes besides: on files, human or JSON, with exit codes."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from hidewright import demo
from hidewright.cli.adjust import command as adjust
from hidewright.cli.match import command as match
from hidewright.cli.shift import command as shift
from hidewright.colour.light.cie import WAVELENGTHS, lab
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.pigments.wet import look_dry
from hidewright.colour.reading.readings import read_csv
from hidewright.refusals import Refusal

GOAL = {"PW6": 60.0, "PBr7": 20.0, "PY42": 24.0, "PR101": 6.0}


def grams(volumes: dict[str, float], base_ml: float, pigments: dict[str, Pigment]) -> str:
    parts = [f"{k}={v * pigments[k].density:.3f}" for k, v in volumes.items()]
    return " ".join([*parts, f"base={base_ml * 1.03:.3f}"])


@pytest.fixture(scope="module")
def readings(tmp_path_factory: pytest.TempPathFactory, pigments: dict[str, Pigment]) -> Path:
    """Target: a mix of known parts; cup: the same with half the red."""
    known = list(pigments.values())
    rows = {
        "Wanted": ("target", look_dry(Contents(GOAL, 500.0), known)),
        "Cup": ("cup", look_dry(Contents({**GOAL, "PR101": 3.0}, 500.0), known)),
        "Old": ("old colour", np.full(31, 0.2)),
    }
    path = tmp_path_factory.mktemp("adjust") / "readings.csv"
    lines = [",".join(["name", "use", *(f"{w:.0f}" for w in WAVELENGTHS)])]
    lines += [",".join([n, use, *(f"{v:.6f}" for v in r)]) for n, (use, r) in rows.items()]
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def run(command: object, *arguments: str) -> Result:
    return CliRunner().invoke(command, arguments, catch_exceptions=False)  # type: ignore[arg-type]


def test_a_known_cup_gets_what_it_lacks(readings: Path, pigments: dict[str, Pigment]) -> None:
    cup = grams({**GOAL, "PR101": 3.0}, 500.0, pigments)
    done = run(adjust, str(readings), "--cup", cup, "--json")
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["now"] > 1.0
    assert not told["stop"]
    assert 1 <= len(told["ways"]) <= 3
    least = told["ways"][0]
    assert least["delta_e"] < 0.5
    assert len(least["after_each_pouring"]) == len(least["add_g"])
    assert all(v > 0 for v in least["add_g"].values())
    others = [text for key in pigments if key != "PR101" for text in ("--without", key)]
    only = json.loads(run(adjust, str(readings), "--cup", cup, *others, "--json").stdout)["ways"][0]
    assert only["add_g"]["PR101"] == pytest.approx(3.0 * pigments["PR101"].density, rel=0.25)
    words = run(adjust, str(readings), "--cup", cup).stdout
    assert "ΔE00 then" in words
    assert "pigment then" in words


def test_stop_here_and_too_far(readings: Path, pigments: dict[str, Pigment]) -> None:
    done = run(adjust, str(readings), "--cup", grams(GOAL, 500.0, pigments), "--read", "Wanted", "--json")
    told = json.loads(done.stdout)
    assert done.exit_code == 0
    assert told["stop"]
    assert told["words"].startswith("Stop here")
    far = run(
        adjust, str(readings), "--cup", grams({"PBk7": 80.0}, 400.0, pigments), "--vessel", "500", "--read",
        "Old", "--json",
    )  # fmt: skip
    assert far.exit_code == 1


def test_an_unknown_cup_is_taken_for_the_nearest_mix(readings: Path) -> None:
    done = run(adjust, str(readings), "--volume", "610", "--json")
    told = json.loads(done.stdout)
    assert done.exit_code == 0, done.stderr
    assert told["taken_for_within"] < 0.5
    assert told["millilitres"] == pytest.approx(610, abs=1)
    assert told["ways"][0]["delta_e"] < told["now"]


@pytest.mark.parametrize("cup", ["PW6=much base=400", "NO=3", "base=400"])
def test_a_cup_that_cannot_be_is_refused(readings: Path, cup: str) -> None:
    with pytest.raises(Refusal):
        run(adjust, str(readings), "--cup", cup)
    with pytest.raises(Refusal, match="unknown content"):
        run(adjust, str(readings))


def test_a_shift_is_written_for_match_and_tells_what_changes(readings: Path, tmp_path: Path) -> None:
    out = tmp_path / "new.csv"
    done = run(shift, str(readings), "lighter", "2", "--out", str(out), "--recipes", "--json")
    told = json.loads(done.stdout)
    assert done.exit_code == 0, done.stderr
    assert told["lab"][0] == pytest.approx(told["before_lab"][0] + 2, abs=0.01)
    assert told["later"]
    new = read_csv(out.read_text(encoding="utf-8"))
    assert [r.facts["use"] for r in new] == ["target", "old colour"]
    assert lab(new[0].reflectance) == pytest.approx(told["lab"], abs=0.01)


def test_neutral_and_toward(readings: Path) -> None:
    neutral = json.loads(run(shift, str(readings), "more", "neutral", "50", "%", "--json").stdout)
    assert np.hypot(*neutral["lab"][1:]) == pytest.approx(np.hypot(*neutral["before_lab"][1:]) / 2, abs=0.01)
    swatch = readings.parent / "swatch.csv"
    lines = readings.read_text(encoding="utf-8").splitlines()
    swatch.write_text("\n".join([lines[0], lines[3]]), encoding="utf-8")
    whole = json.loads(run(shift, str(readings), "toward", str(swatch), "100 %", "--json").stdout)
    assert whole["lab"] == pytest.approx(lab(np.full(31, 0.2)), abs=0.02)
    assert "Before, under D65" in run(shift, str(readings), "darker", "1").stdout


@pytest.mark.parametrize(
    "way", [["sideways", "1"], ["lighter", "much"], ["toward", "nowhere.csv", "3"], ["lighter"]]
)
def test_a_way_that_is_none_is_refused(readings: Path, way: list[str]) -> None:
    with pytest.raises(Refusal):
        run(shift, str(readings), *way)


def test_match_takes_jars_a_batch_weights_and_a_lamp(readings: Path, tmp_path: Path) -> None:
    jars = tmp_path / "jars.csv"
    jars.write_text(
        "name,millilitres,holds\nTan,200,PW6=60 PBr7=20 PY42=24 PR101=6 base=500\n", encoding="utf-8"
    )
    lamp = tmp_path / "even.csv"
    lamp.write_text("wavelength,power\n" + "\n".join(f"{w},1" for w in range(380, 781, 10)), encoding="utf-8")
    done = run(
        match, str(readings), "--jars", str(jars), "--use-up", "Tan", "--batch", "600", "--keep", "4",
        "--lamp", str(lamp), "--weight", "D65=2", "--weight", "even=1", "--json",
    )  # fmt: skip
    told = json.loads(done.stdout)
    assert done.exit_code == 0, done.stderr
    best = told["recipes"][0]
    used = {p["key"]: p["volume_ml_per_l"] * 0.6 for p in best["parts"]}
    assert 150 < used["Tan"] <= 200
    assert "even" in best["delta_e"]
    jars.write_text("name,millilitres,holds\nTan,200,XX=3\n", encoding="utf-8")
    with pytest.raises(Refusal, match="holds"):
        run(match, str(readings), "--jars", str(jars))


def test_the_shelf_tells_what_is_left(readings: Path, tmp_path: Path) -> None:
    lines = demo.text("pigments.csv").splitlines()
    shelf = tmp_path / "shelf.csv"
    shelf.write_text(
        "\n".join(
            [
                lines[0] + ",millilitres",
                *(f"{line},{5 if line.startswith('PY42') else ''}" for line in lines[1:]),
            ]
        ),
        encoding="utf-8",
    )
    drawn = tmp_path / "drawdowns.csv"
    drawn.write_text(demo.text("drawdowns.csv"), encoding="utf-8")
    done = run(
        match, str(readings), "--shelf", str(shelf), "--drawdowns", str(drawn), "--keep", "4", "--json"
    )
    for recipe in json.loads(done.stdout)["recipes"]:
        assert all(p["volume_ml_per_l"] <= 5.0 for p in recipe["parts"] if p["key"] == "PY42")
