"""Files named on the command line."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from hidewright.sheets import named as named
from hidewright.sheets import read_bytes as read_bytes
from hidewright.sheets import read_file as read_file

IN = click.Path(exists=True, dir_okay=False, path_type=Path)
OUT = click.Path(dir_okay=False, path_type=Path)


def deliver(
    told: dict[str, Any],
    show: Callable[[], None],
    *,
    as_json: bool,
    out: Path | None,
    text: Callable[[], str],
    takers: str,
) -> None:
    """Write `text` to `out` where one is named, and tell what was found: as JSON, or as `show` prints it; `takers` are the commands that take the file."""
    if out is not None:
        out.write_text(text(), encoding="utf-8")
        told["written"] = out.name
    if as_json:
        click.echo(json.dumps(told, indent=1, ensure_ascii=False))
        return
    show()
    if out is not None:
        click.echo(f"Written to {out.name}: {takers}.")
