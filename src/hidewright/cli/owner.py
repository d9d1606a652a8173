"""`hidewright owner`: somebody who may do everything, with a password."""

import sys
from typing import TextIO

import click


@click.command()
@click.argument("name")
@click.option(
    "--password-from",
    type=click.File("r"),
    help="Read the password from a file, or from - for standard input.",
)
def command(name: str, password_from: TextIO | None) -> None:
    """Make the person NAME an owner of the shop, with a password of at least ten characters.

    From then on each device works for who signed in on it: owners may do everything, the bench does the work, others look.
    """
    if password_from is not None:
        password = password_from.read().rstrip("\r\n")
    elif sys.stdin.isatty():
        password = click.prompt("Password", hide_input=True, confirmation_prompt=True)
    else:
        raise click.UsageError("There is nobody to ask for the password: say --password-from FILE.")
    from hidewright.workshop import server

    server.set_up()
    from hidewright.workshop.front.sign_in_actions import make_owner
    from hidewright.workshop.shop import folder

    with folder.reading_and_writing():
        person = make_owner(name, password)
    click.echo(f"{person.name} is an owner now. Sign in on a device: the page People, or Sign in.")
