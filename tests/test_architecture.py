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
    "machine",
    "pictures",
    "units",
    "money",
    "dates",
    "defaults",
    "sheets",
    "lists",
    "survey",
    "colour",
    "safety",
    "takeoff",
    "mixing",
    "planning",
    "charts",
    "papers",
    "demo",
    "api",
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


SUBJECT_FILES = ("models", "queries", "actions", "forms", "views")
"""The files of a subject, bottom up; a second matter of the subject puts its name in front: `drying_queries`."""


def test_no_file_of_the_workshop_has_two_subjects_under_one_roof() -> None:
    """No file of a subject is so long that several matters must be in it."""
    lengths = {
        path: len(path.read_text(encoding="utf-8").splitlines())
        for path in (SRC / "workshop").rglob("*.py")
        if "migrations" not in path.parts
    }
    assert not {str(path): length for path, length in lengths.items() if length > LONGEST}


def workshop_imports(path: Path) -> list[str]:
    """The modules of the workshop that `path` imports, dotted below `hidewright.workshop`."""
    start = "hidewright.workshop."
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(start):
            inside = (node.module or "").removeprefix(start)
            found += [inside if "." in inside else f"{inside}.{alias.name}" for alias in node.names]
    return found


def layer_of(module: str) -> int | None:
    """The layer of a subject's file by the end of its name; None for a file that names none."""
    for layer, name in enumerate(SUBJECT_FILES):
        if module == name or module.endswith(f"_{name}"):
            return layer
    return None


@pytest.mark.parametrize(
    "path", sorted((SRC / "workshop").glob("*/*.py")), ids=lambda p: "/".join(p.parts[-2:])
)
def test_a_file_of_a_subject_imports_only_what_lies_below_it(path: Path) -> None:
    """Views import forms, actions, queries and rows; actions import queries and rows; also where a name stands in front."""
    own = layer_of(path.stem)
    if own is None:
        return
    upward = [
        module
        for module in workshop_imports(path)
        if module.split(".")[0] == path.parent.name and (layer_of(module.split(".")[1]) or 0) > own
    ]
    assert not upward
