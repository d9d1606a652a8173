"""Burn records: kept, and compared with published limits. A licensed or authorised person judges; the tool never does.

Sources: 14 CFR 25 Appendix F Part I (a)(1)(ii), 12 s vertical test: burn length ≤ 8 in, after-flame ≤ 15 s, drip flame ≤ 5 s, each the average
of at least three specimens; conditioned (Part I (b)(1)) at 70 ± 5 °F and 50 ± 5 % humidity until moisture equilibrium or for 24 h. 49 CFR 571.302 (FMVSS 302): ≤ 102 mm/min,
or stops before 60 s and within 51 mm of where timing began. EN 45545-2 and IMO 2010 FTP Code Part 8: test houses only, the certificate is kept.
"""

from dataclasses import dataclass
from statistics import fmean

from hidewright.refusals import Refusal

INCH_MM = 25.4
VERTICAL_LENGTH_MM = 8 * INCH_MM
VERTICAL_AFTER_S = 15.0
VERTICAL_DRIP_S = 5.0
LEAST_SPECIMENS = 3
HORIZONTAL_RATE = 102.0
STOPS_S = 60.0
STOPS_MM = 51.0
JUDGES = "A comparison of numbers, no finding. A licensed or authorised person judges, on the test record of a recognised house."


@dataclass(frozen=True, slots=True)
class Specimen:
    """One vertical specimen: burn length mm, after-flame s, longest drip flame s."""

    length: float
    after: float
    drip: float

    def __post_init__(self) -> None:
        if min(self.length, self.after, self.drip) < 0 or self.length > 400:
            raise Refusal("A specimen's figures cannot be right.", where="specimen")


@dataclass(frozen=True, slots=True)
class Conditioning:
    """How specimens were kept before: °F, relative humidity %, and hours, or None where they were kept until moisture equilibrium."""

    fahrenheit: float
    humidity: float
    hours: float | None

    @property
    def as_asked(self) -> bool:
        """70 ± 5 °F, 50 ± 5 %, until moisture equilibrium or for 24 h (14 CFR 25 Appendix F Part I (b)(1))."""
        long_enough = self.hours is None or self.hours >= 24
        return abs(self.fahrenheit - 70) <= 5 and abs(self.humidity - 50) <= 5 and long_enough


@dataclass(frozen=True, slots=True)
class Line:
    """One figure beside its limit."""

    what: str
    value: float
    limit: float
    unit: str

    @property
    def within(self) -> bool:
        """At or under the limit (a mean of readings may differ in the last binary digit)."""
        return self.value <= self.limit * (1 + 1e-9)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Figures beside their limits, and what is lacking in the record; `judges` says who decides."""

    lines: tuple[Line, ...]
    lacking: tuple[str, ...]
    judges: str = JUDGES


def compare_vertical(specimens: tuple[Specimen, ...], conditioning: Conditioning | None) -> Comparison:
    """Averages of a 12 s vertical record beside 14 CFR 25 Appendix F Part I (a)(1)(ii)."""
    if not specimens:
        raise Refusal("There is no specimen in this record.", where="specimens")
    lacking = []
    if len(specimens) < LEAST_SPECIMENS:
        lacking.append(f"The average wants at least {LEAST_SPECIMENS} specimens; there are {len(specimens)}.")
    if conditioning is None:
        lacking.append("The conditioning is not on record.")
    elif not conditioning.as_asked:
        lacking.append(
            "The conditioning was not 70 ± 5 °F and 50 ± 5 % until moisture equilibrium or for 24 h."
        )
    return Comparison(
        (
            Line("Burn length, average", fmean(s.length for s in specimens), VERTICAL_LENGTH_MM, "mm"),
            Line("After-flame, average", fmean(s.after for s in specimens), VERTICAL_AFTER_S, "s"),
            Line("Drip flame, average", fmean(s.drip for s in specimens), VERTICAL_DRIP_S, "s"),
        ),
        tuple(lacking),
    )


def horizontal_rate(distance: float, seconds: float) -> float:
    """Burn rate in mm/min: B = 60·D/T (49 CFR 571.302 S5.3)."""
    if distance < 0 or seconds <= 0:
        raise Refusal("A burn rate wants a distance and a time.", where="burn rate")
    return 60 * distance / seconds


def compare_horizontal(distance: float, seconds: float, *, stopped: bool = False) -> Comparison:
    """A horizontal record beside 49 CFR 571.302 S4.3: not over 102 mm/min, or it stops before 60 s and within 51 mm from the start of timing."""
    if stopped and seconds < STOPS_S and distance <= STOPS_MM:
        lines: tuple[Line, ...] = (
            Line("Stopped before", seconds, STOPS_S, "s"),
            Line("Stopped within", distance, STOPS_MM, "mm"),
        )
    else:
        lines = (Line("Burn rate", horizontal_rate(distance, seconds), HORIZONTAL_RATE, "mm/min"),)
    return Comparison(lines, ())
