"""Learning from cups and correcting them, on seeded simulated shops; spreads, new bottles, absurd readings, slopes."""

from dataclasses import replace

import numpy as np
import pytest

from hidewright.colour.cups.adjust import AdjustProblem, adjust, as_if
from hidewright.colour.learning import lots
from hidewright.colour.learning.cup import Cup, Pour, Sight
from hidewright.colour.learning.cupmodel import CupModel
from hidewright.colour.learning.learn import Knowledge, learn, settle
from hidewright.colour.learning.lots import Lot, Prior, stock_of
from hidewright.colour.learning.stray import fitted_prior, stray_words
from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.light.local import lab_slopes
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.simulate import ROUGH, USUAL, Shop, run_job
from hidewright.refusals import Refusal

GRAMS = {"PW6": 20.0, "PBr7": 6.0, "PY42": 5.0, "PBk7": 0.4, "base": 118.0}


def cups_of(shop: Shop, count: int) -> list[Cup]:
    """Cups of three pigments and white, poured and read in the shop."""
    rng = np.random.default_rng(5)
    keys = [k for k in shop.truth if k != "PW6"]
    cups = []
    for number in range(count):
        chosen = [str(k) for k in rng.choice(keys, 3, replace=False)]
        grams = {"PW6": 20.0, **{k: float(rng.uniform(1, 6)) for k in chosen}}
        cup = Cup(f"cup {number}", tuple(Pour(k, g) for k, g in grams.items()))
        true = {k: shop.pour(g) for k, g in grams.items()}
        cups.append(cup.seen(shop.read(shop.colour_of(true)), shop.scenario.noise))
    return cups


def test_slopes_are_those_of_the_model(pigments: dict[str, Pigment]) -> None:
    stock = stock_of(list(pigments.values()))
    model = CupModel(stock, tuple(Pour(k, g) for k, g in GRAMS.items()))
    mean = np.random.default_rng(1).normal(size=stock.size + len(GRAMS)) * 0.5
    read, slopes, where = model.at(mean, len(GRAMS))
    for column in (0, 1, 2, 9, 30, slopes.shape[1] - 1):
        moved = mean.copy()
        moved[where[column]] += 1e-6
        numeric = (model.at(moved, len(GRAMS))[0] - read) / 1e-6
        np.testing.assert_allclose(slopes[:, column], numeric, atol=2e-6)


def test_lab_slopes(pigments: dict[str, Pigment]) -> None:
    r = np.linspace(0.1, 0.6, 31)
    slopes = lab_slopes(r)
    moved = r.copy()
    moved[12] += 1e-6
    np.testing.assert_allclose(slopes[:, 12], (lab(moved) - lab(r)) / 1e-6, atol=1e-3)


def test_cups_teach_the_strength_of_a_bottle(pigments: dict[str, Pigment]) -> None:
    shop = Shop(USUAL, list(pigments.values()), 11)
    known = learn(stock_of(list(pigments.values())), cups_of(shop, 25))
    fresh = Knowledge.fresh(known.stock)
    for key in ("PBr7", "PBk7", "PG7"):
        relative = shop.truth[key].k.mean() / shop.truth["PW6"].s.mean()
        library = pigments[key].k.mean() / pigments["PW6"].s.mean()
        numbers = {p.key: p for p in known.pigments()}
        found = numbers[key].k.mean() / numbers["PW6"].s.mean()
        assert abs(np.log(found / relative)) < 0.6 * abs(np.log(library / relative)) + 0.02
        assert known.strength(key)[1] < fresh.strength(key)[1]
    assert known.readings == 25


def test_the_order_of_the_cups_does_not_matter_once_settled(pigments: dict[str, Pigment]) -> None:
    shop = Shop(USUAL, list(pigments.values()), 3)
    cups = cups_of(shop, 7)
    stock = stock_of(list(pigments.values()))
    one = settle(learn(stock, cups), cups, rounds=6)
    two = settle(learn(stock, cups[::-1]), cups[::-1], rounds=6)
    np.testing.assert_allclose(one.mean, two.mean, atol=1e-5)
    step = learn(stock, cups)
    a, b = step.forecast(GRAMS), one.forecast(GRAMS)
    assert float(delta_e00(a.lab(), b.lab())) < 0.3 * max(a.spread(), 0.2)


def test_a_new_bottle_widens_its_own_spread_and_nobody_elses(pigments: dict[str, Pigment]) -> None:
    shop = Shop(USUAL, list(pigments.values()), 4)
    stock, cups = stock_of(list(pigments.values())), cups_of(shop, 12)
    known = learn(stock, cups)
    more = learn(replace(stock, lots=(*stock.lots, Lot("PBr7/2", pigments["PBr7"]))), cups)
    assert more.strength("PBr7/2")[1] > 1.5 * known.strength("PBr7")[1]
    for lot in known.stock.lots:
        assert more.strength(lot.key) == pytest.approx(known.strength(lot.key), rel=1e-6)
    assert np.linalg.eigvalsh(more.covariance).min() > 0


def test_an_absurd_reading_is_set_aside_and_named(pigments: dict[str, Pigment]) -> None:
    shop = Shop(USUAL, list(pigments.values()), 6)
    cups = cups_of(shop, 10)
    wrong = Cup("mixed up", cups[3].pours).seen(np.linspace(0.7, 0.1, 31))
    stock = stock_of(list(pigments.values()))
    clean, spoiled = learn(stock, cups), learn(stock, [*cups[:8], wrong, *cups[8:]])
    assert [o.cup for o in spoiled.odd if o.aside] == ["mixed up"]
    np.testing.assert_allclose(clean.mean, spoiled.mean, atol=1e-9)
    assert spoiled.readings == clean.readings


def test_a_reading_struck_out_teaches_nothing(pigments: dict[str, Pigment]) -> None:
    stock = stock_of(list(pigments.values()))
    cup = Cup("one", tuple(Pour(k, g) for k, g in GRAMS.items())).seen(np.full(31, 0.3)).struck(0)
    known = learn(stock, [cup])
    assert known.readings == 0
    np.testing.assert_allclose(known.mean, 0.0)


def test_the_cups_tell_how_far_bottles_stray(pigments: dict[str, Pigment]) -> None:
    stock = stock_of(list(pigments.values()))
    fitted = {}
    for scenario in (USUAL, ROUGH):
        shop = Shop(scenario, list(pigments.values()), 8)
        fitted[scenario.name] = fitted_prior(stock, cups_of(shop, 12))
    usual, rough = fitted["usual"], fitted["rough"]
    assert 0.6 < usual.strength / lots.USUAL.strength < 2.0
    assert 0.6 < rough.strength / lots.ROUGH.strength < 2.0
    assert rough.shape > 1.2 * usual.shape
    assert fitted_prior(stock, []) == lots.USUAL
    assert "more than usual" in stray_words(rough)
    assert "as usual" in stray_words(usual)


def test_few_cups_leave_the_prior_near_where_it_was(pigments: dict[str, Pigment]) -> None:
    shop = Shop(ROUGH, list(pigments.values()), 8)
    one = fitted_prior(stock_of(list(pigments.values())), cups_of(shop, 1))
    assert 0.5 < one.strength / lots.USUAL.strength < 3.0


def test_an_eye_teaches_less_than_an_instrument(pigments: dict[str, Pigment]) -> None:
    stock = stock_of(list(pigments.values()))
    cup = Cup("one", tuple(Pour(k, g) for k, g in GRAMS.items()))
    look = Knowledge.fresh(stock).forecast(GRAMS)
    read = Knowledge.fresh(stock).open(cup.seen(look.reflectance)).forecast().spread()
    eye = Knowledge.fresh(stock).open(cup.seen(look.lab(), np.eye(3))).forecast().spread()
    assert read < eye < look.spread()


def test_a_second_reading_of_the_same_cup_sharpens_it(pigments: dict[str, Pigment]) -> None:
    known = Knowledge.fresh(stock_of(list(pigments.values())))
    cup = Cup("one", tuple(Pour(k, g) for k, g in GRAMS.items()))
    look = known.forecast(GRAMS).reflectance
    one, two = known.open(cup.seen(look)), known.open(cup.seen(look).seen(look))
    assert two.forecast().spread() < one.forecast().spread()


@pytest.mark.parametrize("scenario", [USUAL, ROUGH])
def test_a_cup_is_brought_to_its_target(pigments: dict[str, Pigment], scenario: object) -> None:
    shop = Shop(scenario, list(pigments.values()), 21)  # type: ignore[arg-type]
    known = Knowledge.fresh(stock_of(list(pigments.values()), shop.base, shop.scenario.prior))
    result, after = run_job(shop, known)
    assert result.last < 1.0
    assert result.growth < 0.6
    assert after.readings == result.corrections + 1


def contents() -> Contents:
    return Contents({"PW6": 12.0, "PBr7": 4.0, "PBk7": 0.5}, 85.0)


def test_additions_are_small_never_negative_and_inside_vessel_and_window(
    pigments: dict[str, Pigment],
) -> None:
    goal = Contents({"PW6": 12.0, "PBr7": 4.6, "PBk7": 0.55, "PY42": 0.8}, 85.0)
    from hidewright.colour.pigments.wet import look_dry

    target = look_dry(goal, list(pigments.values()))
    advice = adjust(AdjustProblem(contents(), target, list(pigments.values()), vessel_ml=115.0))
    assert advice.now > 0.5
    assert not advice.stop
    assert {w for a in advice.additions for w in a.why.split(", ")} == {
        "least volume",
        "fewest pourings",
        "safest",
    }
    for addition in advice.additions:
        assert min(addition.grams.values()) > 0
        assert addition.delta_e < advice.now
        assert contents().total * (1 + addition.growth) <= 115.0
        assert addition.load <= 0.2 + 1e-9
        assert len(addition.path) == addition.pourings
        assert addition.path[-1] == addition.delta_e


def test_a_cup_that_is_right_is_left_alone(pigments: dict[str, Pigment]) -> None:
    from hidewright.colour.pigments.wet import look_dry

    target = look_dry(contents(), list(pigments.values()))
    advice = adjust(AdjustProblem(contents(), target, list(pigments.values())))
    assert advice.stop
    assert advice.additions == ()
    assert "below what an eye sees" in advice.words


def test_a_full_vessel_is_told(pigments: dict[str, Pigment]) -> None:
    full = AdjustProblem(
        contents(), np.full(31, 0.7), list(pigments.values()), vessel_ml=contents().total + 1e-6
    )
    advice = adjust(full)
    assert advice.stop
    assert "vessel" in advice.words
    with pytest.raises(Refusal, match="vessel"):
        AdjustProblem(contents(), np.full(31, 0.7), list(pigments.values()), vessel_ml=10.0)


def test_an_unknown_cup_is_taken_as_if(pigments: dict[str, Pigment]) -> None:
    from hidewright.colour.pigments.wet import look_dry

    reading = look_dry(contents(), list(pigments.values()))
    guess = as_if(reading, 101.5, list(pigments.values()))
    assert guess.total == pytest.approx(101.5)
    assert float(delta_e00(lab(look_dry(guess, list(pigments.values()))), lab(reading))) < 0.1


def test_refusals() -> None:
    with pytest.raises(Refusal):
        Pour("PW6", -1.0)
    with pytest.raises(Refusal):
        Sight(1, np.zeros(3), 0.5)
    with pytest.raises(Refusal):
        Cup("empty", (), (Sight(1, np.full(31, 0.2)),))
    with pytest.raises(Refusal):
        Prior(strength=0.0)
    assert Surface().k1 == 0.04
