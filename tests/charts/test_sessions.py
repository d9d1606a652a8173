"""What a session is called on lists and sheets, and what it is about."""

from datetime import datetime, timedelta

import pytest

from hidewright.charts.plan import ActShown
from hidewright.charts.sessions import session_name, step_words
from hidewright.planning.problem.rest import once_for

NINE = datetime(2026, 3, 2, 9)


def act(key: str, words: str) -> ActShown:
    return ActShown(key, key.partition("/")[0], "", words, "Ada", NINE, NINE + timedelta(hours=1))


@pytest.mark.parametrize(
    ("keys", "name"),
    [
        (("the job/start/receive and count · other preparation, part 1", "the job/start/receive and count · other preparation, part 2"), "Receive and count"),
        (("C1/start/take apart · other preparation", "C2/start/take apart · other preparation"), "Take apart"),
        (("C1/start/take apart · other preparation", "C1/start/mend · other preparation"), "Strip and prepare"),
        (("C1/prep/strip", "C2/prep/strip"), "Strip and prepare"),
        (("C1/prep/strip, part 1", "C1/prep/strip, part 2"), "Strip"),
    ],
)  # fmt: skip
def test_a_session_of_one_work_of_the_shops_own_has_its_name(keys: tuple[str, str], name: str) -> None:
    run = [act(key, key.rsplit("/", 1)[1].replace(" · other preparation", "")) for key in keys]
    assert session_name(run) == name
    assert ", part" not in step_words(run)


@pytest.mark.parametrize(
    ("mark", "name"),
    [("the job", ""), ("whole whole the job", ""), ("colour", ""), ("colour Trim", "Trim"), ("C1", None), ("colourful", None)],
)  # fmt: skip
def test_what_is_done_once_is_told_from_a_piece(mark: str, name: str | None) -> None:
    assert once_for(mark) == name
