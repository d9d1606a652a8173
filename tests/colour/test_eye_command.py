"""`hidewright eye`: looks of an eye as a file, the next pour or look as an answer."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from hidewright.cli.eye import aimed, command, job_from, read_looks
from hidewright.colour.cups.things import CupAt, Difference, SwatchAt
from hidewright.refusals import Refusal

KNOWN = ("PW6", "PBk7", "PY42", "PR101", "PBr7")
HEAD = "cup,pours,against,state,said,dl,da,db\n"
RED = "mine,PW6=60 PY42=8 PR101=12 base=400,,dry,"


def asked(folder: Path, rows: str, *options: str) -> tuple[int, dict[str, object]]:
    """Exit code and answer for rows of looks."""
    path = folder / "looks.csv"
    path.write_text(HEAD + rows, encoding="utf-8")
    done = CliRunner().invoke(
        command, [str(path), "--target", "60 16 18", "--json", *options], catch_exceptions=False
    )
    return done.exit_code, json.loads(done.stdout)


def test_a_cup_that_looks_too_red_gets_no_red_and_moves_what_is_believed(tmp_path: Path) -> None:
    _, same = asked(tmp_path, RED + "the same,,,\n")
    code, red = asked(tmp_path, RED + '"much redder, a touch darker",,,\n')
    assert code == 1, "it is not done"
    assert red["cup_lab"][1] - red["target_lab"][1] > same["cup_lab"][1] - same["target_lab"][1] + 1  # type: ignore[index]
    assert red["act"] == "pour"
    ways = red["ways"]
    assert isinstance(ways, list)
    assert "PR101" not in ways[0]["add_g"]
    assert min(ways[0]["add_g"].values()) > 0
    _, barred = asked(tmp_path, RED + "much redder,,,\n", "--without", "PW6")
    assert all("PW6" not in way["add_g"] for way in barred["ways"])  # type: ignore[attr-defined]


def test_rows_become_two_sided_looks() -> None:
    text = HEAD + "\n".join(
        [
            RED + "much redder,,,",
            "mine,PW6=60 PY42=8 PR101=12 base=400 PW6=5,other,wet,,,,",
            'other,PW6=30 base=100 PBk7=1,old stick,,,-2.5,"0,5",1',
        ]
    )
    job = job_from(read_looks(text, KNOWN), aimed("tan"))
    first, second, third = job.comparisons
    assert (first.a, first.b) == (CupAt("mine", 4), SwatchAt())
    assert (second.a, second.b, second.wet) == (CupAt("mine", 5), CupAt("other", 3), True), (
        "as in its first row"
    )
    assert third.b == SwatchAt("old stick")
    assert isinstance(third.seen, Difference)
    assert third.seen.delta.tolist() == [-2.5, 0.5, 1.0]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (RED + "very red,,,\n", "line 2, column said: “very red” is not known"),
        (RED.replace(",dry,", ",damp,") + "lighter,,,\n", "neither wet nor dry"),
        (RED + ",nan,0,0\n", "no difference"),
        (RED + "lighter,,,\nmine,PW6=61 base=400,,dry,,,,\n", "does not hold what it held"),
        ("", "holds no row"),
        (RED.replace("PW6=60", "PW6=-1") + "lighter,,,\n", "cannot be read"),
        (RED + '"redder, greener",,,\n', "the same thing"),
    ],
)
def test_what_cannot_be_is_refused_by_line(rows: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        job_from(read_looks(HEAD + rows, KNOWN), aimed("tan"))
    assert words in str(refused.value)


def test_a_target_is_a_word_or_three_numbers() -> None:
    assert aimed("tan").covariance[0, 0] > aimed("60 16 18").covariance[0, 0], "a word is the wider guess"
    for wrong in ("sunshine", "60 16", "60 16 nan"):
        with pytest.raises(Refusal):
            aimed(wrong)
