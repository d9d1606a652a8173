"""`hidewright simulate`: seeded, so the same twice; learning beats forgetting."""

import json

from click.testing import CliRunner

from hidewright.cli.simulate import command


def told(*more: str) -> dict[str, object]:
    done = CliRunner().invoke(command, ["--json", "--seed", "3", *more], catch_exceptions=False)
    assert done.exit_code == 0
    return json.loads(done.stdout)


def test_the_same_seed_gives_the_same_shop() -> None:
    one, two = told("--jobs", "2"), told("--jobs", "2")
    assert one["first_cup"] == two["first_cup"]
    assert one["readings"] >= 2  # type: ignore[operator]


def test_words_for_a_person() -> None:
    done = CliRunner().invoke(command, ["--jobs", "1", "--scenario", "rough"], catch_exceptions=False)
    assert "First cup, true ΔE00" in done.stdout
