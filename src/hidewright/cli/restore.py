"""`hidewright restore`: a copy of a shop brought back."""

from pathlib import Path

import click

from hidewright.cli.files import IN
from hidewright.dates import show_moment
from hidewright.units import counted


@click.command()
@click.argument("file", type=IN)
@click.option(
    "--over",
    is_flag=True,
    help="In the place of what is here, damaged or not; that is kept. Stop the server before.",
)
def command(file: Path, over: bool) -> None:
    """Bring back FILE, which `hidewright copy` or the page Copies wrote, into an empty shop.

    It is brought back whole or not at all. Every device must be let in again: `hidewright link`.
    """
    from hidewright.workshop import server

    server.ready()
    from django.db import DatabaseError

    from hidewright.workshop.front import restore_actions
    from hidewright.workshop.shop import folder

    try:
        with folder.alone(), folder.alone_in_the_database():
            if restore_actions.database_file() is None:
                server.bring_up_to_date()
            with file.open("rb") as opened:
                about = restore_actions.restore(opened, over=over)
    except DatabaseError as error:
        raise server.unreachable(error) from error
    click.echo(
        f"All is back as it was on {show_moment(about.made.astimezone())}: {counted(about.jobs, 'job')}, "
        f"{counted(sum(about.rows.values()), 'row')}, {counted(about.pictures, 'picture')}. "
        "Let each device in with `hidewright link`."
    )
