"""`hidewright takeoff` on files."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from hidewright import demo


def run(*arguments: str | Path, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "hidewright.cli", "takeoff", *map(str, arguments)],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("files")
    for name in ("pieces.csv", "products.csv", "job.toml"):
        (made / name).write_text(demo.text(name), encoding="utf-8")
    return made


def test_json_carries_needs_shopping_and_assumptions(folder: Path) -> None:
    done = run(
        "pieces.csv", "products.csv", "--job", "job.toml", "--json", "--set", "transfer=0.5", folder=folder
    )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["assumptions"]["transfer"] == 0.5
    assert {"Mixed colour", "Clear"} <= {need["what"] for need in found["needs"]}
    assert all(line["product"] for line in found["shopping"])


def test_tables_for_people_in_their_units(folder: Path) -> None:
    done = run("pieces.csv", "products.csv", "--units", "us", "--stock", "base=1 gal", folder=folder)
    assert done.returncode == 0, done.stderr
    assert "sq ft" in done.stdout
    assert "qt" in done.stdout
    assert "Shopping list" in done.stdout


def test_more_coats_take_more(folder: Path) -> None:
    def litres(coats: int) -> float:
        found = json.loads(run("pieces.csv", "--coats", str(coats), "--json", folder=folder).stdout)
        return float(next(n["p50_ml"] for n in found["needs"] if n["what"] == "Mixed colour"))

    assert litres(4) > 1.4 * litres(2)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("pieces.csv", "--set", "colour_of_cat=1"), "no assumption"),
        (("pieces.csv", "--set", "transfer"), "name=value"),
        (("pieces.csv", "--set", "transfer=7"), "from 0.05 to 1"),
        (("pieces.csv", "--odds", "2"), "0.95 for 95 %"),
        (("pieces.csv", "products.csv", "--stock", "glue=1 L"), "No product is marked glue"),
        (("products.csv",), "products.csv: 11 things must be put right first"),
        (("none.csv",), "none.csv"),
    ],
)
def test_what_is_wrong_goes_to_stderr_with_what_to_do(
    folder: Path, arguments: tuple[str, ...], says: str
) -> None:
    done = run(*arguments, folder=folder)
    assert done.returncode == 2
    assert says in done.stderr
    assert not done.stdout


def test_a_product_that_is_not_listed_ends_with_one(folder: Path) -> None:
    (folder / "few.csv").write_text("key,name,role\nb,Base,base\n", encoding="utf-8")
    done = run("pieces.csv", "few.csv", folder=folder)
    assert done.returncode == 1
    assert "Clear" in done.stderr


def test_what_to_mix_follows_from_what_is_in_hand(folder: Path) -> None:
    def mix(*more: str) -> dict[str, float]:
        return json.loads(run("pieces.csv", "--json", *more, folder=folder).stdout)  # type: ignore[no-any-return]

    first, enough = mix(), mix("--in-hand", "100 L")
    assert first["colour_mix_ml"] > 0
    assert first["colour_advice"].startswith(f"Mix {first['colour_mix_ml']:.0f} mL first.")  # type: ignore[attr-defined]
    assert enough["colour_mix_ml"] == 0
    assert "suffices" in run("pieces.csv", "--in-hand", "100 L", folder=folder).stdout
    assert run("pieces.csv", "--in-hand", "a lot", folder=folder).returncode == 2
