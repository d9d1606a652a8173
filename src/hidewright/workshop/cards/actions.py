"""Writing cards and lists, and going through a list."""

from collections.abc import Sequence
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from hidewright.planning.problem.kinds import Kind
from hidewright.refusals import Refusal
from hidewright.workshop.cards.models import Card, CardPicture, Checklist, ChecklistRound, When
from hidewright.workshop.cards.starting import CARDS, CHECKLISTS
from hidewright.workshop.shop.models import Device, Person
from hidewright.workshop.shop.undo import record, undoes

FIELDS = ("title", "step", "words", "cover", "tape", "grit", "cloth", "notes")
MOST_LINES = 40


def _checked(facts: dict[str, str]) -> dict[str, str]:
    kept = {name: str(facts.get(name, "")).strip() for name in FIELDS}
    if not kept["title"]:
        raise Refusal("A card needs a title.", where="Title")
    if kept["step"] and kept["step"] not in list(Kind):
        raise Refusal(f"“{kept['step']}” is no step.", where="Step")
    if not any(kept[name] for name in ("cover", "tape", "grit", "cloth", "notes")):
        raise Refusal("The card says nothing yet.", where="Notes", remedy="Write at least one of its lines.")
    return kept


def _taken(title: str) -> Refusal:
    return Refusal(f"There is a card “{title}” already.", where="Title", remedy="Call it something else.")


def add_card(**facts: str) -> Card:
    """Write a card; refuses one without a title, one that says nothing, and a title that is taken."""
    kept = _checked(facts)
    try:
        with transaction.atomic():
            row = Card.objects.create(**kept)
            record(None, f"Wrote the card {row.title}", undo="cards.card", undo_with={"ids": [row.pk]})
            return row
    except IntegrityError:
        raise _taken(kept["title"]) from None


@undoes("cards.card")
def _take_card_back(data: dict[str, Any]) -> None:
    Card.objects.filter(pk__in=data["ids"]).update(removed=timezone.now())


def edit_card(row: Card, version: int, **facts: str) -> None:
    """Change a card; can be undone. Refuses when somebody else changed it since it was shown."""
    kept = _checked(facts)
    before = {name: getattr(row, name) for name in FIELDS}
    try:
        with transaction.atomic():
            changed = Card.objects.filter(pk=row.pk, version=version, removed=None).update(
                version=F("version") + 1, **kept
            )
            if changed != 1:
                raise Refusal("Somebody changed this card meanwhile.", remedy="Look at it again first.")
            record(
                None,
                f"Changed the card {kept['title']}",
                undo="cards.edit",
                undo_with={"id": row.pk, **before},
            )
    except IntegrityError:
        raise _taken(kept["title"]) from None


@undoes("cards.edit")
def _card_as_before(data: dict[str, Any]) -> None:
    before = {name: data[name] for name in FIELDS}
    Card.objects.filter(pk=data["id"]).update(version=F("version") + 1, **before)


def remove_card(row: Card) -> None:
    """Take a card away; can be undone."""
    with transaction.atomic():
        if Card.objects.filter(pk=row.pk, removed=None).update(removed=timezone.now()):
            record(None, f"Took the card {row.title} away", undo="cards.bring", undo_with={"id": row.pk})


@undoes("cards.bring")
def _bring_card_back(data: dict[str, Any]) -> None:
    row = Card.objects.get(pk=data["id"])
    if Card.objects.filter(title=row.title, removed=None).exists():
        raise Refusal(f"There is another card “{row.title}” now.", remedy="Rename that one first.")
    Card.objects.filter(pk=row.pk).update(removed=None)


def add_picture(card: Card, picture: str, caption: str = "") -> CardPicture:
    """Put a kept picture on a card; can be undone."""
    with transaction.atomic():
        row = CardPicture.objects.create(card=card, picture=picture, caption=caption.strip()[:120])
        record(
            None, f"Put a picture on the card {card.title}", undo="cards.picture", undo_with={"id": row.pk}
        )
        return row


@undoes("cards.picture")
def _take_picture_off(data: dict[str, Any]) -> None:
    CardPicture.objects.filter(pk=data["id"]).update(removed=timezone.now())


def begin_with_starting_cards() -> tuple[int, int]:
    """Take in the starting cards and lists whose titles the shop does not have; returns how many of each. Refuses when it has them all."""
    cards, lists = set(_titles(Card)), set(_titles(Checklist))
    with transaction.atomic():
        made = [Card.objects.create(**facts) for facts in CARDS if facts["title"] not in cards]
        listed = [
            Checklist.objects.create(title=title, when=when, items=list(items))
            for title, when, items in CHECKLISTS
            if title not in lists
        ]
        if not made and not listed:
            raise Refusal("All of them are there already.")
        record(
            None,
            f"Took in {len(made)} starting cards and {len(listed)} checklists",
            undo="cards.starting",
            undo_with={"cards": [row.pk for row in made], "lists": [row.pk for row in listed]},
        )
    return len(made), len(listed)


def _titles(model: type[Card] | type[Checklist]) -> list[str]:
    return [str(row.title) for row in model._default_manager.filter(removed=None)]


@undoes("cards.starting")
def _take_starting_back(data: dict[str, Any]) -> None:
    now = timezone.now()
    Card.objects.filter(pk__in=data["cards"], removed=None).update(removed=now)
    Checklist.objects.filter(pk__in=data["lists"], removed=None).update(removed=now)


def _list_facts(title: str, when: str, lines: str) -> dict[str, Any]:
    items = [line.strip()[:160] for line in lines.splitlines() if line.strip()]
    if not title.strip():
        raise Refusal("A list needs a title.", where="Title")
    if when not in When.values:
        raise Refusal(f"“{when}” is no time for a list.", where="When")
    if not 1 <= len(items) <= MOST_LINES:
        raise Refusal(f"A list has 1 to {MOST_LINES} lines.", where="Lines", remedy="Write a line for each.")
    return {"title": title.strip()[:80], "when": when, "items": items}


def write_list(title: str, when: str, lines: str, row: Checklist | None = None, version: int = 0) -> None:
    """Write a new list, or change one; what was gone through before keeps its words. Can be undone."""
    facts = _list_facts(title, when, lines)
    try:
        with transaction.atomic():
            if row is None:
                made = Checklist.objects.create(**facts)
                undo = "cards.starting"
                data: dict[str, Any] = {"cards": [], "lists": [made.pk]}
            else:
                before = {name: getattr(row, name) for name in ("title", "when", "items")}
                changed = Checklist.objects.filter(pk=row.pk, version=version, removed=None).update(
                    version=F("version") + 1, **facts
                )
                if changed != 1:
                    raise Refusal("Somebody changed this list meanwhile.", remedy="Look at it again first.")
                undo, data = "cards.list", {"id": row.pk, **before}
            record(None, f"Wrote the list {facts['title']}", undo=undo, undo_with=data)
    except IntegrityError:
        raise Refusal(
            f"There is a list “{facts['title']}” already.", where="Title", remedy="Call it something else."
        ) from None


@undoes("cards.list")
def _list_as_before(data: dict[str, Any]) -> None:
    before = {name: data[name] for name in ("title", "when", "items")}
    Checklist.objects.filter(pk=data["id"]).update(version=F("version") + 1, **before)


def remove_list(row: Checklist) -> None:
    """Take a list away; can be undone."""
    with transaction.atomic():
        if Checklist.objects.filter(pk=row.pk, removed=None).update(removed=timezone.now()):
            record(None, f"Took the list {row.title} away", undo="cards.bring_list", undo_with={"id": row.pk})


@undoes("cards.bring_list")
def _bring_list_back(data: dict[str, Any]) -> None:
    row = Checklist.objects.get(pk=data["id"])
    if Checklist.objects.filter(title=row.title, removed=None).exists():
        raise Refusal(f"There is another list “{row.title}” now.", remedy="Rename that one first.")
    Checklist.objects.filter(pk=row.pk).update(removed=None)


def go_through(
    row: Checklist,
    good: Sequence[int],
    *,
    note: str = "",
    person: Person | None = None,
    device: Device | None = None,
) -> ChecklistRound:
    """Note that somebody went through a list: `good` are the numbers of the lines in order. Lines that were not need a note."""
    lines = [[text, n in set(good)] for n, text in enumerate(row.items)]
    amiss = sum(not fine for _, fine in lines)
    if amiss and not note.strip():
        raise Refusal(
            f"{amiss} line{'s are' if amiss > 1 else ' is'} not in order.",
            where="Note",
            remedy="Say what is done about it.",
        )
    with transaction.atomic():
        made = ChecklistRound.objects.create(
            checklist=row, lines=lines, note=note.strip()[:240], person=person, device=device
        )
        words = f"Went through {row.title}" + (f", {amiss} not in order" if amiss else "")
        record(None, words, undo="cards.round", undo_with={"id": made.pk}, device=device)
        return made


@undoes("cards.round")
def _round_back(data: dict[str, Any]) -> None:
    ChecklistRound.objects.filter(pk=data["id"]).update(withdrawn=timezone.now())
