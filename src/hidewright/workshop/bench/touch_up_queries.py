"""The touch-up sheet out of the book: the colour as it was really poured, not as it was meant."""

from collections.abc import Iterable
from datetime import date
from math import ceil

from django.db.models import Sum

from hidewright.charts.swatches import Swatch
from hidewright.colour.learning.cup import BASE
from hidewright.dates import show_day
from hidewright.mixing import SPRAYED
from hidewright.mixing.grain import balance_grains, smallest_cup
from hidewright.mixing.jars import JarLine
from hidewright.papers.mixing_card import CardLine
from hidewright.papers.touch_up import KitItem, TouchUpSheet
from hidewright.refusals import Refusal
from hidewright.workshop.bench.on_pieces_queries import on_pieces
from hidewright.workshop.bench.remake_queries import remake
from hidewright.workshop.colours.batch_queries import stands_in
from hidewright.workshop.colours.likeness_queries import contents_of
from hidewright.workshop.colours.models import Batch
from hidewright.workshop.colours.queries import chosen_recipe
from hidewright.workshop.pieces.colour_queries import colour_numbered, several
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shelf.vessel_queries import (
    Jar,
    components,
    crosslinkers,
    jar_of,
    job_vessels,
    moves_of_colour,
    states_of,
)
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job
from hidewright.workshop.shop.units import shown_volume

MEANT = "The recipe as it was chosen: nothing of it is mixed yet."


def touch_up_sheet(job: Job, *, made_on: date, page_url: str = "", number: int = 0) -> TouchUpSheet:
    """The touch-up sheet of one of the job's colours: the jars that were kept, and the colour as poured; the recipe chosen while nothing is mixed."""
    chosen = chosen_recipe(job, number)
    kept = kept_jars(job, number)
    poured, source = _as_poured(job, kept, number)
    if not poured and chosen is not None:
        poured, source = tuple(CardLine(p.name, p.mass) for p in chosen.components), MEANT
    if not poured:
        raise Refusal("No recipe is chosen yet.", remedy="Choose one on the page Colour.")
    swatches = (Swatch(chosen.target.hex, "Target"), Swatch(chosen.hex, "Recipe, dry")) if chosen else ()
    return TouchUpSheet(
        job=job.name,
        colour=_words(job, number, f"{chosen.target.name}: {chosen.name}" if chosen else job.name),
        items=tuple(_item(jar) for jar in kept),
        recipe=poured,
        source=f"{source} {_on_each(job, number)}".strip(),
        swatches=swatches,
        made_on=made_on,
        page_url=page_url,
    )


def _on_each(job: Job, number: int) -> str:
    """Which batch is on which piece, where they are several; empty else."""
    listed = on_pieces(job, number)
    return f"{'; '.join(each.words for each in reversed(listed))}." if len(listed) > 1 else ""


def _words(job: Job, number: int, words: str) -> str:
    return f"{colour_numbered(job, number).label}, {words}" if several(job) else words


def kept_jars(job: Job, number: int = 0) -> list[Jar]:
    """The job's jars with the colour in them, the newest first."""
    rows = [row for row in job_vessels(job, number) if row.kind == "jar"]
    return [jar for jar in map(jar_of, reversed(rows)) if jar.state.volume > 0]


def _item(jar: Jar) -> KitItem:
    day = jar.row.keep_until
    until = f"keep until {show_day(day)}" if day else ""
    return KitItem(jar.row.name, shown_volume(jar.state.volume), until)


def _as_poured(job: Job, kept: list[Jar], number: int) -> tuple[tuple[CardLine, ...], str]:
    """What the colour really holds, and where that is told from: the newest jar, else what was sprayed, else the fullest mixed cup."""
    if kept:
        return _lines(kept[0].state.lines), f"As poured, in {kept[0].row.name}."
    sprayed = _sprayed(job, number)
    if sprayed:
        return sprayed, "As sprayed on this job, all cups together."
    mixed = [s for s in states_of(job_vessels(job, number)) if s.finished and s.volume and not s.crosslinked]
    fullest = max(mixed, key=lambda s: s.volume, default=None)
    if fullest is None:
        return (), ""
    return _lines(jar_of(fullest.row).state.lines), f"As poured, in {fullest.row.name}."


def _lines(parts: Iterable[JarLine]) -> tuple[CardLine, ...]:
    known = components()
    return tuple(
        CardLine(
            f"{part.name}, lot {', '.join(part.lots)}" if part.lots else part.name,
            part.volume * (known[part.key].density if part.key in known else 1.0),
        )
        for part in parts
    )


def _sprayed(job: Job, number: int) -> tuple[CardLine, ...]:
    """What went through the gun without its crosslinker, counter-entries taken off, the most first."""
    moves = moves_of_colour(job, number).exclude(component__in=crosslinkers())
    out = dict(moves.filter(target=SPRAYED).values_list("component").annotate(Sum("amount")))
    back = dict(moves.filter(source=SPRAYED).values_list("component").annotate(Sum("amount")))
    known = components()
    lines = [
        CardLine(known[key].name, (amount - back.get(key, 0)) / 1000 * known[key].density)
        for key, amount in out.items()
        if key in known and amount > back.get(key, 0)
    ]
    return tuple(sorted(lines, key=lambda line: -line.grams))


LAST = 3
"""Cups like a jar that its page offers to hold against it."""


def like_it(jar: MixVessel) -> list[MixVessel]:
    """The newest cups of open jobs that make a jar again and hold a pigment, to be held against it."""
    cups = MixVessel.objects.filter(like=jar, put_away=None, job__put_away=None).order_by("-pk")[:LAST]
    return [cup for cup in cups.select_related("job", "like") if contents_of(cup).keys() - {BASE}]


def smallest_honest(jar: MixVessel, like: Batch | None = None) -> float:
    """mL of the smallest cup like a jar (or `like` a batch) in which the shop's balance is off by no more than is honest for every part, in whole 5 mL."""
    gone = like if like and not stands_in(like) else None
    recipe = remake(like.vessel if like else jar, gone).recipe
    grains = balance_grains(recipe, the_shop().balance_step)
    return max(5.0, ceil(smallest_cup(recipe, grains) / 5 - 1e-9) * 5.0)
