"""`hidewright doctor`: is the shop's data sound?"""

import json

import click


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Write JSON.")
def command(as_json: bool) -> None:
    """Look whether the database, the book of the bench, pictures, copies and the disk are sound; changes nothing.

    It ends with 0 when all is well, and with 1 when something is not: each trouble has its name and what to do.
    """
    from hidewright.workshop import server

    server.ready()
    from django.db import DatabaseError

    from hidewright.workshop.front import health_queries, restore_actions

    try:
        found = health_queries.troubles(restore_actions.database_file())
    except DatabaseError as error:
        raise server.unreachable(error) from error
    if as_json:
        rows = [{"name": one.name, "what": one.words, "remedy": one.remedy} for one in found]
        click.echo(json.dumps({"sound": not found, "troubles": rows}, indent=1, ensure_ascii=False))
    else:
        for one in found:
            click.echo(str(one))
        click.echo("All is sound." if not found else f"{len(found)} to look after.")
    click.get_current_context().exit(1 if found else 0)
