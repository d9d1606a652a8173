"""`hidewright serve`: the app on this computer or on the shop's network."""

import click


@click.command()
@click.option(
    "--port", default=8437, show_default=True, type=click.IntRange(1, 65535), help="The port to listen on."
)
@click.option("--network", is_flag=True, help="Answer to other devices on the shop's network too.")
def command(port: int, network: bool) -> None:
    """Serve the app until it is stopped with Ctrl-C."""
    from hidewright.workshop import server

    server.serve(port=port, network=network, say=click.echo)
