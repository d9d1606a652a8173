"""The papers of a colour sheet: the sheet for a designer, and the tags of its real panels."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from hidewright.colour.light.far import off_with_figure
from hidewright.dates import show_day
from hidewright.money import show_money
from hidewright.papers.colour_sheet import ColourSheet, SheetColour
from hidewright.papers.piece_list import SignedAs
from hidewright.papers.tags import Tag
from hidewright.units import counted
from hidewright.workshop.approvals.queries import SheetShown
from hidewright.workshop.intake.paper_queries import signed_as
from hidewright.workshop.pieces.colour_queries import colour_numbered, several
from hidewright.workshop.shop.door import the_shop


def facts(takes: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """What a variant takes, in words for the customer."""
    found = []
    if takes.get("coats"):
        found.append(("Coats of colour", str(takes["coats"])))
    if takes.get("money"):
        found.append(("Price before tax", show_money(takes["money"], the_shop().currency, whole=True)))
    if takes.get("days"):
        found.append(("Working days", f"about {takes['days']}"))
    return tuple(found)


def colour_sheet(shown: SheetShown, *, made_on: date, paper: str, page_url: str = "") -> ColourSheet:
    """The sheet as a paper."""
    row = shown.row
    live = [a for a in shown.agreements if a.withdrawn is None]
    last = live[0] if live else None
    words = tuple(
        f"{a.variant.name}: {a.name}, {show_day(a.day)}, {a.light}, to within {off_with_figure(a.tolerance)}"
        for a in live
    )
    role = "Agreed: name, day, and the light in which it was judged"
    return ColourSheet(
        row.number,
        row.job.name,
        the_shop().name,
        made_on,
        tuple(
            SheetColour(v.row.name, v.takes["hex"], v.code, facts(v.takes), v.agreed, v.replaced)
            for v in shown.variants
        ),
        client=row.job.client,
        colour=colour_numbered(row.job, row.colour_number).label if several(row.job) else "",
        note=row.note,
        agreed=words,
        replaced=shown.replaced,
        signature=signed_as(role, f"{last.name}, {show_day(last.day)}", last.signature)
        if last
        else SignedAs(role),
        page_url=page_url,
        paper=paper,
    )


def panel_tags(shown: SheetShown, address: str) -> tuple[Tag, ...]:
    """A tag for the real panel of each variant."""
    return tuple(
        Tag(v.code, v.row.name, f"Sheet {shown.row.number}, {counted(len(shown.variants), 'colour')}", address, v.takes["hex"])
        for v in shown.variants
    )  # fmt: skip
