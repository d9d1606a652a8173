"""The documents are true: what they name exists, and what exists they name."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import click
import pytest

from hidewright.cli import group
from known_pages import known_pages
from word_list import unwanted

ROOT = Path(__file__).resolve().parents[1]
DOCUMENTS = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md")])
FOR_USERS = [ROOT / "README.md", *sorted(ROOT.glob("docs/guide/*.md"))]
CODE = re.compile(r"```.*?```|`[^`\n]+`", re.DOTALL)
COMMAND = re.compile(r"\bhidewright (?!import\b)((?:[a-z][a-z-]*)(?: [a-z][a-z-]*)?)")
MAKE = re.compile(r"(?<![\w-])make ([a-z-]+)")
ROUTE = re.compile(r"`(/[^\s`]*)`")


def text_of(paths: list[Path]) -> str:
    """The documents one after the other."""
    return "\n".join(path.read_text(encoding="utf-8") for path in paths)


def code_in(paths: list[Path]) -> str:
    """Only what stands in code marks."""
    return "\n".join(CODE.findall(text_of(paths)))


def commands() -> dict[str, set[str]]:
    """Every command with its own subcommands."""
    ctx = click.Context(group)
    found = {name: group.get_command(ctx, name) for name in group.list_commands(ctx)}
    return {
        name: set(command.commands) if isinstance(command, click.Group) else set()
        for name, command in found.items()
    }


def test_every_command_that_is_named_exists() -> None:
    known = commands()
    for named in COMMAND.findall(code_in(DOCUMENTS)):
        first, *rest = named.split()
        assert first in known, f"hidewright {named}"
        if known[first] and rest:
            assert rest[0] in known[first], f"hidewright {named}"


def test_every_command_that_exists_is_in_the_guide() -> None:
    told = code_in(FOR_USERS)
    wanted = [f"hidewright {name}" for name in commands()]
    wanted += [f"hidewright {name} {sub}" for name, subs in commands().items() for sub in subs]
    assert not [name for name in wanted if not re.search(rf"{name}(?![\w-])", told)]


def test_every_target_of_make_that_is_named_exists_and_the_other_way_round() -> None:
    targets = set(re.findall(r"^([a-z-]+):.*## ", (ROOT / "Makefile").read_text(encoding="utf-8"), re.M))
    named = set(MAKE.findall(code_in(DOCUMENTS)))
    assert named == targets


def test_every_page_that_exists_is_in_the_guide_and_the_other_way_round() -> None:
    """docs/guide/pages.md lists every address that a person can open, fragments of pages left out."""
    there = {page.route for page in known_pages() if page.is_shown}
    told = set(ROUTE.findall(text_of([ROOT / "docs/guide/pages.md"])))
    assert told == there


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_link_between_documents_leads_somewhere(path: Path) -> None:
    for target in re.findall(r"\]\(([^)#\s]+)", path.read_text(encoding="utf-8")):
        if not re.match(r"[a-z]+:", target) and target != "../../issues":
            assert (path.parent / target).exists(), target


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_nothing_claims_what_only_people_may_judge(path: Path) -> None:
    """The tool compares; these words are claims that a licensed or authorised person alone may make."""
    found = re.findall(r"\b(?:compliant|airworthy|certified)\b", path.read_text(encoding="utf-8"), re.I)
    allowed = len(re.findall(r"never[^.]*\b(?:compliant|airworthy)", path.read_text(encoding="utf-8"), re.I))
    assert not found or allowed


QUAINT = re.compile(
    rf"{unwanted('anywhere').pattern}|\b(?:taken is|thereby|nought|amongst|shall|tells? of|wherein|oft)\b",
    re.IGNORECASE,
)
"""Words that nobody says in a workshop today; what is measured in the past is left as it was written."""


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_documents_are_in_the_english_of_today(path: Path) -> None:
    """Outside code and addresses."""
    text = re.sub(r"<!--.*?-->", "", path.read_text(encoding="utf-8"))
    plain = re.sub(r"\]\([^)]*\)", "]", CODE.sub("", text))
    found = [plain[max(0, m.start() - 40) : m.end() + 20] for m in QUAINT.finditer(plain)]
    assert path.name in ("history.md", "words.md") or not found, f"say it in words of today: {found}"


def test_decisions_are_numbered_and_short() -> None:
    """Each number once; a page at most; with context, choice and consequence."""
    decisions = sorted((ROOT / "docs/decisions").glob("*.md"))
    numbers = [path.name[:4] for path in decisions]
    assert len(set(numbers)) == len(numbers)
    for path in decisions:
        text = path.read_text(encoding="utf-8")
        assert len(text.splitlines()) <= 60, path.name
        assert all(word in text for word in ("**Context.**", "**Choice.**", "**Consequence.**")), path.name


REFERENCE = ROOT / "tests" / "reference"
KINDS = (
    "printed in",
    "computed with",
    "arithmetic",
    "from memory",
    "common practice, no source",
    "own rule",
)


def test_every_reference_test_has_its_kind_and_its_source() -> None:
    """SOURCES.md has one line for each test of tests/reference, under its file's name, and no line for a test that is not there."""
    listed: dict[tuple[str, str], tuple[str, str]] = {}
    heading = ""
    for line in (REFERENCE / "SOURCES.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            heading = line[3:].strip()
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("|") and cells[0] != "test" and not cells[0].startswith("---"):
            assert (heading, cells[0]) not in listed, f"twice: {heading}, {cells[0]}"
            listed[heading, cells[0]] = (cells[1], cells[2])
    written = {
        (path.stem, node.name.removeprefix("test_"))
        for path in REFERENCE.glob("test_*.py")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    }
    assert not written - set(listed), "give each its line in tests/reference/SOURCES.md"
    assert not set(listed) - written, (
        "take the lines of tests that are gone out of tests/reference/SOURCES.md"
    )
    assert {kind for kind, _ in listed.values()} <= set(KINDS)
    assert all(source for _, source in listed.values())


def test_no_test_names_a_document_that_is_not_here() -> None:
    """A source that a reader cannot open is none: each .md named in a test or in the code lies in this repository."""
    here = {path.name for path in [*DOCUMENTS, *ROOT.glob("tests/**/*.md"), *ROOT.glob("src/**/*.md")]}
    for path in [*ROOT.glob("tests/**/*.py"), *ROOT.glob("src/**/*.py")]:
        for name in re.findall(r"[\w-]+\.md\b", path.read_text(encoding="utf-8")):
            assert name in here, f"{path.relative_to(ROOT)} names {name}"


def test_the_house_in_growing_is_drawn_from_the_imports_of_today() -> None:
    """docs/growing.md shows the folders and imports as they are; a change of a wall draws it anew."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "docs/draw_house.py"), "--check"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_no_measured_figure_is_stale_or_without_a_key() -> None:
    """Each number that was measured carries its key of docs/figures.json; the head of docs/measured.md tells how to add one."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "docs/figures.py"), "--check"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_the_files_that_a_change_touches_exist() -> None:
    """The ten changes of docs/growing.md name files that are there."""
    text = (ROOT / "docs/growing.md").read_text(encoding="utf-8")
    rows = [line for line in text.split("## Ten changes")[1].splitlines() if line.startswith("| ")][1:]
    assert len(rows) >= 10
    source = ROOT / "src/hidewright"
    for row in rows:
        for name in re.findall(r"`([^`]+)`", row.split("|")[2]):
            assert (source / name).exists() or (source / "workshop" / name).exists(), f"{row}: {name}"
