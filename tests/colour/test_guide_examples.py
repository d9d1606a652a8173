"""The shell examples of README and guide print what the documents show, on the invented files that come along."""

import os
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from hidewright import demo
from hidewright.cli import group

ROOT = Path(__file__).resolve().parents[2]
PAGES = (ROOT / "README.md", *sorted(ROOT.glob("docs/guide/*.md")))
SLOW = ("characterise", "learn", "dry")
"""Each takes seconds and needs the one before it: with HIDEWRIGHT_EXAMPLES=all they run too."""
ALL = os.environ.get("HIDEWRIGHT_EXAMPLES") == "all"


def examples() -> list[tuple[str, str, list[str]]]:
    """Page, command line and the lines shown, of every block that begins with a prompt."""
    found = []
    for page in PAGES:
        for block in re.findall(
            r"^```\n(\$ hidewright .*?)^```", page.read_text(encoding="utf-8"), re.M | re.S
        ):
            for run in re.split(r"^\$ hidewright ", block, flags=re.M)[1:]:
                command, _, shown = run.partition("\n")
                if ALL or command.split()[0] not in SLOW:
                    found.append((page.name, command, shown.rstrip().splitlines()))
    return found


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented files."""
    here = tmp_path_factory.mktemp("examples")
    for path in Path(demo.__file__).parent.iterdir():
        if path.suffix in (".csv", ".jpg", ".toml"):
            (here / path.name).write_bytes(path.read_bytes())
    return here


def as_shown(printed: list[str], shown: list[str]) -> bool:
    """Whether the lines are those shown; a line that ends in … stands for one or more of them."""
    pattern = "\n".join(
        f"{re.escape(line[:-1])}.*(?:\n.*)*" if line.endswith("…") else re.escape(line) for line in shown
    )
    return re.fullmatch(pattern, "\n".join(printed)) is not None


@pytest.mark.parametrize(("page", "command", "shown"), examples(), ids=lambda value: str(value)[:40])
def test_a_shell_example_prints_what_its_page_shows(
    page: str, command: str, shown: list[str], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "120")
    done = CliRunner().invoke(group, shlex.split(command))
    printed = [line.rstrip() for line in done.stdout.rstrip().splitlines()]
    assert as_shown(printed, shown), f"{page} shows another output of {command}:\n{done.output}"


def test_an_output_that_drifts_is_noticed() -> None:
    assert as_shown(["a 1", "b", "c", "d"], ["a 1", "b…", "d"])
    assert not as_shown(["a 2", "b"], ["a 1", "b"])
    assert not as_shown(["a", "b", "c"], ["a", "b"])
