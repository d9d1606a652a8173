"""The colour sheets of a job as values: variants side by side, what was agreed, and whether that still holds."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone

from hidewright.dates import show_day
from hidewright.workshop.approvals.models import Agreement, Sheet, Variant, ViewerLink
from hidewright.workshop.colours.queries import target_row
from hidewright.workshop.days.models import Hold
from hidewright.workshop.shop.door import hash_token
from hidewright.workshop.shop.models import Job, Run

MOST = 4
"""Variants on one sheet."""
WAYS: Mapping[str, tuple[str, tuple[tuple[str, float], ...]]] = {
    "was": ("As it was", ()),
    "now": ("As aimed at", ()),
    "lighter": ("A little lighter", (("lighter", 2.0),)),
    "neutral": ("Lighter and more neutral", (("lighter", 3.0), ("neutral", 25.0))),
    "darker": ("A little darker", (("lighter", -2.0),)),
}
"""What can be put on a sheet in one tap: key → its name, and the shifts from what is aimed at (L*, or per cent)."""
USUAL = ("was", "now", "lighter", "neutral")
LIGHTS = ("daylight at a window", "the shop’s lamps", "the lamps of the interior", "daylight and lamps")
"""In which light a colour is judged, in the words of the form."""


@dataclass(frozen=True, slots=True)
class VariantShown:
    """One variant with what it takes; figures are None until they are worked out. `agreed`: the newest agreement on its sheet is to it; `replaced`: and it holds no more."""

    row: Variant
    agreed: bool
    replaced: bool = False

    @property
    def takes(self) -> Mapping[str, Any]:
        """What it takes, as it was worked out."""
        return dict(self.row.takes)

    @property
    def code(self) -> str:
        """The code on its real panel."""
        return self.row.panel


@dataclass(frozen=True, slots=True)
class SheetShown:
    """A sheet with its variants and its agreements, the newest first."""

    row: Sheet
    variants: tuple[VariantShown, ...]
    agreements: tuple[Agreement, ...]
    links: tuple[ViewerLink, ...] = ()
    replaced: str = ""
    """Why the agreement of this sheet holds no more, in a sentence; empty while it holds, or there is none."""

    @property
    def agreed(self) -> Agreement | None:
        """The agreement in force, if there is one."""
        return next((row for row in self.agreements if row.withdrawn is None), None)


@dataclass(frozen=True, slots=True)
class Standing:
    """How one of the job's colours stands: the newest agreement, whether the target has changed since, and how many pieces wait for an agreement."""

    agreement: Agreement | None
    changed: bool
    waiting: int
    sheets: int

    @property
    def words(self) -> str:
        """In a sentence."""
        if self.agreement is None:
            return "Nobody has agreed to a colour yet." if self.sheets else "No colour sheet yet."
        who = f"{self.agreement.variant.name}, agreed by {self.agreement.name} on {show_day(self.agreement.day)}"
        return (
            f"{who}. The target was changed since: it needs a new agreement." if self.changed else f"{who}."
        )

    @property
    def holds(self) -> bool:
        """Whether an agreement is in force for what is aimed at now."""
        return self.agreement is not None and not self.changed


def standing(job: Job, number: int = 0) -> Standing:
    """How one of the job's colours stands."""
    newest = (
        Agreement.objects.filter(sheet__job=job, sheet__colour_number=number, withdrawn=None)
        .select_related("variant", "sheet")
        .first()
    )
    aimed = target_row(job, number) if newest is not None else None
    changed = newest is not None and (aimed is None or aimed.pk != newest.target_id)
    waiting = Hold.objects.filter(job=job, sheet__colour_number=number, lifted=None).count()
    sheets = Sheet.objects.filter(job=job, colour_number=number, withdrawn=None).count()
    return Standing(newest, changed, waiting, sheets)


def sheets(job: Job, number: int = 0) -> list[SheetShown]:
    """The sheets of one of the job's colours, the newest first."""
    rows = Sheet.objects.filter(job=job, colour_number=number, withdrawn=None).prefetch_related(
        "variants", "agreements__variant", "agreements__person", "links"
    )
    now = standing(job, number)
    return [_shown(row, now) for row in rows]


def sheet(row: Sheet) -> SheetShown:
    """One sheet."""
    return _shown(row, standing(row.job, row.colour_number))


def _replaced(row: Sheet, now: Standing) -> str:
    """Why what was agreed on a sheet holds no more, as the colour stands now."""
    last = now.agreement
    if last is None:
        return ""
    if last.sheet_id != row.pk:
        who = f"{last.variant.name}, agreed by {last.name} on {show_day(last.day)}"
        return f"Replaced by sheet {last.sheet.number}: {who}."
    return "The target was changed since: it needs a new agreement." if now.changed else ""


def _shown(row: Sheet, stands: Standing) -> SheetShown:
    agreements = tuple(row.agreements.all())
    live = [each.variant_id for each in agreements if each.withdrawn is None][:1]
    now = timezone.now()
    replaced = _replaced(row, stands) if live else ""
    return SheetShown(
        row,
        tuple(
            VariantShown(v, v.pk in live, v.pk in live and bool(replaced))
            for v in row.variants.all()
            if v.withdrawn is None
        ),
        agreements,
        tuple(link for link in row.links.all() if link.withdrawn is None and link.expires > now),
        replaced,
    )


def working(job: Job) -> Run | None:
    """The run that works out what the variants take, while it is at it."""
    run = job.runs.filter(kind="sheets.work_out").first()
    return run if run is not None and run.live else None


def link_of(token: str, now: datetime | None = None) -> ViewerLink | None:
    """The link of a token, while it is in force."""
    found = ViewerLink.objects.filter(
        token_hash=hash_token(token), withdrawn=None, expires__gt=now or timezone.now(), sheet__withdrawn=None
    )
    return found.select_related("sheet__job").first()


def panel_code(row: Sheet, place: int) -> str:
    """The code of a real panel: sheet and place, such as 12-S2-3, with the job's number in front."""
    return f"{row.job_id}-S{row.number}-{place}"
