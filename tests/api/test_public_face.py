"""The public face for Python: every example in it runs, the guide's job runs and prints what the guide says, and the engine needs no app."""

import contextlib
import doctest
import importlib
import inspect
import io
import os
import pkgutil
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from hidewright import api

ROOT = Path(__file__).resolve().parents[2]
GUIDE = ROOT / "docs/guide/python.md"
MODULES = [importlib.import_module(m.name) for m in pkgutil.iter_modules(api.__path__, "hidewright.api.")]
APP = ("django", "typst", "segno", "vl_convert", "waitress", "whitenoise", "cryptography", "python_calamine")
DAYS = "Likely "
"""The guide's lines from here on depend on the computer's speed."""


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.__name__.rpartition(".")[2])
def test_every_example_in_a_docstring_gives_what_it_says(module: object) -> None:
    finder, runner = doctest.DocTestFinder(), doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    report = io.StringIO()
    for each in finder.find(module):
        runner.run(each, out=report.write)
    assert not runner.failures, report.getvalue()


def test_every_public_name_has_an_example() -> None:
    """But those that come from below: readings, pieces, products and refusals."""
    ours = [getattr(api, name) for name in api.__all__]
    bare = [
        thing.__name__
        for thing in ours
        if (inspect.isclass(thing) or inspect.isfunction(thing))
        and thing.__module__.startswith("hidewright.api")
        and ">>> " not in (thing.__doc__ or "")
    ]
    assert not bare


def guide() -> tuple[str, list[str]]:
    """The guide's program, and the lines that it says it prints."""
    text = GUIDE.read_text(encoding="utf-8")
    program = re.search(r"```python\n(.*?)```", text, re.DOTALL)
    printed = re.search(r"It prints:\n\n```\n(.*?)```", text, re.DOTALL)
    assert program
    assert printed
    return program[1], printed[1].splitlines()


def test_the_job_of_the_guide_prints_what_the_guide_says() -> None:
    program, promised = guide()
    assert len([line for line in program.splitlines() if line.strip()]) <= 20
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(program.replace("seconds=2", "seconds=1"), str(GUIDE), "exec"), {})
    printed = out.getvalue().splitlines()
    first = next(n for n, line in enumerate(promised) if line.startswith(DAYS))
    assert printed[:first] == promised[:first]
    assert re.fullmatch(
        r"(Likely \w+ \d+ \w+ \([\w ]+\), [\w ]+ times in [\w ]+\.|If all goes as planned .*)", printed[first]
    )
    assert all(" Mar" in line for line in printed[-3:])


JOB = f"""
import os, sys
for name in {APP!r}: sys.modules[name] = None
before = dict(os.environ)
from datetime import date
from hidewright import api
pigments = api.generic_pigments("PW6", "PY42", "PBk7")
mix = api.match(api.colour("tan", (58, 6, 24)), pigments, lights=("D65",), keep=1).best
pieces = api.load_pieces(api.example("pieces.csv"))[:2]
room = api.load_room(*(api.example(f"{{n}}.csv") for n in ("tables", "people", "hours")))
days = api.plan(pieces, room, api.litres(pieces, mix), start=date(2026, 3, 2), seconds=0)
assert days._repr_html_().startswith("<p>")
assert dict(os.environ) == before
from hidewright.cli import main
sys.argv = ["hidewright", "serve"]
main()
"""


def test_the_engine_does_the_job_without_the_app_and_sets_no_environment() -> None:
    """With the app's libraries hidden; the command that needs them says in words what to install."""
    env = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    env["PYTHONPATH"] = str(ROOT / "src")
    done = subprocess.run([sys.executable, "-c", JOB], env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 2, done.stderr
    assert "hidewright[app]" in done.stderr


def test_pieces_in_zones_go_through_litres_and_days() -> None:
    head, plain = "key,name,shape,length,width,sat_on", "S1,seat,panel,900,600,yes"
    zones = "sides 45 %, not sat on, mask back and face, 12 min; back and face 55 %, mask sides"
    one = api.load_pieces(f"{head}\n{plain}\n")
    zoned = api.load_pieces(f'{head},zones\n{plain},"{zones}"\n')
    room = api.load_room(*(api.example(f"{name}.csv") for name in ("tables", "people", "hours")))
    litres = [api.litres(pieces) for pieces in (one, zoned)]
    assert litres[1].takeoff.area == litres[0].takeoff.area
    assert litres[1].takeoff.wiped_area == pytest.approx(0.55 * litres[0].takeoff.wiped_area)
    assert litres[1].colour_ml() < litres[0].colour_ml(), (
        "on the sides, which nobody sits on, no colour is wiped in"
    )
    days = api.plan(zoned, room, start=date(2026, 3, 2), seconds=0)
    plan = days.result.plan
    assert plan is not None
    coats = {p.pass_key: p for p in plan.placements if str(p.kind) == "spray clear"}
    assert coats["zone1"].dry_until <= min(p.start for p in plan.placements if p.pass_key == "zone2")
    assert days.ends > api.plan(one, room, start=date(2026, 3, 2), seconds=0).ends, "a zone costs a night"


def test_a_text_is_taken_as_well_as_a_path_and_a_missing_file_is_refused(tmp_path: Path) -> None:
    text = "key,name,shape,length,width\nA,panel,panel,600,500\n"
    path = tmp_path / "pieces.csv"
    path.write_text(text, encoding="utf-8")
    assert (
        api.load_pieces(text)
        == api.load_pieces(path)
        == api.load_pieces(str(path))
        == api.load_pieces(text.encode())
    )
    with pytest.raises(api.Refusal, match="no such file"):
        api.load_pieces("nowhere.csv")
    with pytest.raises(api.Refusals, match="line 2"):
        api.load_pieces(text.replace("600", "x"))


def test_a_result_shows_names_as_text() -> None:
    """A name out of a file is no markup in a notebook."""
    readings = api.load_readings("name,l,a,b\n<b>x</b>,50,1,2\n")
    assert "<b>x" not in readings._repr_html_()
    assert "&lt;b&gt;x" in readings._repr_html_()
