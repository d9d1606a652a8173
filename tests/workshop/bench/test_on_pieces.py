"""Which batch is on which piece: by what was drawn for each, also through a gun load; touch-ups and top-ups are made like it."""

from datetime import date

import pytest
from django.test import Client

from hidewright.refusals import Refusal
from hidewright.workshop.bench import load_actions as loads
from hidewright.workshop.bench import touch_up_actions as touch_ups
from hidewright.workshop.bench.on_pieces_queries import (
    batch_under_way,
    batches_on,
    labels_of,
    on_pieces,
    two_under_way,
)
from hidewright.workshop.bench.touch_up_queries import touch_up_sheet
from hidewright.workshop.colours.batch_queries import formula_of, same_mix
from hidewright.workshop.colours.likeness_queries import aim_of, look_of_batch
from hidewright.workshop.colours.models import Batch
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job
from workshop.kept_jar import keep_a_jar

PIECES = "key,name,shape,length,width\nP1,seat,panel,900,600\nP2,back,panel,900,600\nP3,arm,panel,900,300\n"


@pytest.fixture
def two(job: Job) -> tuple[MixVessel, MixVessel]:
    """A cup out of which P1 was sprayed, and, when white was added, half of P2 and all of P3 through a gun load and half of P1 again; and the jar of the first mix."""
    jar = keep_a_jar(job)
    Job.objects.filter(pk=job.pk).update(put_away=None)
    import_csv(job, PIECES)
    cup = MixVessel.objects.get(kind="cup")
    loads.spray(cup, 50, {"P1": 0.5})
    steps.pour(cup, "PW6", 30_000)
    load = loads.draw_off(cup, 150)
    loads.spray(load, 120, {"P2": 0.5, "P3": 1.0})
    loads.spray(cup, 40, {"P1": 0.25})
    return cup, jar


def test_each_piece_carries_the_batches_that_were_drawn_for_it(two: tuple[MixVessel, MixVessel]) -> None:
    cup, _ = two
    assert cup.job
    on = {piece: [batch.number for batch in each] for piece, each in batches_on(cup.job).items()}
    assert on == {"P1": [1, 2], "P2": [2], "P3": [2]}
    labels = labels_of(list(Batch.objects.all()))
    assert sorted(labels.values()) == [
        f"{cup.name.rpartition(', batch')[0] or cup.name}, batch {n}" for n in (1, 2)
    ]


def test_a_touch_up_is_made_like_the_batch_on_the_pieces_that_are_chosen(
    visitor: Client, two: tuple[MixVessel, MixVessel]
) -> None:
    cup, jar = two
    assert cup.job
    newest, first = on_pieces(cup.job, 0, (jar,))
    assert (first.row, newest.row) == (jar, cup), "the first mix stands in the jar alone"
    assert first.words.endswith("batch 1 on P1 (P1 carries another too)")
    page = visitor.get(f"/jars/{jar.pk}/").content.decode()
    assert "By the batch on each piece" in page
    for each, row in ((first, jar), (newest, cup)):
        visitor.post(f"/jars/{jar.pk}/touch-up/", {"batch": each.batch.pk})
        assert MixVessel.objects.latest("pk").like == row
    with pytest.raises(Refusal, match="cannot be made again"):
        touch_ups.touch_up(jar, batch=0)
    sheet = touch_up_sheet(cup.job, made_on=date(2027, 3, 1))
    assert "batch 1 on P1" in sheet.source
    assert "batch 2 on P1, P2, P3" in sheet.source


def parts_of(cup: MixVessel) -> dict[str, float]:
    """Share of each part that a cup is to hold."""
    return {part["key"]: part["share"] for part in (cup.plan or {})["parts"]}


def test_a_batch_whose_cup_holds_another_mix_is_made_again_by_its_recipe(
    visitor: Client, two: tuple[MixVessel, MixVessel]
) -> None:
    cup, jar = two
    assert cup.job
    steps.pour(cup, "PW6", 60_000)
    newest = on_pieces(cup.job, 0, (jar,))[0]
    assert newest.batch.number == 2
    assert newest.row is None, "white was poured since: the second mix stands in no vessel"
    page = visitor.get(f"/jars/{jar.pk}/").content.decode()
    assert page.count("Touch up these") == 2
    assert "a cup by its recipe" in page
    held = {component: amount for component, _, amount in newest.batch.formula}
    was = {component: amount / sum(held.values()) for component, amount in held.items()}
    for data in ({"batch": newest.batch.pk}, {}):
        answer = visitor.post(f"/jars/{jar.pk}/touch-up/", data)
        assert answer.status_code == 302
        made = MixVessel.objects.latest("pk")
        # The lots are those it was made with: no correction, so the parts are the batch's own.
        assert parts_of(made) == pytest.approx(was, abs=2e-3)
        assert made.like == cup
        aim = aim_of(made)
        sprayed = look_of_batch(newest.batch)
        assert aim is not None
        assert sprayed is not None
        assert aim.target.hex == sprayed.hex
        assert (
            f"batch {newest.batch.number}"
            in visitor.get(f"/jobs/{cup.job.pk}/mixing/{made.pk}/").content.decode()
        )
    assert not same_mix(formula_of(cup), newest.batch.formula)
    assert parts_of(made)["PW6"] < {c: a / 1000 for c, _, a in formula_of(cup)}["PW6"] / 100


def test_a_top_up_of_a_batch_whose_cup_holds_another_mix_is_made_by_its_recipe_and_not_boxed(
    visitor: Client, two: tuple[MixVessel, MixVessel]
) -> None:
    cup, _ = two
    assert cup.job
    import_csv(cup.job, PIECES.split("\n", maxsplit=1)[0] + "\nP9,settee,panel,3000,2000\n")
    steps.pour(cup, "PW6", 60_000)
    page = visitor.get(f"/jobs/{cup.job.pk}/mixing/").content.decode()
    assert "holds another mix by now" in page
    assert "Box before" not in page
    newest = Batch.objects.first()
    assert newest is not None
    assert f'name="batch" value="{newest.pk}"' in page
    sent = {"aim": "200 mL", "batch": str(newest.pk)}
    assert visitor.post(f"/jobs/{cup.job.pk}/mixing/{cup.pk}/top-up/", sent).status_code == 302
    held = {component: amount for component, _, amount in newest.formula}
    was = {component: amount / sum(held.values()) for component, amount in held.items()}
    assert parts_of(MixVessel.objects.latest("pk")) == pytest.approx(was, abs=2e-3)


def test_a_top_up_goes_by_the_half_coated_pieces_and_two_batches_are_said(
    two: tuple[MixVessel, MixVessel],
) -> None:
    cup, _ = two
    assert cup.job
    under_way = batch_under_way(cup.job, {"P1": 10.0, "P2": 30.0, "P3": 0.0})
    assert under_way is not None
    assert under_way.number == 2
    words = two_under_way(cup.job, {"P1": 10.0, "P2": 30.0, "P3": 0.0})
    assert "batch 1 is on P1; " in words
    assert words.endswith("batch 2 is on P1, P2")
    assert two_under_way(cup.job, {"P2": 30.0}) == ""
    assert batch_under_way(cup.job, {"P9": 1.0}) is None


def test_what_was_taken_back_is_on_no_piece(two: tuple[MixVessel, MixVessel]) -> None:
    cup, _ = two
    assert cup.job
    last = cup.sequence.filter(entry__act="use").order_by("-seq").first()
    assert last
    steps.take_back(last.entry_id)
    assert [batch.number for batch in batches_on(cup.job)["P1"]] == [1]
