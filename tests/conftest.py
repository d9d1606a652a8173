"""What all tests share: property tests that measure no time, and a database that Playwright's loop does not upset."""

import os

import pytest
from hypothesis import Phase, settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command and the app do (machine.one_thread)
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

settings.register_profile("same", deadline=None, print_blob=True, derandomize=True)
"""The same tree gives the same verdict: what lands is not left to a draw (docs/decisions/0010)."""

settings.register_profile("hunt", deadline=None, print_blob=True)
"""`make hunt`: other examples at every run."""

settings.register_profile("mutants", settings.get_profile("same"), phases=[Phase.explicit, Phase.generate])
"""With a fault put in: a counter-example is enough, and need not be made small."""

HUNT = os.environ.get("HIDEWRIGHT_HUNT", "")
settings.load_profile("mutants" if HUNT == "mutants" else "hunt" if HUNT else "same")


@pytest.fixture
def few_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Read the odds of a day off three runs: for tests of what becomes of a plan. The odds themselves are judged in tests/planning, where the runs are not cut."""
    for module in ("solve.odds", "solve.days", "change.following"):
        monkeypatch.setattr(f"hidewright.planning.{module}.FEWEST", 3)
