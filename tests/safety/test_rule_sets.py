"""Which papers a set of rules wants, and when a paper that ends is spoken of."""

from datetime import date, timedelta

import pytest

from hidewright.refusals import Refusal
from hidewright.safety.rule_sets import JUDGES, PRACTICE, RULE_SETS, PaperKind, reminder, rule_set

TODAY = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("left", "said"),
    [
        (61, None), (60, 60), (31, 60), (30, 30), (8, 30), (7, 7), (1, 7), (0, 7), (-1, -1), (-400, -1),
    ],
)  # fmt: skip
def test_reminded_60_30_and_7_days_before_and_over_after_its_last_day(left: int, said: int | None) -> None:
    """Own rule, no published limit: on the day itself the border is in; a paper holds through its last day."""
    assert reminder(TODAY + timedelta(days=left), TODAY) == said


def test_what_has_no_end_is_never_spoken_of() -> None:
    assert reminder(None, TODAY) is None


@pytest.mark.parametrize(
    ("key", "source"),
    [
        ("aircraft", "14 CFR 25.853(a), Appendix F Part I"),
        ("rail", "EN 45545-2"),
        ("road", "49 CFR 571.302"),
        ("ship", "IMO 2010 FTP Code Part 8"),
    ],
)
def test_each_set_wants_the_burn_paper_of_its_own_source(key: str, source: str) -> None:
    """The published rules by their own names; which other papers a shop wants is common practice, no source."""
    wants = rule_set(key).wants
    assert [want.source for want in wants if want.kind is PaperKind.BURN] == [source]
    assert {want.source for want in wants if want.kind is not PaperKind.BURN} == {PRACTICE}
    assert rule_set("none").wants == ()


def test_no_wording_says_that_rules_are_kept() -> None:
    words = " ".join(
        [JUDGES, *(want.words for row in RULE_SETS.values() for want in row.wants)]
    ).lower()  # fmt: skip
    for claim in ("complian", "airworth", "approved", "certified", "conform", "safe"):
        assert claim not in words


def test_a_set_that_is_not_known_is_refused_with_the_choice() -> None:
    with pytest.raises(Refusal, match="aircraft"):
        rule_set("submarine")
