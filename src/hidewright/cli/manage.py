"""`hidewright manage`: Django's own commands on the shop's database."""

import click


@click.command(context_settings={"ignore_unknown_options": True, "help_option_names": []})
@click.argument("words", nargs=-1, type=click.UNPROCESSED)
def command(words: tuple[str, ...]) -> None:
    """Run one of the database's own commands, such as `migrate`."""
    from django.core.management import execute_from_command_line

    execute_from_command_line(["hidewright manage", *words])
