"""Gun loads of the day: planned from its list, drawn off, crosslinked by the ratio, watched by the clock, never back into a jar."""

from datetime import datetime, timedelta

import pytest
from django.test import Client

from hidewright import demo
from hidewright.takeoff.products import Product as ProductValue
from hidewright.takeoff.products import Role
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.quantities import queries as quantities
from hidewright.workshop.room import queries as loads_queries
from hidewright.workshop.sessions import queries as loads
from hidewright.workshop.shelf import actions as products
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo
from workshop.shelf.test_mixing_steps import RECIPE

pytestmark = pytest.mark.django_db
DAWN = datetime(2026, 3, 2, 8, 0)


@pytest.fixture
def batch(job: Job, monkeypatch: pytest.MonkeyPatch) -> MixVessel:
    """Two litres mixed, a crosslinker with 4 h pot life, and a morning with a front and a back coat on every piece of two groups."""
    import_csv(job, demo.text("pieces.csv"))
    products.add_product(
        ProductValue("link", "Linker X", Role.CROSSLINKER, density=1.1, ratio=0.03, pot_life=240)
    )
    cup = steps.begin_cup(job, RECIPE, 2000, capacity=3000)
    for key, share in (("base", 0.82), ("PW6", 0.12), ("PBr7", 0.06)):
        steps.pour(cup, key, round(2_000_000 * share))
    found = quantities.quantities(job)
    assert found
    each = loads._per_coat(found)
    keys = [p.key for p in found.pieces][:8]
    acts = [
        loads.SprayAct(
            key,
            DAWN + timedelta(minutes=6 * n + (240 if half else 0)),
            DAWN + timedelta(minutes=6 * n + 5 + (240 if half else 0)),
            each[key, "front"],
        )
        for half in (False, True)
        for n, key in enumerate(keys)
    ]
    monkeypatch.setattr(loads, "spray_acts", lambda _job, _number=0: ("Monday 2 March", acts))
    return cup


def views(job: Job) -> list[loads.SprayView]:
    states = gather.states_of(gather.job_vessels(job))
    return loads.sessions(job, states, gather.colour_in_hand(job))[1]


def test_sides_and_coats_of_a_piece_add_up_to_what_it_takes(job: Job) -> None:
    import_csv(job, demo.text("pieces.csv"))
    found = quantities.quantities(job)
    assert found
    each = loads._per_coat(found)
    coats = found.sourced.assumed.colour_coats
    for n, item in enumerate(found.model.items):
        if item.stage == "sprayed colour":
            sides = sum(each.get((item.piece, side), 0.0) for side in ("front", "back"))
            assert coats * sides == pytest.approx(found.model.expected(n))


def test_a_pause_parts_two_sessions_and_loads_fit_gun_and_pot_life(job: Job, batch: MixVessel) -> None:
    first, second = views(job)
    loss = quantities.assumptions(job).cup_loss
    assert first.name == "08:00 to 08:47"
    assert sum(load.colour for load in first.loads) == pytest.approx(first.colour)
    assert first.colour == pytest.approx(second.colour)
    assert first.colour > loss
    assert first.first is not None
    assert first.first.crosslinker == pytest.approx(0.03 * first.first.colour)
    assert first.first.colour * 1.03 <= loads_queries.gun().cup


def test_a_load_is_drawn_crosslinked_and_sprayed_with_two_taps(
    visitor: Client, job: Job, batch: MixVessel
) -> None:
    bench = f"/jobs/{job.pk}/mixing/"
    page = visitor.get(bench).content.decode()
    assert "Draw off" in page
    want = views(job)[0].first
    assert want
    told = {"amount": f"{want.colour:.2f} mL", "capacity": "600 mL"}
    assert visitor.post(f"{bench}{batch.pk}/load/", told).status_code == 302
    load = MixVessel.objects.get(kind="portion")
    page = visitor.get(f"{bench}{load.pk}/").content.decode()
    assert f"{0.03 * want.colour:.1f}&nbsp;mL" in page
    assert "start the clock" in page
    hot = {"product": "Linker X", "ratio": "3", "pot_life": "240"}
    assert visitor.post(f"{bench}{load.pk}/crosslink/", hot).status_code == 302
    load.refresh_from_db()
    state = gather.state_of(load)
    assert state.crosslinked
    assert state.life is not None
    page = visitor.get(f"{bench}{load.pk}/").content.decode()
    assert "of pot life left" in page
    refused = visitor.post(f"{bench}{load.pk}/jar/", {"amount": "10 mL", "until": "2099-01-01"})
    assert "it would set" in refused.content.decode()


def test_what_stands_in_a_gun_load_is_not_drawn_again(visitor: Client, job: Job, batch: MixVessel) -> None:
    before = sum(view.colour for view in views(job))
    visitor.post(f"/jobs/{job.pk}/mixing/{batch.pk}/load/", {"amount": "100 mL"})
    assert sum(view.colour for view in views(job)) == pytest.approx(before - 100)


def test_a_session_that_the_colour_does_not_do_for_is_refused(
    visitor: Client, job: Job, batch: MixVessel
) -> None:
    visitor.post(f"/jobs/{job.pk}/mixing/{batch.pk}/discard/", {"amount": "1900 mL"})
    assert views(job)[0].refusal is not None
    page = visitor.get(f"/jobs/{job.pk}/mixing/").content.decode()
    assert "kept back for touch-up" in page
    assert "Mix a top-up" in page


def test_the_gun_is_set_and_undone_and_odd_values_are_refused(
    visitor: Client, job: Job, batch: MixVessel
) -> None:
    url = f"/jobs/{job.pk}/mixing/gun/"
    few = len(views(job)[0].loads)
    assert visitor.post(url, {"cup": "60 mL", "per_minute": ""}).status_code == 302
    assert len(views(job)[0].loads) > few
    for bad in ({"cup": "-1 mL"}, {"cup": "1e9 mL"}, {"cup": ""}, {"cup": "600", "per_minute": "-5"}):
        assert visitor.post(url, bad).status_code == 422
    undo(Act.objects.filter(undo_name="portions.gun").latest("id").pk)
    assert len(views(job)[0].loads) == few
