"""Yield: what is learned from what coats really took."""

import itertools

import numpy as np
import pytest

from hidewright.refusals import Refusal
from hidewright.survey import Piece, make_piece
from hidewright.takeoff.advice import advise
from hidewright.takeoff.coats import Assumptions, Stage
from hidewright.takeoff.enough import EARLY, LATE, STEP, SURE, Status, Why, first_mix, model_of, standing
from hidewright.takeoff.howmuch import COLOUR, take_off
from hidewright.takeoff.odds import Spread
from hidewright.takeoff.yields import Use, belief_from_data, items_of, starting_belief

ASSUMED = Assumptions(keep_back=0.0)


def panels(count: int = 40) -> list[Piece]:
    return [
        make_piece(key=f"P{n}", name="panel", group="", shape="panel", length=0.6, width=0.5)
        for n in range(count)
    ]


def base(pieces: list[Piece]) -> float:
    return sum(i.base for i in items_of(pieces, ASSUMED) if i.stage is Stage.COLOUR)


def used(pieces: list[Piece], factor: float, stage: Stage = Stage.COLOUR) -> Use:
    return Use(stage, {p.key: 1.0 for p in pieces}, factor * base(pieces) + 25.0)


def test_nothing_seen_is_the_take_off() -> None:
    model = model_of(panels(), ASSUMED)
    whole = take_off(panels(), ASSUMED).colour
    still = standing(model, {p.key: p.area for p in panels()}, 0.0).still
    assert still.at(0.9) == pytest.approx(whole.at(0.9))


@pytest.mark.parametrize("factor", [0.7, 1.0, 1.4])
def test_half_of_the_pieces_tell_the_rest(factor: float) -> None:
    pieces = panels()
    model = model_of(pieces, ASSUMED, uses=[used(pieces[:20], factor)])
    rest = model.still(COLOUR)
    assert rest.at(0.5) == pytest.approx(factor * base(pieces[20:]), rel=0.03)
    assert rest.sigma < 0.35 * model_of(pieces, ASSUMED).still(COLOUR).sigma


def test_exact_gaussian_update_for_one_item() -> None:
    """One item: the log of its factor is normal, so the posterior is the textbook one (precision-weighted mean)."""
    pieces = panels(1)
    model = model_of(pieces, ASSUMED)
    number = next(n for n, i in enumerate(model.items) if i.stage is Stage.COLOUR)
    place = len(model.belief.mean) + number
    prior = model.covariance[place, place]
    model.see(used(pieces, 1.3))
    net = 1.3 * base(pieces)
    noise = 0.02**2 + (4.0 / net) ** 2
    weight = prior / (prior + noise)
    assert model.mean[place] == pytest.approx(weight * np.log(1.3), rel=1e-9)
    assert model.covariance[place, place] == pytest.approx(prior * noise / (prior + noise), rel=1e-9)


def test_the_shop_remembers_and_its_next_job_is_better_known() -> None:
    belief = starting_belief(ASSUMED)
    widths = [belief.factor(Stage.COLOUR, "panel").sigma]
    for _ in range(10):
        model = model_of(panels(), ASSUMED, belief, [used(panels(), 1.25)])
        belief = model.learned()
        widths.append(belief.factor(Stage.COLOUR, "panel").sigma)
    assert all(a > b for a, b in itertools.pairwise(widths))
    assert widths[-1] < 0.3 * widths[0]
    assert belief.factor(Stage.COLOUR, "panel").at(0.5) == pytest.approx(1.25, rel=0.03)
    assert (belief.jobs, belief.entries) == (10, 10)


def test_what_is_learned_of_colour_says_something_of_clear_but_not_all() -> None:
    model = model_of(panels(), ASSUMED, uses=[used(panels(), 1.4)])
    clear = model.learned().factor(Stage.CLEAR, "panel")
    assert 1.03 < clear.at(0.5) < 1.3


def test_a_belief_survives_storage() -> None:
    belief = model_of(panels(), ASSUMED, uses=[used(panels(), 1.2)]).learned()
    again = belief_from_data(belief.to_data())
    assert np.array_equal(again.covariance, belief.covariance)
    assert (again.jobs, again.entries) == (1, 1)
    with pytest.raises(Refusal):
        belief_from_data({"names": ["other"]})


def test_covariance_stays_positive() -> None:
    pieces = panels(20)
    model = model_of(pieces, ASSUMED)
    for piece in pieces:
        model.see(used([piece], 1.1))
    assert np.linalg.eigvalsh(model.covariance).min() > -1e-12


@pytest.mark.parametrize(
    "make",
    [
        lambda: Use(Stage.COLOUR, {}, 100.0),
        lambda: Use(Stage.COLOUR, {"P0": 1.5}, 100.0),
        lambda: Use(Stage.COLOUR, {"P0": 1.0}, 0.0),
        lambda: Use(Stage.COLOUR, {"P0": 1.0}, float("nan")),
        lambda: model_of(panels(), ASSUMED, uses=[Use(Stage.WIPED, {"P0": 1.0}, 100.0)]),
        lambda: model_of(panels(), ASSUMED, uses=[Use(Stage.COLOUR, {"X": 1.0}, 100.0)]),
        lambda: model_of(panels(), ASSUMED, uses=[Use(Stage.COLOUR, {"P0": 1.0}, 25.5)]),
        lambda: model_of(panels(), ASSUMED, uses=[used(panels(2), 1.0), used(panels(1), 1.0)]),
    ],
)
def test_entries_that_cannot_be_are_refused(make: object) -> None:
    with pytest.raises(Refusal):
        make()  # type: ignore[operator]


AREAS = {p.key: p.area for p in panels()}


def test_standing_goes_from_watch_to_enough_to_done() -> None:
    pieces = panels()
    model = model_of(pieces, ASSUMED)
    cup = standing(model, AREAS, 0.0).still.at(0.6)
    assert standing(model, AREAS, cup).status is Status.WATCH
    model.see(used(pieces[:20], 0.8))
    now = standing(model, AREAS, cup - 0.8 * base(pieces[:20]) - 25, 0.8 * base(pieces[:20]) + 25)
    assert now.status is Status.ENOUGH
    assert now.share_done == pytest.approx(0.5)
    assert now.mix == 0
    model.see(used(pieces[20:], 0.8))
    assert standing(model, AREAS, 100.0).status is Status.DONE


def test_before_anything_is_sprayed_colour_is_still_to_be_mixed_and_not_short() -> None:
    model = model_of(panels(), ASSUMED)
    assert standing(model, AREAS, 0.0).status is Status.TO_MIX
    assert standing(model, AREAS, 0.0).why is Why.FIRST
    little = standing(model, AREAS, 0.0).still.at(EARLY / 2)
    assert standing(model, AREAS, little).status is Status.TO_MIX
    assert standing(model, AREAS, little, used=10.0).status is Status.SHORT, "some of it is gone already"


def test_running_short_is_told_with_how_much_to_mix() -> None:
    pieces = panels()
    model = model_of(pieces, ASSUMED)
    cup = standing(model, AREAS, 0.0).still.at(0.5)
    model.see(used(pieces[:20], 1.4))
    stand = standing(model, AREAS, cup - 1.4 * base(pieces[:20]) - 25)
    assert stand.status is Status.SHORT
    assert stand.short_by == pytest.approx(0.8 * base(pieces[:20]), rel=0.1)
    assert 0 <= stand.in_hand + stand.mix - stand.still.at(SURE) < STEP
    assert stand.mix % STEP == 0
    assert stand.why is Why.REST


def test_the_first_mix_lies_between_the_middle_and_sure() -> None:
    wide, narrow = Spread(1000, 0.25, 100), Spread(1000, 0.03, 100)
    assert wide.at(0.5) < first_mix(wide) < 1.13 * wide.at(0.5)
    assert first_mix(narrow) == pytest.approx(narrow.at(SURE))


def test_a_warning_wants_strong_odds_early_and_little_more_than_even_odds_at_the_last_look() -> None:
    pieces = panels(80)
    areas = {p.key: p.area for p in pieces}
    model = model_of(pieces, ASSUMED)
    between = (EARLY + LATE) / 2
    early = standing(model, areas, standing(model, areas, 0.0).still.at(between))
    assert early.status is Status.WATCH, "three more looks come before half"
    model.see(used(pieces[:20], 1.0))
    late = standing(model, areas, standing(model, areas, 0.0).still.at(between))
    assert late.share_done == pytest.approx(0.25)
    assert late.status is Status.SHORT, "the next session brings the coats to half"
    assert standing(model, areas, standing(model, areas, 0.0).still.at(0.9)).status is Status.WATCH
    assert standing(model, areas, standing(model, areas, 0.0).still.at(EARLY / 2)).status is Status.SHORT


def test_the_advice_says_what_and_why_in_one_voice() -> None:
    def show(millilitres: float) -> str:
        return f"{millilitres:.0f} mL"

    pieces = panels()
    model = model_of(pieces, ASSUMED)
    first = standing(model, AREAS, 0.0)
    told = advise(first, show)
    assert told.what == f"Mix {first.mix:.0f} mL first."
    assert "nothing" not in told.what
    assert f"{first.whole:.0f} mL" in told.why
    assert first.why is Why.FIRST
    assert advise(standing(model, AREAS, 1e6), show).what.startswith("What is in hand suffices")
    thin = standing(model, AREAS, 30.0)
    assert thin.why is Why.NEXT
    assert f"Mix {thin.mix:.0f} mL more before the next session" in advise(thin, show).what
    wait = standing(model, AREAS, first.still.at(0.9))
    assert (wait.why, wait.mix) == (Why.WAIT, 0.0)
    assert "Mix nothing yet" in advise(wait, show).what
    model.see(used(pieces, 1.0))
    assert advise(standing(model, AREAS, 0.0), show).words == "All coats of colour are on."


def test_more_than_the_next_session_is_not_asked_for_at_once() -> None:
    """With many sessions to come, one and a half of them in hand carry the next; with the last one to come, nothing short of all of it does."""
    many = panels(200)
    areas = {p.key: p.area for p in many}
    model = model_of(many, ASSUMED)
    first = standing(model, areas, 0.0)
    assert first.sessions_left >= 4
    enough = first.still.scaled(1.5 / first.sessions_left).at(SURE)
    assert standing(model, areas, enough * 1.001).why is Why.WAIT
    assert standing(model, areas, enough * 1.001).mix == 0
    assert standing(model, areas, enough * 0.999).why is Why.NEXT
    few = panels(2)
    model = model_of(few, ASSUMED)
    small = {p.key: p.area for p in few}
    last = standing(model, small, 0.0)
    assert last.sessions_left == 1
    assert standing(model, small, last.still.at(0.6)).why is not Why.WAIT


def test_clear_keeps_nothing_back_for_touching_up() -> None:
    """What is kept back is colour; of the clear the coats and what stays in the cup is all."""
    pieces = panels()
    bare, keeping = Assumptions(keep_back=0.0), Assumptions(keep_back=300.0)
    for stages, more in ((COLOUR, 300.0), ((Stage.CLEAR,), 0.0)):
        without = standing(model_of(pieces, bare), AREAS, 0.0, stages=stages).still
        with_it = standing(model_of(pieces, keeping), AREAS, 0.0, stages=stages).still
        assert with_it.at(0.5) - without.at(0.5) == pytest.approx(more)
        model = model_of(pieces, bare)
        lost = standing(model, AREAS, 0.0, stages=stages).sessions_left * bare.cup_loss
        assert without.fixed == pytest.approx(lost + model.still(stages).fixed)


def test_at_the_very_first_look_there_are_looks_to_come() -> None:
    """Half in hand is no reason to cry wolf after a hundredth of the work, with looks to come."""
    pieces = panels(200)
    areas = {p.key: p.area for p in pieces}
    model = model_of(pieces, ASSUMED, uses=[used(pieces[:2], 1.0)])
    between = (EARLY + LATE) / 2
    assert standing(model, areas, standing(model, areas, 0.0).still.at(between)).status is Status.WATCH


def test_a_piece_that_took_more_is_expected_to_take_more() -> None:
    """Its own share of what was seen stays with it; the others follow by what the job has in common."""
    pieces = panels(6)
    model = model_of(pieces, ASSUMED)
    model.see(Use(Stage.COLOUR, {pieces[2].key: 1.0}, 1.5 * base(pieces[2:3]) + 25.0))
    of_colour = [n for n, item in enumerate(model.items) if item.stage is Stage.COLOUR]
    ratios = {model.items[n].piece: model.expected(n) / model.items[n].base for n in of_colour}
    others = [ratio for key, ratio in ratios.items() if key != pieces[2].key]
    assert max(others) == pytest.approx(min(others))
    assert 1.4 < ratios[pieces[2].key] < 1.52
    assert 1.0 < max(others) < ratios[pieces[2].key]
