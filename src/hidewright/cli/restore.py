"""`hidewright restore`: a copy of a shop brought back."""

from pathlib import Path

import click

from hidewright.cli.files import IN
from hidewright.units import counted


@click.command()
@click.argument("file", type=IN)
@click.option(
    "--over",
    is_flag=True,
    help="In the place of what is here; a copy of that is kept first. Stop the server before.",
)
def command(file: Path, over: bool) -> None:
    """Bring back FILE, which `hidewright copy` or the page Copies wrote, into an empty shop.

    It is brought back whole or not at all. Every device must be let in anew: `hidewright link`.
    """
    from hidewright.workshop import server

    server.set_up()
    from hidewright.workshop.front.copy_actions import bring_back

    with file.open("rb") as opened:
        about, _ = bring_back(opened, over=over)
    click.echo(
        f"All is back as it stood on {about.made.astimezone():%a %d %b %Y, %H:%M}: {counted(about.jobs, 'job')}, "
        f"{counted(sum(about.rows.values()), 'row')}, {counted(about.pictures, 'picture')}. "
        "Let each device in with `hidewright link`."
    )
