"""`hidewright match`: what to put in the cup for a target colour, on files, without the app."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from hidewright.money import show_money
from hidewright.refusals import Refusal

from .files import IN, read_file, read_readings
from .shelf import shelf_of

if TYPE_CHECKING:
    from hidewright.colour.light.cie import LightLike
    from hidewright.colour.pigments.pigment import Pigment
    from hidewright.colour.reading.readings import Reading
    from hidewright.colour.recipes.leftovers import Leftover
    from hidewright.colour.recipes.match import MatchProblem, MatchResult

MISSED = 1.0
"""ΔE00 above which the best recipe is not what was hoped for (exit code 1)."""


def load_window(text: str) -> tuple[float, float]:
    """Shares from "16-20" per cent."""
    low, mark, high = text.replace("%", "").partition("-")
    try:
        return float(low) / 100, float(high if mark else low) / 100
    except ValueError as error:
        raise Refusal(
            f"“{text}” is no window of pigment.", where="--load", remedy="Write it like 16-20."
        ) from error


def _lights(names: tuple[str, ...], lamps: tuple[Path, ...]) -> "tuple[LightLike, ...]":
    """The lights asked for, and lamps named after their files; D65, A and FL11 where nothing was asked for. One that is not known is refused."""
    from hidewright.colour.light.cie import light_from_spectrum, weights
    from hidewright.colour.light.lamps import read_lamp

    brought = tuple(light_from_spectrum(path.stem, *read_file(path, read_lamp)) for path in lamps)
    lights: tuple[LightLike, ...] = (*(names or ("D65", "A", "FL11")), *brought)
    for light in lights:
        weights(light)
    return lights


def _weights(given: tuple[str, ...]) -> dict[str, float] | None:
    found = {}
    for text in given:
        light, _, weight = text.rpartition("=")
        try:
            found[light] = float(weight)
        except ValueError:
            raise Refusal(
                f"“{text}” is no weight.", where="--weight", remedy="Write it like A=0.5."
            ) from None
    return found or None


def _jars(path: Path | None, pigments: "tuple[Pigment, ...]") -> "tuple[Leftover, ...]":
    from hidewright.colour.pigments.pigment import Base
    from hidewright.colour.recipes.leftovers import read_jars

    known = {p.key: p for p in pigments}
    return read_file(path, lambda text: read_jars(text, known, Base())) if path else ()


def _result(
    problem: "MatchProblem", result: "MatchResult", target: "Reading", balance: float
) -> dict[str, Any]:
    from hidewright.colour.light.cie import hex_from_reflectance, lab
    from hidewright.colour.pigments.film import opaque, seen
    from hidewright.papers.from_recipe import recipe_to_data

    main = problem.lights[0]
    hexes = {p.key: hex_from_reflectance(seen(opaque(p.k, p.s), problem.surface)) for p in problem.pigments}
    return {
        "target": {
            "name": target.name,
            "lab": [round(float(v), 3) for v in lab(target.reflectance, main)],
            "hex": hex_from_reflectance(target.reflectance),
        },
        "lights": [str(light) for light in problem.lights],
        "guessed": list(result.guessed),
        "load": list(problem.load),
        "tried": result.tried,
        "stopped": result.stopped,
        "reachable": result.reachable,
        "outside": result.outside,
        "illustrative": any(p.illustrative for p in problem.pigments),
        "batch_ml": problem.batch_ml,
        "balance_g": balance,
        "coats": problem.coats,
        "left_out_for_lack": result.short,
        "recipes": [recipe_to_data(recipe, hexes) for recipe in result.recipes],
    }


def _light_head(light: str, guessed: tuple[str, ...]) -> str:
    return f"ΔE00 {light}, a guess" if light in guessed else f"ΔE00 {light}"


def guess_words(guessed: tuple[str, ...]) -> str:
    """What stands under figures that are guesses, for the lights of these names."""
    return (
        f"Under {' and '.join(guessed)} ΔE00 is a guess: only a colour under another light is known, and the smoothest spectrum of that colour is taken instead. "
        "Read it with an instrument before you promise anything there."
    )


def _show(
    problem: "MatchProblem", result: "MatchResult", target: "Reading", balance: float, console: Any
) -> None:
    from rich.table import Table

    from hidewright.api.recipes import Mixes

    table = Table(title=f"For one litre of mix: {target.name}", title_justify="left")
    for head in (
        "",
        "Recipe",
        *(_light_head(str(v), result.guessed) for v in problem.lights),
        "Coats",
        "A drop",
        "Cost",
    ):
        table.add_column(head, justify="left" if head == "Recipe" else "right")
    for rank, mix in enumerate(Mixes(result, problem.setting, balance_g=balance), start=1):
        recipe = mix.recipe
        hides = str(recipe.coats) if recipe.coats else ("" if problem.old is None else "> 12")
        off = (f"{recipe.delta_e[str(v)]:.2f}" for v in problem.lights)
        table.add_row(str(rank), mix.pours, *off, hides, f"{recipe.drop:.2f}", show_money(recipe.cost))
    console.print(table)
    console.print(
        f"{result.tried} sets of pigments tried. A drop: ΔE00 of one drop too many in 150 mL.",
        highlight=False,
    )
    if result.guessed:
        console.print(guess_words(result.guessed), highlight=False)
    if any(p.illustrative for p in problem.pigments):
        console.print(
            "The pigments are generic and partly invented: bring your own drawdowns.", highlight=False
        )


@click.command()
@click.argument("readings", type=IN)
@click.option("--drawdowns", type=IN, help="CSV of drawdowns; the shipped generic set when left out.")
@click.option(
    "--shelf", type=IN, help="CSV of the dispersions: key, name, index, density, solids, price_per_litre."
)
@click.option(
    "--pigments", "library", type=IN, help="What characterise or learn wrote, instead of drawdowns."
)
@click.option("--target", default="", help="Name of the target reading; the one marked target, or the first.")
@click.option("--old", default="", help="Name of the old colour's reading; the one marked old colour.")
@click.option("--light", "lights", multiple=True, help="Lights, the main one first; D65, A and FL11.")
@click.option("--worst", is_flag=True, help="Judge by the worst light instead of the first.")
@click.option("--load", default="16-20", show_default=True, help="Pigment in the mix, percent by volume.")
@click.option(
    "--most", default=4, show_default=True, type=click.IntRange(1, 5), help="Most pigments in a recipe."
)
@click.option("--must", multiple=True, help="A pigment that must be used.")
@click.option("--without", multiple=True, help="A pigment that must not be used.")
@click.option("--coat", default=7.5, show_default=True, help="Dry µm of one coat.")
@click.option(
    "--keep", default=12, show_default=True, type=click.IntRange(1, 100), help="How many recipes to polish."
)
@click.option(
    "--batch", default=1000.0, show_default=True, help="mL that will be mixed: bounds what may be used."
)
@click.option("--balance", default=0.1, show_default=True, help="Last digit of the balance, g.")
@click.option("--coats", type=click.IntRange(1, 12), help="Match so many coats over the old colour.")
@click.option(
    "--weight",
    "weighed",
    multiple=True,
    help="How much a light counts, like A=0.5; instead of the first light.",
)
@click.option(
    "--lamp",
    "lamps",
    multiple=True,
    type=IN,
    help="CSV of a lamp (wavelength, power): a light named after its file.",
)
@click.option("--jars", type=IN, help="CSV of leftover jars: name, millilitres, holds (like PW6=12 base=60).")
@click.option("--use-up", multiple=True, help="A jar to use up, by its name.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
def command(
    readings: Path,
    drawdowns: Path | None,
    shelf: Path | None,
    library: Path | None,
    target: str,
    old: str,
    lights: tuple[str, ...],
    worst: bool,
    load: str,
    most: int,
    must: tuple[str, ...],
    without: tuple[str, ...],
    coat: float,
    keep: int,
    batch: float,
    balance: float,
    coats: int | None,
    weighed: tuple[str, ...],
    lamps: tuple[Path, ...],
    jars: Path | None,
    use_up: tuple[str, ...],
    as_json: bool,
) -> None:
    """Find recipes for the target among READINGS, a file that an instrument wrote. Ctrl-C keeps the best so far.

    Ends with code 1 when the best recipe is more than ΔE00 1 away.
    """
    from rich.console import Console

    from hidewright.api.readings import chosen_reading
    from hidewright.colour.reading.shine import read_alike
    from hidewright.colour.recipes.match import MatchProblem, match, step_per_litre

    taken = read_readings(readings)
    wanted = chosen_reading(taken, target, "target")
    ground = chosen_reading(taken, old, "old colour")
    assert wanted is not None
    judged, window, importance = _lights(lights, lamps), load_window(load), _weights(weighed)
    with Watch() as watch:
        there = shelf_of(drawdowns, shelf, watch.part(0.0, 0.4), library)
        pigments, left = there.pigments, there.left_ml
        opened = _jars(jars, pigments)
        wanted, said = read_alike(wanted, there.surface)
        ground, of_old = read_alike(ground, there.surface) if ground else (None, ())
        problem = MatchProblem(
            wanted.reflectance,
            (*pigments, *(one.pigment for one in opened)),
            old=ground.reflectance if ground else None,
            surface=there.surface,
            lights=judged,
            worst=worst,
            load=window,
            most=most,
            must_use=frozenset(must),
            must_not_use=frozenset(without),
            coat_um=coat,
            keep=keep,
            importance=importance,
            coats=coats,
            shelf_ml=dict(left) | {one.pigment.key: one.millilitres for one in opened},
            batch_ml=batch,
            step_g=step_per_litre(balance, batch),
            use_up=frozenset(use_up),
            guessed=wanted.guessed(judged),
        )
        result = match(problem, on_progress=watch.part(0.4, 1.0), should_stop=lambda: watch.asked)
    if as_json:
        click.echo(json.dumps(_result(problem, result, wanted, balance), indent=1, ensure_ascii=False))
    else:
        _show(problem, result, wanted, balance, Console())
    for words in (*said, *of_old):
        click.echo(words, err=True)
    if result.stopped:
        click.echo("Stopped: this is the best so far.", err=True)
    if not result.reachable:
        click.echo(f"{result.outside} Bring other pigments, or accept the nearest.", err=True)
        raise click.exceptions.Exit(1)


class Watch:
    """A progress bar on standard error, and Ctrl-C turned into a wish to stop (a second one ends at once)."""

    def __init__(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

        columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
        self.bar = Progress(*columns, console=Console(stderr=True), transient=True)
        self.asked = False

    def __enter__(self) -> "Watch":
        import signal

        self.before = signal.signal(signal.SIGINT, self._stop)
        self.bar.start()
        self.task = self.bar.add_task("Starting", total=1.0)
        return self

    def __exit__(self, *_: object) -> None:
        import signal

        self.bar.stop()
        signal.signal(signal.SIGINT, self.before)

    def _stop(self, *_: object) -> None:
        if self.asked:
            raise KeyboardInterrupt
        self.asked = True

    def part(self, start: float, end: float) -> Callable[[float, str], None]:
        """A progress callback for one part of the work, from `start` to `end` of the whole bar."""
        return lambda fraction, text: self.bar.update(
            self.task, completed=start + (end - start) * fraction, description=text
        )
