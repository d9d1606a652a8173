"""Which test reaches which function: written down once by running the tests, so that a fault is shown only to those that could notice it."""

import ast
import builtins
import importlib.machinery
import importlib.util
import json
import sys
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import CodeType
from typing import Any

import pytest

from mutants.faults import Fault

Reached = dict[str, dict[str, Any]]
"""Test → {"seconds": how long it took, "functions": what it reached, as module:function}."""
REACHED = "__reached__"
"""What every marked function calls first, with its own name."""


def marked(source: str, module: str) -> ast.Module:
    """The syntax tree of a module in which every function says so when it is entered; what is nested counts as its outermost function."""
    tree = ast.parse(source)
    for name, outer in _functions(tree, ""):
        for node in ast.walk(outer):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                say = ast.Expr(
                    ast.Call(ast.Name(REACHED, ast.Load()), [ast.Constant(f"{module}:{name}")], [])
                )
                node.body.insert(
                    int(ast.get_docstring(node) is not None), ast.copy_location(say, node.body[0])
                )
    return ast.fix_missing_locations(tree)


class _Marking(importlib.machinery.SourceFileLoader):
    """Loads a module with its functions marked."""

    def get_code(self, fullname: str) -> CodeType:
        return compile(
            marked(Path(self.path).read_text(encoding="utf-8"), fullname),
            self.path,
            "exec",
            dont_inherit=True,
        )


class Recorder:
    """A plugin of pytest that writes down, for each test that passes, what it reached under `source` and how long it took.

    It finds the modules under `source` before anybody else does, and marks their functions: a hundred times less work than a trace of every call there is.
    """

    def __init__(self, source: Path) -> None:
        self.source = source
        self.now: set[str] = set()
        self.tests: Reached = {}
        setattr(builtins, REACHED, self.now.add)
        sys.meta_path.insert(0, self)  # type: ignore[arg-type]

    def find_spec(
        self, name: str, path: object = None, target: object = None
    ) -> importlib.machinery.ModuleSpec | None:
        """The spec of a module under `source`; None for every other name."""
        parts = name.split(".")
        if parts[0] != self.source.name:
            return None
        whole = self.source.joinpath(*parts[1:])
        package = whole / "__init__.py"
        file = package if package.exists() else whole.with_suffix(".py")
        if not file.exists():
            return None
        inside = [str(whole)] if file == package else None
        return importlib.util.spec_from_file_location(
            name, file, loader=_Marking(name, str(file)), submodule_search_locations=inside
        )

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Around each test: set-up, call and tear-down together. What a fixture of the module enters counts for the first test that asks for it."""
        self.now.clear()
        began = time.perf_counter()
        try:
            return (yield)
        finally:
            seconds = round(time.perf_counter() - began, 3)
            self.tests.setdefault(item.nodeid, {"passed": True})
            self.tests[item.nodeid] |= {"seconds": seconds, "functions": sorted(self.now)}

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
