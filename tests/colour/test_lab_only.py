"""A colour without a spectrum: the shell learns from it as the colour that it is, and says under which lights it is a guess."""

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from hidewright.cli.adjust import command as adjust
from hidewright.cli.match import command as match
from hidewright.colour.cups.adjust import AdjustProblem
from hidewright.colour.cups.adjust import adjust as advise
from hidewright.colour.learning.cup import Cup, Pour, Sight
from hidewright.colour.learning.cup_rows import CupRow, contents_of, cup_at_hand, dry_only, sight_of
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.lots import USUAL, Lot, Stock, stock_of
from hidewright.colour.light.cie import WAVELENGTHS, delta_e00, lab
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.generic import SPREAD
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.colour.pigments.wet import look_dry
from hidewright.colour.reading.conditions import ColourOnly, Conditions
from hidewright.colour.reading.readings import Reading, colour_reading
from hidewright.colour.recipes.match import MatchProblem
from hidewright.colour.recipes.match import match as find
from hidewright.refusals import Refusal

GOAL = {"PW6": 60.0, "PBr7": 20.0, "PY42": 24.0, "PR101": 6.0}
SD = 0.3


def run(command: object, *arguments: str) -> Result:
    return CliRunner().invoke(command, arguments, catch_exceptions=False)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def held() -> Contents:
    return Contents({**GOAL, "PR101": 3.0}, 500.0)


@pytest.fixture(scope="module")
def pours(held: Contents, pigments: dict[str, Pigment]) -> tuple[Pour, ...]:
    parts = [Pour(key, round(volume * pigments[key].density, 3)) for key, volume in held.volumes.items()]
    return (*parts, Pour("base", 515.0))


@pytest.fixture(scope="module")
def stray(held: Contents, pigments: dict[str, Pigment]) -> np.ndarray:
    """The cup as it would look with umber that is a fifth stronger than drawn down."""
    return look_dry(Contents({**held.volumes, "PBr7": 24.0}, held.base_ml), list(pigments.values()))


@pytest.fixture(scope="module")
def files(
    tmp_path_factory: pytest.TempPathFactory, pigments: dict[str, Pigment], stray: np.ndarray
) -> dict[str, Path]:
    """Target and cup as spectra, and as Lab of the very same two."""
    folder = tmp_path_factory.mktemp("lab")
    spectra = {
        "Wanted": ("target", look_dry(Contents(GOAL, 500.0), list(pigments.values()))),
        "Cup": ("cup", stray),
    }
    wide = [",".join(["name", "use", *(f"{w:.0f}" for w in WAVELENGTHS)])]
    wide += [",".join([n, use, *(f"{v:.6f}" for v in r)]) for n, (use, r) in spectra.items()]
    only = ["name,use,state,l,a,b,sd"]
    only += [f"{n},{use},dry,{','.join(f'{v:.5f}' for v in lab(r))},{SD}" for n, (use, r) in spectra.items()]
    found = {"spectra": folder / "spectra.csv", "lab": folder / "lab.csv", "wet": folder / "wet.csv"}
    for name, lines in (
        ("spectra", wide),
        ("lab", only),
        ("wet", [line.replace(",dry,", ",wet,") for line in only]),
    ):
        found[name].write_text("\n".join(lines), encoding="utf-8")
    return found


def asked(pours: tuple[Pour, ...]) -> str:
    return " ".join(f"{pour.lot}={pour.grams}" for pour in pours)


def told(file: Path, pours: tuple[Pour, ...], *more: str) -> dict[str, object]:
    done = run(adjust, str(file), "--cup", asked(pours), "--json", *more)
    assert done.exit_code in (0, 1), done.stderr
    return dict(json.loads(done.stdout))


def test_a_cup_read_as_lab_is_learned_from_as_a_colour(
    files: dict[str, Path], pours: tuple[Pour, ...], pigments: dict[str, Pigment], stray: np.ndarray
) -> None:
    """Against the engine asked by hand: a Lab sight with its covariance, and nothing of the spectrum that stands in for it."""
    lots = tuple(Lot(p.key, p, SPREAD if p.illustrative else 1.0) for p in pigments.values())
    sight = Sight(len(pours), np.round(lab(stray), 5), np.eye(3) * SD**2)
    opened = Knowledge.fresh(Stock(lots, Base(), USUAL, Surface())).open(Cup("c", pours, (sight,)))
    found = told(files["lab"], pours)
    wanted = np.round(lab(look_dry(Contents(GOAL, 500.0), list(pigments.values()))), 5)
    assert found["now"] == pytest.approx(float(delta_e00(opened.forecast().lab(), wanted)), abs=0.05)
    ways = found["ways"]
    assert isinstance(ways, list)
    for way in ways:
        more = [Pour(key, grams) for key, grams in way["add_g"].items()]
        assert way["may_be_off"] == pytest.approx(opened.forecast(more).spread(), rel=0.003), (
            "but for the rounding of what is to be added"
        )


def test_what_lab_teaches_is_wider_than_what_a_spectrum_teaches(
    pours: tuple[Pour, ...], pigments: dict[str, Pigment], stray: np.ndarray
) -> None:
    """Three numbers with a spread cannot teach as much as thirty-one of an instrument; the stand-in of the three would have passed for those."""
    stock = stock_of(tuple(pigments.values()))
    read = colour_reading("Cup", lab(stray), SD)
    measured = Reading("Cup", stray)
    as_if_measured = Reading("Cup", read.reflectance)
    spread, strength = {}, {}
    for name, one in (("lab", read), ("spectrum", measured), ("stand-in", as_if_measured)):
        cup = cup_at_hand("Cup", pours, [CupRow("Cup", pours, one, struck=False)], stock)
        opened = Knowledge.fresh(stock).open(cup)
        spread[name] = opened.forecast().spread()
        strength[name] = opened.knowledge.strength("PBr7")
    assert spread["lab"] > 3 * spread["spectrum"]
    assert spread["stand-in"] < spread["lab"] / 2, "which is what was wrong"
    assert strength["lab"][1] > strength["stand-in"][1]
    assert abs(strength["lab"][0] - 1.2) < 2.5 * strength["lab"][1]


def test_a_sight_is_what_was_read(
    pours: tuple[Pour, ...], pigments: dict[str, Pigment], stray: np.ndarray
) -> None:
    stock = stock_of(tuple(pigments.values()))
    covariance = np.diag([0.1, 0.2, 0.3])
    read = colour_reading("Cup", lab(stray, "A", "2"), covariance, "A", "2")
    sight = sight_of(CupRow("Cup", pours, read, struck=False), stock)
    assert sight is not None
    assert sight.is_colour
    assert sight.noise == pytest.approx(covariance)
    assert (sight.light, sight.observer) == ("A", "2")
    spectrum = sight_of(CupRow("Cup", pours, Reading("Cup", stray, sd=0.004), struck=True), stock)
    assert spectrum is not None
    assert (spectrum.sd, spectrum.struck) == (0.004, True)
    wet = colour_reading("Cup", lab(stray), SD, conditions=Conditions(state="wet"))
    assert sight_of(CupRow("Cup", pours, wet, struck=False), stock) is None
    assert contents_of(pours, stock).base_ml == pytest.approx(500)


def test_only_readings_of_what_was_in_it_then_are_of_the_cup(
    pours: tuple[Pour, ...], pigments: dict[str, Pigment], stray: np.ndarray
) -> None:
    stock = stock_of(tuple(pigments.values()))
    read = Reading("Cup", stray)
    rows = [CupRow("Cup", pours[:n], read, struck=False) for n in (0, 2, len(pours))]
    other = CupRow("Cup", (Pour("PW6", 1.0), *pours[1:]), read, struck=False)
    cup = cup_at_hand("Cup", pours, [*rows, other], stock)
    assert [sight.after for sight in cup.sights] == [2, len(pours)]


def test_a_colour_read_wet_teaches_nothing_and_is_refused(
    files: dict[str, Path], pours: tuple[Pour, ...]
) -> None:
    with pytest.raises(Refusal, match="read wet"):
        run(adjust, str(files["wet"]), "--cup", asked(pours))
    with pytest.raises(Refusal, match="read wet"):
        run(adjust, str(files["wet"]), "--volume", "600")
    with pytest.raises(Refusal, match="read wet"):
        dry_only(Reading("x", np.full(31, 0.3), conditions=Conditions(state="wet")))


def test_a_colour_is_a_guess_under_every_light_but_its_own() -> None:
    lights = ("D65", "A", "FL11")
    only = ColourOnly(np.array([50.0, 5.0, 5.0]), np.eye(3), "A")
    assert only.guessed(lights) == ("D65", "FL11")
    assert ColourOnly(only.lab, only.covariance, "D65", "2").guessed(lights) == lights, (
        "another observer judges"
    )
    assert Reading("r", np.full(31, 0.3)).guessed(lights) == ()
    assert colour_reading("r", [50, 5, 5], SD, "D65").guessed(lights) == ("A", "FL11")


def test_recipes_for_a_colour_say_under_which_lights_they_are_guesses(pigments: dict[str, Pigment]) -> None:
    read = colour_reading("r", [50, 5, 12], SD, "D65")
    lights = ("D65", "A", "FL11")
    known = list(pigments.values())[:5]
    found = find(
        MatchProblem(read.reflectance, known, lights=lights, most=3, keep=2, guessed=read.guessed(lights))
    )
    assert found.guessed == ("A", "FL11")
    assert all(recipe.guessed == ("A", "FL11") for recipe in found.recipes)
    measured = find(MatchProblem(read.reflectance, known, lights=lights, most=3, keep=2))
    assert measured.guessed == measured.recipes[0].guessed == ()


def test_advice_under_a_light_that_the_target_was_never_seen_under_is_a_guess(
    pigments: dict[str, Pigment],
) -> None:
    read = colour_reading("r", [50, 5, 12], SD, "D65")
    guessed = read.guessed(("D65", "A"))
    held = Contents(GOAL, 500.0)
    for light, expected in (("A", ("A",)), ("D65", ())):
        problem = AdjustProblem(
            held, read.reflectance, list(pigments.values()), light=light, most=1, guessed=guessed
        )
        assert advise(problem).guessed == expected


def test_the_shell_shows_the_guesses(files: dict[str, Path], pours: tuple[Pour, ...]) -> None:
    quick = ("--most", "2", "--keep", "2")
    for name, guessed in (("lab", ["A", "FL11"]), ("spectra", [])):
        data = json.loads(run(match, str(files[name]), *quick, "--json").stdout)
        assert data["guessed"] == guessed
        assert all(recipe["guessed"] == guessed for recipe in data["recipes"])
        words = run(match, str(files[name]), *quick).stdout
        assert ("a guess" in words) == bool(guessed)
        assert ("Under A and FL11 ΔE00 is a guess" in words) == bool(guessed)
    assert told(files["lab"], pours, "--light", "A")["guessed"] == ["A"]
    assert (
        told(files["lab"], pours)["guessed"] == told(files["spectra"], pours, "--light", "A")["guessed"] == []
    )
    assert "is a guess" in run(adjust, str(files["lab"]), "--cup", asked(pours), "--light", "A").stdout
