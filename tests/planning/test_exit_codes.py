"""The command as the shell sees it: its exit code tells how it ended."""

import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest

DEMO = Path(str(files("hidewright.demo")))


def ended(*words: str) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "hidewright.cli", *words], capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize(("promised", "code"), [("2026-03-03", 1), ("2026-04-30", 0)])
def test_a_late_plan_ends_with_one(promised: str, code: int) -> None:
    room = [f"--{name}={DEMO / name}.csv" for name in ("tables", "hours", "people")]
    words = [
        "plan",
        str(DEMO / "pieces.csv"),
        *room,
        "--start=2026-03-02",
        f"--promised={promised}",
        "--seconds=0.5",
    ]
    assert ended(*words).returncode == code


def test_a_refusal_ends_with_two_and_goes_to_stderr(tmp_path: Path) -> None:
    torn = tmp_path / "pieces.csv"
    torn.write_text("key,name,shape,length,width\nA,seat,cushion,500,500\n", encoding="utf-8")
    result = ended("takeoff", str(torn))
    assert result.returncode == 2
    assert "line 2, column thickness" in result.stderr
    assert not result.stdout


def test_help_ends_with_nothing() -> None:
    assert ended("--help").returncode == 0
