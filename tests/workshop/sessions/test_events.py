"""Whatever happens on a job, in whatever order: Mixing, Quantities, Days and Inspection say the same. Judged by a tally that the test keeps by itself."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from conftest import HUNT
from hidewright.mixing.ledger import volume
from hidewright.survey import make_piece
from hidewright.takeoff.coats import Stage
from hidewright.workshop.days import queries as days
from hidewright.workshop.days.actions import keep_plan
from hidewright.workshop.days.models import Redo
from hidewright.workshop.days.progress_queries import standings
from hidewright.workshop.inspection import snag_actions
from hidewright.workshop.inspection.actions import note_checks
from hidewright.workshop.inspection.models import Decision, Snag
from hidewright.workshop.inspection.queries import pieces as inspected
from hidewright.workshop.inspection.sign_off_queries import hindrances
from hidewright.workshop.inspection.snag_queries import snags
from hidewright.workshop.pieces.actions import add_pieces
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.quantities.actions import strike
from hidewright.workshop.sessions.actions import tell
from hidewright.workshop.sessions.models import SessionDone
from hidewright.workshop.shelf import vessel_queries as vessels
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shelf.vessel_actions import take_back
from hidewright.workshop.shop.models import Act
from hidewright.workshop.shop.page_cache import remembering
from hidewright.workshop.shop.undo import undo
from workshop.lean_shop import STEPS, keys, lean_job, mixed
from workshop.lean_shop import plan as lean_plan

pytestmark = pytest.mark.django_db

PIECES = ("C1", "C2", "C3")
COATS_OF = {Stage.WIPED: ("wipe in colour",), Stage.COLOUR: ("spray colour", "spray second coat"), Stage.CLEAR: ("spray clear",)}  # fmt: skip
"""What puts on each stage's coats here; of clear two are reckoned with, and one is planned."""
PLANNED = {Stage.WIPED: 1, Stage.COLOUR: 2, Stage.CLEAR: 2}
COLOURED = ("wipe in colour", "spray colour", "spray second coat")


class Events(RuleBasedStateMachine):
    """A job on which things happen; the tally is `told` (event → its acts and mL), `done` acts, `poured` mL, and what became of snags, checks and later pieces."""

    def __init__(self) -> None:
        super().__init__()
        self.block = transaction.atomic()
        self.block.__enter__()
        self.job = lean_job()
        mixed(self.job)
        self.poured = 1000.0
        self.done: set[str] = set()
        self.told: dict[int, tuple[set[str], float]] = {}
        self.taken_back: set[int] = set()
        self.marks = list(PIECES)
        self.repairs: dict[int, str] = {}
        self.again: set[str] = set()
        self.count = 0
        self.moment = timezone.now() - timedelta(days=1)

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.block.__exit__(None, None, None)

    def later(self) -> datetime:
        """The next moment: fingers touch one after the other."""
        self.moment += timedelta(seconds=1)
        return self.moment

    def token(self) -> str:
        self.count += 1
        return f"event {self.count}"

    def acts(self, step: str) -> list[str]:
        pieces = tuple(mark for mark in self.marks if mark in self.planned())
        return keys(step, pieces=pieces)

    def planned(self) -> set[str]:
        shown = days.plan_in_force(self.job)
        assert shown is not None
        return {act.piece for act in shown.acts}

    @rule(
        step=st.sampled_from(STEPS),
        but=st.sampled_from((None, None, *PIECES)),
        amount=st.integers(5, 60),
    )
    def session(self, step: str, but: str | None, amount: int) -> None:
        """A session is done, on all but one piece or on all; somebody read how much colour it took."""
        acts = [key for key in self.acts(step) if not key.startswith(f"{but}/")]
        if not acts:
            return
        read = {"colour 0": float(amount)} if step in COLOURED else {}
        event = tell(self.job, acts, "done", self.token(), amounts=read, at=self.later())
        new = set(acts) - self.done
        self.done |= new
        if new:
            self.told[event.row.pk] = (new, float(amount) if read else 0.0)

    @precondition(lambda self: self.done)
    @rule(data=st.data())
    def not_done_after_all(self, data: st.DataObject) -> None:
        """One act was not done: what the session took stays with the others, and goes back with the last of them."""
        key = data.draw(st.sampled_from(sorted(self.done)))
        tell(self.job, [key], "undo", self.token(), at=self.later())
        self.not_done({key})

    def not_done(self, gone: set[str]) -> None:
        self.done -= gone
        for pk, (acts, amount) in list(self.told.items()):
            if not acts & gone:
                continue
            del self.told[pk]
            self.taken_back.discard(pk)
            left = acts - gone
            if left:
                newest = SessionDone.objects.filter(job=self.job, withdrawn=None).order_by("-pk")
                row = next(row for row in newest if set(row.keys) == left)
                self.told[row.pk] = (left, amount)

    @precondition(lambda self: self.told)
    @rule()
    def undone(self) -> None:
        """The last session is undone as a whole."""
        act = Act.objects.filter(job=self.job, undone=None, undo_name="sessions.withdraw").first()
        if act is None:
            return
        row = SessionDone.objects.get(pk=act.undo_with["session"])
        if row.withdrawn is not None:
            return
        undo(act.pk)
        self.not_done(set(row.keys) & self.done)

    @rule()
    def pour(self) -> None:
        """Another cup is mixed."""
        mixed(self.job, 300)
        self.poured += 300

    @precondition(lambda self: any(amount for _, amount in self.told.values()))
    @rule(data=st.data())
    def struck(self, data: st.DataObject) -> None:
        """The entry of a session is struck out on Quantities: it teaches no more, but the colour is gone and the coats are on."""
        pk = data.draw(st.sampled_from(sorted(pk for pk, (_, amount) in self.told.items() if amount)))
        for use in SessionDone.objects.get(pk=pk).uses.filter(struck=None, entry__isnull=False):
            strike(use)

    @precondition(lambda self: any(amount for _, amount in self.told.values()))
    @rule(data=st.data())
    def back_into_the_cup(self, data: st.DataObject) -> None:
        """What was drawn for a session is taken back at the bench."""
        pk = data.draw(st.sampled_from(sorted(pk for pk, (_, amount) in self.told.items() if amount)))
        if pk in self.taken_back:
            return
        for entry in SessionDone.objects.get(pk=pk).entries.filter(countered_by=None):
            take_back(entry.pk)
        self.taken_back.add(pk)

    @rule(piece=st.sampled_from(PIECES))
    def repair(self, piece: str) -> None:
        """A snag is found and decided “repair”."""
        row = snag_actions.add(self.job, f"Seam {len(self.repairs)}", piece=piece)
        snag_actions.decide(row, Decision.REPAIR, version=0)
        row.refresh_from_db()
        assert row.repair is not None
        key = f"{piece}/repair{row.repair.pk}/{row.repair.name} · other preparation"
        self.repairs[row.pk] = key

    @precondition(lambda self: self.repairs)
    @rule(data=st.data())
    def repaired(self, data: st.DataObject) -> None:
        """It is repaired, by a tap of a session."""
        key = self.repairs[data.draw(st.sampled_from(sorted(self.repairs)))]
        event = tell(self.job, [key], "done", self.token(), at=self.later())
        if key not in self.done:
            self.done.add(key)
            self.told[event.row.pk] = ({key}, 0.0)

    @rule(piece=st.sampled_from(PIECES))
    def failed(self, piece: str) -> None:
        """The inspection says: again."""
        note_checks(self.job, [piece], "lamp", result="again")
        self.again.add(piece)

    @precondition(lambda self: len(self.marks) < 5)
    @rule(planned=st.booleans())
    def came_later(self, planned: bool) -> None:
        """A piece turns up; the days are planned again with it, or not yet."""
        mark = f"C{len(self.marks) + 1}"
        add_pieces(self.job, make_piece(key=mark, name="Later", group="Chair", shape="panel", length=0.4, width=0.4, sat_on=True))  # fmt: skip
        self.marks.append(mark)
        if planned:
            shown = lean_plan()
            more = [
                replace(act, key=act.key.replace("C1/", f"{other}/"), piece=other)
                for act in shown.acts
                for other in self.marks[3:]
                if act.piece == "C1"
            ]
            keep_plan(self.job, replace(shown, acts=(*shown.acts, *more)))

    def gone(self) -> float:
        return sum(amount for pk, (_, amount) in self.told.items() if pk not in self.taken_back)

    @invariant()
    def all_pages_agree(self) -> None:
        """What each page reads, gathered once for all of them, as for one page."""
        with remembering():
            self.mixing_and_quantities_have_the_same_litres()
            self.coats_are_those_that_were_tapped()
            self.days_have_the_same_ticks()
            self.inspection_waits_for_what_is_not_done()

    def found(self) -> quantities.Quantities:
        found = quantities.quantities(self.job, vessels.colour_in_hand(self.job))
        assert found is not None
        return found

    def mixing_and_quantities_have_the_same_litres(self) -> None:
        cups = list(MixVessel.objects.filter(sequence__entry__isnull=False).distinct())
        held = sum(volume(vessels.ledger_of([cup]), cup.key) / 1000 for cup in cups)
        assert held == pytest.approx(self.poured - self.gone(), abs=0.1)
        assert vessels.colour_in_hand(self.job) == pytest.approx(held, abs=0.1)
        found = self.kept = self.found()
        assert quantities.colour_gone(self.job) == pytest.approx(self.gone(), abs=0.1)
        assert found.standing.used == pytest.approx(self.gone(), abs=0.1)
        assert found.standing.in_hand == pytest.approx(held, abs=0.1)

    def coats_are_those_that_were_tapped(self) -> None:
        found = self.kept
        for item, share in zip(found.model.items, found.model.done, strict=True):
            on = sum(f"{item.piece}/front/{step}" in self.done for step in COATS_OF[item.stage])
            if item.stage is Stage.WIPED and all(
                f"{item.piece}/front/{s}" in self.done for s in COLOURED[1:]
            ):
                # Sprayed all over, it was wiped in, tapped or not.
                on = 1
            assert share == pytest.approx(on / PLANNED[item.stage], abs=0.01), (item.piece, item.stage)

    def days_have_the_same_ticks(self) -> None:
        assert {key for key, s in standings(self.job).items() if s.done} == self.done
        shown = days.plan_in_force(self.job)
        assert shown is not None
        ticks = {
            line.act.key
            for day in shown.days
            for person in days.day_list(self.job, shown, day).people
            for line in person.lines
            if line.standing.done
        }
        assert ticks == {act.key for act in shown.acts} & self.done
        unknown = set(self.marks) - self.planned()
        assert days.unplanned(self.job) in (0, len(unknown)) or self.repairs or self.again

    def inspection_waits_for_what_is_not_done(self) -> None:
        assert {piece.key for piece in inspected(self.job)} >= set(self.marks)
        assert {piece.key for piece in inspected(self.job) if piece.again} == self.again
        shown = days.plan_in_force(self.job)
        assert shown is not None
        words = " ".join(hindrances(self.job))
        todo = {a.piece for a in shown.acts if "/inspect" not in a.key and a.key not in self.done}
        listed = words.partition("Work is not done on: ")[2]
        assert all(mark in listed for mark in todo)
        opened, _ = snags(self.job)
        for snag in opened:
            assert snag.repaired is not None
            assert snag.repaired.done == (self.repairs[snag.row.pk] in self.done)
        assert len(opened) == len(self.repairs) == Snag.objects.filter(job=self.job).count()
        assert Redo.objects.filter(job=self.job, withdrawn=None).exclude(name="").count() == len(self.repairs)


def test_pages_never_disagree(db: Any) -> None:
    """Few examples in the check; `make hunt` draws more."""
    few = not HUNT or HUNT == "mutants"
    run_state_machine_as_test(
        Events,
        settings=settings(
            max_examples=2 if few else 60,
            stateful_step_count=9 if few else 25,
            suppress_health_check=list(HealthCheck),
        ),
    )
