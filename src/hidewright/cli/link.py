"""`hidewright link`: a one-time link for one device."""

import click


@click.command()
def command() -> None:
    """Print a new one-time link that lets one device in."""
    from hidewright.workshop import server

    server.set_up()
    click.echo(server.new_link_address())
