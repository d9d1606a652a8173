"""The command on files: human and JSON output, exit codes, faults that say what to do."""

import json
from importlib.resources import files
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from hidewright import demo
from hidewright.cli.plan import command
from hidewright.defaults import CLEAR_COATS, COLOUR_COATS
from hidewright.refusals import Refusal


@pytest.fixture
def run(tmp_path: Path):  # type: ignore[no-untyped-def]
    for name in ("tables.csv", "hours.csv", "people.csv"):
        (tmp_path / name).write_text(demo.text(name), encoding="utf-8")
    rows = demo.text("pieces.csv").splitlines()
    (tmp_path / "pieces.csv").write_text("\n".join([rows[0], *rows[1:9]]) + "\n", encoding="utf-8")

    def call(*more: str, **texts: str) -> Result:
        for name, text in texts.items():
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
        where = {name: str(tmp_path / f"{name}.csv") for name in ("tables", "hours", "people")}
        options = [part for name, path in where.items() for part in (f"--{name}", path)]
        return CliRunner().invoke(
            command,
            [str(tmp_path / "pieces.csv"), *options, "--start", "2026-03-02", "--seconds", "0.5", *more],
        )

    return call


def test_the_files_of_the_demonstration_are_there() -> None:
    assert {"tables.csv", "hours.csv", "people.csv"} <= {f.name for f in files("hidewright.demo").iterdir()}


def test_it_prints_the_days(run) -> None:  # type: ignore[no-untyped-def]
    result = run("--promised", "2026-03-20")
    assert result.exit_code == 0, result.output
    assert "Promised Fri 20 Mar 2026: in time" in result.output
    assert "Mon 2 Mar" in result.output
    assert "audited" in result.output


def test_it_prints_sessions_and_odds(run) -> None:  # type: ignore[no-untyped-def]
    data = json.loads(run("--promised", "2026-03-20", "--seconds", "6", "--json").stdout)
    assert {s["family"] for s in data["sessions"]} >= {"mask", "colour", "clear", "finish"}
    planned = [key for session in data["sessions"] for key in session["operations"]]
    assert sorted(planned) == sorted(p["operation"] for p in data["plan"]["placements"])
    assert data["finish_day"] <= data["odds"]["sure"]
    assert data["odds"]["likely"] <= data["odds"]["sure"]
    assert 0 < data["odds"]["promise"] < 1


def test_late_is_code_one(run) -> None:  # type: ignore[no-untyped-def]
    result = run("--promised", "2026-03-02")
    assert result.exit_code == 1
    assert "late" in result.output


def test_json_holds_the_plan_and_what_is_shown(run) -> None:  # type: ignore[no-untyped-def]
    from hidewright.charts.plan_json import plan_from_data as shown_from_data
    from hidewright.planning.plan.schedule import plan_from_data

    data = json.loads(run("--json").stdout)
    assert {p.piece for p in plan_from_data(data["plan"]).placements} == {
        a.piece for a in shown_from_data(data["shown"]).acts
    }
    assert data["bound_day"] <= data["finish_day"]


def test_a_fault_names_file_line_and_column(run) -> None:  # type: ignore[no-untyped-def]
    result = run(tables="key,name,length,depth\na,A,two,0.9\n")
    assert isinstance(result.exception, Refusal)
    assert "tables.csv" in str(result.exception)
    assert "line 2, column length" in str(result.exception)


def test_what_no_plan_can_do_is_refused(run) -> None:  # type: ignore[no-untyped-def]
    result = run(tables="key,name,length,depth\na,A,0.4,0.3\n")
    assert isinstance(result.exception, Refusal)
    assert "m longer" in str(result.exception)


def test_the_number_of_coats_is_planned(run) -> None:  # type: ignore[no-untyped-def]
    def acts_of(*more: str) -> list[dict[str, str]]:
        return json.loads(run("--json", *more).stdout)["shown"]["acts"]

    piece = acts_of()[0]["piece"]

    def sprayed(*more: str) -> int:
        return sum(act["act"].startswith("spray") and act["piece"] == piece for act in acts_of(*more))

    usual = COLOUR_COATS + CLEAR_COATS
    sides = 2 if sprayed() == 2 * usual else 1
    assert sprayed() == usual * sides
    assert sprayed("--coats", "4", "--clear-coats", "3") == 7 * sides
    assert run("--coats", "99").exit_code == 2


def test_a_rack_of_no_places_keeps_pieces_on_their_tables(run) -> None:  # type: ignore[no-untyped-def]
    """Between two passes no piece of the plan lies nowhere: each stay begins where the one before ended."""
    result = run("--rack", "0", "--json")
    assert result.exit_code == 0
    stays: dict[str, list[tuple[int, int]]] = {}
    for stay in json.loads(result.stdout)["plan"]["stays"]:
        stays.setdefault(stay["piece"], []).append((stay["since"], stay["until"]))
    gaps = [
        a[1] != b[0] for each in stays.values() for a, b in zip(sorted(each), sorted(each)[1:], strict=False)
    ]
    assert gaps
    assert not any(gaps)
