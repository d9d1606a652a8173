"""The house keeps its shape: what import-linter cannot see is looked at here."""

import ast
import json
import pkgutil
import subprocess
import sys
from pathlib import Path

import pytest

import hidewright

SRC = Path(hidewright.__file__).parent
PURE = (
    "refusals",
    "units",
    "defaults",
    "sheets",
    "survey",
    "colour",
    "safety",
    "takeoff",
    "mixing",
    "planning",
    "charts",
    "papers",
    "demo",
)
NO_NAMES = {"utils", "util", "common", "misc", "base", "helpers", "core"}
SLOW = ("django", "ortools", "colour", "matplotlib", "vl_convert")
"""What must not come along when a pure stage is imported: the app, and what takes long to load."""

LONGEST = 500
"""Lines of a file in the workshop above which it is surely two stages under one roof; 60 to 400 serve best."""

MODULES = sorted(p for p in SRC.rglob("*.py") if "migrations" not in p.parts)


def pure_modules() -> list[str]:
    """The dotted names of every module of the pure stages."""
    found = [f"hidewright.{name}" for name in PURE]
    for name in PURE:
        if (SRC / name).is_dir():
            found += [m.name for m in pkgutil.walk_packages([str(SRC / name)], f"hidewright.{name}.")]
    return found


def test_the_pure_stages_load_without_the_app() -> None:
    """In a fresh process, importing every pure module loads neither Django nor the slow libraries."""
    code = (
        "import importlib, json, sys\n"
        f"for name in {pure_modules()!r}: importlib.import_module(name)\n"
        f"print(json.dumps([name for name in {SLOW!r} if name in sys.modules]))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout) == []


def test_every_folder_is_known() -> None:
    """A new stage is named in PURE, or is one of the two that know Django."""
    found = {p.stem for p in SRC.iterdir() if p.suffix == ".py" or (p / "__init__.py").exists()}
    assert found - {"__init__"} == {*PURE, "workshop", "cli"}


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(SRC)))
def test_each_module_has_a_name_an_opening_line_and_no_borrowed_secrets(path: Path) -> None:
    """Names say what is inside; a filled module says what it is for; no `_name` of another module is imported."""
    assert path.stem not in NO_NAMES
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert not tree.body or ast.get_docstring(tree), "no docstring"
    borrowed = [
        alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.level or (node.module or "").startswith("hidewright"))
        for alias in node.names
        if alias.name.startswith("_") and not alias.name.startswith("__")
    ]
    assert not borrowed


def test_each_stage_of_the_workshop_has_its_own_file() -> None:
    """No page, step, gatherer or keeper is so long that several stages must be in it."""
    lengths = {
        path: len(path.read_text(encoding="utf-8").splitlines())
        for folder in ("pages", "steps", "gather", "keep", "models")
        for path in (SRC / "workshop" / folder).glob("*.py")
    }
    assert not {str(path): length for path, length in lengths.items() if length > LONGEST}
