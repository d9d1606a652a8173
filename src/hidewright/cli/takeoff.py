"""`hidewright takeoff`: litres with odds from a list of pieces."""

import json
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from pathlib import Path
from typing import Any

import click

from hidewright.defaults import BASE_SHARE
from hidewright.lists.draft import Draft
from hidewright.money import show_money
from hidewright.refusals import Refusal
from hidewright.survey import Piece
from hidewright.survey.csv_in import read_pieces
from hidewright.survey.pieces_in import PIECES
from hidewright.takeoff.advice import advise
from hidewright.takeoff.answer import answer
from hidewright.takeoff.coats import Assumptions
from hidewright.takeoff.enough import Standing, model_of, standing
from hidewright.takeoff.howmuch import Takeoff, take_off
from hidewright.takeoff.products import Product
from hidewright.takeoff.products_csv import read_products
from hidewright.takeoff.products_in import PRODUCTS
from hidewright.takeoff.shopping import Line, shopping_list
from hidewright.units import Units, counted, read_number, read_volume, show_area, show_volume

from .files import read_file, read_list

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command()
@click.argument("pieces", type=_FILE)
@click.argument("products", type=_FILE, required=False)
@click.option("--job", type=_FILE, help="A TOML file; the figures under [takeoff] are used.")
@click.option("--unit", default="mm", show_default=True, help="What a bare number in the pieces file is in.")
@click.option("--coats", type=int, help="Sprayed colour coats, as the recipe needs to hide the old colour.")
@click.option("--clear-coats", type=int, help="Coats of clear.")
@click.option(
    "--set", "changes", multiple=True, metavar="NAME=VALUE", help="Change an assumption; may be given again."
)
@click.option("--stock", multiple=True, metavar="KEY=VOLUME", help="What is on hand, such as base=2 L.")
@click.option(
    "--base-share", default=BASE_SHARE, show_default=True, help="Share of clear base in the mixed colour."
)
@click.option(
    "--odds", default=0.9, show_default=True, help="The odds of having enough that the shopping list is for."
)
@click.option(
    "--units",
    type=click.Choice([u.value for u in Units]),
    default="metric",
    show_default=True,
    help="How to show quantities.",
)
@click.option("--in-hand", default="", metavar="VOLUME", help="Mixed colour that is there already.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON (m², mL) instead of tables.")
def command(
    pieces: Path, products: Path | None, job: Path | None, unit: str, coats: int | None, clear_coats: int | None,
    changes: tuple[str, ...], stock: tuple[str, ...], base_share: float, odds: float, units: str, in_hand: str, as_json: bool,
) -> None:  # fmt: skip
    """Work out what the PIECES take and, with PRODUCTS, what must be bought.

    Ends with 1 when something is needed that the products file does not list.
    """
    listed = read_list(pieces, PIECES, lambda text: read_pieces(text, unit), lambda draft: draft.values)
    shelf = read_list(products, PRODUCTS, read_products, _by_key) if products else {}
    direct = {"colour_coats": coats, "clear_coats": clear_coats}
    assumed = _assumptions(job, changes, {k: v for k, v in direct.items() if v is not None})
    forecast = take_off(listed, assumed)
    lines = shopping_list(forecast, shelf, _stock(stock, shelf), base_share=base_share, odds=odds)
    held = read_volume(in_hand, "ml") if in_hand else 0.0
    stand = standing(model_of(listed, assumed), {p.key: p.area for p in listed}, held)
    if as_json:
        click.echo(json.dumps(answer(listed, forecast, lines, odds, stand), indent=2, ensure_ascii=False))
    else:
        _tables(listed, forecast, lines if products else (), odds, Units(units), stand)
    lacking = [line.what for line in lines if line.product is None] if products else []
    if lacking:
        click.echo(f"Not among the products: {', '.join(lacking)}. Add a row for each.", err=True)
        sys.exit(1)


def _pairs(given: Iterable[str], what: str) -> Iterable[tuple[str, str]]:
    for pair in given:
        name, found, value = pair.partition("=")
        if not found:
            raise Refusal(f"“{pair}” has no = in it.", where=what, remedy="Write it like name=value.")
        yield name.strip(), value.strip()


def _figures(text: str) -> dict[str, Any]:
    """What stands under [takeoff] in a TOML text."""
    import tomllib

    try:
        told = tomllib.loads(text).get("takeoff", {})
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise Refusal(f"The file cannot be read: {error}.", remedy="Write it as TOML.") from error
    if not isinstance(told, dict):
        raise Refusal("takeoff is no table of figures.", remedy="Write them under [takeoff].")
    return told


def _by_key(draft: Draft) -> Mapping[str, Product]:
    return {product.key: product for product in draft.values}


def _assumptions(job: Path | None, changes: Sequence[str], direct: Mapping[str, int]) -> Assumptions:
    figures: dict[str, Any] = {}
    if job:
        figures |= read_file(job, _figures)
    figures |= dict(_pairs(changes, "--set"))
    known = {f.name: f.type for f in fields(Assumptions)}
    for name, value in figures.items():
        if name not in known:
            raise Refusal(
                f"{name} is no assumption.", where="assumptions", remedy=f"Known are {', '.join(known)}."
            )
        figures[name] = _figure(name, value, getattr(Assumptions(), name))
    return Assumptions(**{**figures, **direct})


def _figure(name: str, value: Any, like: object) -> Any:
    if isinstance(like, bool):
        return value if isinstance(value, bool) else str(value).lower() in ("yes", "true", "1")
    number = float(value) if isinstance(value, int | float) else read_number(str(value))
    if isinstance(like, int):
        if number != int(number):
            raise Refusal(f"{value} is not a whole number.", where=name)
        return int(number)
    return number


def _stock(given: Sequence[str], shelf: Mapping[str, Product]) -> dict[str, float]:
    held = {}
    for key, text in _pairs(given, "--stock"):
        if key not in shelf:
            raise Refusal(
                f"No product is marked {key}.",
                where="--stock",
                remedy=f"Known are {', '.join(shelf) or 'none: give a products file'}.",
            )
        held[key] = read_volume(text, "ml")
    return held


def _tables(
    pieces: Sequence[Piece],
    forecast: Takeoff,
    lines: Sequence[Line],
    odds: float,
    units: Units,
    stand: Standing,
) -> None:
    from rich.console import Console
    from rich.table import Table

    def volume(millilitres: float) -> str:
        return show_volume(millilitres, units)

    console = Console(highlight=False)
    assumed = forecast.assumed
    console.print(
        f"{counted(len(pieces), 'piece')}, {show_area(forecast.area, units)} coated, "
        f"{show_area(forecast.stripped_area, units)} stripped, {show_area(forecast.wiped_area, units)} wiped in; "
        f"{assumed.colour_coats} colour and {counted(assumed.clear_coats, 'clear coat')}, {counted(forecast.sessions, 'session')}."
    )
    needs = Table(title="What it takes")
    for name in ("", "half the time", "9 in 10", "lands", "lost", "in gun and cup", "kept back"):
        needs.add_column(name, justify="right" if name else "left")
    for need in forecast.needs:
        parts = (need.p50, need.p90, need.lands, need.lost, need.left, need.kept)
        needs.add_row(need.name, *(volume(part) if part else "–" for part in parts))
    console.print(needs)
    if forecast.colour.p50:
        console.print(advise(stand, volume).words)
    if lines:
        _shopping(console, lines, odds, volume)
    console.print(
        f"Worked out with {assumed.transfer:.0%} of the spray landing, {assumed.colour_um:g} µm dry a colour coat, "
        f"{assumed.solids_colour:.0%} solids. These are usual figures: your products' data sheets rule."
    )


def _shopping(console: Any, lines: Sequence[Line], odds: float, volume: Any) -> None:
    from rich.table import Table

    table = Table(title=f"Shopping list for {odds:.0%} odds of having enough")
    for name in ("For", "Product", "need", "on hand", "buy", "price"):
        table.add_column(name, justify="left" if name in ("For", "Product") else "right")
    for line in lines:
        if line.product is None:
            table.add_row(line.what, "none listed", volume(line.need), "–", "–", "–")
            continue
        buy = f"{line.packs} × {volume(line.product.pack)}" if line.packs else "none"
        table.add_row(
            line.what, line.product.name, volume(line.need), volume(line.stock), buy, show_money(line.price)
        )
    table.add_row("Together", "", "", "", "", show_money(sum(line.price for line in lines)))
    console.print(table)
