"""The Quantities page: figures, log, learning from job to job, odds."""

from datetime import date

import pytest
from django.test import Client

from hidewright import demo
from hidewright.refusals import Refusal
from hidewright.takeoff.coats import Stage
from hidewright.takeoff.yields import Use as UseValue
from hidewright.workshop.front.job_actions import open_job
from hidewright.workshop.pieces import actions as survey
from hidewright.workshop.pieces import queries as survey_queries
from hidewright.workshop.quantities import actions as steps
from hidewright.workshop.quantities import queries as gather
from hidewright.workshop.quantities.models import Use
from hidewright.workshop.shelf import actions as products
from hidewright.workshop.shelf.models import Product
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo


@pytest.fixture
def filled(job: Job) -> Job:
    survey.import_csv(job, demo.text("pieces.csv"))
    products.import_csv(demo.text("products.csv"))
    return job


def url(job: Job, rest: str = "") -> str:
    return f"/jobs/{job.pk}/quantities/{rest}"


def post_figures(visitor: Client, job: Job, **changes: object) -> object:
    form = visitor.get(url(job)).context["form"]
    data = {
        name: form[name].value()
        for name in form.fields
        if form[name].value() not in (None, "") and form[name].value() is not False
    }
    return visitor.post(url(job), {**data, **changes})


def log(visitor: Client, job: Job, group: str, volume: str, **more: str) -> object:
    data = {"use-stage": "sprayed colour", "use-volume": volume, "use-cups": "1", "group": group, **more}
    return visitor.post(url(job, "use/"), data)


def test_without_pieces_the_page_leads_to_the_survey(visitor: Client, job: Job) -> None:
    assert "Go to the survey" in visitor.get(url(job)).content.decode()
    assert gather.colour_needed(job) is None


def test_the_page_shows_litres_odds_and_what_to_buy(visitor: Client, filled: Job) -> None:
    page = visitor.get(url(filled)).content.decode()
    for words in ("Mixed colour", "Shopping list", "Stripping gel", "<svg", "Mix ", "odds of enough"):
        assert words in page
    needed = gather.colour_needed(filled)
    assert needed is not None
    assert 0 < needed[0] < needed[1]
    assert "no price is entered" not in page
    Product.objects.filter(role="clear").update(price=0)
    assert "without Clear: no price is entered" in visitor.get(url(filled)).content.decode()


def test_a_page_left_alone_sets_nothing(visitor: Client, filled: Job) -> None:
    assert post_figures(visitor, filled).status_code == 302
    assert gather.figures(filled).changes == {}


def test_figures_are_set_and_undone(visitor: Client, filled: Job) -> None:
    before = gather.colour_needed(filled)
    answer = post_figures(visitor, filled, colour_coats="4", transfer="50")
    assert answer.status_code == 302
    assert gather.figures(filled).changes == {"colour_coats": 4, "transfer": 0.5}
    after = gather.colour_needed(filled)
    assert before
    assert after
    assert after[0] > 1.5 * before[0]
    post_figures(visitor, filled, clear_coats="3")
    assert gather.figures(filled).changes == {"colour_coats": 4, "transfer": 0.5, "clear_coats": 3}
    undo(Act.objects.latest("id").pk)
    undo(Act.objects.order_by("id")[Act.objects.count() - 2].pk)
    assert gather.colour_needed(filled) == before


def test_back_to_the_starting_values(visitor: Client, filled: Job) -> None:
    post_figures(visitor, filled, colour_coats="4")
    visitor.post(url(filled), {"reset": "1", "version": str(gather.figures(filled).version)})
    assert gather.figures(filled).changes == {}


@pytest.mark.parametrize("change", [{"transfer": "0"}, {"colour_coats": "99"}, {"odds": "20"}, {"solids_clear": "x"}, {"version": "7"}])  # fmt: skip
def test_figures_that_cannot_be_are_refused(visitor: Client, filled: Job, change: dict[str, str]) -> None:
    assert post_figures(visitor, filled, **change).status_code == 422
    assert gather.figures(filled).changes == {}


def test_a_log_sharpens_the_forecast_and_can_be_struck(visitor: Client, filled: Job) -> None:
    before = gather.quantities(filled)
    assert before
    assert log(visitor, filled, "Lounge chair 1", "700 mL").status_code == 302
    after = gather.quantities(filled)
    assert after
    assert after.standing.used == 700
    assert after.standing.still.sigma < 0.9 * before.standing.still.sigma
    assert after.standing.still.median > before.standing.still.median, "700 mL is far above the forecast"
    used_page = f"/jobs/{filled.pk}/used/"
    page = visitor.get(used_page).content.decode()
    assert "Strike out" in page
    assert "nine times in ten" in page
    visitor.post(url(filled, f"use/{Use.objects.get().pk}/strike/"))
    again = gather.quantities(filled)
    assert again
    assert again.standing.still == before.standing.still
    assert "struck out" in visitor.get(used_page).content.decode()
    undo(Act.objects.latest("id").pk)
    assert len(gather.uses(filled)) == 1


def test_coats_are_logged_one_by_one_and_never_more_than_there_are(visitor: Client, filled: Job) -> None:
    for _ in range(2):
        assert log(visitor, filled, "Settee 1", "300 mL", **{"use-coats": "1"}).status_code == 302
    answer = log(visitor, filled, "Settee 1", "300 mL", **{"use-coats": "1"})
    assert answer.status_code == 422
    assert "more sprayed colour than the coats" in answer.content.decode()
    assert Use.objects.count() == 2


@pytest.mark.parametrize("volume", ["", "x", "0", "10 mL", "-3"])
def test_a_log_that_cannot_be_is_refused(visitor: Client, filled: Job, volume: str) -> None:
    assert log(visitor, filled, "Settee 1", volume).status_code == 422
    assert not Use.objects.exists()


def test_no_piece_is_refused(visitor: Client, filled: Job) -> None:
    assert log(visitor, filled, "no such group", "300 mL").status_code == 422


def test_wiped_in_colour_counts_only_what_is_sat_on(visitor: Client, filled: Job) -> None:
    answer = log(visitor, filled, "Lounge chair 1", "60 mL", **{"use-stage": "wiped-in colour"})
    assert answer.status_code == 302
    assert "LC1-skirt" not in Use.objects.get().done


def test_when_all_is_done_nothing_is_needed_but_the_reserve(filled: Job) -> None:
    from hidewright.workshop.pieces.queries import pieces

    listed = pieces(filled)
    for stage in (Stage.COLOUR, Stage.WIPED):
        keys = [p.key for p in listed if stage is Stage.COLOUR or any(f.sat_on for f in p.faces)]
        steps.log_use(filled, UseValue(stage, dict.fromkeys(keys, 1.0), 2500.0))
    found = gather.quantities(filled)
    assert found
    assert found.standing.status == "done"
    assert found.standing.still.at(0.5) == pytest.approx(found.sourced.assumed.keep_back)
    assert sum(gather.still_per_piece(filled).values()) == 0


def test_the_next_job_starts_from_what_was_learned(filled: Job) -> None:
    other = open_job("The next", starts=date(2026, 4, 6), promised=None)
    survey.import_csv(other, demo.text("pieces.csv"))
    before = gather.forecast(other)
    for group in ("Lounge chair 1", "Lounge chair 2", "Settee 1"):
        keys = [p.key for p in survey_queries.rows(filled).filter(group=group)]
        base = sum(gather.still_per_piece(filled)[k] for k in keys)
        steps.log_use(filled, UseValue(Stage.COLOUR, dict.fromkeys(keys, 1.0), 1.3 * base + 25))
    after = gather.forecast(other)
    assert before
    assert after
    assert after.colour.p50 > 1.1 * before.colour.p50
    assert after.colour.spread.sigma < 0.75 * before.colour.spread.sigma


def test_the_log_outlives_its_pieces_and_a_changed_number_of_coats(filled: Job) -> None:
    keys = [p.key for p in survey_queries.rows(filled).filter(group="Settee 1")]
    steps.log_use(filled, UseValue(Stage.COLOUR, dict.fromkeys(keys, 1.0), 700.0))
    survey.remove_pieces(filled, [survey_queries.rows(filled).get(key=keys[0]).pk])
    found = gather.quantities(filled)
    assert found
    assert found.model.entries == 1
    steps.set_figures(filled, {"colour_coats": 4}, version=gather.figures(filled).version, odds=0.9)
    again = gather.quantities(filled)
    assert again
    done = [d for i, d in zip(again.model.items, again.model.done, strict=True) if i.stage is Stage.COLOUR and i.piece in keys]  # fmt: skip
    assert done == pytest.approx([0.5] * 7)
    steps.set_figures(filled, {"colour_coats": 1}, version=gather.figures(filled).version, odds=0.9)
    assert gather.quantities(filled)


def test_unknown_pieces_are_refused(filled: Job) -> None:
    with pytest.raises(Refusal):
        steps.log_use(filled, UseValue(Stage.COLOUR, {"no such": 1.0}, 700.0))
