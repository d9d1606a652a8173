"""The odds of the take-off, on simulated shops and jobs.

A simulated shop has a build of its own (sd 20 %) and a gun of its own (transfer, sd 10 %); each job errs in its survey (area sd 8 %: 5 % shared by
the job, the rest by piece) and each piece takes its own share (sd 15 %, heavy-tailed). 40 to 120 pieces, seeded. The simulator draws the truth by itself;
it knows the forecast's starting values but not its reckoning.
"""

from dataclasses import dataclass, field

import numpy as np

from hidewright.survey import Piece, make_piece
from hidewright.takeoff.coats import Assumptions, Stage
from hidewright.takeoff.enough import Status, model_of, standing
from hidewright.takeoff.yields import Belief, JobModel, Use, items_of, starting_belief

COLOUR = (Stage.WIPED, Stage.COLOUR)
JOBS = 300
SHAPES = {"cushion": 0.35, "panel": 0.2, "shell": 0.15, "arm": 0.15, "roll": 0.1, "box": 0.05}
ASSUMED = Assumptions(keep_back=0.0)


@dataclass
class Shop:
    """A simulated shop: factors against the starting values that stay with it."""

    rng: np.random.Generator
    build: dict[Stage, float] = field(init=False)
    shapes: dict[str, float] = field(init=False)

    def __post_init__(self) -> None:
        hand = self.rng.normal(0, 0.2 / np.sqrt(2))
        gun = self.rng.normal(0, 0.1)
        own = {stage: self.rng.normal(0, 0.2 / np.sqrt(2)) for stage in Stage}
        rag = self.rng.normal(0, 0.1)
        self.build = {s: hand + own[s] - (rag if s is Stage.WIPED else gun) for s in Stage}
        self.shapes = {shape: self.rng.normal(0, 0.05) for shape in SHAPES}

    def job(self) -> "SimJob":
        """Another job of this shop."""
        return SimJob(self, self.rng)


class SimJob:
    """A simulated job: what each piece really takes in each stage, and the sessions in which it is coated."""

    def __init__(self, shop: Shop, rng: np.random.Generator) -> None:
        self.rng = rng
        count = int(rng.integers(40, 121))
        self.pieces = [_piece(rng, n) for n in range(count)]
        self.items = items_of(self.pieces, ASSUMED)
        tape, day = rng.normal(0, 0.05), {stage: rng.normal(0, 0.04) for stage in Stage}
        own_area = {p.key: rng.normal(0, 0.062) for p in self.pieces}
        self.takes = {
            (i.piece, i.stage): i.base
            * float(
                np.exp(
                    shop.build[i.stage]
                    + shop.shapes[i.shape]
                    + tape
                    + day[i.stage]
                    + own_area[i.piece]
                    + 0.15 * rng.standard_t(6) / np.sqrt(1.5)
                )
            )
            for i in self.items
        }
        self.areas = {p.key: p.area for p in self.pieces}
        self.sessions = self._sessions()

    def _sessions(self) -> list[list[str]]:
        groups: list[list[str]] = [[]]
        area = 0.0
        for piece in self.pieces:
            if area + piece.area > ASSUMED.session_area and groups[-1]:
                groups.append([])
                area = 0.0
            groups[-1].append(piece.key)
            area += piece.area
        return groups

    def uses(self, session: list[str]) -> list[tuple[Use, float]]:
        """What a session is logged as and what it really takes, stage by stage; the loss goes with the spraying."""
        found = []
        for stage in COLOUR:
            keys = [key for key in session if (key, stage) in self.takes]
            if not keys:
                continue
            loss = ASSUMED.cup_loss * float(np.exp(self.rng.normal(0, 0.2))) if stage is Stage.COLOUR else 0.0
            takes = sum(self.takes[key, stage] for key in keys) + loss
            read = max(takes * float(np.exp(self.rng.normal(0, 0.01))) + self.rng.normal(0, 2.0), 1.0)
            believed = ASSUMED.cup_loss if stage is Stage.COLOUR else 0.0
            found.append((Use(stage, dict.fromkeys(keys, 1.0), read, believed), takes))
        return found


def _piece(rng: np.random.Generator, n: int) -> Piece:
    shape = str(rng.choice(list(SHAPES), p=list(SHAPES.values())))
    length, width = sorted(rng.uniform(0.25, 0.75, 2))[::-1]
    width = min(width, 0.5) if shape != "arm" else 0.1
    return make_piece(
        key=f"P{n}", name=shape, group="", shape=shape, length=float(length), width=float(width) if shape != "roll" else 0.12,
        thickness=0.08, sat_on=bool(rng.random() < 0.6), turned=bool(rng.random() < 0.3),
    )  # fmt: skip


@dataclass
class Watched:
    """One job watched from the first quote to the last seat."""

    first_in: bool
    last_in: list[bool]
    width: float
    ran_short: bool
    foretold: bool
    alarmed: bool


def interval(model: JobModel, job: SimJob) -> tuple[float, float, float]:
    """The 5 % and 95 % points and the spread of what is still to come."""
    stand = standing(model, job.areas, 0.0)
    return stand.still.at(0.05), stand.still.at(0.95), stand.still.sigma


def watch(job: SimJob, belief: Belief) -> tuple[Watched, Belief]:
    """Coat a job whose cup holds the middle of the forecast: does the interval hold, and is running short foretold in time?"""
    model = model_of(job.pieces, ASSUMED, belief)
    low, high, _ = interval(model, job)
    cup = standing(model, job.areas, 0.0).still.at(0.5)
    sessions = [job.uses(session) for session in job.sessions]
    total = sum(takes for session in sessions for _, takes in session)
    width = np.log(high / low)
    inside, used, read, foretold, alarmed, coated = [], 0.0, 0.0, False, False, 0
    for number, session in enumerate(sessions):
        for use, takes in session:
            model.see(use)
            used += takes
            read += use.millilitres
        coated += len(job.sessions[number])
        if number + 1 < len(sessions):
            low_now, high_now, _ = interval(model, job)
            inside.append(bool(low_now <= total - used <= high_now))
            short = standing(model, job.areas, cup - read).status is Status.SHORT
            if coated < len(job.pieces) / 2:
                foretold |= short
                alarmed |= short
    return (
        Watched(bool(low <= total <= high), inside, float(width), total > cup, foretold, alarmed),
        model.learned(),
    )


def follow(job: SimJob, belief: Belief) -> tuple[bool, float, int]:
    """Do what the tool says: (did a coat want for colour, left over as a share of what was used, top-ups)."""
    model = model_of(job.pieces, ASSUMED, belief)
    in_hand = standing(model, job.areas, 0.0).mix
    used, top_ups = 0.0, 0
    for number, session in enumerate(job.sessions):
        for use, takes in job.uses(session):
            if takes > in_hand:
                return True, 0.0, top_ups
            in_hand -= takes
            used += takes
            model.see(use)
        advice = standing(model, job.areas, in_hand)
        if advice.mix > 0 and advice.status is not Status.DONE and number + 1 < len(job.sessions):
            in_hand += advice.mix
            top_ups += 1
    return False, in_hand / used, top_ups


def row(
    name: str, value: float, unit: str, goal: str, holds: bool | None, baseline: str
) -> dict[str, object]:
    """One row of the table."""
    return {"stage": "takeoff", "name": name, "value": value, "unit": unit, "goal": goal, "holds": holds, "baseline": baseline}  # fmt: skip


def run(jobs: int = JOBS) -> list[dict[str, object]]:
    """The odds on simulated jobs: new shops, and shops with ten jobs behind them."""
    new, follows, old, old_follows = [], [], [], []
    for n in range(jobs):
        shop = Shop(np.random.default_rng((11, n)))
        new.append(watch(shop.job(), starting_belief(ASSUMED))[0])
        follows.append(follow(shop.job(), starting_belief(ASSUMED)))
    for n in range(jobs // 5):
        shop = Shop(np.random.default_rng((12, n)))
        belief = starting_belief(ASSUMED)
        for _ in range(10):
            belief = watch(shop.job(), belief)[1]
        for _ in range(8):
            old.append(watch(shop.job(), belief)[0])
            old_follows.append(follow(shop.job(), belief))
    return [*_rows("new shop", new, follows, new), *_rows("after 10 jobs", old, old_follows, new)]


def _rows(
    who: str, seen: list[Watched], follows: list[tuple[bool, float, int]], against: list[Watched]
) -> list[dict[str, object]]:
    first = float(np.mean([w.first_in for w in seen]))
    along = float(np.mean([inside for w in seen for inside in w.last_in]))
    halves = [w.last_in[int(len(w.last_in) * 0.75)] for w in seen if w.last_in]
    late = float(np.mean(halves))
    short = [w for w in seen if w.ran_short]
    told = float(np.mean([w.foretold for w in short]))
    false = float(np.mean([w.alarmed for w in seen if not w.ran_short]))
    width = float(np.median([w.width for w in seen]))
    before = float(np.median([w.width for w in against]))
    want = float(np.mean([f[0] for f in follows]))
    left = float(np.median([f[1] for f in follows if not f[0]]))
    top_ups = float(np.mean([f[2] for f in follows]))
    base = f"{len(seen)} simulated jobs, seeded"
    made = [
        row(f"{who}: first quote inside its 90 % interval", 100 * first, "%", "85 to 95 %", 0.85 <= first <= 0.95, base),
        row(f"{who}: forecasts along the job inside", 100 * along, "%", "85 to 95 %", 0.85 <= along <= 0.95, base),
        row(f"{who}: forecasts at three quarters inside", 100 * late, "%", "85 to 95 %", 0.85 <= late <= 0.95, base),
        row(f"{who}: running short foretold before half", 100 * told, "%", "at least 90 %", told >= 0.9, f"{len(short)} jobs that ran short on the middle of the forecast"),
        row(f"{who}: warned before half, yet enough", 100 * false, "%", "", None, f"{len(seen) - len(short)} jobs that did not run short"),
        row(f"{who}: ran short following the advice", 100 * want, "%", "under 3 %", want < 0.03, base),
        row(f"{who}: median left over following it", 100 * left, "%", "at most 15 %", left <= 0.15, base),
        row(f"{who}: top-up cups a job", top_ups, "", "", None, base),
    ]  # fmt: skip
    if seen is not against:
        ratio = width / before
        made.append(row(f"{who}: width of the first interval against the new shop's", ratio, "×", "at most 0.5", ratio <= 0.5, "logarithmic width"))  # fmt: skip
    return made


if __name__ == "__main__":
    for each in run():
        print(each["name"], f"{each['value']:.3g}", each["unit"], "|", each["goal"], each["holds"])
