"""`hidewright paper` on files."""

import json
from datetime import date, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from hidewright.charts.plan import ActShown, PlanShown
from hidewright.charts.plan_json import plan_to_data
from hidewright.charts.tables import TableTop
from hidewright.cli.paper import command
from hidewright.refusals import Refusal
from papers.test_from_plan import PLAN as TURNED
from papers.test_from_plan import text_of

PLAN = PlanShown(
    (TableTop("T", 3, 1),),
    ("Ana",),
    (ActShown("k", "C1", "top", "Strip", "Ana", datetime(2026, 3, 2, 8), datetime(2026, 3, 2, 9)),),
    (),
    ((datetime(2026, 3, 2, 8), datetime(2026, 3, 2, 17)),),
    datetime(2026, 3, 2, 9),
    promised=date(2026, 3, 9),
)
PARTS = [{"key": "PW6", "name": "White", "mass_g_per_l": 1000.0, "volume_ml_per_l": 900.0}]
MATCH = {
    "target": {"name": "Biscuit", "hex": "#8a6a45", "lab": [48, 8, 24]},
    "recipes": [
        {"parts": PARTS, "load": 0.17, "density": 1.1, "hex": "", "delta_e": {"D65": 0.5}, "coats": 2}
    ],
}


def run(*words: object) -> str:
    answer = CliRunner().invoke(command, [str(word) for word in words], catch_exceptions=False)
    assert answer.exit_code == 0, answer.output
    return answer.output


@pytest.fixture
def files(tmp_path: Path) -> Path:
    (tmp_path / "plan.json").write_text(json.dumps({"shown": plan_to_data(PLAN)}))
    (tmp_path / "match.json").write_text(json.dumps(MATCH))
    return tmp_path


@pytest.mark.parametrize(
    ("paper", "source", "more"),
    [
        ("mixing-card", "match.json", ["--batch", "1 qt"]),
        ("day-sheet", "plan.json", ["--day", "2026-03-02", "--feet"]),
        ("day-sheet", "plan.json", ["--day", "1"]),
        ("table-maps", "plan.json", []),
    ],
)
def test_papers_come_out_of_files_the_same_each_time(
    files: Path, paper: str, source: str, more: list[str]
) -> None:
    out = files / "paper.pdf"
    made = []
    for _ in range(2):
        assert "kB" in run(paper, files / source, "-o", out, "--made-on", "2026-03-01", *more)
        made.append(out.read_bytes())
    assert made[0].startswith(b"%PDF")
    assert made[0] == made[1]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["mixing-card", "plan.json"], "no match"),
        (["mixing-card", "match.json", "--rank", "3"], "no recipe 3"),
        (["mixing-card", "match.json", "--batch", "some"], "some"),
        (["day-sheet", "match.json"], "no plan"),
        (["day-sheet", "plan.json", "--day", "7"], "no day 7"),
        (["day-sheet", "plan.json", "--day", "soon"], "no day"),
        (["day-sheet", "rubbish.json"], "no JSON"),
    ],
)
def test_what_cannot_be_is_refused_in_words(files: Path, words: list[str], told: str) -> None:
    (files / "rubbish.json").write_text("{")
    with pytest.raises(Refusal, match=told):
        run(words[0], files / words[1], *words[2:], "-o", files / "x.pdf")
    assert not (files / "x.pdf").exists()


@pytest.mark.parametrize(("rack", "told"), [(4, "4 places"), (None, "Off the tables"), (0, "Off the tables")])
def test_the_maps_show_the_rack_that_the_plan_was_told_of(
    tmp_path: Path, rack: int | None, told: str
) -> None:
    path, out = tmp_path / "plan.json", tmp_path / "maps.pdf"
    path.write_text(json.dumps({"shown": plan_to_data(TURNED), "rack": rack}))
    run("table-maps", path, "-o", out)
    assert told in text_of(out.read_bytes())


@pytest.mark.parametrize("rack", ["many", -1, 10**9, [4]])
def test_a_rack_that_cannot_be_is_refused(tmp_path: Path, rack: object) -> None:
    path = tmp_path / "plan.json"
    path.write_text(json.dumps({"shown": plan_to_data(TURNED), "rack": rack}))
    with pytest.raises(Refusal):
        run("table-maps", path, "-o", tmp_path / "maps.pdf")
