"""One fault put into the code in memory, in a process of its own, and the tests that could notice it.

Nothing is written into the source: the module with the fault is compiled from its changed syntax tree when it is imported. So several can run at once, and a kill leaves nothing behind.
"""

import contextlib
import importlib.machinery
import importlib.util
import os
import signal
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import CodeType

import pytest

from mutants.faults import Fault, with_fault

NOTICED, BY_TIME, UNNOTICED, NOT_RUN = "noticed", "noticed by time", "survived", "tests did not run"
OUTCOMES = {3: NOTICED, 4: UNNOTICED, 5: NOT_RUN}
"""What the child ends with, and what that says; any other end is that of a child that the fault killed."""
ENDS = {
    pytest.ExitCode.OK: 4,
    pytest.ExitCode.TESTS_FAILED: 3,
    pytest.ExitCode.INTERRUPTED: 3,
    pytest.ExitCode.USAGE_ERROR: 3,
}
"""How pytest ended → what the child ends with. A fault that breaks an import interrupts it, or, in a conftest, is a usage error; so is one that takes a test's parameters away."""


class _Loader(importlib.machinery.SourceFileLoader):
    """Loads a module with a fault in it."""

    number = 0

    def get_code(self, fullname: str) -> CodeType:
        source = Path(self.path).read_text(encoding="utf-8")
        return compile(with_fault(source, self.number), self.path, "exec")


class Finder:
    """Finds one module before anybody else does, and loads it with the fault of that number."""

    def __init__(self, module: str, path: Path, number: int) -> None:
        self.module, self.path, self.number = module, path, number

    def find_spec(
        self, name: str, path: object = None, target: object = None
    ) -> importlib.machinery.ModuleSpec | None:
        """The faulty module's spec; None for every other name."""
        if name != self.module:
            return None
        loader = _Loader(name, str(self.path))
        loader.number = self.number
        inside = [str(self.path.parent)] if self.path.name == "__init__.py" else None
        return importlib.util.spec_from_file_location(
            name, self.path, loader=loader, submodule_search_locations=inside
        )


class _First:
    """Remembers the first test that failed."""

    name = ""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self.name:
            self.name = report.nodeid


@dataclass(slots=True)
class Attempt:
    """A child at work on a fault: its process, when it must end, and where its word comes from."""

    fault: Fault
    process: int
    until: float
    pipe: int
    began: float

    def ended(self) -> tuple[str, str, float] | None:
        """(outcome, first test that failed, seconds), or None while it is at work; one that takes too long is ended."""
        process, status = os.waitpid(self.process, os.WNOHANG)
        late = not process and time.monotonic() > self.until
        if late:
            os.killpg(self.process, signal.SIGKILL)
            os.waitpid(self.process, 0)
        elif not process:
            return None
        word = os.read(self.pipe, 4000).decode("utf-8", "replace") if not late else ""
        os.close(self.pipe)
        seconds = round(time.monotonic() - self.began, 2)
        if late:
            return BY_TIME, "", seconds
        code = os.waitstatus_to_exitcode(status)
        return OUTCOMES.get(code, NOTICED), word, seconds


def arguments(tests: Sequence[str], *, first_only: bool = True) -> list[str]:
    """What pytest is called with beside the tests: Django only where a page is tested; `first_only` ends at the first test that fails."""
    plain = ["-q", "--no-header", "--tb=no", "-W", "ignore"]
    if not any(test.startswith("tests/workshop") for test in tests):
        os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = (
            "1"  # half of the time of a short run goes into plugins that no pure test uses
        )
    return [*plain, "-x"] if first_only else plain


def attempt(fault: Fault, path: Path, tests: Sequence[str], limit: float) -> Attempt:
    """Fork a child that runs `tests` with the fault in place; `limit` s until it is ended. No module of ours may have been imported before."""
    assert not any(name == "hidewright" or name.startswith("hidewright.") for name in sys.modules), (
        "imported too early"
    )
    reading, writing = os.pipe()
    began = time.monotonic()
    process = os.fork()
    if process:
        os.close(writing)
        with contextlib.suppress(
            PermissionError, ProcessLookupError
        ):  # the child has done it already, or is gone
            os.setpgid(process, process)
        return Attempt(fault, process, began + limit, reading, began)
    code = 3
    try:
        os.setpgid(0, 0)
        os.close(reading)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        sys.meta_path.insert(0, Finder(fault.module, path, fault.number))  # type: ignore[arg-type]
        first = _First()
        ended = pytest.main([*arguments(tests), *tests], plugins=[first])
        os.write(writing, (first.name or (f"pytest ended with {int(ended)}" if ended else "")).encode())
        code = ENDS.get(pytest.ExitCode(ended), 5)
    except BaseException as error:
        os.write(writing, f"{type(error).__name__} at once".encode())
    finally:
        os._exit(code)
