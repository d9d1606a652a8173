"""A jar of 80 mL, kept from a batch that was sprayed on a job that is put away: where a touch-up a year later begins."""

from hidewright import demo
from hidewright.mixing.amounts import microlitres_of_mass
from hidewright.mixing.recipe import recipe_of
from hidewright.workshop.bench import jar_actions as jars
from hidewright.workshop.bench import load_actions as loads
from hidewright.workshop.colours import actions as colour
from hidewright.workshop.colours.queries import chosen_recipe
from hidewright.workshop.front.job_actions import put_away
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job
from workshop.few_pigments import choose_the_best, know_the_few


def pour_all(cup: MixVessel) -> None:
    """Pour what the guide asks for until the cup is mixed."""
    for _ in range(12):
        step = gather.state_of(cup).next_step
        if step is None:
            return
        density = gather.components()[step.key].density
        steps.pour(cup, step.key, microlitres_of_mass(step.grams, density))


def keep_a_jar(job: Job) -> MixVessel:
    """Mix a litre of the best recipe of four pigments, spray 600 mL, keep 80 mL in “Tan, spare”, and put the job away."""
    know_the_few()
    colour.import_readings(job, demo.text("readings.csv"))
    choose_the_best(job)
    chosen = chosen_recipe(job)
    assert chosen
    recipe = recipe_of(chosen.name, chosen.components)
    cup = steps.begin_cup(
        job, recipe, 1000, hexes=chosen.hexes, mixed_hex=chosen.hex, recipe_id=chosen.row.pk
    )
    pour_all(cup)
    loads.use(cup, 600)
    kept = jars.keep_jar(cup, 80, name="Tan, spare")
    put_away(job)
    return kept
