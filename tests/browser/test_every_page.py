"""Every page of the demonstration's job fits a phone, a tablet and a laptop, and a link leads to each."""

import os
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image
from playwright.sync_api import BrowserContext

from browser.walking import BY_AN_ACT, BY_HOW_THINGS_STAND, walk
from hidewright import demo
from hidewright.lists.grid import grid_of_text
from hidewright.workshop import demonstration
from hidewright.workshop.approvals import actions as approvals
from hidewright.workshop.bench import jar_actions as jars
from hidewright.workshop.calls import actions as calls
from hidewright.workshop.colours import own_actions
from hidewright.workshop.frame.pictures import keep_picture
from hidewright.workshop.front.copy_actions import keep_today
from hidewright.workshop.intake import actions as intake
from hidewright.workshop.lists import actions as lists
from hidewright.workshop.papers import quote_actions as quotes
from hidewright.workshop.papers.price_queries import options
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job

pytestmark = pytest.mark.django_db(transaction=True)

SECONDS_FOR_A_PLAN = 3.0


def nobody(fraction: float, words: str) -> None:
    """Nobody watches the progress."""


def a_photo() -> bytes:
    """A made photo: leather beside a grey card."""
    made = Image.new("RGB", (640, 420), (150, 118, 96))
    made.paste((119, 119, 119), (380, 80, 600, 340))
    held = BytesIO()
    made.save(held, "JPEG")
    return held.getvalue()


@pytest.fixture
def demonstrated(transactional_db: None) -> Job:
    """The demonstration, some days in and nothing ticked off, with a jar kept aside, a second colour and a second job."""
    demonstration.open_the_smaller_job(date.today() - timedelta(days=4))
    job = demonstration.open_the_job(date.today() - timedelta(days=4))
    demonstration.give_the_trim_its_colour(job)
    demonstration.find_pigments(nobody)
    demonstration.find_recipe(job, nobody)
    demonstration.mix_first_cup(job)
    demonstration.note_the_rest(job)
    demonstration.plan_days(job, nobody, SECONDS_FOR_A_PLAN)
    intake.take_in(
        job, [job.pieces.order_by("pk")[0].pk], brought_by="A driver", day=date.today() - timedelta(days=4)
    )
    approvals.propose(job, 0, ["was"])
    calls.keep_call("Mrs Lind", {"seat": 2}, strip="no")
    jars.keep_jar(MixVessel.objects.get(job=job), 100.0, name="For touching up")
    own_actions.begin(job, own_actions.Start("Own", 500.0, 30.0))
    quotes.give(job, options(job)[0], date.today() + timedelta(days=30))
    return job


def test_every_page_fits_and_is_led_to(context: BrowserContext, demonstrated: Job) -> None:
    """No page scrolls sideways, nothing to tap is under 44 px (56 with gloves), the bench's tasks stand high, no script complains, no address is orphaned."""
    brought = lists.bring(demonstrated, "pieces", "pieces.csv", grid_of_text(demo.text("pieces.csv")))
    shelf = lists.bring(None, "products", "products.csv", grid_of_text(demo.text("products.csv")))
    photographs = Path(os.environ["HIDEWRIGHT_SHOTS"]) if "HIDEWRIGHT_SHOTS" in os.environ else None
    picture = keep_picture(SimpleUploadedFile("seat.jpg", a_photo(), content_type="image/jpeg")).removesuffix(
        ".jpg"
    )
    keep_today()
    viewed = approvals.make_link(demonstrated.sheets.get(), days=3)
    start = (
        "/",
        viewed,
        f"{viewed.rstrip('/')}.pdf",
        reverse("bring_list", args=["products"]),
        reverse("bring_job_list", args=[demonstrated.pk, "pieces"]),
        reverse("eye_memory"),
        reverse("hand_over", args=[demonstrated.pk]),
        reverse("brought_job_list", args=[demonstrated.pk, brought.pk]),
        reverse("brought_list", args=[shelf.pk]),
        reverse("pick_patches", args=[demonstrated.pk, picture]),
        reverse("photo_picture", args=[demonstrated.pk, picture]),
    )
    found = walk(context.new_page(), start, into=photographs)
    assert found.seen.keys() >= BY_AN_ACT | BY_HOW_THINGS_STAND
    assert found.gloved >= {"mixing", "vessel", "days", "day", "piece_days", "snags", "quick_snag"}
    assert not found.faults, "\n".join(found.faults)
