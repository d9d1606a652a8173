"""Variants side by side, spraying held until somebody agrees, a later change, and a link for somebody outside."""

import io
import json
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from hidewright.workshop.approvals.models import Agreement, Sheet, ViewerLink
from hidewright.workshop.approvals.queries import standing
from hidewright.workshop.colours import actions as colours
from hidewright.workshop.colours.models import Colour, ColourVersion, Reading
from hidewright.workshop.colours.queries import target_row
from hidewright.workshop.days.models import Hold
from hidewright.workshop.days.request_queries import goes_on
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo
from workshop.world import STROKES

pytestmark = pytest.mark.django_db
LIST = (
    "key,name,group,shape,length,width,sat_on\nA1,Seat,Chair,panel,500,400,yes\nA2,Lid,Box,panel,300,200,no\n"
)


@pytest.fixture
def sheet(visitor: Client, job: Job) -> Sheet:
    import_csv(job, LIST)
    new = colours.type_colour(job, "Tan", (55.0, 10.0, 20.0))
    old = colours.type_colour(job, "Old", (50.0, 10.0, 20.0))
    colours.set_target(job, new.pk, old.pk)
    sent = {"sheet-ways": ["was", "now", "lighter", "neutral"], "sheet-note": "by the window"}
    assert visitor.post(f"/jobs/{job.pk}/approvals/", sent).status_code == 302
    return Sheet.objects.get()


def agree(visitor: Client, sheet: Sheet, place: int, **more: str) -> int:
    variant = sheet.variants.get(place=place)
    sent = {
        "variant": variant.pk, "name": "Mrs Lind", "day": "2026-03-03", "light": "daylight at a window", "judged_on": "panel",
        "tolerance": "0.8", "signature": json.dumps(STROKES), **more,
    }  # fmt: skip
    return visitor.post(f"/jobs/{sheet.job_id}/approvals/{sheet.pk}/agree/", sent).status_code


def test_variants_stand_side_by_side(visitor: Client, job: Job, sheet: Sheet) -> None:
    lightness = [v.takes["lab"][0] for v in sheet.variants.all()]
    assert lightness[1] - lightness[0] == pytest.approx(5, abs=0.3)
    assert lightness[2] - lightness[1] == pytest.approx(2, abs=0.1)
    chroma = [(v.takes["lab"][1] ** 2 + v.takes["lab"][2] ** 2) ** 0.5 for v in sheet.variants.all()]
    assert chroma[3] < 0.9 * chroma[2]
    page = visitor.get(f"/jobs/{job.pk}/approvals/").content.decode()
    assert "Lighter and more neutral" in page
    assert f"{job.pk}-S1-3" in page
    five = {"sheet-ways": ["was", "now", "lighter", "neutral", "darker"]}
    assert visitor.post(f"/jobs/{job.pk}/approvals/", five).status_code == 422


def test_an_older_sheet_says_that_its_agreement_was_replaced(visitor: Client, job: Job, sheet: Sheet) -> None:
    def paper(row: Sheet) -> str:
        content = visitor.get(f"/jobs/{job.pk}/approvals/{row.pk}/sheet.pdf").content
        return " ".join(PdfReader(io.BytesIO(content)).pages[0].extract_text().split())

    assert agree(visitor, sheet, 2) == 302
    assert "replaced" not in paper(sheet)
    visitor.post(f"/jobs/{job.pk}/approvals/", {"sheet-ways": ["now", "lighter"]})
    second = Sheet.objects.get(number=2)
    assert "replaced" not in paper(sheet), "it holds until somebody agrees to another"
    assert agree(visitor, second, 2, name="Mr Lind") == 302
    assert "Agreed, then replaced" in paper(sheet)
    assert "Replaced by sheet 2: A little lighter, agreed by Mr Lind on 3 Mar 2026." in paper(sheet)
    assert "replaced" not in paper(second)
    page = visitor.get(f"/jobs/{job.pk}/approvals/").content.decode()
    assert page.count("agreed, then replaced") == 1
    colours.set_target(job, Reading.objects.filter(name="Old").latest("pk").pk, None)
    assert "The target was changed since" in paper(second)


def test_held_until_agreed_and_again_after_a_change(visitor: Client, job: Job, sheet: Sheet) -> None:
    until = timezone.localdate() + timedelta(days=1)
    assert (
        visitor.post(f"/jobs/{job.pk}/approvals/{sheet.pk}/hold/", {"hold-until": until}).status_code == 302
    )
    holds = {row.piece: row.before for row in Hold.objects.filter(job=job, lifted=None)}
    assert holds == {"A1": "wipe in colour", "A2": "spray colour"}
    Hold.objects.update(until=timezone.localdate() - timedelta(days=9))
    assert all(goes_on(row) > timezone.localdate() for row in Hold.objects.all()), (
        "nobody answered: they wait on"
    )
    before = target_row(job, 0)
    assert agree(visitor, sheet, 3) == 302
    assert not Hold.objects.filter(job=job, lifted=None).exists()
    colour, aimed = Colour.objects.get(), target_row(job, 0)
    newest = ColourVersion.objects.filter(withdrawn=None).latest("number")
    assert aimed is not None
    assert aimed.reading == sheet.variants.get(place=3).reading
    assert aimed.version == newest
    assert newest.number == 3
    assert "Mrs Lind" in newest.why
    assert (colour.tolerance, colour.truth) == (0.8, "panel")
    assert standing(job).holds
    assert agree(visitor, sheet, 3) == 422, "agreed already"
    colours.set_target(job, colours.type_colour(job, "Later", (60.0, 9.0, 18.0)).pk, None)
    assert standing(job).changed
    assert "new agreement" in visitor.get(f"/jobs/{job.pk}/approvals/").content.decode()
    undo(Act.objects.filter(undo_name="colour.target").latest("pk").pk)
    undo(Act.objects.get(undo_name="sheets.agree").pk)
    assert Hold.objects.filter(job=job, lifted=None).count() == 2, "they wait again"
    assert target_row(job, 0) == before
    assert Colour.objects.get().tolerance == 1.0
    assert Agreement.objects.count() == 1, "history stays"


@pytest.mark.parametrize(
    "wrong",
    [
        {"signature": ""},
        {"name": ""},
        {"tolerance": "0"},
        {"day": "2999-01-01"},
        {"variant": "0"},
        {"light": ""},
    ],
)
def test_half_an_agreement_is_refused(wrong: dict[str, str], visitor: Client, sheet: Sheet) -> None:
    assert agree(visitor, sheet, 2, **wrong) == 422
    assert not Agreement.objects.exists()


def test_somebody_outside_sees_one_sheet_until_the_link_ends(
    visitor: Client, job: Job, sheet: Sheet, client: Client
) -> None:
    answer = visitor.post(
        f"/jobs/{job.pk}/approvals/{sheet.pk}/link/", {"link-days": "7", "link-for_whom": "D"}, follow=True
    )
    page = answer.content.decode()
    where = page[page.index("/door/") :].split("/sheet/")[0] + "/sheet/"
    stranger = Client()
    seen = stranger.get(where)
    assert seen.status_code == 200
    assert "A little lighter" in seen.content.decode()
    assert stranger.get(where.removesuffix("/") + ".pdf").status_code == 200
    assert stranger.post(where).status_code == 405
    assert stranger.get(f"/jobs/{job.pk}/approvals/").status_code == 403
    assert stranger.get(f"/door/{'x' * 32}/sheet/").status_code == 404
    link = ViewerLink.objects.get()
    ViewerLink.objects.update(expires=timezone.now() - timedelta(seconds=1))
    assert stranger.get(where).status_code == 404, "it ended"
    ViewerLink.objects.update(expires=timezone.now() + timedelta(days=1))
    assert visitor.post(f"/jobs/{job.pk}/approvals/links/{link.pk}/back/").status_code == 302
    assert stranger.get(where).status_code == 404, "it was taken back"
