"""The hunt for faults judges the tests, so it is tested itself: on small modules made up here, whose faults and tests are known."""

import ast
import json
import random
import subprocess
import sys
from pathlib import Path

import pytest

from mutants.attempt import BY_TIME, NOTICED, UNNOTICED
from mutants.faults import Fault, faults_of, with_fault
from mutants.hunt import PURE, SOURCE, UNREACHED, Hunt, drawn, modules_of, table
from mutants.reach import REACHED, Map, Users, marked, save

SMALL = '''
"""A made-up module."""

from django.db import transaction

LIMIT = 4


@transaction.atomic
def take(stock: list[int], wanted: int = 3) -> int:
    """Take what is wanted; nothing below zero."""
    if wanted < 0:
        raise ValueError("no")
    left = [s - wanted for s in stock if s >= wanted]
    with transaction.atomic():
        print("taken")
    return min(left) if left and wanted <= LIMIT else -wanted


def rows(table):
    return table.objects.filter(job=1, done=False).order_by("day")
'''


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "small.py"
    path.write_text(SMALL, encoding="utf-8")
    return path


def test_the_faults_of_a_module_are_those_a_reader_would_think_of(small: Path) -> None:
    found = {(f.function, f.kind, f.after) for f in faults_of(small, "small")}
    for wanted in (
        ("", "constant changed", "5"),
        ("", "decorator dropped", "without: @transaction.atomic"),
        ("take", "guard dropped", "(nothing)"),
        ("take", "comparison turned round", "wanted >= 0"),
        ("take", "edge of a comparison", "wanted < LIMIT"),
        ("take", "opposite operator", "s + wanted"),
        ("take", "term dropped", "s"),
        ("take", "filter dropped", "without: if s >= wanted"),
        ("take", "transaction dropped", "(its body alone)"),
        ("take", "twin called instead", "max(left)"),
        ("take", "sign or not dropped", "wanted"),
        ("take", "condition dropped", "left"),
        ("take", "statement dropped", "(nothing)"),
        ("rows", "query condition dropped", "table.objects.filter(done=False)"),
        ("rows", "query step dropped", "table.objects.filter(job=1, done=False)"),
    ):
        assert wanted in found, wanted
    assert not [f for f in found if "no" in f[2].split("'")], "the words of a refusal are left alone"


def test_each_number_makes_the_fault_that_is_listed_and_no_other(small: Path) -> None:
    whole = ast.unparse(ast.parse(SMALL))
    texts = set()
    for fault in faults_of(small, "small"):
        tree = with_fault(SMALL, fault.number)
        compile(tree, "small.py", "exec")
        text = ast.unparse(tree)
        assert text != whole, fault
        texts.add(text)
        if not fault.after.startswith(("(", "without", "if ")):
            assert fault.after in " ".join(text.split()), fault
    assert len(texts) > 0.9 * len(faults_of(small, "small"))
    with pytest.raises(IndexError):
        with_fault(SMALL, 10_000)


NESTED = '''
"""A made-up module."""


def outer(n):
    """What is in it counts as it."""

    def inner():
        return n + 1

    return inner


class Thing:
    def __init__(self):
        self.n = 0

    @property
    def twice(self):
        return (lambda: 2 * self.n)()
'''


def test_every_function_says_so_when_it_is_entered_and_what_is_nested_counts_as_its_outermost() -> None:
    reached: list[str] = []
    names: dict[str, object] = {REACHED: reached.append}
    exec(compile(marked(NESTED, "shop"), "shop.py", "exec"), names)
    assert reached == []
    assert names["outer"](1)() == 2  # type: ignore[operator]
    assert names["Thing"]().twice == 0  # type: ignore[operator]
    assert reached == ["shop:outer", "shop:outer", "shop:Thing.__init__", "shop:Thing.twice"]
    assert names["outer"].__doc__ == "What is in it counts as it."
    lines = [(n.name, n.lineno) for n in ast.walk(ast.parse(NESTED)) if isinstance(n, ast.FunctionDef)]
    again = [(n.name, n.lineno) for n in ast.walk(marked(NESTED, "shop")) if isinstance(n, ast.FunctionDef)]
    assert lines == again


@pytest.mark.parametrize("part", [*PURE, "workshop"])
def test_every_part_has_faults_and_some_of_them_compile(part: str) -> None:
    rng = random.Random(part)
    for module, path in modules_of(part).items():
        source = path.read_text(encoding="utf-8")
        faults = faults_of(path, module)
        for fault in rng.sample(faults, len(faults) // 150):
            compile(with_fault(source, fault.number), str(path), "exec")
    assert path.is_relative_to(SOURCE)


def test_a_sample_is_the_same_for_the_same_seed_and_another_for_another() -> None:
    faults = [f for m, p in modules_of("takeoff").items() for f in faults_of(p, m)]
    assert drawn(faults, 30, 5) == drawn(faults, 30, 5)
    assert len(drawn(faults, 30, 5)) == 30
    assert len({f.key for f in drawn(faults, 30, 5)} & {f.key for f in drawn(faults, 30, 6)}) < 15


RUN = """
import sys, json
from pathlib import Path
sys.path[:0] = [{tests!r}, {here!r}]
import os
os.chdir({here!r})
import time
from mutants.attempt import attempt
from mutants.faults import faults_of
path = Path({here!r}) / "shop.py"
for fault in faults_of(path, "shop"):
    at = attempt(fault, path, {asked!r}, {limit})
    while (end := at.ended()) is None:
        time.sleep(0.02)
    print(json.dumps([fault.kind, fault.after, end[0], end[1]]))
"""
SHOP = "def litres(area, coats):\n    whole = 0\n    for coat in range(coats):\n        if coat < 9:\n            whole += area\n    return whole + 1\n"
WEAK = "import shop\n\ndef test_weak():\n    assert shop.litres(1, 1) >= -9\n"
STRONG = "import shop\n\ndef test_strong():\n    assert shop.litres(3, 2) == 7\n    assert shop.litres(1, 20) == 10\n"
ENDLESS = "def litres(coats):\n    while coats > 0:\n        coats -= 1\n    return coats\n"


def outcomes(folder: Path, test: str, *, shop: str = SHOP, limit: float = 120.0) -> list[list[str]]:
    """What comes of every fault of the made-up shop with one test, each in a process of its own."""
    (folder / "shop.py").write_text(shop, encoding="utf-8")
    (folder / "test_shop.py").write_text(test, encoding="utf-8")
    (folder / "pytest.ini").write_text("[pytest]\npythonpath = .\n", encoding="utf-8")
    tests = str(Path(__file__).resolve().parents[1])
    code = RUN.format(tests=tests, here=str(folder), asked=["test_shop.py"], limit=limit)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_a_strong_test_notices_what_a_weak_one_lets_through(tmp_path: Path) -> None:
    strong = outcomes(tmp_path, STRONG)
    assert {row[2] for row in strong} == {NOTICED}
    assert ["opposite operator", "whole - 1", NOTICED, "test_shop.py::test_strong"] in strong
    weak = outcomes(tmp_path, WEAK)
    assert ["edge of a comparison", "coat <= 9", UNNOTICED, ""] in weak
    assert sum(row[2] == UNNOTICED for row in weak) >= 0.8 * len(weak)


def test_a_fault_that_never_ends_is_ended_and_counts_as_noticed(tmp_path: Path) -> None:
    test = "import shop\n\ndef test_ends():\n    assert shop.litres(1) == 0\n"
    found = outcomes(tmp_path, test, shop=ENDLESS, limit=8.0)
    assert ["statement dropped", "(nothing)", BY_TIME, ""] in found


def test_tests_are_picked_by_what_they_reach_quick_ones_first_within_the_time(tmp_path: Path) -> None:
    reached = {
        "t.py::a[1]": {"passed": True, "seconds": 1.0, "functions": ["m:f"]},
        "t.py::a[2]": {"passed": True, "seconds": 0.5, "functions": ["m:f"]},
        "t.py::b": {"passed": True, "seconds": 2.0, "functions": ["m:f", "m:g"]},
        "t.py::c": {"passed": True, "seconds": 50.0, "functions": ["m:f"]},
        "t.py::bad": {"passed": False, "seconds": 0.1, "functions": ["m:f"]},
    }
    save(tmp_path / "reach.json", reached)
    reach = Map.load([tmp_path / "reach.json"])
    assert reach.pick(["m:f"], 10) == ["t.py::a[2]", "t.py::b", "t.py::a[1]"]
    assert reach.pick(["m:g"], 0.1) == ["t.py::b"], "one at least"
    assert reach.pick(["m:unknown"], 10) == []


def test_a_constant_is_shown_to_the_tests_of_those_who_use_it(small: Path) -> None:
    fault = next(f for f in faults_of(small, "small") if f.names == ("LIMIT",))
    assert Users({"small": small}).functions(fault) == {"small:take"}


def test_a_hunt_that_was_broken_off_goes_on_and_survivors_can_be_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, small: Path
) -> None:
    monkeypatch.setattr("mutants.hunt.BUILD", tmp_path)
    faults = faults_of(small, "small")[:4]
    tried: list[Fault] = []

    class Done:
        def __init__(self, fault: Fault) -> None:
            self.fault = fault

        def ended(self) -> tuple[str, str, float]:
            return (NOTICED if self.fault is faults[0] else UNNOTICED), "", 0.1

    def pretended(fault: Fault, path: Path, tests: list[str], limit: float) -> Done:
        tried.append(fault)
        return Done(fault)

    monkeypatch.setattr("mutants.hunt.attempt", pretended)
    reach = Map({"t": 1.0}, {"small:take": ["t"]})
    users = Users({"small": small})
    Hunt("h", 2, 60, again=False).run("small", faults[:2], {"small": small}, reach, users)
    Hunt("h", 2, 60, again=False).run("small", faults, {"small": small}, reach, users)
    assert tried == faults, "what was done is not done again"
    again = Hunt("h", 1, 60, again=True)
    again.run("small", faults, {"small": small}, reach, users)
    assert tried[4:] == faults[1:]
    assert len((tmp_path / "h.jsonl").read_text(encoding="utf-8").splitlines()) == 7
    unknown = Hunt("u", 1, 60, again=False)
    unknown.run("small", faults, {"small": small}, Map({}, {}), users)
    assert {row["outcome"] for row in unknown.rows.values()} == {UNREACHED}
    words = table(list(again.rows.values()))
    assert "| small | 4 | 1 | 3 | 0 | 25 |" in words
    assert words.count("\n| small:") == 3
