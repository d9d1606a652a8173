"""Warm or dry air shortens drying only as far as entries carry it, and what sets only by a line of the data sheet."""

from dataclasses import replace
from itertools import pairwise

import pytest

from hidewright.planning.problem.drying import Seen, Warm, drying_in, learn_from, warm_of
from hidewright.planning.problem.model import Kind
from hidewright.planning.problem.route import Part, RouteStep, Where
from hidewright.planning.problem.routes import PACE, SETS, Drying, Times
from hidewright.refusals import Refusal
from hidewright.safety.damp import Air, drying_factor
from hidewright.takeoff.products import Product, Role
from hidewright.takeoff.products_csv import read_products, write_products

WARM, DAMP = Air(30, 0.3), Air(15, 0.7)
NAMES = ("strip", "clean", "repair", "wiped", "prime", "colour", "cure")
CLEAR = Product("clear", "Clear", Role.CLEAR, cure=960, warm_cure=240, warm_at=40)


@pytest.mark.parametrize("air", [WARM, Air(25, 0.4), Air(20, 0.25), Air(35, 0.2)])
def test_without_entries_no_air_shortens_any_time(air: Air) -> None:
    assert drying_factor(air) < 0.8, "bare water would dry much sooner"
    planned = drying_in(Drying(), air)
    assert [planned.minutes(name) for name in NAMES] == [Drying().minutes(name) for name in NAMES]
    assert planned.after(Kind.CLEAR) == Drying().after(Kind.CLEAR)


def test_damp_air_still_stretches_everything() -> None:
    planned = drying_in(Drying(), DAMP)
    for name in NAMES:
        assert planned.minutes(name) == pytest.approx(drying_factor(DAMP) * Drying().minutes(name))


@pytest.mark.parametrize("name", sorted(SETS))
def test_no_entry_from_warm_air_shortens_what_sets(name: str) -> None:
    """Not in warm air, nor at 20 °C: how a film forms or crosslinks does not follow the water."""
    start = Drying()
    quick = [Seen(name, 0.4 * getattr(start, name), WARM)] * 30
    for air in (WARM, Air()):
        assert drying_in(start, air, quick).minutes(name) == getattr(start, name)
    assert not quick[0].says(getattr(start, name))


def test_a_slow_cure_in_warm_air_counts() -> None:
    slow = [Seen("cure", 1200, WARM)] * 30
    assert drying_in(Drying(), Air(), slow).cure == pytest.approx(1200, rel=0.05)


def test_a_cure_seen_at_twenty_degrees_shortens_as_far_as_the_entries_carry_it() -> None:
    planned = [drying_in(Drying(), WARM, [Seen("cure", 500, Air())] * n).minutes("cure") for n in (1, 5, 40)]
    assert 840 >= planned[0] > planned[1] > planned[2] > 500


def test_what_dries_is_shortened_as_far_as_entries_in_such_air_carry_it() -> None:
    took = 40 * drying_factor(WARM)
    planned = [
        drying_in(Drying(), WARM, [Seen("colour", took, WARM)] * n).minutes("colour") for n in (0, 1, 5, 60)
    ]
    assert all(one > two for one, two in pairwise(planned))
    assert planned[0] == 40
    assert took < planned[-1] < 1.15 * took


def test_entries_are_never_brought_to_quicker_air_than_their_own() -> None:
    """Forty entries at 20 °C that took the expected 40 min say nothing of what 30 °C would save."""
    assert drying_in(Drying(), WARM, [Seen("colour", 40, Air())] * 40).minutes("colour") == pytest.approx(
        40, rel=0.01
    )
    mild = Air(23, 0.45)
    took = 40 * drying_factor(mild)
    seen = [Seen("colour", took, mild)] * 60
    hot, same = (drying_in(Drying(), air, seen).minutes("colour") for air in (WARM, mild))
    assert hot == pytest.approx(same)
    assert hot > took


def test_entries_from_warm_air_do_not_shorten_the_plan_at_twenty_degrees() -> None:
    seen = [Seen("colour", 40 * drying_factor(WARM), WARM)] * 40
    assert drying_in(Drying(), Air(), seen).minutes("colour") == pytest.approx(40, rel=0.01)


def test_a_factor_below_one_shortens_only_what_dries() -> None:
    half = Drying(factor=0.5)
    assert half.after(Kind.SPRAY)[0] == 20
    assert half.after(Kind.CLEAR)[0] == 840
    assert half.after(Kind.REPAIR)[0] == 240
    own = RouteStep(Part.SIDE, Kind.SPRAY, Where.ALWAYS, None, None, 90)
    assert Times(PACE, half).dries(own, last_coat=False, coat_follows=True)[0] == 90, (
        "of a product nobody named"
    )


def test_the_line_of_the_data_sheet_shortens_the_cure_up_to_its_temperature() -> None:
    warm = warm_of({"clear": CLEAR})
    assert warm == Warm(40, 0.25)
    cures = [
        drying_in(Drying(cure=960), Air(celsius, 0.3), warm=warm).minutes("cure")
        for celsius in (20, 25, 30, 40, 50)
    ]
    assert cures[0] == 960
    assert cures[2] == pytest.approx(480), "half way in degrees is half way in the logarithm: √¼"
    assert cures[3] == cures[4] == pytest.approx(240), "never beyond the line"
    assert drying_in(Drying(cure=960), Air(30, 0.9), warm=warm).minutes("cure") > 480, (
        "damp stretches all the same"
    )


def test_with_the_line_a_warm_entry_teaches() -> None:
    warm = Warm(40, 0.25)
    assert Seen("cure", 480, Air(30, 0.3)).at_reference(warm) == pytest.approx(960)
    found, learned = learn_from([Seen("cure", 300, Air(30, 0.3))] * 40, Drying(cure=960), warm=warm)
    assert 600 < found.cure < 960
    assert learned["cure"].entries == 40


def test_every_clear_must_have_its_line_and_the_slowest_counts() -> None:
    slower = replace(CLEAR, key="b", cure=900, warm_cure=600, warm_at=30)
    found = warm_of({"a": CLEAR, "b": slower})
    assert found is not None
    assert (found.celsius, found.ratio) == (30, pytest.approx(600 / 900))
    assert warm_of({"a": CLEAR, "c": replace(CLEAR, key="c", warm_cure=None, warm_at=None)}) is None
    assert warm_of({}) is None


@pytest.mark.parametrize(
    "line",
    [
        {"warm_cure": 240},
        {"warm_at": 40},
        {"warm_cure": 2000, "warm_at": 40},
        {"warm_cure": 9, "warm_at": 15},
    ],
)
def test_half_a_line_and_a_line_that_cannot_be_are_refused(line: dict[str, float]) -> None:
    with pytest.raises(Refusal):
        Product("clear", "Clear", Role.CLEAR, **line)  # type: ignore[arg-type]


def test_the_line_is_empty_by_default_and_goes_through_the_file() -> None:
    plain = Product("p", "P", Role.CLEAR)
    assert (plain.warm_cure, plain.warm_at) == (None, None)
    assert read_products(write_products([CLEAR, plain])) == {"clear": CLEAR, "p": plain}
    (read,) = read_products("key,name,role,cure,warm_cure,warm_at\nc,C,clear,16 h,4 h,40\n").values()
    assert (read.cure, read.warm_cure, read.warm_at) == (960, 240, 40)
