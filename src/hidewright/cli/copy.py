"""`hidewright copy`: everything the shop has told, in one file."""

import zipfile
from pathlib import Path

import click

from hidewright.cli.files import OUT
from hidewright.refusals import Refusal
from hidewright.units import counted

WHAT = b"a copy of everything in a Hidewright shop"
"""What a copy says of itself in its first lines."""


@click.command()
@click.argument("file", type=OUT)
@click.option("--over", is_flag=True, help="Write over a file that is there.")
def command(file: Path, over: bool) -> None:
    """Write a copy of everything the shop has entered to FILE, while the server runs or not.

    Jobs, colours, cups, days and pictures are in it; what lets a device in is not. Whoever holds the file can read all of it.
    """
    from hidewright.workshop import server

    if file.exists():
        if not over:
            raise Refusal(
                "There is a file of that name.", where=str(file), remedy="Choose another, or say --over."
            )
        refuse_what_is_no_copy(file)
    server.set_up()
    from hidewright.workshop.front.copy_actions import take_copy
    from hidewright.workshop.shop import folder

    with folder.reading_and_writing():
        about = take_copy(file)
    click.echo(
        f"Copied {counted(about.jobs, 'job')}, {counted(sum(about.rows.values()), 'row')} and {counted(about.pictures, 'picture')} "
        f"to {file.name} ({file.stat().st_size / 1e6:.1f} MB)."
    )


def refuse_what_is_no_copy(file: Path) -> None:
    """With --over only a copy of a shop is written over, never somebody's other file."""
    try:
        with zipfile.ZipFile(file) as packed:
            ours = "about.json" in packed.namelist() and WHAT in packed.read("about.json")[:4096]
    except (zipfile.BadZipFile, OSError, RuntimeError, NotImplementedError):
        ours = False
    if not ours:
        raise Refusal(
            "The file of that name is no copy of a shop, so it is not written over.",
            where=str(file),
            remedy="Choose another name, or move that file aside.",
        )
