"""Which test reaches which function: written down once by running the tests, so that a fault is shown only to those that could notice it."""

import ast
import json
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

from mutants.faults import Fault

Reached = dict[str, dict[str, Any]]
"""Test → {"seconds": how long it took, "functions": what it reached, as module:function}."""


class Recorder:
    """A plugin of pytest that writes down, for each test that passes, what it reached under `source` and how long it took."""

    def __init__(self, source: Path) -> None:
        self.source = str(source) + "/"
        self.root = str(source.parent) + "/"
        self.names: dict[CodeType, str] = {}
        self.now: set[str] = set()
        self.tests: Reached = {}

    def trace(self, frame: FrameType, event: str, argument: object) -> None:
        """Note each function of ours that is entered; what a fixture of the module enters counts for the first test that asks for it."""
        code = frame.f_code
        if code not in self.names:
            self.names[code] = self.name(code)
        self.now.add(self.names[code])

    def name(self, code: CodeType) -> str:
        """module:function of a piece of code, "" for what is not ours; what is nested counts as its outermost function."""
        if not code.co_filename.startswith(self.source):
            return ""
        module = (
            code.co_filename.removeprefix(self.root)
            .removesuffix(".py")
            .replace("/", ".")
            .removesuffix(".__init__")
        )
        return f"{module}:{code.co_qualname.split('.<')[0]}"

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Around each test: set-up, call and tear-down together."""
        self.now = set()
        began = time.perf_counter()
        threading.settrace(self.trace)
        sys.settrace(self.trace)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            threading.settrace(None)  # type: ignore[arg-type]
            seconds = round(time.perf_counter() - began, 3)
            self.tests.setdefault(item.nodeid, {"passed": True})
            self.tests[item.nodeid] |= {"seconds": seconds, "functions": sorted(self.now - {""})}

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A test that fails or is skipped today can notice nothing."""
        if report.failed or report.skipped:
            self.tests.setdefault(report.nodeid, {})["passed"] = False


def save(path: Path, tests: Reached) -> None:
    """Write the map with each function's name once."""
    names = sorted({f for row in tests.values() for f in row["functions"]})
    at = {name: number for number, name in enumerate(names)}
    rows = {
        test: [row["seconds"], [at[f] for f in row["functions"]]]
        for test, row in tests.items()
        if row["passed"]
    }
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps({"functions": names, "tests": rows}), encoding="utf-8")


@dataclass(frozen=True)
class Map:
    """function → tests that reach it, and how long each takes."""

    seconds: dict[str, float]
    tests: dict[str, list[str]]

    @classmethod
    def load(cls, paths: Iterable[Path]) -> "Map":
        """Read one or more maps as one."""
        seconds: dict[str, float] = {}
        tests: dict[str, list[str]] = defaultdict(list)
        for path in paths:
            kept = json.loads(path.read_text(encoding="utf-8"))
            for test, (took, functions) in kept["tests"].items():
                seconds[test] = took
                for number in functions:
                    tests[kept["functions"][number]].append(test)
        return cls(seconds, dict(tests))

    def pick(self, functions: Iterable[str], most_seconds: float) -> list[str]:
        """The tests that reach one of these functions, quick ones first and one of each test's parameters before the others, as far as the time goes (one at least)."""
        able = {test for function in functions for test in self.tests.get(function, ())}
        quick = sorted(able, key=lambda test: (self.seconds[test], test))
        seen: dict[str, int] = defaultdict(int)
        turns = []
        for test in quick:
            whole = test.split("[")[0]
            turns.append((seen[whole], test))
            seen[whole] += 1
        picked: list[str] = []
        spent = 0.0
        for _, test in sorted(turns, key=lambda turn: (min(turn[0], 3), self.seconds[turn[1]], turn[1])):
            if picked and spent + self.seconds[test] > most_seconds:
                continue
            picked.append(test)
            spent += self.seconds[test]
        return picked


class Users:
    """Which functions use a name: for a fault in what a module or class sets outside of its functions."""

    def __init__(self, sources: dict[str, Path]) -> None:
        self.by_name: dict[str, set[str]] = defaultdict(set)
        self.by_module: dict[str, set[str]] = defaultdict(set)
        for module, path in sources.items():
            for function, node in _functions(ast.parse(path.read_text(encoding="utf-8")), ""):
                self.by_module[module].add(f"{module}:{function}")
                for used in ast.walk(node):
                    name = (
                        used.id
                        if isinstance(used, ast.Name)
                        else used.attr
                        if isinstance(used, ast.Attribute)
                        else ""
                    )
                    if name:
                        self.by_name[name].add(f"{module}:{function}")

    def functions(self, fault: Fault) -> set[str]:
        """The functions through which a fault could be noticed."""
        if fault.function and not fault.function.endswith("."):
            return {f"{fault.module}:{fault.function}"}
        users = {user for name in fault.names for user in self.by_name.get(name, ())}
        return users or self.by_module.get(fault.module, set())


def _functions(node: ast.AST, prefix: str) -> Iterator[tuple[str, ast.AST]]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
            yield prefix + child.name, child
        elif isinstance(child, ast.ClassDef):
            yield from _functions(child, f"{prefix}{child.name}.")
