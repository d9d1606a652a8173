"""The Price page: ways side by side, sundries with their rules, a quote that adds up."""

from datetime import date, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.test import Client
from pypdf import PdfReader

from hidewright import demo
from hidewright.papers.quote import Ready
from hidewright.planning.problem.pace import Took, learn_pace
from hidewright.planning.problem.routes import PACE
from hidewright.refusals import Refusal
from hidewright.survey import Piece, make_piece
from hidewright.workshop.papers import price_queries as gather
from hidewright.workshop.papers.quote_queries import scope_of
from hidewright.workshop.pieces import actions as survey
from hidewright.workshop.quantities import queries as quantities_gather
from hidewright.workshop.quantities.models import Figures
from hidewright.workshop.shelf import actions as products
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo


@pytest.fixture
def filled(job: Job) -> Job:
    survey.import_csv(job, demo.text("pieces.csv"))
    products.import_csv(demo.text("products.csv"))
    return job


def url(job: Job, rest: str = "") -> str:
    return f"/jobs/{job.pk}/price/{rest}"


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def facts(job: Job, **changes: str) -> dict[str, str]:
    usual = {"hourly": "75", "markup": "20", "price_odds": "90", "tax_name": "Sales tax", "tax_rate": "8.25", "terms": "Half before we start.\nRest on delivery."}  # fmt: skip
    return {**usual, "version": str(quantities_gather.figures(job).version), **changes}


def test_without_pieces_it_leads_to_the_survey(visitor: Client, job: Job) -> None:
    assert "Go to the survey" in visitor.get(url(job)).content.decode()


def test_ways_stand_side_by_side(visitor: Client, filled: Job) -> None:
    page = visitor.get(url(filled)).content.decode()
    for words in (
        "As surveyed",
        "Strip and change fully",
        "Recoat as it was",
        "Masking tape, narrow",
        "Against the survey",
    ):
        assert words in page
    ways = {o.key: o for o in gather.options(filled)}
    assert ways["change"].price.total > ways["surveyed"].price.total > 0
    assert ways["change"].hours > ways["recoat"].hours
    assert ways["change"].apart > ways["surveyed"].apart
    assert ways["recoat"].takeoff.assumed.colour_coats == 1, "the same colour has nothing to hide"
    added = ways["change"].added
    assert added is not None
    assert added.money == ways["change"].price.total - ways["surveyed"].price.total
    assert (added.apart, added.stripped) == (
        ways["change"].apart - ways["surveyed"].apart,
        ways["change"].stripped - ways["surveyed"].stripped,
    )
    assert added.colour > 0
    assert ways["recoat"].added.coats == -1  # type: ignore[union-attr]
    assert ways["surveyed"].added is None


def test_what_no_price_is_listed_for_is_named_beside_the_price(visitor: Client, job: Job) -> None:
    survey.import_csv(job, demo.text("pieces.csv"))
    page = visitor.get(url(job)).content.decode()
    assert "The price leaves out what no price is listed for:" in page
    assert "Wipe-down solvent" in page
    pdf = visitor.get(url(job, "surveyed/quote.pdf")).content
    assert "Wipe-down solvent" not in text_of(pdf), (
        "what the shop must still find out is not the customer's matter"
    )
    assert "Not in the price:" in text_of(visitor.get(url(job, "surveyed/sheet.pdf")).content)
    products.import_csv(demo.text("products.csv"))
    assert "leaves out" not in visitor.get(url(job)).content.decode()


def test_a_way_that_comes_to_the_same_as_the_survey_is_left_out(visitor: Client, filled: Job) -> None:
    """The demonstration's survey strips only what is overcoated, with two coats: shifting it a little is just that."""
    assert "shift" not in {o.key for o in gather.options(filled)}
    assert "Shift it a little" not in visitor.get(url(filled)).content.decode()
    assert visitor.get(url(filled, "shift/quote.pdf")).status_code == 422
    row, _ = Figures.objects.get_or_create(job=filled)
    Figures.objects.filter(pk=row.pk).update(changes={"colour_coats": 1})
    kept = {o.key: o for o in gather.options(filled)}
    assert kept["shift"].takeoff.assumed.colour_coats == 2
    assert "recoat" not in kept


def test_the_price_follows_the_shop_s_own_pace(
    visitor: Client, filled: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = gather.options(filled)[0]
    assert 0 < first.rest < first.hours
    assert "starting pace" in visitor.get(url(filled)).content.decode()
    entries = [Took(str(kind), 60, 90) for kind in PACE for _ in range(40)]
    monkeypatch.setattr(gather.days, "learned", lambda: learn_pace(entries))
    slower = gather.options(filled)[0]
    assert slower.hours - slower.rest == pytest.approx(1.5 * (first.hours - first.rest), rel=0.03)
    assert f"learned from {40 * len(PACE)} entries" in visitor.get(url(filled)).content.decode()


def test_more_coats_take_more_hours(filled: Job) -> None:
    hours = {}
    row, _ = Figures.objects.get_or_create(job=filled)
    for coats in (1, 2, 4):
        Figures.objects.filter(pk=row.pk).update(changes={"colour_coats": coats})
        hours[coats] = gather.options(filled)[0].hours
    assert hours[1] < hours[2] < hours[4]


def test_what_it_stands_on_is_set_and_undone(visitor: Client, filled: Job) -> None:
    before = gather.options(filled)[0].price
    assert visitor.post(url(filled), facts(filled)).status_code == 302
    after = gather.options(filled)[0].price
    assert after.labour == (before.labour * Decimal(75) / Decimal(60)).quantize(Decimal("0.01"))
    assert after.risk > before.risk
    undo(Act.objects.latest("id").pk)
    assert gather.options(filled)[0].price == before


@pytest.mark.parametrize("bad", [{"hourly": "-1"}, {"markup": "x"}, {"price_odds": "100"}, {"tax_rate": "150"}, {"version": "9"}])  # fmt: skip
def test_what_cannot_be_is_refused(visitor: Client, filled: Job, bad: dict[str, str]) -> None:
    assert visitor.post(url(filled), facts(filled, **bad)).status_code == 422
    assert quantities_gather.figures(filled).tax_name == ""


def test_rules_for_sundries_are_set_and_undone(visitor: Client, filled: Job) -> None:
    form = visitor.get(url(filled)).context["rules"]
    data = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    assert visitor.post(url(filled, "sundries/"), {**data, "gloves": "6"}).status_code == 302
    assert quantities_gather.figures(filled).sundries == {"gloves": 6.0}
    undo(Act.objects.latest("id").pk)
    assert quantities_gather.figures(filled).sundries == {}
    assert visitor.post(url(filled, "sundries/"), {**data, "gloves": "-6"}).status_code == 422


def test_the_quote_carries_the_sums_and_the_terms(visitor: Client, filled: Job) -> None:
    visitor.post(url(filled), facts(filled))
    answer = visitor.get(url(filled, "surveyed/quote.pdf"))
    assert answer.headers["Content-Type"] == "application/pdf"
    text = text_of(answer.content)
    total = gather.options(filled)[0].price.total
    for words in (
        f"{total:,.2f}",
        "Sales tax 8.25 %",
        "Half before we start.",
        "A job under test",
        "This quote holds until",
        "We name the day when the work is planned",
    ):
        assert words in text, words


def test_the_customer_sees_what_they_buy_and_the_shop_what_it_earns(visitor: Client, filled: Job) -> None:
    """No part of the price, and none of its words, is on the customer's paper; all of them are on the shop's."""
    visitor.post(url(filled), facts(filled))
    cost = gather.options(filled)[0].price
    parts = {
        name: f"{getattr(cost, name):,.2f}" for name in ("labour", "materials", "sundries", "markup", "risk")
    }
    quote = text_of(visitor.get(url(filled, "surveyed/quote.pdf")).content)
    sheet = text_of(visitor.get(url(filled, "surveyed/sheet.pdf")).content)
    for name, money in parts.items():
        assert money not in quote, name
        assert money in sheet, name
    for words in ("argin", "arkup", "odds", "Handling", "hours of hands"):
        assert words not in quote, words
    for words in ("Lounge chair", "sprayed coats of colour", "to be agreed on a real panel"):
        assert words in quote, words


def test_a_quote_that_was_given_stays_as_it_was(visitor: Client, filled: Job) -> None:
    later = (date.today() + timedelta(days=14)).isoformat()
    assert visitor.post(url(filled, "surveyed/give/"), {"until": "2020-01-01"}).status_code == 422
    assert visitor.post(url(filled, "surveyed/give/"), {"until": later}).status_code == 302
    before = text_of(visitor.get(url(filled, "given/1.pdf")).content)
    visitor.post(url(filled), facts(filled))
    visitor.post(url(filled, "recoat/give/"), {"until": later})
    assert text_of(visitor.get(url(filled, "given/1.pdf")).content) == before
    assert "Sales tax" not in before
    assert "Sales tax" in text_of(visitor.get(url(filled, "given/2.pdf")).content)
    assert "Quotes that were given" in visitor.get(url(filled)).content.decode()
    undo(Act.objects.latest("id").pk)
    assert visitor.get(url(filled, "given/2.pdf")).status_code == 404


def test_the_day_is_said_as_a_customer_understands_it() -> None:
    both = Ready(date(2026, 3, 12), date(2026, 3, 16), date(2026, 3, 2)).words
    assert (
        both[0] == "Plan with Monday 16 March 2026: of ten jobs like this one, nine are ready by their day."
    )
    assert "As likely as not it is ready by Thursday 12 March 2026." in both
    assert "Monday 2 March 2026" in both[2]
    known = Ready(date(2026, 3, 12), date(2026, 3, 16), times="three times in four").words
    assert "Three times in four it is ready by Thursday 12 March 2026." in known
    same = Ready(date(2026, 3, 12), date(2026, 3, 12), None).words
    assert len(same) == 1
    assert Ready(days=11.6).words == ("About 12 working days of work, and drying. We name the day when the work is planned.",)  # fmt: skip
    with pytest.raises(Refusal):
        Ready(date(2026, 3, 12), date(2026, 3, 2))


def test_groups_that_get_the_same_stand_in_one_line() -> None:
    def one(key: str, group: str, **more: bool) -> Piece:
        return make_piece(key=key, name="Seat", group=group, shape="panel", length=0.6, width=0.5, **more)

    alike = [one(f"C{n}", f"Chair {n}", strip=True) for n in range(1, 13) if n not in (5, 7)]
    lines = scope_of([*alike, one("D1", "Chair 13"), one("S", "Settee", strip=True), one("T", "Settee")])
    assert [(line.name, line.pieces, line.words) for line in lines] == [
        ("Chair 1 to 4, 6, 8 to 12", 10, "Each: stripped of the old coat"),
        ("Chair 13", 1, "cleaned, prepared and coated"),
        ("Settee", 2, "1 stripped of the old coat"),
    ]


def test_an_unknown_way_is_refused(visitor: Client, filled: Job) -> None:
    assert visitor.get(url(filled, "magic/quote.pdf")).status_code == 422


def test_an_area_off_a_template_counts_in_every_way(job: Job) -> None:
    facts = {"group": "Chair", "shape": "panel", "length": 0.6, "width": 0.5, "thickness": 0.02}
    flat = make_piece(key="A", name="Template", measured=0.2, sat_on=True, turned=False, **facts)  # type: ignore[arg-type]
    survey.add_pieces(job, flat, 1)
    ways = {option.key: option.takeoff for option in gather.options(job)}
    drawn = {t: make_piece(key="A", name="Drawn", turned=t, **facts).area for t in (False, True)}  # type: ignore[arg-type]
    assert ways["surveyed"].area == pytest.approx(0.2, rel=1e-3)
    assert ways["recoat"].area == pytest.approx(0.2, rel=1e-3)
    assert ways["change"].area == pytest.approx(0.2 * drawn[True] / drawn[False], rel=1e-3)
