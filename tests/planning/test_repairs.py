"""A repair that came up is a step of its piece before its next coat, whatever is done."""

from datetime import datetime, timedelta

import pytest

from bench.interiors import interior
from hidewright.planning.problem.kinds import COATS, Kind
from hidewright.planning.problem.model import Job
from hidewright.planning.problem.repairs import Repair, is_repair, with_repair
from hidewright.refusals import Refusal

JOB = max(interior(12, 2, 2).jobs, key=lambda job: len(job.operations))
REPAIR = Repair(7, "repair: seam open", Kind.OWN_PREP, 40, 240)
KEY = f"{JOB.piece}/repair7/repair: seam open · other preparation"
NOON = datetime(2026, 3, 2, 12)


def keys(job: Job) -> list[str]:
    return [o.key for o in job.operations]


@pytest.mark.parametrize("count", range(len(JOB.operations) + 1))
def test_it_comes_after_what_is_done_and_before_the_next_coat(count: int) -> None:
    """However many steps are done: at every moment of the piece's route."""
    done = dict.fromkeys(keys(JOB)[:count], NOON)
    found = with_repair(JOB, REPAIR, done)
    at = keys(found).index(KEY)
    assert [key for key in keys(found) if key != KEY] == keys(JOB), "nothing else moves"
    assert set(done) <= set(keys(found)[:at])
    coats = [n for n, o in enumerate(found.operations) if o.kind in COATS and o.key not in done]
    assert not coats or at < coats[0]
    assert all(o.kind not in COATS for o in found.operations[count:at])
    assert found.operations[at].minutes == 40
    assert found.operations[at].dry == 240


def test_what_ties_a_coat_to_its_wipe_is_not_parted() -> None:
    found = with_repair(JOB, REPAIR)
    at = keys(found).index(KEY)
    assert at
    assert all(o.window is None for o in found.operations[at - 1 : at])


@pytest.mark.parametrize("later", [0, 2])
def test_once_done_it_stands_where_it_was_done(later: int) -> None:
    """Done early, it does not say that the masking before its coat is done; what comes later comes after it."""
    names = keys(JOB)
    done = {key: NOON + timedelta(minutes=n) for n, key in enumerate(names[:2])}
    done[KEY] = NOON + timedelta(minutes=30)
    done |= {key: NOON + timedelta(minutes=40 + n) for n, key in enumerate(names[2 : 2 + later])}
    assert keys(with_repair(JOB, REPAIR, done)) == [*names[:2], KEY, *names[2:]]


def test_a_long_one_comes_in_parts_and_dries_after_the_last() -> None:
    long = Repair(8, "repair: frame", Kind.OWN_PREP, 400, 60)
    parts = [o for o in with_repair(JOB, long).operations if is_repair(o.key)]
    assert sum(o.minutes for o in parts) == 400
    assert [o.dry for o in parts] == [0] * (len(parts) - 1) + [60]
    assert not any(is_repair(key) for key in keys(JOB))


@pytest.mark.parametrize(
    "wrong",
    [{"minutes": 0}, {"minutes": 481}, {"dry": -1}, {"name": "a/b"}, {"name": ""}, {"kind": Kind.SAND}],
)
def test_what_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(Refusal):
        Repair(**{"number": 1, "name": "repair", **wrong})  # type: ignore[arg-type]
