"""Page and shell learn the same from the same reading of the same cup, and the page says where a colour is a guess."""

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from django.test import Client

from hidewright import demo
from hidewright.colour.learning.cup_rows import cups_of, milk_of, stock_for
from hidewright.colour.learning.cups_csv import read_cups
from hidewright.colour.learning.learn import learn
from hidewright.colour.light.cie import WAVELENGTHS, lab
from hidewright.colour.reading.readings import Reading
from hidewright.mixing.recipe import recipe_of
from hidewright.refusals import Refusal
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import cup_actions, cup_queries
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.pigments import knowledge as told
from hidewright.workshop.pigments import values
from hidewright.workshop.shelf import vessel_actions as mixing
from hidewright.workshop.shelf.models import MixVessel, Pigment
from hidewright.workshop.shop.models import Job
from workshop.few_pigments import choose_the_best, know_the_few

pytestmark = pytest.mark.django_db

COLOUR = (48.0, 14.0, 24.0)
BANDS = ",".join(f"{w:.0f}" for w in WAVELENGTHS)


@pytest.fixture
def cup(job: Job) -> MixVessel:
    """A cup of the chosen recipe, as it was poured."""
    know_the_few()
    steps.import_readings(job, demo.text("readings.csv"))
    choose_the_best(job)
    chosen = gather.chosen_recipe(job)
    assert chosen is not None
    recipe = recipe_of(chosen.name, chosen.components)
    row = mixing.begin_cup(job, recipe, 150.0, capacity=300.0)
    for key, amount in recipe.amounts(150_000).items():
        mixing.pour(row, key, amount)
    return row


def forecast(cup: MixVessel) -> np.ndarray:
    state = cup_queries.cup_state(cup.job, cup)
    assert state is not None
    return state.forecast.reflectance


def by_colour(cup: MixVessel) -> str:
    cup_actions.read_colour(cup, COLOUR, light="A", spread=0.4)
    return f"name,pours,l,a,b,light,sd\nc,{{pours}},{COLOUR[0]},{COLOUR[1]},{COLOUR[2]},A,0.4\n"


def by_spectrum(cup: MixVessel) -> str:
    read = np.round(forecast(cup) * 0.93, 6)
    cup_actions.read_cup(cup, Reading("c", read, sd=0.002))
    return f"name,pours,sd,{BANDS}\nc,{{pours}},0.002,{','.join(map(str, read))}\n"


def wet_and_dry(cup: MixVessel) -> str:
    dry = np.round(forecast(cup) * 0.95, 6)
    wet = np.round(np.clip(dry * 1.15, 0, 1), 6)
    for state, read in (("wet", wet), ("dry", dry)):
        cup_actions.read_cup(cup, Reading("c", read), state=state)
    rows = (f"c,{{pours}},{state},{','.join(map(str, read))}" for state, read in (("wet", wet), ("dry", dry)))
    return f"name,pours,state,{BANDS}\n" + "\n".join(rows)


@pytest.mark.parametrize("way", [by_colour, by_spectrum, wet_and_dry])
def test_page_and_shell_learn_the_same(cup: MixVessel, way: Callable[[MixVessel], str]) -> None:
    """The page from its rows, the shell from a CSV of the same cup: the same strengths and the same spreads, lot by lot."""
    text = way(cup)
    pours = " ".join(f"{lot}={grams!r}" for lot, grams in told.pours_of(cup))
    drawn = [
        p for row in Pigment.objects.filter(active=True) if (p := values.pigment_value(row, learned=False))
    ]
    rows = read_cups(text.format(pours=pours), [p.key for p in drawn])
    stock = stock_for(rows, drawn, told.stock([]))
    shell = learn(stock, cups_of(rows, stock, milk_of(rows, stock)))
    page = told.knowledge()
    assert shell.readings == page.readings > 0
    for lot in stock.lots:
        assert page.strength(lot.key) == pytest.approx(shell.strength(lot.key), rel=1e-6), lot.key
    assert any(abs(page.strength(lot.key)[0] - 1) > 0.005 for lot in stock.lots), "something was learned"


def test_recipes_for_a_typed_target_are_guesses_under_other_lights(visitor: Client, job: Job) -> None:
    know_the_few()
    steps.import_readings(job, "name,l,a,b\nSeat,48,8,24\n")
    if gather.target(job) is None:
        steps.set_target(job, gather.readings(job)[0].id, None)
    choose_the_best(job)
    chosen = gather.chosen_recipe(job)
    assert chosen is not None
    assert chosen.recipe.guessed == ("A", "FL11")
    page = visitor.get(f"/jobs/{job.pk}/colour/").content.decode()
    lists = re.findall(r'<ul class="lights">.*?</ul>', page, re.S)
    assert len(lists) > 1
    for under in lists:
        marks = ["a guess</span>" in line for line in under.split("<li>")[1:]]
    assert sorted(marks) == [False, True, True], "the order of lights is the database's own"


def test_recipes_for_a_measured_target_are_no_guesses(visitor: Client, cup: MixVessel) -> None:
    chosen = gather.chosen_recipe(cup.job)
    assert chosen is not None
    assert chosen.recipe.guessed == ()
    assert "a guess</span>" not in visitor.get(f"/jobs/{cup.job.pk}/colour/").content.decode()


def test_additions_toward_a_colour_that_was_seen_under_lamp_light_are_guesses(
    visitor: Client, cup: MixVessel
) -> None:
    job = cup.job
    l, a, b = lab(forecast(cup), "A") + np.array([2.0, 1.0, 1.0])  # noqa: E741
    steps.import_readings(job, f"name,l,a,b,light\nLamp,{l:.3f},{a:.3f},{b:.3f},A\n", use_column=False)
    lamp = next(r for r in gather.readings(job) if r.name == "Lamp")
    assert lamp.guessed(("D65", "A")) == ("D65",)
    steps.set_target(job, lamp.id, None)
    state = cup_queries.cup_state(job, cup)
    assert state is not None
    assert state.advice is not None
    assert state.advice.guessed == ("D65",)
    assert (
        "The distances are guesses" in visitor.get(f"/jobs/{job.pk}/colour/cups/{cup.pk}/").content.decode()
    )


def test_an_unknown_cup_that_was_read_wet_is_refused_as_in_the_shell(cup: MixVessel) -> None:
    read = replace(gather.readings(cup.job)[0], state="wet")
    with pytest.raises(Refusal, match="read wet"):
        cup_queries.unknown_cup(cup.job, read, 500.0)
