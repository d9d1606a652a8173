"""A touch-up a year later: from a jar that was kept, with the lots of today, held against the jar."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from hidewright.mixing.grain import HONEST
from hidewright.workshop.bench import jar_actions as jars
from hidewright.workshop.bench import load_actions as loads
from hidewright.workshop.bench.jar_views import jar_label
from hidewright.workshop.bench.touch_up_queries import smallest_honest
from hidewright.workshop.colours.batch_queries import batch_of, newest_batch
from hidewright.workshop.colours.cup_queries import cup_state
from hidewright.workshop.colours.likeness_queries import aim_of, look_of
from hidewright.workshop.colours.models import Batch, Colour, ColourVersion
from hidewright.workshop.colours.queries import target
from hidewright.workshop.front.find_queries import find
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixVessel, PigmentLot
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo
from workshop.kept_jar import keep_a_jar, pour_all


@pytest.fixture
def jar(job: Job) -> MixVessel:
    """80 mL of a job that is put away, out of a batch that was sprayed."""
    return keep_a_jar(job)


def test_what_was_sprayed_is_a_batch_with_its_version(jar: MixVessel) -> None:
    batch = Batch.objects.get()
    assert batch.version == ColourVersion.objects.get()
    assert {component for component, _, _ in batch.formula} == {
        "base",
        *(line.key for line in gather.jar_of(jar).state.lines),
    }


def test_a_jar_names_its_batch_and_a_spraying_that_was_taken_back_is_none(
    visitor: Client, jar: MixVessel
) -> None:
    cup = MixVessel.objects.get(kind="cup")
    batch = batch_of(jar)
    assert batch
    assert batch.vessel == cup
    assert cup.name in visitor.get(f"/jars/{jar.pk}/").text
    label = jar_label(jar, "")
    assert label.contents.startswith(f"Of {cup.name}. ")
    steps.take_back(cup.sequence.get(entry__act="use").entry_id)
    assert batch_of(jar) is None
    assert newest_batch(cup.job) is None  # type: ignore[arg-type]


def test_a_touch_up_is_like_the_batch_that_is_on_the_pieces(visitor: Client, jar: MixVessel) -> None:
    """A second batch with more white was sprayed to its last drop: the touch-up is made like that, and held against it; “mix again” is like the jar."""
    assert jar.job
    cup = MixVessel.objects.get(kind="cup")
    steps.pour(cup, "PW6", 30_000)
    white = gather.by_component(gather.ledger_of([cup]), cup.key)["PW6"] / round(
        1000 * gather.state_of(cup).volume
    )
    loads.use(cup, gather.state_of(cup).volume)
    assert gather.state_of(cup).volume == 0
    assert "Another mix is on the pieces" in visitor.get(f"/jars/{jar.pk}/").text
    visitor.post(f"/jars/{jar.pk}/touch-up/")
    touch_up = MixVessel.objects.latest("pk")
    assert touch_up.like == cup
    recipe = gather.recipe_in(touch_up)
    assert recipe
    assert recipe.part("PW6").share == pytest.approx(white, rel=1e-3)
    held, aimed = aim_of(touch_up), target(touch_up.job)  # type: ignore[arg-type]
    assert held
    assert aimed
    assert aimed.target.labs["D65"] == pytest.approx(held.target.labs["D65"], abs=0.01)
    visitor.post(f"/jars/{jar.pk}/mix/")
    assert MixVessel.objects.latest("pk").like == jar


def test_a_cup_is_held_against_the_jar_by_eye_from_the_jars_page(visitor: Client, jar: MixVessel) -> None:
    visitor.post(f"/jars/{jar.pk}/mix/")
    cup = MixVessel.objects.latest("pk")
    assert "by eye</summary>" not in visitor.get(f"/jars/{jar.pk}/").text, "there is nothing in it yet"
    pour_all(cup)
    page = visitor.get(f"/jars/{jar.pk}/")
    assert f"Hold {cup.name} against it, by eye" in page.text
    form = page.context["held"][0][1]
    sent = {f"eye-{name}": field.initial or "" for name, field in form.fields.items()}
    sent |= {
        "eye-against": form.fields["against"].choices[0][0],
        "eye-state": "dry",
        "eye-red": "a touch|redder",
    }
    assert visitor.post(reverse("cup_by_eye", args=[cup.job_id, cup.pk]), sent).status_code == 302
    seen = CupSight.objects.get()
    assert (seen.vessel, seen.beside, seen.said) == (cup, jar, [["redder", "a touch"]])


def test_two_taps_from_the_jar_to_a_cup_of_100_ml(visitor: Client, jar: MixVessel) -> None:
    versions = ColourVersion.objects.count()
    page = visitor.get(f"/jars/{jar.pk}/").content.decode()
    assert "Mix 100 mL again" in page
    answer = visitor.post(f"/jars/{jar.pk}/mix/")
    cup = MixVessel.objects.latest("pk")
    assert answer.status_code == 302
    assert answer["Location"] == f"/jobs/{cup.job_id}/mixing/{cup.pk}/"
    assert cup.job
    assert (cup.aim, cup.like) == (100_000, jar)
    assert cup.job.name.startswith("Touch-up")
    assert Colour.objects.count() == 1
    assert ColourVersion.objects.count() == versions, "a touch-up is no new version"
    look = look_of(jar)
    aimed = target(cup.job)
    assert look
    assert aimed
    assert aimed.target.labs["D65"] == pytest.approx(look.labs["D65"], abs=0.01)
    pour_all(cup)
    state = cup_state(cup.job, cup)
    held = aim_of(cup)
    assert state
    assert held
    assert held.target.name.startswith("Tan, spare")
    assert state.delta == pytest.approx(0.0, abs=0.2), "the same lots, to the balance's step"
    assert "Tan, spare" in visitor.get(f"/jobs/{cup.job_id}/colour/cups/{cup.pk}/").content.decode()


def test_the_smallest_honest_cup_is_said_and_is_honest(visitor: Client, jar: MixVessel) -> None:
    """By hand: half a step of the balance is no more than the honest share of the part that weighs least."""
    least = smallest_honest(jar)
    known = gather.components()
    grams = [line.share * least * known[line.key].density for line in gather.jar_of(jar).state.lines]
    assert 0.5 * the_shop().balance_step / min(grams) <= HONEST * 1.001
    assert 0.5 * the_shop().balance_step / (min(grams) * (least - 5) / least) > HONEST * 0.999 or least == 5
    visitor.post(f"/jars/{jar.pk}/touch-up/")
    assert MixVessel.objects.latest("pk").aim == round(1000 * least)


def test_an_open_job_keeps_its_jar(visitor: Client, jar: MixVessel) -> None:
    Job.objects.update(put_away=None)
    visitor.post(f"/jars/{jar.pk}/mix/")
    assert MixVessel.objects.latest("pk").job == jar.job


def test_a_jar_starts_a_job_and_is_a_target(visitor: Client, jar: MixVessel, db: None) -> None:
    answer = visitor.post(f"/jars/{jar.pk}/job/")
    made = Job.objects.latest("pk")
    assert answer["Location"] == f"/jobs/{made.pk}/"
    undo(Act.objects.filter(job=made).earliest("id").pk)
    assert Job.objects.get(pk=made.pk).put_away is not None
    other = Job.objects.create(name="Another", starts=timezone.localdate())
    assert visitor.post(f"/jars/{jar.pk}/target/", {"job": other.pk}).status_code == 302
    aimed = target(other)
    assert aimed
    assert aimed.target.source == "jar"


def test_a_lot_that_is_typed_is_listed_and_the_jar_names_every_lot(jar: MixVessel) -> None:
    cup = MixVessel.objects.get(kind="cup")
    assert cup.job
    steps.pour(cup, "PW6", 5000, lot="W-77")
    assert PigmentLot.objects.get(name="W-77").opened == timezone.localdate()
    steps.pour(cup, "PW6", 5000, lot="W-78")
    kept = jars.keep_jar(cup, 50, name="Both")
    lots = next(line.lots for line in gather.jar_of(kept).state.lines if line.key == "PW6")
    assert {"W-77", "W-78"} <= set(lots)
    assert "Both" in {hit.label for kind in find("W-78") if kind.label == "Lots" for hit in kind.hits}
