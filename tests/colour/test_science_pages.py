"""Each science page has a worked example, which runs and gives what the page says, and says its limits."""

import doctest
import re
from pathlib import Path

import pytest

PAGES = sorted((Path(__file__).resolve().parents[2] / "docs/science").glob("*.md"))


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_the_worked_example_of_a_science_page_gives_what_it_says(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert "## Worked example" in text
    assert "## Limits" in text
    code = "\n".join(re.findall(r"```pycon\n(.*?)```", text, re.DOTALL))
    test = doctest.DocTestParser().get_doctest(code, {}, page.name, str(page), 0)
    assert test.examples
    printed: list[str] = []
    runner = doctest.DocTestRunner(verbose=False)
    runner.run(test, out=printed.append)
    assert not runner.failures, "".join(printed)
