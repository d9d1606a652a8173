"""The joint estimate by eye: exact slopes, words that pull the right way, repeated looks, what stays in memory, and the guards of its values."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from hidewright.colour.cups.advice import advise
from hidewright.colour.cups.colours import Palette
from hidewright.colour.cups.estimate import estimate
from hidewright.colour.cups.fresh import fresh_cup
from hidewright.colour.cups.looks import CAMERA_OFFSET, FILM_LEAST, FILM_OFFSET, Looks, film_offset
from hidewright.colour.cups.memory import Memory
from hidewright.colour.cups.own import FAMILIES, family, leftover_lot, mix_of
from hidewright.colour.cups.pours import Table, next_pours
from hidewright.colour.cups.things import PIECE, Comparison, CupAt, Difference, Job, Swatch, SwatchAt
from hidewright.colour.cups.words import STRENGTHS, Word, Words
from hidewright.colour.learning.cup import BASE, Cup, Pour
from hidewright.colour.learning.cupmodel import CupModel
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.lots import USUAL, Lot, Stock
from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.light.local import metric
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.generic import generic_set
from hidewright.colour.pigments.pigment import Base
from hidewright.colour.pigments.wet import Milk
from hidewright.refusals import Refusal

POURS = [("PW6", 30.0), ("PY42", 5.0), ("PR101", 1.0), ("PBk7", 0.3), (BASE, 100.0)]


@pytest.fixture(scope="module")
def memory() -> Memory:
    """Ten illustrative bottles that nobody has tried yet."""
    lots = tuple(Lot(g.pigment.key, g.pigment, 4.0) for g in generic_set()[:10])
    return Memory.of(Knowledge.fresh(Stock(lots, Base(), USUAL, Surface())))


def cup_of(pours: list[tuple[str, float]], name: str = "cup") -> Cup:
    """A cup of these grams."""
    return Cup(name, tuple(Pour(key, grams, 0.05) for key, grams in pours))


def job_of(lab_: object = (65.0, 8.0, 20.0), source: str = "photo") -> Job:
    """A job with one cup."""
    return Job({PIECE: Swatch.of(lab_, source)}, (cup_of(POURS),))


def said(*words: tuple[str, str], wet: bool = False, after: int = 5) -> Comparison:
    """The cup against the piece in these words."""
    return Comparison(CupAt("cup", after), SwatchAt(), Words(tuple(Word(*w) for w in words)), wet)


def test_the_colours_are_those_of_the_cup_model_and_their_slopes_are_exact(memory: Memory) -> None:
    """Beside the spectral model of learning.cupmodel, and central differences: two ways that share no code with `Palette`."""
    stock = memory.knowledge.stock
    theta = np.random.default_rng(1).normal(size=stock.size) * 0.4
    model = CupModel(stock, cup_of(POURS).pours)
    amounts = np.zeros(10)
    for millilitres, number in zip(model.nominal, model.numbers, strict=True):
        if number is not None:
            amounts[number] = millilitres
    full = np.concatenate([theta, np.zeros(5)])
    looks = Palette(stock, theta).slopes(amounts[None])
    assert looks.labs[0] == pytest.approx(lab(model.at(full, 5)[0]), abs=1e-9)
    for at in (0, 1, 2, 5, 20, stock.size - 1):
        step = np.eye(stock.size)[at] * 1e-5
        up, down = (Palette(stock, theta + s).labs(amounts[None])[0] for s in (step, -step))
        assert looks.by_theta[0, :, at] == pytest.approx((up - down) / 2e-5, abs=1e-6)


def test_slopes_of_looks_are_exact_where_the_axes_stay(memory: Memory) -> None:
    """Central differences over eye, camera, offset and pours; the axes follow the target's present estimate, so that its own slope is left out."""
    photo = Comparison(CupAt("cup", 4), SwatchAt(), Difference(np.array([1.0, 0.5, 0.3]), np.eye(3) * 0.01))
    job = (
        job_of()
        .seen(said(("lighter", "clearly"), ("redder", "a touch")))
        .seen(photo)
        .seen(said(("bluer", "a touch"), wet=True))
    )
    looks = Looks(job, memory.knowledge.stock, Milk())
    mean = np.random.default_rng(2).normal(size=looks.layout.size) * 0.3
    rows = looks.at(mean)
    own = looks.layout.swatch(PIECE)
    dry = slice(0, 6)  # the wet gain is taken as it is: its own change with the bottles is left out
    for at in range(looks.layout.size):
        if own.start <= at < own.stop:
            continue
        step = np.eye(looks.layout.size)[at] * 1e-5
        slope = (looks.at(mean + step).forecasts - looks.at(mean - step).forecasts) / 2e-5
        assert rows.slopes[dry, at] == pytest.approx(slope[dry], abs=1e-5)


@pytest.mark.parametrize("word", ["lighter", "darker", "redder", "greener", "yellower", "bluer"])
def test_a_stronger_word_moves_the_estimate_at_least_as_far(memory: Memory, word: str) -> None:
    """The cup against the piece moves the way that was said, and further for a stronger word."""
    axis = {"lighter": 0, "darker": 0, "redder": 1, "greener": 1, "yellower": 2, "bluer": 2}[word]
    sign = 1.0 if word in ("lighter", "redder", "yellower") else -1.0
    job = job_of()
    moved = []
    for strength in STRENGTHS:
        found = estimate(job.seen(said((word, strength))), memory)
        cup = found.job.cup("cup")
        labs, _ = found.slopes_of(cup, found.amounts(cup)[0][None])
        moved.append(sign * (labs[0] - found.target)[axis])
    assert all(a < b for a, b in itertools.pairwise(moved))


def test_looking_twice_tells_less_than_two_looks_at_different_cups(memory: Memory) -> None:
    """A second look at one cup repeats part of the first one's error."""
    once = said(("lighter", "a touch"))
    twice = estimate(job_of().seen(once).seen(once), memory)
    cup = twice.job.cup("cup")
    spread = np.trace(twice.off(cup)[1])
    single = np.trace(estimate(job_of().seen(once), memory).off(cup)[1])
    free = job_of().seen(once).seen(replace(once, a=CupAt("cup", 4)))
    assert single > spread
    assert np.trace(estimate(free, memory).target_covariance) < np.trace(twice.target_covariance)


def test_what_cup_and_target_share_cancels(memory: Memory) -> None:
    """After "the same", the cup is known to be near the target though neither is known well."""
    found = estimate(job_of().seen(said()), memory)
    off, covariance = found.off(found.job.cup("cup"))
    assert np.linalg.norm(off) < 0.5
    assert np.sqrt(np.trace(covariance)) < 1.2 < 2.5 < found.target_spread


def test_bottles_and_eye_stay_and_the_target_does_not(memory: Memory) -> None:
    """Memory keeps the stock and the eye, surer than before, and nothing of the job's own."""
    job = (
        job_of((65.0, 8.0, 20.0), "instrument")
        .seen(said(("darker", "clearly")))
        .seen(said(("darker", "a touch"), after=4))
    )
    after = estimate(job, memory).closed()
    assert after.mean.shape == memory.mean.shape
    assert after.looks == 2
    assert np.trace(after.covariance) < np.trace(memory.covariance)


def test_another_cup_is_a_witness_too(memory: Memory) -> None:
    """Cup against cup: the difference is stored with both sides, and moves what is believed of both."""
    other = cup_of([("PW6", 30.0), ("PY42", 6.0), (BASE, 100.0)], "other")
    job = job_of().with_cup(other)
    look = Comparison(CupAt("cup", 5), CupAt("other", 3), Words((Word("darker", "clearly"),)))
    before, after = estimate(job, memory), estimate(job.seen(look), memory)
    gap = [
        float(e.slopes_of(c, e.amounts(c)[0][None])[0][0, 0])
        for e in (before, after)
        for c in (job.cup("cup"), other)
    ]
    assert np.trace(after.covariance) < np.trace(before.covariance)
    assert gap[2] - gap[3] != pytest.approx(gap[0] - gap[1], abs=1e-3)


def test_the_next_pour_is_expected_to_help_and_is_on_the_grid(memory: Memory) -> None:
    """Whole steps, inside the vessel and the window, and nearer than now."""
    job = job_of().seen(said(("lighter", "clearly"), ("bluer", "a touch")))
    found = estimate(job, memory)
    cup, table = job.cup("cup"), Table(step_g=0.05, vessel_ml=200.0)
    pours = next_pours(found, cup, table)
    now = float(np.linalg.norm(found.off(cup)[0]))
    assert pours
    assert pours[0].mean < now
    for pour in pours:
        assert all(
            grams / 0.05 == pytest.approx(round(grams / 0.05), abs=1e-6) for grams in pour.grams.values()
        )
        assert pour.load <= 0.2 + 1e-3
    assert not next_pours(found, cup, Table(vessel_ml=110.0))


def test_the_advice_never_ends_against_a_standing_difference(memory: Memory) -> None:
    """Look first; pour or look again while the eye differs; "the same" wet asks for a dry look, and dry it ends."""
    job = job_of()
    cup = job.cup("cup")

    def act(*looks: Comparison) -> str:
        now = job
        for look in looks:
            now = now.seen(look)
        return advise(estimate(now, memory), cup).act

    assert act() == "look"
    assert act(said(("darker", "much"))) in ("pour", "afresh")
    assert act(said(wet=True)) == "look dry"
    assert act(said(), said()) == "done"
    assert act(said(("redder", "a touch"))) in ("pour", "look again")


def test_three_new_bottles_are_not_poured_in_full_on_one_vague_word(memory: Memory) -> None:
    """ "Far off" alone says too little for a whole dose of three bottles that are not in the cup."""
    job = Job({PIECE: Swatch.of([40.0, 20.0, 10.0], "guess")}, (cup_of([("PW6", 20.0), (BASE, 90.0)]),))
    job = job.seen(Comparison(CupAt("cup", 2), SwatchAt(), Words((Word("lighter", "far off"),))))
    for pour in next_pours(estimate(job, memory), job.cup("cup"), vague=True, keep=10):
        new = [key for key in pour.grams if key not in ("PW6", BASE)]
        assert len(new) < 3 or not pour.whole


def test_a_first_cup_is_near_its_target_by_what_is_believed(memory: Memory) -> None:
    """Its forecast by the cup's own model agrees with what it says, and it is lean so that corrections need no base."""
    job = Job({PIECE: Swatch.of([60.0, 10.0, 25.0], "photo")})
    found = estimate(job, memory)
    first = fresh_cup(found, 150.0)
    look = memory.knowledge.forecast(first.grams)
    assert sum(first.grams.values()) == pytest.approx(150.0, abs=0.1)
    assert float(delta_e00(look.lab(), found.target)) == pytest.approx(first.mean, abs=1e-3)
    assert first.mean < 1.0
    assert first.load < 0.16


def test_a_family_is_enough_to_begin() -> None:
    """Every family word gives a prior that a first cup can be found for from the illustrative bottles, or at least approached."""
    lots = tuple(Lot(g.pigment.key, g.pigment, 4.0) for g in generic_set())
    memory = Memory.of(Knowledge.fresh(Stock(lots, Base(), USUAL, Surface())))
    for word in FAMILIES:
        first = fresh_cup(estimate(Job({PIECE: family(word)}), memory), 100.0)
        assert first.mean < 8.0
    with pytest.raises(Refusal, match="no family"):
        family("sparkling")


def test_a_cup_of_ones_own_says_what_it_still_needs(memory: Memory) -> None:
    """Pigment first: base to add and paint it makes; too lean: pigment in the cup's own proportion keeps its colour."""
    known = memory.knowledge
    rich = mix_of(known, cup_of([("PW6", 30.0), ("PY42", 5.0)]))
    assert rich.load == pytest.approx(1.0)
    assert 0 < rich.base_g[0] < rich.base_g[1]
    assert rich.makes_ml[0] == pytest.approx(rich.millilitres / 0.20)
    lean_cup = cup_of([("PW6", 10.0), ("PY42", 2.0), (BASE, 120.0)])
    lean = mix_of(known, lean_cup, Table(step_g=0.001))
    assert not lean.inside
    full = mix_of(known, lean_cup.poured([Pour(k, g) for k, g in lean.pigment_g.items()]))
    assert full.load == pytest.approx(0.16, abs=1e-4)
    assert float(delta_e00(full.forecast.lab(), lean.forecast.lab())) < 0.01


def test_a_leftover_of_unknown_content_can_be_thrown_in() -> None:
    """By its looks alone it is a bottle of its own, whose masstone is that colour."""
    lot = leftover_lot("left", [45.0, 10.0, 20.0])
    known = Knowledge.fresh(Stock((lot,), Base(), USUAL, Surface()))
    assert float(delta_e00(known.forecast({"left": 10.0}).lab(), np.array([45.0, 10.0, 20.0]))) < 0.3


def test_a_stick_photo_narrows_the_difference_but_not_beyond_the_camera(memory: Memory) -> None:
    """A photo beside words narrows (cup − target); photos alone never tell it better than the camera's own offset."""
    delta = np.array([3.0, -2.0, 1.0])
    photo = Comparison(CupAt("cup", 5), SwatchAt(), Difference(delta, np.eye(3) * 1e-4))
    words = said(("lighter", "clearly"), ("greener", "clearly"))
    cup = job_of().cup("cup")

    def spread(*looks: Comparison) -> float:
        job = job_of()
        for look in looks:
            job = job.seen(look)
        return float(np.sqrt(np.trace(estimate(job, memory).off(cup)[1])))

    assert spread(words, photo) < spread(words)
    assert spread(photo, photo, photo, photo) > 0.8 * float(np.linalg.norm(CAMERA_OFFSET))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Swatch.of([50.0, float("nan"), 0.0], "photo"), "finite"),
        (lambda: Swatch.of([50.0, 0.0], "photo"), "3 finite"),
        (lambda: Swatch.of([50.0, 0.0, 0.0], "dream"), "no source"),
        (lambda: Swatch.of([50.0, 0.0, 0.0], "photo", 0.0), "cannot be"),
        (lambda: Swatch.of([150.0, 0.0, 0.0], "photo"), "above 0 and below 100"),
        (lambda: Swatch(np.array([50.0, 0.0, 0.0]), np.zeros((3, 3))), "spread above 0"),
        (lambda: Word("shinier"), "not known"),
        (lambda: Word("redder", "wildly"), "no strength"),
        (lambda: Words((Word("redder"), Word("greener"))), "same thing"),
        (lambda: CupAt("cup", 0), "at least one pour"),
        (lambda: Comparison(SwatchAt(), SwatchAt(), Words()), "with itself"),
        (lambda: Difference(np.array([np.inf, 0, 0]), np.eye(3)), "finite"),
        (lambda: Difference(np.zeros(3), -np.eye(3)), "spread above 0"),
        (lambda: Difference(np.zeros(3), np.eye(3), "smell"), "no difference"),
        (lambda: Job({}, target=PIECE), "not among the swatches"),
        (lambda: Job({PIECE: Swatch.of([50.0, 0, 0], "photo")}, (cup_of(POURS), cup_of(POURS))), "same name"),
        (lambda: job_of().seen(said(after=9)), "never as it is compared"),
        (lambda: job_of().seen(Comparison(CupAt("cup", 1), SwatchAt("moon"), Words())), "not known"),
        (lambda: Table(step_g=0.0), "step of the balance"),
        (lambda: Table(load=(0.3, 0.2)), "window"),
        (lambda: Table(vessel_ml=float("nan")), "vessel"),
        (lambda: Table(most=0), "One to three"),
    ],
)
def test_bad_values_are_refused_at_construction(make: object, words: str) -> None:
    """Each says what is wrong."""
    with pytest.raises(Refusal, match=words):
        make()  # type: ignore[operator]


def test_cleaner_of_a_grey_says_nothing(memory: Memory) -> None:
    """Where there is no chroma to speak of the word does not count, and a job whose target is only *believed* grey goes on."""
    grey = Job({PIECE: Swatch.of([50.0, 0.0, 0.5], "photo")}, (cup_of(POURS),))
    with_word = estimate(grey.seen(said(("lighter", "clearly"), ("cleaner", "clearly"))), memory).target
    without = estimate(grey.seen(said(("lighter", "clearly"))), memory).target
    assert with_word[0] == pytest.approx(without[0], abs=0.5)
    open_word = estimate(grey.seen(said(("lighter", "clearly"), ("cleaner", "far off"))), memory).target
    assert open_word[0] == pytest.approx(without[0], abs=0.5)
    assert float(np.hypot(*open_word[1:])) < 3.0


def test_the_metric_is_that_of_the_target(memory: Memory) -> None:
    """`off` at the present estimate is CIEDE2000 for small differences (Sharma 2005, through `light.difference`)."""
    found = estimate(job_of().seen(said()), memory)
    cup = found.job.cup("cup")
    labs, _ = found.slopes_of(cup, found.amounts(cup)[0][None])
    off = metric(found.target) @ (labs[0] - found.target)
    assert float(np.linalg.norm(off)) == pytest.approx(float(delta_e00(labs[0], found.target)), rel=0.1)


def test_what_no_bottle_explains_is_wider_where_the_bottles_are_known(memory: Memory) -> None:
    """Between bottles known by drawdowns of their own and an illustrative set the film's offset shrinks without a jump, and never leaves its two bounds."""
    lots = memory.knowledge.stock.lots
    sizes = [
        film_offset(replace(memory.knowledge.stock, lots=tuple(replace(lot, spread=wide) for lot in lots)))
        for wide in (0.5, 1.0, 1.5, 2.5, 4.0, 10.0)
    ]
    assert sizes[0] == sizes[1] == pytest.approx(FILM_OFFSET)
    assert sizes[-1] == sizes[-2] == pytest.approx(FILM_LEAST)
    assert sizes[1:-1] == sorted(set(sizes[1:-1]), reverse=True)
