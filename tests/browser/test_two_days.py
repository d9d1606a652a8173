"""In a real browser, at the width of a phone: two days of a small job by taps of sessions alone. A piece is left out, a snag is repaired, a helper falls ill; afterwards all pages have the same figures."""

from collections import Counter
from datetime import date, datetime, time, timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from browser.test_days_changes import LONG, plan_again, press, quickly
from hidewright.planning.problem.rest import STARTING
from hidewright.takeoff.products import Product, Role
from hidewright.workshop.days import actions as days
from hidewright.workshop.days import queries as gather
from hidewright.workshop.days.models import OtherWork
from hidewright.workshop.days.progress_queries import standings
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.inspection.models import Snag
from hidewright.workshop.inspection.sign_off_queries import hindrances
from hidewright.workshop.pieces.actions import add_pieces
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.room import actions as room
from hidewright.workshop.room.absence_actions import add_absence
from hidewright.workshop.shelf import actions as shelf
from hidewright.workshop.shelf import vessel_queries as vessels
from hidewright.workshop.shelf.models import Product as ProductRow
from hidewright.workshop.shop.models import Job, Person
from hidewright.workshop.shop.units import shown_volume
from workshop.lean_shop import PIECES, mixed

pytestmark = pytest.mark.django_db(transaction=True)

PHONE = {"width": 390, "height": 844}
MOST = 15
"""Taps a person and day."""


class Hands:
    """Taps at a moment, and how many each person made on each day."""

    def __init__(self, page: Page, monkeypatch: pytest.MonkeyPatch) -> None:
        self.page, self.taps = page, Counter[tuple[str, date]]()
        self.moment = timezone.now()
        monkeypatch.setattr(timezone, "now", lambda: self.moment)

    def at(self, moment: datetime) -> None:
        """Let it be this moment for the shop and for the phone."""
        self.moment = moment.replace(tzinfo=timezone.get_current_timezone())
        self.page.clock.set_fixed_time(self.moment)

    def tap(self, place: Locator, person: str) -> None:
        self.taps[person, self.moment.date()] += 1
        place.click(timeout=LONG)

    def day(self, job: Job, day: date, *, but: str = "") -> float:
        """Every session of a day is tapped done, as each ends; where `but` is a piece it is left out of the last session that has it and another. Gives the mL of colour that was read."""
        plan = gather.plan_in_force(job)
        assert plan is not None
        read = 0.0
        self.at(datetime.combine(day, time(7, 30)))
        self.page.goto(f"/jobs/{job.pk}/days/{day:%Y-%m-%d}/")
        for person in gather.day_list(job, plan, day).people:
            groups = person.open_groups
            shared = [group for group in groups if but in group.pieces and len(group.pieces) > 1]
            box = self.page.locator("details.person-day").filter(has_text=person.name).first
            if groups and box.get_attribute("open") is None:
                self.tap(box.locator("summary").first, person.name)
            for group in groups:
                self.at(group.end)
                line = box.locator(f"li.act[data-act='{group.key}']")
                for pot in line.locator("input[name^='pot:colour']").all():
                    amount = round(float(pot.input_value().removesuffix(" mL"))) + 2
                    self.tap(pot, person.name)
                    pot.fill(f"{amount} mL")
                    read += amount
                if shared and group is shared[-1]:
                    self.tap(line.locator("details.snag > summary"), person.name)
                    self.tap(line.locator(f"input[name=but][value='{but}']"), person.name)
                    self.tap(line.get_by_role("button", name="Done so"), person.name)
                else:
                    self.tap(line.locator("form[data-all] button.tap"), person.name)
                    expect(line).to_have_attribute("data-state", "done")
        expect(self.page.locator("#taps-state")).to_have_attribute("data-waiting", "0", timeout=LONG)
        return read


@pytest.fixture
def job(transactional_db: None, monkeypatch: pytest.MonkeyPatch) -> Job:
    """Four pieces, two people, a cup of the colour and a can of clear; work starts on the coming Monday."""
    monkeypatch.setattr(days, "plan", quickly(days.plan))
    monkeypatch.setattr(days, "replan", quickly(days.replan))
    monkeypatch.setattr(days, "seconds_for_relief", lambda asked: 0.05)
    OtherWork.objects.bulk_create(
        OtherWork(key=item.key, name=item.name, per=str(item.per), when=str(item.when), minutes=0)
        for item in STARTING
    )
    room.import_tables("key,name,length,depth\na,Table A,3.6,0.9\n")
    hours = "".join(f"{day},08:00-12:00 12:30-17:00\n" for day in ("Mon", "Tue", "Wed", "Thu", "Fri"))
    room.import_hours(f"weekday,hours\n{hours}", "key,name\nana,Ana\nben,Ben\n")
    today = timezone.localdate()
    made = open_job("Two days", starts=today + timedelta(days=7 - today.weekday()))
    for piece in PIECES:
        add_pieces(made, piece)
    mixed(made, 3000)
    shelf.add_product(Product("clear-coat", "Clear coat", Role.CLEAR, solids=0.3))
    shelf.receive(ProductRow.objects.get(), 3000, lot="K1")
    return made


def test_two_days_by_taps_of_sessions(page: Page, job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    hands = Hands(page, monkeypatch)
    page.set_viewport_size(PHONE)
    page.set_default_timeout(LONG)
    page.set_default_navigation_timeout(LONG)
    first = job.starts
    hands.at(datetime.combine(first, time(7)))
    page.goto(f"/jobs/{job.pk}/days/")
    press(page.get_by_role("button", name="Plan the days"))
    read = hands.day(job, first, but="C2")
    done = {key for key, standing in standings(job).items() if standing.done}
    early = gather.plan_in_force(job)
    assert early is not None
    left = [act.piece for act in early.acts if act.start.date() == first and act.key not in done]
    assert left, "one piece was left out of one session"
    assert set(left) == {"C2"}

    page.goto(f"/jobs/{job.pk}/snags/")
    page.locator("#new input[name=what]").fill("Seam open")
    page.locator("#new input[name=piece]").fill("C1")
    press(page.locator("#new button.primary"))
    page.locator(".snag select[name$=decision]").select_option("repair")
    press(page.get_by_role("button", name="Note the decision"))
    add_absence(Person.objects.get(name="Ben"), first + timedelta(days=1))
    hands.at(
        datetime.combine(first, time(17, 30))
    )  # after closing: what was left out comes on the second day
    page.goto(f"/jobs/{job.pk}/days/")
    plan_again(page)
    row = Snag.objects.get()
    assert row.repair is not None
    plan = gather.plan_in_force(job)
    assert plan is not None
    second = first + timedelta(days=1)
    assert {act.person for act in plan.acts if act.start.date() == second} == {"Ana"}
    assert any(f"/repair{row.repair.pk}/" in act.key for act in plan.acts if act.start.date() == second)
    read += hands.day(job, second)

    assert max(hands.taps.values()) <= MOST, dict(hands.taps)
    page.goto(f"/jobs/{job.pk}/snags/")
    expect(page.locator(f"#snag-{row.pk}")).to_contain_text("Repaired")
    assert quantities.colour_gone(job) == pytest.approx(read, abs=0.1)
    in_hand = vessels.colour_in_hand(job)
    assert in_hand == pytest.approx(3000 - read, abs=0.1)
    for name in ("mixing", "quantities", "days", "inspection"):
        page.goto(f"/jobs/{job.pk}/{name}/")
        expect(page.locator("body")).to_contain_text(shown_volume(in_hand))
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, name
    done = {key for key, standing in standings(job).items() if standing.done}
    over = {act.key for act in plan.acts if act.start.date() <= second}
    assert over <= done, "what was left out had its time on the second day"
    undone = {act.piece for act in plan.acts if act.key not in done and "/inspect" not in act.key}
    waits = next((words for words in hindrances(job) if words.startswith("Work is not done")), "")
    assert all(piece in waits for piece in undone)
