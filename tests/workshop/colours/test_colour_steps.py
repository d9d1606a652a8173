"""From drawdowns and readings to a chosen recipe: the steps behind the pages Colour and Pigments."""

from decimal import Decimal

import numpy as np
import pytest

from hidewright import demo
from hidewright.colour.light import cie
from hidewright.colour.light.smooth import smoothest
from hidewright.papers.from_recipe import mixing_card_of
from hidewright.refusals import Refusal, Refusals
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours import search_queries as stock
from hidewright.workshop.colours.models import Choice, Reading, Recipe, Target
from hidewright.workshop.colours.swatches import recipe_shown
from hidewright.workshop.pigments import actions as shelf
from hidewright.workshop.pigments import actions as steps_actions
from hidewright.workshop.pigments import find_actions
from hidewright.workshop.pigments import saving as keep
from hidewright.workshop.pigments import values as gather_values
from hidewright.workshop.pigments.models import Drawdown
from hidewright.workshop.shelf.models import Pigment
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job, RunState, Shop
from workshop.few_pigments import FEW, few_drawdowns, few_fits

pytestmark = pytest.mark.django_db


def undo_last() -> None:
    acts.undo(Act.objects.order_by("-id")[0].pk)


@pytest.fixture
def shop(db: None) -> None:
    """A shop with four pigments whose K and S are known."""
    steps_actions.import_pigments(demo.text("pigments.csv"))
    steps_actions.import_drawdowns(few_drawdowns())
    for key, fit in few_fits().items():
        keep.keep_fit(key, fit)


@pytest.fixture
def aimed(shop: None, job: Job) -> Job:
    """A job with the demonstration's target and old colour."""
    steps.import_readings(job, demo.text("readings.csv"))
    return job


ASKED = {"load": [0.16, 0.20], "most": 3, "lights": ["D65", "A", "FL11"]}


def test_drawdowns_give_pigments_with_spectra_and_their_misfit(db: None) -> None:
    steps_actions.import_pigments(demo.text("pigments.csv"))
    assert steps_actions.import_drawdowns(few_drawdowns()) == 7
    assert gather_values.pigments() == ()
    find_actions.characterise()
    known = {p.key: p for p in gather_values.pigments()}
    assert set(known) == set(FEW)
    assert known["PW6"].price == Decimal("0.038")
    white = Pigment.objects.get(key="PW6")
    assert white.misfit["PW6 masstone"]
    assert max(max(pair) for pair in white.misfit.values()) < 0.5
    assert gather_values.whitest(list(known.values())) is known["PW6"]


def test_a_drawdown_of_a_known_name_is_refused_and_nothing_is_kept(shop: None) -> None:
    count = Drawdown.objects.count()
    with pytest.raises(Refusals) as refused:
        steps_actions.import_drawdowns(few_drawdowns())
    assert refused.value.items[0].where == "PW6 masstone"
    assert Drawdown.objects.count() == count


def test_pigments_are_refused_line_by_line_and_nothing_is_half_listed(db: None) -> None:
    with pytest.raises(Refusals) as refused:
        steps_actions.import_pigments(
            "key,name,density,solids\nA,A,1.2,0.4\nB,B,heavy,0.4\nC,C,1.2,4\n,D,1,0.3\n"
        )
    places = [item.where for item in refused.value.items]
    assert places == ["line 3, column density", "line 4, column solids", "line 5, column key"]
    assert not Pigment.objects.exists()


def test_listing_again_brings_facts_up_to_date_and_can_be_undone(db: None) -> None:
    steps_actions.import_pigments("key,name,density\nA,First,1.2\n")
    steps_actions.import_pigments("key,name,density\nA,Second,1.5\nB,New,1.1\n")
    assert Pigment.objects.get(key="A").name == "Second"
    undo_last()
    assert Pigment.objects.get(key="A").density == 1.2
    assert not Pigment.objects.get(key="B").active


def test_setting_a_drawdown_aside_changes_what_is_found_and_comes_back(shop: None) -> None:
    row = Drawdown.objects.get(name="PW6 masstone")
    shelf.set_aside(row, True)
    assert len(gather_values.drawdowns()) == Drawdown.objects.count() - 1
    undo_last()
    assert len(gather_values.drawdowns()) == Drawdown.objects.count()


def test_readings_pick_target_and_old_colour_by_their_column(aimed: Job) -> None:
    found = gather.target(aimed)
    assert found is not None
    assert found.target.name.startswith("Target")
    assert found.old is not None
    assert found.old.name.startswith("Old coat")
    undo_last()
    assert gather.target(aimed) is None
    assert gather.readings(aimed) == []


def test_bad_readings_are_named_by_line_and_column_and_none_is_kept(job: Job) -> None:
    head = "name," + ",".join(str(nm) for nm in range(400, 701, 10))
    good = "A," + ",".join(["0.3"] * 31)
    bad = "B," + ",".join(["0.3"] * 30 + ["much"])
    with pytest.raises(Refusals) as refused:
        steps.import_readings(job, f"{head}\n{good}\n{bad}\n")
    assert refused.value.items[0].where == "line 3, column 700"
    assert not Reading.objects.exists()


def test_a_typed_colour_stands_in_with_the_smoothest_spectrum(job: Job) -> None:
    row = steps.type_colour(job, "From the letter", (48.0, 8.0, 24.0))
    value = gather.reading_value(row)
    assert value.assumed
    assert cie.lab(value.reflectance) == pytest.approx([48.0, 8.0, 24.0], abs=1e-6)
    with pytest.raises(Refusal, match="No surface"):
        steps.type_colour(job, "Too bright to be", (50.0, 120.0, -120.0))


def test_a_reading_in_use_cannot_be_struck_out(aimed: Job) -> None:
    row = Target.objects.get(job=aimed).reading
    with pytest.raises(Refusal, match="in use"):
        steps.strike_reading(row)
    steps.set_target(aimed, Reading.objects.get(name__startswith="Old").pk, None)
    steps.strike_reading(row)
    assert len(gather.readings(aimed)) == 1
    undo_last()
    assert len(gather.readings(aimed)) == 2


def test_a_match_keeps_ranked_recipes_and_one_is_chosen_and_undone(
    aimed: Job, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        run = steps.start_match(aimed, dict(ASKED))
    run.refresh_from_db()
    assert run.state == RunState.DONE, run.error
    rows = gather.newest_recipes(aimed)
    assert [row.rank for row in rows] == list(range(1, len(rows) + 1))
    assert gather.chosen_recipe(aimed) is None
    steps.choose(rows[1])
    steps.choose(rows[0])
    chosen = gather.chosen_recipe(aimed)
    assert chosen is not None
    assert chosen.row == rows[0]
    assert sum(part.volume for part in chosen.components) == pytest.approx(1000.0)
    assert chosen.components[-1].key == gather_values.base().key
    assert cie.lab(chosen.recipe.reflectance) == pytest.approx(chosen.recipe.labs["D65"], abs=1e-5)
    undo_last()
    chosen = gather.chosen_recipe(aimed)
    assert chosen is not None
    assert chosen.row == rows[1]
    assert Choice.objects.count() == 2, "a choice that was undone stays on record"


def test_amounts_are_whole_steps_of_the_shops_balance(aimed: Job) -> None:
    """A balance that shows half grams: recipe, page and card ask for nothing finer."""
    from datetime import date

    from hidewright.colour.recipes.match import match
    from hidewright.workshop.papers.queries import mixing_card

    Shop.objects.update_or_create(pk=1, defaults={"balance_step": 0.5})
    assert stock.problem(aimed, {**ASKED, "batch": 250.0}).step_g == pytest.approx(2.0), "g in a litre"
    rows = steps.keep_match(aimed, match(stock.problem(aimed, ASKED)))
    steps.choose(rows[0])
    amounts = [grams for _, grams, _ in recipe_shown(rows[0], gather.target(aimed)).amounts]
    assert all((2 * grams).is_integer() and grams > 0 for grams in amounts)
    card = mixing_card(aimed, 250.0, "cup", made_on=date(2026, 3, 2))
    assert all((2 * card.weighed(line)).is_integer() for line in card.lines)


def test_the_papers_take_a_kept_recipe_as_it_is(aimed: Job) -> None:
    from datetime import date

    from hidewright.colour.recipes.match import match

    rows = steps.keep_match(aimed, match(stock.problem(aimed, ASKED)))
    card = mixing_card_of(
        rows[0].data,
        target_hex="#888888",
        job="j",
        colour="c",
        vessel="v",
        batch_ml=1000.0,
        made_on=date(2026, 3, 2),
    )
    assert len(card.lines) == len(rows[0].data["parts"])
    again = gather.recipe_value(rows[0].data)
    assert np.allclose(again.reflectance, rows[0].data["reflectance"])


def test_a_second_search_stands_beside_the_first_and_chosen_ones_stay(aimed: Job) -> None:
    from hidewright.colour.recipes.match import match

    result = match(stock.problem(aimed, ASKED))
    first = steps.keep_match(aimed, result)
    steps.choose(first[0])
    second = steps.keep_match(aimed, result)
    assert gather.newest_recipes(aimed) == second
    chosen = gather.chosen_recipe(aimed)
    assert chosen is not None
    assert chosen.row == first[0]
    assert Recipe.objects.count() == len(first) + len(second)


def test_a_match_without_target_or_pigments_is_refused_in_words(job: Job) -> None:
    with pytest.raises(Refusal, match="no target"):
        steps.start_match(job, dict(ASKED))
    steps.import_readings(job, demo.text("readings.csv"))
    with pytest.raises(Refusal, match="No pigment is known"):
        steps.start_match(job, dict(ASKED))


def test_only_what_is_on_the_shelf_is_used_when_asked(aimed: Job) -> None:
    shelf.put_on_shelf(Pigment.objects.get(key="PY42"), False)
    problem = stock.problem(aimed, {**ASKED, "on_shelf": True})
    assert {p.key for p in problem.pigments} == set(FEW) - {"PY42"}
    assert len(stock.problem(aimed, ASKED).pigments) == len(FEW)


@pytest.mark.parametrize("light", ["D65", "A", "FL11"])
@pytest.mark.parametrize("colour", [(50, 0, 0), (30, -20, 5), (90, 5, 80), (2, 0, 0), (40, 20, -60)])
def test_the_smoothest_spectrum_has_the_colour_and_only_reflects(
    colour: tuple[float, float, float], light: str
) -> None:
    """The defining property of S. A. Burns' method (Color Res. Appl. 45, 2020): the colour is met exactly, 0 ≤ R ≤ 1."""
    found = smoothest(colour, light)
    assert cie.lab(found, light) == pytest.approx(colour, abs=1e-9)
    assert found.min() >= 0
    assert found.max() <= 1


def test_a_grey_has_a_flat_spectrum() -> None:
    found = smoothest((50.0, 0.0, 0.0))
    assert np.ptp(found) < 1e-9
    assert found[0] == pytest.approx(((50 + 16) / 116) ** 3, rel=1e-12)
