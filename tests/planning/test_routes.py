"""Routes: what each kind of piece goes through, how coats multiply, and which routes make no sense."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hidewright.planning.problem.calendar import Calendar
from hidewright.planning.problem.model import COATS, SPRAYED, Job, Kind
from hidewright.planning.problem.route import Part, Route, RouteStep, Where, check, faults_of, route_for
from hidewright.planning.problem.routes import PACE, Drying, Pace, Times, job_of, placed_steps
from hidewright.planning.problem.shipped_routes import SHIPPED
from hidewright.planning.problem.work import Coats, Hold, WorkPiece, work_pieces
from hidewright.refusals import Refusal, Refusals
from hidewright.survey import make_piece

MONDAY = date(2026, 3, 2)
LEATHER = SHIPPED[0]


def piece(**changes: object) -> WorkPiece:
    facts = {"key": "C1", "name": "Seat", "group": "", "material": "leather", "condition": "worn"}
    facts |= {"length": 0.6, "depth": 0.5, "front": 0.4, "back": 0.3, "front_sat": True}
    return WorkPiece(**{**facts, **changes})  # type: ignore[arg-type]


def job(one: WorkPiece, drying: Drying | None = None) -> Job:
    return job_of(one, Times(PACE, drying or Drying()), Calendar(MONDAY))


def kinds(one: WorkPiece, pass_key: str) -> list[str]:
    return [str(step.kind) for key, step in placed_steps(one) if key == pass_key]


def edited(*changes: tuple[int, RouteStep | None]) -> Route:
    """The leather route with some of its steps replaced, or taken out."""
    steps: list[RouteStep | None] = list(LEATHER.steps)
    for at, step in changes:
        steps[at] = step
    return replace(LEATHER, steps=tuple(step for step in steps if step is not None))


def moved(kind: Kind, to: int) -> Route:
    steps = list(LEATHER.steps)
    step = next(s for s in steps if s.kind is kind and s.part is Part.SIDE)
    steps.remove(step)
    steps.insert(to, step)
    return replace(LEATHER, steps=tuple(steps))


# What pieces go through


def test_a_cushion_gets_colour_wiped_in_only_where_it_is_sat_on_and_is_turned_between_its_sides() -> None:
    assert kinds(piece(), "front")[:4] == ["mask", "clean", "wipe down", "wipe in colour"]
    assert kinds(piece(), "back")[:4] == ["turn", "clean", "wipe down", "spray colour"]
    assert "wipe in colour" not in kinds(piece(wiped=False), "front")


def test_a_stripped_metal_part_is_primed_a_kept_one_is_not() -> None:
    bare = kinds(piece(material="metal", strip=True, back=0), "front")
    assert bare[:6] == ["mask", "wipe down", "prime", "sand", "tack", "spray colour"]
    assert "prime" not in kinds(piece(material="metal", back=0), "front")


@pytest.mark.parametrize(("coats", "sprayed"), [(0, 0), (1, 1), (2, 2), (3, 3), (5, 5)])
def test_as_many_coats_of_colour_as_are_asked_for_each_sanded_and_tacked_before(
    coats: int, sprayed: int
) -> None:
    found = kinds(piece(colour_coats=coats), "front")
    assert sum(kind in ("spray colour", "spray second coat") for kind in found) == sprayed
    assert found.count("sand") == found.count("tack") == max(sprayed - 1, 0)


def test_coats_of_clear_dry_between_and_only_the_last_cures() -> None:
    clears = [o for o in job(piece(clear_coats=3, back=0)).operations if o.kind is Kind.CLEAR]
    assert [o.dry for o in clears] == [40, 40, 840]
    assert [o.key.rsplit("/", 1)[1] for o in clears] == ["spray clear", "spray clear 2", "spray clear 3"]


def test_the_last_coat_cures_before_the_turn_even_where_no_clear_is_sprayed() -> None:
    found = job(piece(clear_coats=0))
    last = [o for o in found.operations if o.pass_key == "front"][-1]
    assert (last.kind, last.dry) == (Kind.SECOND, 840)


def test_each_coat_more_takes_longer() -> None:
    minutes = [job(piece(colour_coats=n, clear_coats=m)).minutes for n, m in ((1, 1), (2, 1), (2, 2), (3, 2))]
    assert minutes == sorted(set(minutes))


def test_the_survey_becomes_pieces_with_the_coats_that_the_take_off_reckons_with() -> None:
    surveyed = make_piece(key="C1", name="Seat", group="", shape="panel", length=0.5, width=0.4)
    (one,) = work_pieces([surveyed], coats=Coats(4, 2, wiped=False))
    assert (one.colour_coats, one.clear_coats, one.wiped) == (4, 2, False)


@pytest.mark.parametrize("changes", [{"colour_coats": -1}, {"colour_coats": 13}, {"clear_coats": 9}])
def test_coats_that_cannot_be_are_refused(changes: dict[str, int]) -> None:
    with pytest.raises(Refusal, match="cannot be"):
        piece(**changes)


@given(
    material=st.sampled_from(["leather", "vinyl", "plastic", "metal", "wood"]),
    colour=st.integers(0, 6),
    clear=st.integers(0, 4),
    flags=st.tuples(*[st.booleans()] * 6),
)
def test_whatever_the_piece_its_steps_can_be_done_in_that_order(
    material: str, colour: int, clear: int, flags: tuple[bool, ...]
) -> None:
    """A window is always followed by a coat on the same side; the last coat of a side cures; keys are never double."""
    sat, strip, repair, mask, two, wiped = flags
    one = piece(
        material=material, colour_coats=colour, clear_coats=clear, front_sat=sat, strip=strip, repair=repair,
        mask=mask, wiped=wiped, back=0.3 if two else 0.0,
    )  # fmt: skip
    operations = job(one).operations
    assert len({o.key for o in operations}) == len(operations)
    for before, after in pairwise(operations):
        if before.window is not None:
            assert (after.kind in COATS, after.pass_key) == (True, before.pass_key)
    assert operations[-1].window is None
    for side in ("front", "back") if two else ("front",):
        coats = [o for o in operations if o.pass_key == side and o.kind in COATS]
        assert sum(o.kind in SPRAYED - {Kind.PRIME} for o in coats) == colour + clear
        assert not coats or coats[-1].dry == 840


# Routes of the shop's own


def test_a_step_has_its_own_minutes_stretched_by_what_the_log_has_taught() -> None:
    own = edited((7, RouteStep(Part.SIDE, Kind.WIPE_IN, Where.SAT, fixed=10, per_m2=20)))
    taught = {**PACE, Kind.WIPE_IN: Pace(4, 24)}
    one = piece(route=own, back=0)
    for pace, minutes in ((PACE, 18), (taught, 36)):
        found = job_of(one, Times(pace, Drying()), Calendar(MONDAY))
        assert next(o.minutes for o in found.operations if o.kind is Kind.WIPE_IN) == minutes


def test_a_step_has_its_own_drying_stretched_by_the_air() -> None:
    own = edited((8, RouteStep(Part.SIDE, Kind.SPRAY, dry=60)))
    found = job(piece(route=own, back=0), Drying(factor=1.5))
    assert next(o.dry for o in found.operations if o.kind is Kind.SPRAY) == 90


def test_a_route_with_its_own_number_of_coats_takes_no_other() -> None:
    own = replace(LEATHER, colour_coats=1, clear_coats=2)
    found = kinds(piece(route=own, colour_coats=4), "front")
    assert [k for k in found if k.startswith("spray")] == ["spray colour", "spray clear", "spray clear"]


def test_further_coats_follow_even_where_the_route_names_only_the_first() -> None:
    own = edited((9, None), (10, None), (11, None))
    check(own)
    found = kinds(piece(route=own, colour_coats=3, clear_coats=1), "front")
    assert [k for k in found if k.startswith("spray")] == [
        "spray colour",
        *["spray second coat"] * 2,
        "spray clear",
    ]


def test_the_first_route_that_is_for_a_piece_is_taken() -> None:
    worn = replace(LEATHER, key="worn", name="Worn leather", conditions=frozenset({"worn"}))
    bare = replace(LEATHER, key="bare", name="Bare leather", strip=True)
    shop = (bare, worn, *SHIPPED)
    assert route_for("leather", "worn", True, shop).key == "bare"
    assert route_for("leather", "worn", False, shop).key == "worn"
    assert route_for("leather", "sound", False, shop).key == "leather"
    with pytest.raises(Refusal, match="No route is for glass"):
        route_for("glass", "sound", False, shop)


def test_a_piece_waits_before_the_step_of_one_side() -> None:
    until = MONDAY + timedelta(days=3)
    found = job(piece(holds=(Hold("back/turn", until), Hold("wipe down", MONDAY + timedelta(days=1)))))
    assert {o.key: o.release for o in found.operations if o.release} == {
        "C1/front/wipe down": 1440,
        "C1/back/turn": 3 * 1440,
    }


# Routes that make no sense


def test_every_shipped_route_makes_sense_and_there_is_one_for_each_material() -> None:
    for route in SHIPPED:
        assert faults_of(route, cure=840) == ()
    for material, strip in product(("leather", "vinyl", "plastic", "metal", "wood"), (True, False)):
        assert route_for(material, "sound", strip, SHIPPED).key == material


@pytest.mark.parametrize(
    ("route", "words"),
    [
        (moved(Kind.TURN, 12), "turned before the coat has cured"),
        (moved(Kind.MASK, 12), "masked after a coat"),
        (moved(Kind.CLEAN, 11), "“clean” comes after a coat"),
        (moved(Kind.CLEAR, 7), "“spray colour” comes after “spray clear”"),
        (moved(Kind.WIPE_IN, 9), "“wipe in colour” comes after “spray colour”"),
        (moved(Kind.TACK, 9), "After “tack” comes “sand”, not a coat"),
        (moved(Kind.WIPE_DOWN, 5), "After “wipe down” comes “clean”, not a coat (where it is"),
        (edited((13, None)), "never unmasked"),
        (edited((4, None)), "“unmask” without “mask”"),
        (edited((3, None)), "turned once"),
        (edited((8, None)), "A second coat needs a first one"),
        (replace(LEATHER, steps=LEATHER.steps[:6] + LEATHER.steps[13:]), "Nothing is coated"),
        (replace(LEATHER, steps=(*LEATHER.steps[:13], *LEATHER.steps[:12:-1])), "inspected before it is unmasked"),
        (replace(LEATHER, steps=(*LEATHER.steps, RouteStep(Part.END, Kind.STRIP))), "“strip” cannot come at the end"),
        (replace(LEATHER, steps=(*LEATHER.steps, RouteStep(Part.SIDE, Kind.CLEAR, dry=60))), "it cures 840 min"),
    ],
)  # fmt: skip
def test_a_route_that_makes_no_sense_is_refused_with_what_to_do(route: Route, words: str) -> None:
    faults = faults_of(route, cure=840)
    assert any(words in str(fault) for fault in faults), [str(fault) for fault in faults]
    assert all(fault.remedy for fault in faults)
    with pytest.raises(Refusals, match="makes no sense"):
        check(route, cure=840)


@pytest.mark.parametrize(
    "facts", [{"fixed": -1, "per_m2": 1}, {"fixed": 1}, {"fixed": 0, "per_m2": 0}, {"dry": 1e9}]
)
def test_a_step_that_cannot_be_is_refused(facts: dict[str, float]) -> None:
    with pytest.raises(Refusal):
        RouteStep(Part.SIDE, Kind.SAND, **facts)  # type: ignore[arg-type]
