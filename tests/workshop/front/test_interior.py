"""The interior as a picture: where each piece is, counted from taps, arrivals and hand-overs."""

import re
from datetime import date

import pytest
from django.test import Client
from django.utils import timezone

from hidewright.charts.shapes import shape_filled
from hidewright.survey import make_piece
from hidewright.workshop.days.actions import keep_plan
from hidewright.workshop.days.models import Tap, TapKind
from hidewright.workshop.front.interior_queries import GroupStanding, interior
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.handover.models import HandOver, PackedPiece
from hidewright.workshop.intake.actions import take_in
from hidewright.workshop.pieces.actions import add_pieces
from hidewright.workshop.shop.models import Job
from workshop.plans import PLAN

pytestmark = pytest.mark.django_db


@pytest.fixture
def job() -> Job:
    """Two pieces of a chair (one of 1 m², one of a quarter of it) and a wall panel; the plan knows C1 (two steps) and C2 (one)."""
    made = open_job("A job under test", starts=PLAN.days[0])
    for key, group, side in (("C1", "Chair", 1.0), ("C2", "Chair", 0.5), ("W1", "", 1.0)):
        add_pieces(made, make_piece(key=key, name=key, group=group, shape="panel", length=side, width=side))
    keep_plan(made, PLAN)
    return made


def tap(job: Job, act: str) -> None:
    Tap.objects.create(job=job, act_key=act, kind=TapKind.DONE, token=act, at=timezone.now())


def stand(job: Job) -> dict[str, GroupStanding]:
    return {group.name: group for group in interior(job)}


def test_a_group_fills_by_the_steps_that_were_tapped(job: Job) -> None:
    assert stand(job)["Chair"].words == "2 waiting"
    assert stand(job)["Chair"].percent == 0
    tap(job, "C1/top/spray")
    chair = stand(job)["Chair"]
    assert chair.words == "1 in work, 1 waiting"
    assert chair.share == pytest.approx(0.5 * 1.0 / (1.0 + 0.25), rel=0.02), (
        "half of the larger piece, by area"
    )
    tap(job, "C1/turn")
    tap(job, "C2/top/strip")
    chair = stand(job)["Chair"]
    assert (chair.words, chair.percent, chair.done) == ("2 done", 100, 2)
    assert stand(job)[""].words == "1 waiting"


def test_what_did_not_come_and_what_left_is_said(job: Job) -> None:
    rows = {row.key: row for row in job.pieces.all()}
    take_in(job, [rows["C1"].pk, rows["C2"].pk], brought_by="A driver", day=date(2026, 3, 1))
    out = HandOver.objects.create(job=job, number=1, signed=timezone.now())
    PackedPiece.objects.create(hand_over=out, piece=rows["C2"])
    assert stand(job)["Chair"].words == "1 handed over, 1 waiting"
    assert stand(job)[""].words == "1 not here yet"


def test_the_first_page_says_it_in_words_beside_the_shapes(visitor: Client, job: Job) -> None:
    tap(job, "C2/top/strip")
    page = visitor.get(f"/jobs/{job.pk}/").content.decode()
    assert "1 done, 2 waiting." in page
    assert "1 of 2 done" in page
    assert "Other pieces" in page


def test_the_shape_is_filled_as_high_as_its_share() -> None:
    heights = [
        float(re.search(r'<g [^>]*><rect [^>]*height="([\d.]+)"', shape_filled("arm", share))[1])  # type: ignore[index]
        for share in (0.0, 0.25, 1.0, 3.0)
    ]
    assert heights == [0, 9, 36, 36]
