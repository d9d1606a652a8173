"""`hidewright match` on files: JSON, exit codes, and refusals that say what to do."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from hidewright import demo
from hidewright.cli.match import command
from hidewright.colour.light.cie import WAVELENGTHS
from hidewright.refusals import Refusal


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration's files in a folder."""
    folder = tmp_path_factory.mktemp("match")
    for name in ("readings.csv", "drawdowns.csv", "pigments.csv"):
        (folder / name).write_text(demo.text(name), encoding="utf-8")
    return folder


def test_json_tells_target_recipes_and_lights(files: Path) -> None:
    arguments = [
        str(files / "readings.csv"),
        "--drawdowns",
        str(files / "drawdowns.csv"),
        "--shelf",
        str(files / "pigments.csv"),
        "--json",
        "--keep",
        "4",
    ]
    done = CliRunner().invoke(command, arguments, catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["target"]["name"] == "Target, under the cushion"
    assert not told["illustrative"]
    best = told["recipes"][0]
    assert best["delta_e"]["D65"] < 0.3
    assert set(best["delta_e"]) == {"D65", "A", "FL11"}
    assert sum(part["volume_ml_per_l"] for part in best["parts"]) == pytest.approx(1000)
    assert 0.16 <= best["load"] <= 0.2
    assert best["coats"] >= 1


def test_a_target_out_of_reach_ends_with_1_and_says_which_way(tmp_path: Path) -> None:
    glowing = ",".join("0.02" if w < 510 or w > 560 else "0.95" for w in WAVELENGTHS)
    path = tmp_path / "green.csv"
    path.write_text(f"name,{','.join(f'{w:.0f}' for w in WAVELENGTHS)}\nGlow,{glowing}\n", encoding="utf-8")
    done = CliRunner().invoke(command, [str(path), "--most", "2", "--keep", "2"])
    assert done.exit_code == 1
    assert "greener" in done.stderr


@pytest.mark.parametrize(
    ("more", "where"),
    [(["--load", "much"], "--load"), (["--target", "nobody"], "readings"), (["--light", "candle"], "light")],
)
def test_refusals_say_where(files: Path, more: list[str], where: str) -> None:
    with pytest.raises(Refusal) as refused:
        CliRunner().invoke(command, [str(files / "readings.csv"), *more], catch_exceptions=False)
    assert refused.value.where == where
    assert refused.value.remedy
