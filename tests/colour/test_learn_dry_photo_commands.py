"""`hidewright learn`, `hidewright dry` and `hidewright photo` on the demonstration's invented files, whose truth is known."""

import csv
import io
import json
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from hidewright import demo
from hidewright.cli.adjust import command as adjust
from hidewright.cli.dry import command as dry
from hidewright.cli.learn import command as learn
from hidewright.cli.match import command as match
from hidewright.cli.photo import command as photo
from hidewright.colour.learning.cup_rows import cups_of, milk_of, stock_for
from hidewright.colour.learning.cups_csv import read_cups, read_pours
from hidewright.colour.learning.learn import learn as learn_cups
from hidewright.colour.learning.library import Library, read_library, write_csv, write_json
from hidewright.colour.learning.lots import stock_of
from hidewright.colour.light.cie import lab
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.pigment import Pigment
from hidewright.colour.reading.formats import read_any
from hidewright.demo import make_cups
from hidewright.demo.make_cups import MILK, SEED
from hidewright.demo.make_photo import LEATHER
from hidewright.refusals import Refusal, Refusals


def run(command: object, *words: str) -> Result:
    return CliRunner().invoke(command, words, catch_exceptions=False)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, pigments: dict[str, Pigment]) -> Path:
    """The demonstration's files, and a library of what its pigments are drawn down as."""
    here = tmp_path_factory.mktemp("learn")
    for name in ("cups.csv", "readings.csv", "patches.csv"):
        (here / name).write_text(demo.text(name), encoding="utf-8")
    (here / "photo.jpg").write_bytes((files(demo) / "photo.jpg").read_bytes())
    plain = tuple(Pigment(p.key, p.name, p.index, p.k, p.s, p.density, p.solids) for p in pigments.values())
    (here / "drawn.json").write_text(write_json(Library(plain, Surface())), encoding="utf-8")
    return here


@pytest.fixture(scope="module")
def learned(folder: Path) -> tuple[Path, dict]:  # type: ignore[type-arg]
    out = folder / "learned.json"
    done = run(
        learn, str(folder / "cups.csv"), "--pigments", str(folder / "drawn.json"), "--out", str(out), "--json"
    )
    assert done.exit_code == 0, done.stderr
    return out, json.loads(done.stdout)


def truth_of(key: str, pigments: dict[str, Pigment], seed: int) -> float:
    """The mean strength of an invented shop's bottle."""
    from hidewright.colour.simulate import USUAL, Shop

    bottle = Shop(USUAL, list(pigments.values()), seed).truth[key]
    return float(
        np.exp(0.5 * np.mean(np.log(bottle.k / pigments[key].k) + np.log(bottle.s / pigments[key].s)))
    )


def test_lots_are_learned_apart_and_their_spread_holds_the_truth(
    learned: tuple[Path, dict],
    pigments: dict[str, Pigment],  # type: ignore[type-arg]
) -> None:
    told = {one["lot"]: one for one in learned[1]["lots"]}
    assert learned[1]["struck"] == 1
    assert learned[1]["cups"] == 12
    white, second = told["PW6"], told["PW6#B2"]
    assert white["sd"] < 0.6 * white["prior_sd"]
    for one, seed in ((white, SEED), (second, SEED + 1)):
        assert abs(one["strength"] - truth_of("PW6", pigments, seed)) < 3 * one["sd"]
    assert abs(white["strength"] - second["strength"]) > 0.05
    # a pigment that stood in one cup only has learned less
    assert told["PG7"]["sd"] > told["PY42"]["sd"]
    ahead = learned[1]["foretold"]
    assert ahead["later_half"] < ahead["drawdowns"]


def test_the_learned_library_keeps_its_whole_spread(learned: tuple[Path, dict]) -> None:  # type: ignore[type-arg]
    text = learned[0].read_text(encoding="utf-8")
    library = read_library(text)
    assert library.learned is not None
    assert [p.name for p in library.pigments if p.key == "PW6#B2"] == ["White, lot B2"]
    assert "PW6" not in {p.key for p in library.pigments}
    again = read_library(write_json(library))
    assert again.learned is not None
    mix = {"PW6#B2": 20.0, "PY42": 8.0, "PBk7": 0.5, "base": 90.0}
    first, second = (k.forecast(mix) for k in (library.learned, again.learned))
    np.testing.assert_allclose(first.reflectance, second.reflectance, rtol=1e-5)
    assert first.spread() == pytest.approx(second.spread(), rel=1e-4)
    curves = read_library(write_csv(library))
    np.testing.assert_allclose(curves.pigments[0].k, library.pigments[0].k, rtol=1e-6)
    assert curves.learned is None


def test_learning_again_from_what_was_learned_counts_no_cup_twice(
    folder: Path, learned: tuple[Path, dict]
) -> None:  # type: ignore[type-arg]
    again = json.loads(run(learn, str(folder / "cups.csv"), "--pigments", str(learned[0]), "--json").stdout)
    for one, other in zip(again["lots"], learned[1]["lots"], strict=True):
        assert one["strength"] == pytest.approx(other["strength"], abs=2e-3)
        assert one["sd"] == pytest.approx(other["sd"], abs=2e-3)


def test_match_and_adjust_take_what_was_learned(folder: Path, learned: tuple[Path, dict]) -> None:  # type: ignore[type-arg]
    readings = str(folder / "readings.csv")
    found = run(match, readings, "--pigments", str(learned[0]), "--keep", "4", "--json")
    assert found.exit_code == 0, found.stderr
    keys = {p["key"] for r in json.loads(found.stdout)["recipes"] for p in r["parts"]}
    assert "PW6" not in keys
    assert "PW6#B2" in keys
    cup = "PW6#B2=58 PY42=20 PBk7=1.2 PBr7=22 base=420"
    spreads = {}
    for library in (folder / "drawn.json", learned[0]):
        words = cup.replace("#B2", "") if library.name == "drawn.json" else cup
        done = run(adjust, readings, "--pigments", str(library), "--cup", words, "--json")
        assert done.exit_code == 0, done.stderr
        spreads[library.name] = json.loads(done.stdout)["ways"][0]["may_be_off"]
    assert spreads["learned.json"] < 0.6 * spreads["drawn.json"]
    with pytest.raises(Refusal, match="PW7"):
        run(adjust, readings, "--pigments", str(learned[0]), "--cup", "PW7=3")


def test_an_absurd_reading_is_set_aside_named_and_ends_with_1(folder: Path) -> None:
    path = folder / "absurd.csv"
    path.write_text(demo.text("cups.csv").replace(",dry,yes,", ",dry,,"), encoding="utf-8")
    done = run(learn, str(path), "--pigments", str(folder / "drawn.json"))
    assert done.exit_code == 1
    assert "Cup 4, reading 1" in done.stdout
    assert "set aside" in done.stdout


def test_a_cup_that_was_added_to_is_one_cup(pigments: dict[str, Pigment]) -> None:
    stock = stock_of(list(pigments.values()))
    head = "name,pours,l,a,b\n"
    rows = read_cups(head + "A,PW6=20 base=80,80,0,5\nA,PW6=20 base=80 PY42=1,78,1,12\nA,PY42=3,60,5,40\n")
    cups = cups_of(rows, stock_for(rows, list(pigments.values()), stock))
    assert [(c.name, len(c.pours), len(c.sights)) for c in cups] == [("A (2)", 1, 1), ("A", 3, 2)] or [
        (c.name, len(c.pours), len(c.sights)) for c in cups
    ] == [("A", 3, 2), ("A (2)", 1, 1)]


@pytest.mark.parametrize("text", ["PW6", "PW6=x", "PW6=-3", "PW6=1e9", "base=3", "PX=3", "=3", "PW6=nan"])
def test_pours_that_cannot_be_are_refused(text: str) -> None:
    with pytest.raises(Refusal) as refused:
        read_pours(text, known=["PW6"])
    assert refused.value.remedy


def test_a_row_that_cannot_be_is_named(folder: Path) -> None:
    lines = demo.text("cups.csv").splitlines()
    path = folder / "odd.csv"
    path.write_text("\n".join([*lines[:3], lines[3].replace("PW6=", "PX9=")]), encoding="utf-8")
    with pytest.raises(Refusals, match=r"reading 3 \(Cup 2\), column pours"):
        run(learn, str(path), "--pigments", str(folder / "drawn.json"))


def cup_2() -> str:
    return next(
        row["pours"] for row in csv.DictReader(io.StringIO(demo.text("cups.csv"))) if row["name"] == "Cup 2"
    )


def test_drying_is_foretold_and_the_milk_learned(folder: Path) -> None:
    cups, library = str(folder / "cups.csv"), ["--pigments", str(folder / "drawn.json")]
    told = json.loads(run(dry, "--pairs", cups, *library, "--json").stdout)["milk"]
    assert told["pairs"] == 3
    assert abs(np.log(told["amplitude"] / MILK.amplitude)) < 3 * np.log(told["factor"])
    assert told["power"] == pytest.approx(MILK.power, abs=0.3)
    rows = [r for r in read_any(demo.text("cups.csv")) if r.name == "Cup 2"]
    done = run(dry, cups, "--read", "Cup 2", "--pairs", cups, "--cup", cup_2(), *library, "--json")
    found = json.loads(done.stdout)
    assert found["read"] == "wet"
    # the dry reading of the same cup is the truth
    assert np.linalg.norm(np.array(found["dry_lab"]) - lab(rows[1].reflectance)) < 1.5
    guessed = json.loads(run(dry, cups, "--read", "Cup 2", "--cup", cup_2(), *library, "--json").stdout)
    assert guessed["may_be_off"] > 3 * found["may_be_off"]
    assert found["dries_by"]["dL"] < 0


def test_the_milk_is_told_better_once_the_bottles_are_known_and_its_spread_is_honest(
    pigments: dict[str, Pigment],
) -> None:
    """Twelve simulated shops, none of which the figures in `cup_rows.STRAYS` were measured in."""
    known = list(pigments.values())
    off, sure = [], []
    for seed in range(41, 53):
        rows = read_cups(make_cups.text(seed), pigments)
        stock = stock_for(rows, known, stock_of(known))
        drawn = milk_of(rows, stock)
        told = milk_of(rows, stock, learn_cups(stock, cups_of(rows, stock, drawn)))
        errors = [(np.log(m.amplitude / MILK.amplitude), m.power - MILK.power) for m in (drawn, told)]
        off.append(errors)
        sure.append([(m.amplitude_sd, m.power_sd) for m in (drawn, told)])
    rms = np.sqrt(np.mean(np.square(off), axis=0))
    assert np.all(rms[1] < rms[0])
    away = np.abs(np.array(off)) / np.array(sure)
    assert away.max() < 3.5
    # an honest spread is not so wide that it says nothing
    assert np.sqrt(np.mean(away**2)) > 0.3


def test_there_and_back_again(folder: Path) -> None:
    library = ["--pigments", str(folder / "drawn.json")]
    out = folder / "both.csv"
    run(dry, "--cup", cup_2(), *library, "--out", str(out))
    both = {r.conditions.state: r for r in read_any(out.read_text(encoding="utf-8"))}
    for state, other in (("wet", "dry"), ("dry", "wet")):
        words = [str(out), "--read", f"Cup, {state}", "--cup", cup_2(), *library, "--json"]
        found = json.loads(run(dry, *words).stdout)
        assert found[f"{other}_lab"] == pytest.approx(list(lab(both[other].reflectance)), abs=0.02)
    set_by_hand = json.loads(run(dry, "--cup", cup_2(), *library, "--amplitude", "0.0001", "--json").stdout)
    assert set_by_hand["milk"]["given"]
    # hardly any milk: what is left is the other surface, and it darkens less than a milky base does
    milky = json.loads(run(dry, "--cup", cup_2(), *library, "--json").stdout)
    assert set_by_hand["dries_by"]["dL"] > milky["dries_by"]["dL"]


@pytest.mark.parametrize(
    ("words", "match"),
    [
        ([], "must be known"),
        (["{readings}", "--cup", "PW6=3 base=9"], "wet or dry"),
        (["{cups}", "--read", "Cup 2", "--state", "dry", "--cup", "PW6=3"], "says wet"),
        (["--pairs", "{readings}", "--cup", "PW6=3"], "pours"),
        (["--pairs", "{cups}", "--out", "x.csv"], "nothing to write"),
        (["--pairs", "{cups}", "--power", "2", "--cup", "PW6=3"], "not both"),
        (["--cup", "PW6=3", "--light", "candle"], "candle"),
    ],
)
def test_dry_refuses_in_words(folder: Path, words: list[str], match: str) -> None:
    there = {"readings": str(folder / "readings.csv"), "cups": str(folder / "cups.csv")}
    with pytest.raises(Refusal, match=match):
        run(dry, *(word.format(**there) for word in words), "--pigments", str(folder / "drawn.json"))


def test_a_photo_is_read_by_its_patches(folder: Path) -> None:
    out = folder / "leather.csv"
    words = [str(folder / "photo.jpg"), "--patches", str(folder / "patches.csv"), "--name", "Seat"]
    told = json.loads(run(photo, *words, "--out", str(out), "--json").stdout)
    assert told["lab"] == pytest.approx(LEATHER, abs=1.5)
    assert told["spread"] >= 2.5
    assert told["method"] == "10 known patches"
    (back,) = read_any(out.read_text(encoding="utf-8"))
    assert back.colour is not None
    assert back.colour.observer == "2"
    assert back.name == "Seat"
    assert "each way" in run(photo, *words).stdout


def test_a_grey_card_alone_gives_a_wider_spread(folder: Path) -> None:
    grey, leather = "20 10 25 90", "92.7 10 98 90"
    words = [
        str(folder / "photo.jpg"),
        "--leather",
        leather,
        "--grey",
        grey,
        "--grey-lab",
        "50 0 0",
        "--json",
    ]
    told = json.loads(run(photo, *words).stdout)
    assert told["method"] == "grey card only"
    assert told["spread"] >= 4.0


@pytest.mark.parametrize(
    ("words", "match"),
    [
        ([], "where the leather lies"),
        (["--leather", "1 2 3"], "cannot be read"),
        (["--leather", "50 10 20 90"], "inside the picture"),
        (["--leather", "92 10 98 90"], "grey card"),
        (["--leather", "92 10 98 90", "--patch", "1 2 3 4"], "no ="),
        (["--leather", "92 10 98 90", "--patch", "20 10 25 90 = 500 0 0"], "Lab"),
        (["--leather", "92 10 92.1 90", "--grey", "20 10 25 90"], "too small"),
        (["--leather", "40 10 50 90", "--grey", "20 10 25 90"], "unevenly lit"),
    ],
)
def test_photo_refuses_with_the_reason(folder: Path, words: list[str], match: str) -> None:
    with pytest.raises(Refusal, match=match):
        run(photo, str(folder / "photo.jpg"), *words)


def test_a_clipped_photo_is_refused(folder: Path) -> None:
    from PIL import Image

    path = folder / "white.png"
    Image.new("RGB", (200, 200), (255, 255, 255)).save(path)
    with pytest.raises(Refusal, match="clipped"):
        run(photo, str(path), "--leather", "10 10 40 40", "--grey", "50 50 90 90")
