"""One field that finds anything: jobs open and put away, owners, registrations, colours, jars, pieces and lots."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from django.db.models import Model, Q, QuerySet
from django.urls import reverse

from hidewright.dates import show_day
from hidewright.workshop.colours.models import Colour
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shelf.models import MixMove, MixVessel, PigmentLot, ProductLot
from hidewright.workshop.shop.models import Job

_Row = TypeVar("_Row", bound=Model)

MOST = 12
"""Rows that each kind shows; more words find fewer."""
WORDS = 6
"""Words that are looked for."""


@dataclass(frozen=True, slots=True)
class Hit:
    """One thing: what it is called, what stands beside it, where it is."""

    label: str
    hint: str
    url: str


@dataclass(frozen=True, slots=True)
class Kind:
    """The things of one kind; `more` where there are more than are shown."""

    label: str
    hits: tuple[Hit, ...]
    more: bool


def find(text: str) -> list[Kind]:
    """What fits every word of the text, by kind; kinds without anything are left out. As many questions to the database however much there is."""
    words = text.split()[:WORDS]
    if not words:
        return []
    kinds = [_jobs(words), _colours(words), _jars(words), _lots(words), _pieces(words)]
    return [kind for kind in kinds if kind.hits]


def _fitting(words: list[str], *fields: str) -> Q:
    wanted = Q()
    for word in words:
        any_field = Q()
        for field in fields:
            any_field |= Q(**{f"{field}__icontains": word})
        wanted &= any_field
    return wanted


def _kind(label: str, rows: QuerySet[_Row], hit: Callable[[_Row], Hit]) -> Kind:
    found = list(rows[: MOST + 1])
    return Kind(label, tuple(hit(row) for row in found[:MOST]), len(found) > MOST)


def _jobs(words: list[str]) -> Kind:
    def hit(row: Job) -> Hit:
        facts = (row.registration, row.client, row.kind, "put away" if row.put_away else "")
        return Hit(row.name, ", ".join(fact for fact in facts if fact), reverse("job", args=[row.pk]))

    rows = Job.objects.filter(_fitting(words, "name", "client", "registration", "kind", "notes"))
    return _kind("Jobs", rows.order_by("put_away", "-made"), hit)


def _colours(words: list[str]) -> Kind:
    def hit(row: Colour) -> Hit:
        facts = (row.owner, row.sheen, "put away" if row.put_away else "")
        return Hit(row.name, ", ".join(fact for fact in facts if fact), reverse("shop_colour", args=[row.pk]))

    rows = Colour.objects.filter(
        _fitting(words, "name", "owner", "notes", "jobs__name", "jobs__job__name", "jobs__job__registration")
    )
    return _kind("Colours", rows.distinct(), hit)


def _jars(words: list[str]) -> Kind:
    def hit(row: MixVessel) -> Hit:
        day = f"kept {show_day(row.kept_on)}" if row.kept_on else ""
        facts = (row.job.name if row.job else "", day)
        return Hit(row.name, ", ".join(fact for fact in facts if fact), reverse("jar", args=[row.pk]))

    jars = MixVessel.objects.filter(kind=MixVessel.Kind.JAR, put_away=None)
    places = ("name", "plan__name", "job__name", "job__client", "job__registration")
    return _kind("Jars", jars.filter(_fitting(words, *places)).select_related("job").order_by("-pk"), hit)


def _lots(words: list[str]) -> Kind:
    """Lots on the shelf, and the jars that hold a lot of that name."""
    wanted = _fitting(words, "name")
    pigments = [
        Hit(f"Lot {row.name}", row.pigment.name, reverse("pigment", args=[row.pigment_id]))
        for row in PigmentLot.objects.filter(wanted | _fitting(words, "pigment__name")).select_related(
            "pigment"
        )[:MOST]
    ]
    products = [
        Hit(f"Lot {row.name}", row.product.name, reverse("products"))
        for row in ProductLot.objects.filter(wanted).select_related("product")[:MOST]
    ]
    moved = MixMove.objects.filter(_fitting(words, "lot")).exclude(lot="").order_by("-pk")[:500]
    keys = {key[1:] for key in moved.values_list("target", flat=True) if key.startswith("v")}
    jars = MixVessel.objects.filter(pk__in=keys, kind=MixVessel.Kind.JAR, put_away=None)[:MOST]
    held = [Hit(row.name, "holds this lot", reverse("jar", args=[row.pk])) for row in jars]
    hits = [*pigments, *products, *held]
    return Kind("Lots", tuple(hits[:MOST]), len(hits) > MOST)


def _pieces(words: list[str]) -> Kind:
    def hit(row: Piece) -> Hit:
        return Hit(
            f"{row.key} {row.name}", f"{row.group}, {row.job.name}".strip(", "), reverse("edit_piece", args=[row.job_id, row.pk])
        )  # fmt: skip

    rows = Piece.objects.filter(_fitting(words, "key", "name", "group", "job__name"), removed=None)
    return _kind("Pieces", rows.select_related("job").order_by("-job", "order"), hit)
