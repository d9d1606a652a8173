"""`hidewright demo`: the whole job on the demonstration files, then the app."""

import os
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.console import Console
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.table import Table

from hidewright.machine import Lock
from hidewright.refusals import Refusal

if TYPE_CHECKING:
    from hidewright.workshop.demonstration import Summary

Watch = Callable[[float, str], None]

LOCKS = {"server.lock", "data.lock", "worker.lock"}
SECONDS_FOR_THE_SMALLER = 3.0
"""Thinking about the days of the second job's six pieces."""
OURS = {"secret", "static", "papers", "pictures", "copies", *LOCKS}


def demo_home() -> Path:
    """The demonstration's own folder: HIDEWRIGHT_HOME if it is set, else `build/demo` in a checkout, else one in the person's home."""
    named = os.environ.get("HIDEWRIGHT_HOME")
    if named:
        return Path(named)
    here = Path.cwd()
    return here / "build" / "demo" if (here / "pyproject.toml").exists() else Path.home() / ".hidewright-demo"


def empty(home: Path) -> None:
    """Empty the demonstration's folder; refuses one that holds anything else."""
    if home.exists():
        strange = [
            p.name
            for p in home.iterdir()
            if p.name not in OURS and not p.name.startswith("hidewright.sqlite3")
        ]
        if strange:
            raise Refusal(
                f"{home} holds things that are not the demonstration's: {', '.join(sorted(strange)[:3])}.",
                where="HIDEWRIGHT_HOME",
                remedy="Name an empty folder for the demonstration.",
            )
        if holds_a_shop(home / "hidewright.sqlite3"):
            raise Refusal(
                f"{home} holds a shop's own jobs, and the demonstration begins by emptying its folder.",
                where="HIDEWRIGHT_HOME",
                remedy="Name an empty folder for the demonstration.",
            )
        _empty(home)
    home.mkdir(parents=True, exist_ok=True)


def _empty(home: Path) -> None:
    """Take away all but the locks, unless somebody works in the folder."""
    lock = Lock.take(home / "server.lock", alone=True)
    if lock is None:
        raise Refusal("A server works in this folder.", where=str(home), remedy="Stop it first.")
    with lock:
        for path in home.iterdir():
            if path.is_dir():
                shutil.rmtree(path)
            elif path.name not in LOCKS:
                path.unlink()


def holds_a_shop(database: Path) -> bool:
    """Whether a database, of this version or a trial one, holds a job that is not the demonstration's, or is none at all."""
    if not database.exists():
        return False
    with closing(sqlite3.connect(f"{database.resolve().as_uri()}?mode=ro", uri=True)) as opened:
        try:
            begun = opened.execute("SELECT 1 FROM sqlite_master WHERE name = 'workshop_job'").fetchone()
            return bool(
                begun and opened.execute("SELECT 1 FROM workshop_job WHERE NOT is_demo LIMIT 1").fetchone()
            )
        except sqlite3.Error:
            return True


@contextmanager
def stage(progress: Progress, words: str) -> Iterator[Watch]:
    """A line with a bar that fills as the stage goes on."""
    line = progress.add_task(words, total=1.0, told="")
    yield lambda fraction, told: progress.update(line, completed=fraction, told=told[:60])
    progress.update(line, completed=1.0, told="")


@click.command()
@click.option("--no-serve", is_flag=True, help="Stop after the summary.")
@click.option(
    "--port", default=8437, show_default=True, type=click.IntRange(1, 65535), help="The port to serve on."
)
@click.option(
    "--seconds",
    default=15.0,
    show_default=True,
    type=click.FloatRange(1, 600),
    help="How long to think about the days.",
)
def command(no_serve: bool, port: int, seconds: float) -> None:
    """Do the whole job on the demonstration files, print the result, and serve the app.

    The demonstration has a folder of its own, which is emptied first; the shop's own data is never touched.
    """
    console = Console()
    home = demo_home()
    if not no_serve:
        from hidewright.workshop.server import check_port

        check_port("127.0.0.1", port)
    empty(home)
    os.environ["HIDEWRIGHT_HOME"] = str(home)
    began = time.monotonic()
    summary = _work(console, home, seconds, f"http://localhost:{port}")
    _print(console, summary, time.monotonic() - began)
    if no_serve:
        return
    from hidewright.workshop import server

    server.serve(
        port=port,
        network=False,
        say=lambda text: console.print(text, markup=False, highlight=False, soft_wrap=True),
    )


def _work(console: Console, home: Path, seconds: float, address: str) -> "Summary":
    columns = (
        SpinnerColumn(),
        TextColumn("{task.description}"),
        BarColumn(),
        TimeElapsedColumn(),
        TextColumn("{task.fields[told]}"),
    )
    with Progress(*columns, console=console) as progress:
        with stage(progress, "Setting up"):
            from hidewright.workshop import server

            server.set_up()
            from hidewright.workshop import demonstration as work
        today = date.today()
        with stage(progress, "Survey: pieces, room, products, readings"):
            smaller = work.open_the_smaller_job(today)
            job = work.open_the_job(today)
            trim = work.give_the_trim_its_colour(job)
        with stage(progress, "Pigments from drawdowns") as watch:
            work.find_pigments(watch)
        with stage(progress, "Recipes for the targets") as watch:
            work.find_recipe(job, watch)
            work.find_recipe(job, watch, trim)
            work.find_recipe(smaller, watch)
        with stage(progress, "The first cup"):
            work.mix_first_cup(job)
        with stage(progress, "Cards, papers and what turned up"):
            work.note_the_rest(job)
        with stage(progress, "Days and tables") as watch:
            work.plan_days(job, watch, seconds)
        with stage(progress, "A second, smaller job beside it") as watch:
            work.plan_days(smaller, watch, min(seconds, SECONDS_FOR_THE_SMALLER))
        with stage(progress, "Papers"):
            papers = work.make_papers(job, home / "papers", today, address)
    return work.summarise(job, papers, smaller)


def _print(console: Console, summary: "Summary", seconds: float) -> None:
    table = Table.grid(padding=(0, 2))
    table.add_column(style="bold", no_wrap=True)
    table.add_column(overflow="fold")
    for name, words in summary.lines:
        table.add_row(name, words)
    console.rule(f"[bold]{summary.title}[/bold]")
    console.print(table)
    console.print(
        f"The work took {seconds:.0f} s. Everything here is invented; local codes, data sheets and authorised people decide.",
        style="dim",
    )
    console.rule()
