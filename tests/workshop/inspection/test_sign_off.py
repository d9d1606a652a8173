"""Rows of their own, colours against what was agreed, “again” as work, the final sign-off and the paper."""

from html import unescape
from io import BytesIO

import pytest
from django.test import Client
from pypdf import PdfReader

from hidewright import demo
from hidewright.refusals import Refusal, Refusals
from hidewright.survey import make_piece
from hidewright.workshop.colours import actions as colours
from hidewright.workshop.colours.models import Reading
from hidewright.workshop.colours.queries import target_row
from hidewright.workshop.days.models import Redo
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.inspection import actions as steps
from hidewright.workshop.inspection import queries as gather
from hidewright.workshop.inspection import row_actions, snag_actions
from hidewright.workshop.inspection.colour_queries import compared
from hidewright.workshop.inspection.sign_off_queries import hindrances
from hidewright.workshop.pieces.actions import add_pieces
from hidewright.workshop.room import actions as room
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job

pytestmark = pytest.mark.django_db


@pytest.fixture
def pieces(job: Job) -> Job:
    """A job with two pieces and a colour to aim at."""
    for key in ("C1", "C2"):
        piece = make_piece(key=key, name="Seat", group="Chair", shape="panel", length=0.6, width=0.5)
        add_pieces(job, piece)
    return job


def aimed(job: Job) -> Job:
    target = colours.type_colour(job, "Agreed", (55.0, 6.0, 14.0))
    colours.set_target(job, target.pk, None, tolerance=1.0)
    return job


def test_a_part_that_shows_elsewhere_is_a_row_of_its_own(pieces: Job) -> None:
    row = row_actions.add_hidden(pieces, "C1", "underside", "flap up")
    assert [piece.key for piece in gather.pieces(pieces)] == ["C1", "C1 / underside", "C2"]
    steps.note_checks(pieces, ["C1", "C2"], "sun", result="good")
    steps.note_checks(pieces, ["C1", "C2"], "lamp", result="good")
    assert gather.standing(pieces).seen == 2
    assert hindrances(pieces) == ["Not seen good in both lights: C1 Seat / underside"]
    with pytest.raises(Refusal, match="listed already"):
        row_actions.add_hidden(pieces, "C1", "underside", "flap up")
    row_actions.remove_hidden(row)
    assert hindrances(pieces) == []


@pytest.mark.parametrize(("lightness", "within"), [(55.9, True), (57.5, False)])
def test_a_reading_of_the_piece_is_held_against_what_was_agreed(
    pieces: Job, lightness: float, within: bool
) -> None:
    """Own rule: within the tolerance that was agreed, ΔE00 1.0; the figures lie on both sides of it."""
    aimed(pieces)
    read = colours.type_colour(pieces, "Piece", (lightness, 6.0, 14.0))
    found = compared(pieces, "C1", "instrument", reading=Reading.objects.get(pk=read.pk))
    assert found.within is within
    assert (float(found.value) <= 1.0) is within
    row = target_row(pieces)
    assert row is not None
    assert found.version == row.version


def test_by_eye_a_person_says_and_without_a_target_nothing_is_compared(visitor: Client, pieces: Job) -> None:
    where = f"/jobs/{pieces.pk}/inspection/colour/"
    sent = {"colour-piece": "C1", "colour-way": "eye", "colour-grade": "4-5"}
    answer = visitor.post(where, {**sent, "colour-result": "good"})
    assert answer.status_code == 422
    assert "No colour is agreed" in answer.content.decode()
    aimed(pieces)
    assert visitor.post(where, sent).status_code == 422, "by eye nobody but a person says"
    assert visitor.post(where, {**sent, "colour-result": "good"}).status_code == 302
    shown = unescape(visitor.get(f"/jobs/{pieces.pk}/inspection/").content.decode())
    assert "grade 4-5 of the grey scale" in shown


def test_again_becomes_work_once_and_is_taken_back_with_its_check(pieces: Job) -> None:
    room.import_tables(demo.text("tables.csv"))
    room.import_hours(demo.text("hours.csv"), demo.text("people.csv"))
    steps.note_checks(pieces, ["C1"], "sun", result="again", note="a run")
    steps.note_checks(pieces, ["C1"], "lamp", result="again")
    (row,) = Redo.objects.filter(job=pieces, withdrawn=None)
    assert (row.piece, row.kinds, row.why) == ("C1", ["sand", "spray colour", "spray clear"], "a run")
    assert "Work is not done on: C1 Seat" in hindrances(pieces)
    for act in Act.objects.filter(undo_name="inspection.checks", undone=None):
        acts.undo(act.pk)
    assert not Redo.objects.filter(withdrawn=None).exists()


def test_the_final_sign_off_says_what_it_waits_for(visitor: Client, pieces: Job) -> None:
    person = add_person("Ana")
    snag = snag_actions.add(pieces, "Seam open", piece="C2")
    steps.note_checks(pieces, ["C1", "C2"], "sun", result="good")
    steps.note_checks(pieces, ["C1"], "lamp", result="good")
    sent = {"sign-person": person.pk, "sign-words": "all", "sign-final": "on"}
    where = f"/jobs/{pieces.pk}/inspection/sign/"
    answer = visitor.post(where, sent)
    assert answer.status_code == 422
    shown = unescape(answer.content.decode())
    for words in (
        "must wait",
        "A blocking snag is open: Seam open (C2 Seat)",
        "Not seen good in both lights: C2 Seat",
    ):
        assert words in shown
    with pytest.raises(Refusals):
        steps.sign(pieces, person, "all", final=True)
    snag_actions.pass_on(snag, version=0, weight="later")
    steps.note_checks(pieces, ["C2"], "lamp", result="good")
    assert visitor.post(where, sent).status_code == 302
    assert pieces.signatures.get().final
    text = " ".join(
        page.extract_text()
        for page in PdfReader(BytesIO(visitor.get(f"/jobs/{pieces.pk}/inspection/paper.pdf").content)).pages
    )
    for words in ("final sign-off", "C2", "Seam open", "no release to service"):
        assert words in " ".join(text.split())
