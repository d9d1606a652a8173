"""`hidewright copy`: everything the shop has told, in one file."""

from pathlib import Path

import click

from hidewright.cli.files import OUT
from hidewright.refusals import Refusal
from hidewright.units import counted


@click.command()
@click.argument("file", type=OUT)
@click.option("--over", is_flag=True, help="Write over a file that is there.")
def command(file: Path, over: bool) -> None:
    """Write a copy of everything the shop has told to FILE, while the server runs or not.

    Jobs, colours, cups, days and pictures are in it; what lets a device in is not. Whoever holds the file can read all of it.
    """
    from hidewright.workshop import server

    if file.exists() and not over:
        raise Refusal(
            "There is a file of that name.", where=str(file), remedy="Choose another, or say --over."
        )
    server.set_up()
    from hidewright.workshop.front.copy_actions import take_copy

    about = take_copy(file)
    click.echo(
        f"Copied {counted(about.jobs, 'job')}, {counted(sum(about.rows.values()), 'row')} and {counted(about.pictures, 'picture')} "
        f"to {file.name} ({file.stat().st_size / 1e6:.1f} MB)."
    )
