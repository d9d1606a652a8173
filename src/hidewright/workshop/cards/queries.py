"""The shop's cards and lists as pages and papers take them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from django.utils import timezone

from hidewright.workshop.cards.models import Card, CardPicture, Checklist, ChecklistRound, When
from hidewright.workshop.shop.page_cache import remembered

WEEK = timedelta(days=7)
MOST = 4
"""Cards beside one session: more are not read."""


@dataclass(frozen=True, slots=True)
class CardValue:
    """A card with its pictures: (row, what it is) of each."""

    row: Card
    pictures: tuple[CardPicture, ...]

    @property
    def facts(self) -> tuple[tuple[str, str], ...]:
        """(what, words) of each thing that the card says, in the order of the work."""
        row = self.row
        named = (("Cover", row.cover), ("Tape", row.tape), ("Grit", row.grit), ("Cloth", row.cloth), ("", row.notes))  # fmt: skip
        return tuple((name, words) for name, words in named if words)

    @property
    def text(self) -> str:
        """All of it in one line, as a paper prints it."""
        return " ".join(f"{name}: {words}" if name else words for name, words in self.facts)

    def suits(self, steps: Iterable[str], pieces: Iterable[str]) -> bool:
        """Whether it is about one of these steps (as the planner names them) on one of these pieces (name and group as text)."""
        words = [word.strip().casefold() for word in self.row.words.split(",") if word.strip()]
        texts = [text.casefold() for text in pieces]
        step_fits = not self.row.step or any(step.startswith(self.row.step) for step in steps)
        return step_fits and (not words or any(word in text for word in words for text in texts))


@remembered
def cards() -> tuple[CardValue, ...]:
    """The shop's cards."""
    found = list(Card.objects.filter(removed=None))
    pictures: dict[int, list[CardPicture]] = {}
    for row in CardPicture.objects.filter(removed=None, card__removed=None) if found else ():
        pictures.setdefault(row.card_id, []).append(row)
    return tuple(CardValue(row, tuple(pictures.get(row.pk, ()))) for row in found)


def cards_for(steps: Iterable[str], pieces: Iterable[str]) -> tuple[CardValue, ...]:
    """The cards for a session, those that name pieces first, `MOST` at most."""
    wanted, named = tuple(steps), tuple(pieces)
    found = [card for card in cards() if card.suits(wanted, named)]
    return tuple(sorted(found, key=lambda card: (not card.row.words, not card.row.step)))[:MOST]


@dataclass(frozen=True, slots=True)
class ListValue:
    """A checklist with the newest time that somebody went through it."""

    row: Checklist
    last: ChecklistRound | None

    @property
    def due(self) -> bool:
        """True for a weekly list that nobody went through for a week, and one before spraying that nobody went through today."""
        if self.row.when == When.ALWAYS:
            return False
        if self.last is None:
            return True
        if self.row.when == When.SPRAYING:
            return timezone.localdate(self.last.made) < timezone.localdate()
        return timezone.now() - self.last.made >= WEEK

    @property
    def amiss(self) -> list[str]:
        """The lines that were not in order the last time."""
        return [text for text, good in self.last.lines if not good] if self.last else []


@remembered
def checklists() -> tuple[ListValue, ...]:
    """The shop's lists, each with its newest round."""
    found = list(Checklist.objects.filter(removed=None))
    newest: dict[int, ChecklistRound] = {}
    rounds = ChecklistRound.objects.filter(withdrawn=None).select_related("person", "device")
    for row in rounds if found else ():
        newest.setdefault(row.checklist_id, row)
    return tuple(ListValue(row, newest.get(row.pk)) for row in found)


def due_before_spraying() -> tuple[ListValue, ...]:
    """The lists to go through before spraying that nobody went through today."""
    return tuple(one for one in checklists() if one.row.when == When.SPRAYING and one.due)


def rounds(checklist: Checklist, most: int = 20) -> list[ChecklistRound]:
    """Who went through a list when, newest first."""
    found = checklist.rounds.filter(withdrawn=None).select_related("person", "device")
    return list(found[:most])
