"""How-to cards beside their sessions; checklists with who and when."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from hidewright.planning.problem.kinds import Kind
from hidewright.refusals import Refusal
from hidewright.workshop.cards import actions as steps
from hidewright.workshop.cards import queries as gather
from hidewright.workshop.cards.models import Card, Checklist, ChecklistRound
from hidewright.workshop.cards.starting import CARDS
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act

pytestmark = pytest.mark.django_db


def test_a_card_goes_with_its_step_and_its_pieces() -> None:
    steps.add_card(title="Belts", step="mask", words="seat, Settee", cover="belts")
    steps.add_card(title="Tape", step="mask", tape="low-tack")
    steps.add_card(title="House rule", notes="gloves")

    def found(step: str, piece: str) -> list[str]:
        return [card.row.title for card in gather.cards_for([step], [piece])]

    assert found("mask", "LC1 seat cushion") == ["Belts", "Tape", "House rule"]
    assert found("mask", "S1 SETTEE back") == ["Belts", "Tape", "House rule"]
    assert found("mask", "table leaf") == ["Tape", "House rule"]
    assert found("mask, part 2", "table leaf") == ["Tape", "House rule"], "a step that goes on another day"
    assert found("unmask", "LC1 seat cushion") == ["House rule"], "another step"


def test_starting_cards_come_once_and_leave_what_is_there() -> None:
    steps.add_card(title=CARDS[0]["title"], notes="our own way")
    made, lists = steps.begin_with_starting_cards()
    assert (made, lists) == (len(CARDS) - 1, 3)
    assert Card.objects.get(title=CARDS[0]["title"]).notes == "our own way"
    assert {card["step"] for card in CARDS} <= {str(kind) for kind in Kind}
    with pytest.raises(Refusal, match="there already"):
        steps.begin_with_starting_cards()
    acts.undo(Act.objects.get(undo_name="cards.starting").pk)
    assert [card.row.title for card in gather.cards()] == [CARDS[0]["title"]]


def test_a_list_is_due_a_week_after_somebody_went_through_it(visitor: Client) -> None:
    """Own rule: every week means seven days; a list before spraying is due anew each day, a rule to keep in mind never."""
    for when in ("weekly", "spraying", "always"):
        steps.write_list(when, when, "one\ntwo")
    ana = add_person("Ana")

    def due() -> list[str]:
        return [one.row.title for one in gather.checklists() if one.due]

    assert due() == ["weekly", "spraying"]
    visitor.post("/people/who/", {"person": ana.pk})
    row = Checklist.objects.get(title="weekly")
    assert visitor.post(f"/checklists/{row.pk}/round/", {"good": ["0"]}).status_code == 422, (
        "line two is not in order"
    )
    assert visitor.post(f"/checklists/{row.pk}/round/", {"good": ["0"], "note": "ordered"}).status_code == 302
    steps.go_through(Checklist.objects.get(title="spraying"), [0, 1])
    assert due() == []
    page = visitor.get("/checklists/").content.decode()
    assert "Not in order then: two. ordered" in page
    assert "Ana" in visitor.get(f"/checklists/{row.pk}/").content.decode()
    rounds = ChecklistRound.objects.filter(checklist=row)
    rounds.update(made=timezone.now() - timedelta(days=7) + timedelta(minutes=1))
    assert due() == []
    rounds.update(made=timezone.now() - timedelta(days=7))
    assert due() == ["weekly"]
    ChecklistRound.objects.update(made=timezone.now() - timedelta(days=1))
    assert due() == ["spraying"]


def test_what_is_refused() -> None:
    for wrong in ({"title": ""}, {"title": "A"}, {"title": "A", "step": "dance", "notes": "x"}):
        with pytest.raises(Refusal):
            steps.add_card(**wrong)
    steps.add_card(title="A", notes="x")
    with pytest.raises(Refusal, match="already"):
        steps.add_card(title="A", notes="y")
    for title, when, lines in (("", "weekly", "x"), ("L", "never", "x"), ("L", "weekly", " \n")):
        with pytest.raises(Refusal):
            steps.write_list(title, when, lines)
    row = Card.objects.get()
    steps.edit_card(row, 0, title="A", notes="z")
    with pytest.raises(Refusal, match="meanwhile"):
        steps.edit_card(row, 0, title="A", notes="zz")
