"""A jar made again months later: corrected for the lots now on the shelf, told before and after, and a reading asked for."""

from datetime import timedelta

import numpy as np
import pytest
from django.test import Client
from django.utils import timezone

from hidewright import demo
from hidewright.colour.light import cie
from hidewright.colour.pigments.film import opaque, seen
from hidewright.mixing import MixPart, MixRecipe
from hidewright.mixing.ledger import contents
from hidewright.workshop.bench import jar_actions as jar_steps
from hidewright.workshop.bench.remake_queries import remake
from hidewright.workshop.colours import cup_queries as cups_cup_queries
from hidewright.workshop.pigments import actions as colour_steps
from hidewright.workshop.pigments import knowledge as cups
from hidewright.workshop.pigments import saving as keep
from hidewright.workshop.pigments import values as colour_gather
from hidewright.workshop.pigments.models import CupSight
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixVessel, Pigment, PigmentLot
from hidewright.workshop.shop.models import Job
from workshop.few_pigments import few_fits

pytestmark = pytest.mark.django_db


@pytest.fixture
def keys(db: None) -> list[str]:
    """The keys of four known pigments."""
    colour_steps.import_pigments(demo.text("pigments.csv"))
    fits = few_fits()
    for key, fit in fits.items():
        keep.keep_fit(key, fit)
    return list(fits)


@pytest.fixture
def jar(job: Job, keys: list[str]) -> MixVessel:
    """A jar of a mix of the first two pigments, from lots A."""
    first, second = keys[0], keys[2]
    for key in (first, second):
        pigment = Pigment.objects.get(key=key)
        PigmentLot.objects.create(pigment=pigment, name="A", volume=500, opened=timezone.localdate())
    recipe = MixRecipe(
        "Two",
        (
            MixPart("base", "Clear base", 0.82, 1.03),
            MixPart(first, first, 0.14, Pigment.objects.get(key=first).density),
            MixPart(second, second, 0.04, Pigment.objects.get(key=second).density),
        ),
    )
    cup = steps.begin_cup(job, recipe, 500, capacity=700)
    for part, amount in (("base", 410_000), (first, 70_000), (second, 20_000)):
        steps.pour(cup, part, amount)
    sight(cup, {f"{first}#A": 70, f"{second}#A": 20}, {})
    return jar_steps.keep_jar(cup, 80)


def sight(cup: MixVessel, volumes: dict[str, float], strength: dict[str, float]) -> None:
    """Three dry readings of a cup with these mL of pigment lots, of these strengths against their drawdowns."""
    drawn = {p.key: p for p in colour_gather.pigments()}
    lots = {lot: drawn[lot.partition("#")[0]] for lot in volumes}
    k = sum(v * strength.get(lot, 1.0) * lots[lot].k for lot, v in volumes.items())
    s = sum(v * strength.get(lot, 1.0) * lots[lot].s for lot, v in volumes.items())
    read = list(np.asarray(seen(opaque(k, s), colour_gather.surface())))
    pours = [["base", 410 * 1.03], *([lot, v * lots[lot].density] for lot, v in volumes.items())]
    for _ in range(3):
        CupSight.objects.create(
            job=cup.job, vessel=cup, name="drawdown", pours=pours, reflectance=read, spread=0.001
        )


def new_lot(key: str, strength: float, job: Job, other: str) -> None:
    """Lot B of a pigment is open, and a cup of it was read: it is `strength` times as strong."""
    pigment = Pigment.objects.get(key=key)
    PigmentLot.objects.filter(pigment=pigment).update(
        finished=timezone.localdate(), opened=timezone.localdate() - timedelta(days=90)
    )
    PigmentLot.objects.create(pigment=pigment, name="B", volume=500, opened=timezone.localdate())
    cup = steps.begin_cup(job, MixRecipe("B", (MixPart("base", "Clear base", 1.0, 1.03),)), 500, capacity=700)
    sight(cup, {f"{key}#B": 20, f"{other}#A": 70}, {f"{key}#B": strength})


def test_the_same_lots_are_poured_as_they_were(jar: MixVessel) -> None:
    found = remake(jar)
    assert found.again is not None
    assert found.again.before < 0.05
    assert not found.again.corrected
    assert sum(part.share for part in found.recipe.parts) == pytest.approx(1)


def test_a_stronger_lot_is_poured_less_and_the_page_tells_before_and_after(
    jar: MixVessel, job: Job, keys: list[str], visitor: Client
) -> None:
    first, second = keys[0], keys[2]
    as_it_was = {part.key: part.share for part in remake(jar).recipe.parts}
    new_lot(second, 1.25, job, first)
    found = remake(jar)
    assert found.again is not None
    assert found.again.corrected
    assert found.again.before > 0.5
    assert found.again.after < 0.5 * found.again.before
    now = {part.key: part.share for part in found.recipe.parts}
    assert now[second] / now[first] < 0.95 * as_it_was[second] / as_it_was[first]
    assert now["base"] == pytest.approx(as_it_was["base"])
    page = visitor.get(f"/jars/{jar.pk}/").content.decode()
    for words in (f"ΔE00 {found.again.before:.2f}", f"ΔE00 {found.again.after:.2f}", "A → B"):
        assert words in page, words
    answer = visitor.post(f"/jars/{jar.pk}/again/", {"aim": "60 mL", "job": str(job.pk)})
    assert answer.status_code == 302
    cup = MixVessel.objects.latest("pk")
    assert "Corrected for the lots on the shelf" in visitor.get(answer.headers["Location"]).content.decode()
    for part in gather.state_of(cup).need.parts:  # type: ignore[union-attr]
        steps.pour(cup, part.key, part.need)
    assert gather.state_of(cup).finished
    poured = dict(list(contents(gather.ledger_of([cup]), cup.key)))
    assert poured[second] == "B"
    page = visitor.get(answer.headers["Location"]).content.decode()
    assert "Enter the reading" in page
    look = cups_cup_queries.cup_state(job, cup)
    assert look is not None
    jar_look = cups.knowledge([f"{first}#A", f"{second}#A"]).forecast(dict(cups.pours_of(jar)), weighed=False)
    apart = float(cie.delta_e00(look.forecast.lab(), jar_look.lab()))
    assert apart < found.again.before, "the new cup is nearer to the jar than it would have been"
    CupSight.objects.create(job=job, vessel=cup, name="dry", lab=[50, 0, 0], pours=[])
    assert "Enter the reading" not in visitor.get(answer.headers["Location"]).content.decode()


def test_without_a_correction_on_wish(jar: MixVessel, job: Job, keys: list[str], visitor: Client) -> None:
    first, second = keys[0], keys[2]
    new_lot(second, 1.25, job, first)
    answer = visitor.post(f"/jars/{jar.pk}/again/", {"aim": "60 mL", "job": str(job.pk), "as_poured": "on"})
    assert answer.status_code == 302
    shares = {part["key"]: part["share"] for part in MixVessel.objects.latest("pk").plan["parts"]}
    assert shares[second] == pytest.approx(0.04)


def test_a_pigment_of_which_nothing_is_known_is_poured_as_it_was(job: Job, visitor: Client) -> None:
    recipe = MixRecipe("Any", (MixPart("base", "Clear base", 0.9, 1.03), MixPart("odd", "Odd", 0.1, 1.2)))
    Pigment.objects.create(key="odd", name="Odd", density=1.2)
    cup = steps.begin_cup(job, recipe, 100, capacity=200)
    steps.pour(cup, "base", 90_000)
    steps.pour(cup, "odd", 10_000)
    kept = jar_steps.keep_jar(cup, 50)
    found = remake(kept)
    assert found.again is None
    assert "not known" in found.why_not
    assert "Not corrected for the lots" in visitor.get(f"/jars/{kept.pk}/").content.decode()
    assert {p.key: round(p.share, 3) for p in found.recipe.parts} == {"base": 0.9, "odd": 0.1}
