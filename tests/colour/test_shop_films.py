"""Grams and wet films: what the shop weighs and gauges against arithmetic written out here, there and back, and how its doubt reaches K and S."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hidewright import api
from hidewright.colour.pigments.characterise import settled
from hidewright.colour.pigments.drawdowns import Doubt, Drawdown
from hidewright.colour.pigments.film import Surface, below, film, seen
from hidewright.colour.pigments.pigment import Base
from hidewright.colour.pigments.shop_films import Thing, things_of, turned, weighing
from hidewright.lists.mixes import Entry, Film, Laid, Mix, Of, Part, read_film, read_mix
from hidewright.refusals import Refusal

WHITE, BLACK = Thing("PW6", "White", 1.95, 0.40), Thing("PBk7", "Black", 1.15, 0.30)
THINGS = things_of({"PW6": WHITE, "PBk7": BLACK}, Base(density=1.03, solids=0.25))


def entry(mix: str, film: str) -> Entry:
    return Entry(read_mix(mix), read_film(film))


def test_grams_and_a_wet_film_by_hand() -> None:
    """39 g of white are 20 mL of which 8 stay; 82.4 g of base are 80 mL of which 20 stay: 28 of 100 mL, so 100 µm dry to 28, and 28 mL of film hold 20 of paste [A]."""
    made = turned(entry("PW6 39 g; base 82.4 g", "wet 100 µm"), THINGS)
    assert made.solids == pytest.approx(0.28)
    assert made.microns == pytest.approx(28.0)
    assert made.shares == {"PW6": pytest.approx(20 / 28)}
    assert made.volume["White"] == pytest.approx(0.2)
    assert made.weight["White"] == pytest.approx(39 / 121.4)
    assert "White 20 % by volume is 32.1 % by weight" in made.words


def test_per_cent_by_weight_and_by_volume_by_hand() -> None:
    """18 % by volume: 18·1.95 g of (18·1.95 + 82·1.03) g. The same mix by its weight is the same film [A]."""
    by_volume = turned(entry("PW6 18 % by volume", "wet 4 mil"), THINGS)
    heavy = 18 * 1.95 / (18 * 1.95 + 82 * 1.03)
    assert by_volume.weight["White"] == pytest.approx(heavy)
    assert by_volume.wet == pytest.approx(101.6)
    by_weight = turned(entry(f"PW6 {100 * heavy:.12f} % by weight", "wet 101.6 µm"), THINGS)
    assert by_weight.shares["PW6"] == pytest.approx(by_volume.shares["PW6"])
    assert by_weight.microns == pytest.approx(by_volume.microns)


def test_bars_by_hand() -> None:
    """A bar lays about 0.55 of its gap; a wire of 20 thousandths of an inch about a tenth of 508 µm, and never more than the hollows between round wires hold [A]."""
    assert turned(entry("PW6 18 % by volume", "gap 200 µm"), THINGS).wet == pytest.approx(110.0)
    wire = turned(entry("PW6 18 % by volume", "wire 20"), THINGS)
    assert wire.wet == pytest.approx(50.8)
    assert wire.wet < 508 * (0.5 - math.pi / 8)


def test_volume_solids_fall_out_of_what_is_laid_where_the_wet_film_is_known() -> None:
    wrong = things_of({"PW6": Thing("PW6", "White", 1.95, 0.55)}, Base(density=1.03, solids=0.40))
    right, other = (turned(entry("PW6 39 g; base 82.4 g", "wet 100 µm"), t) for t in (THINGS, wrong))
    assert other.microns != pytest.approx(right.microns)
    laid = [one.shares["PW6"] * one.microns for one in (right, other)]
    assert laid[0] == pytest.approx(laid[1]) == pytest.approx(20.0)


def test_the_doubt_of_a_usual_density_by_hand() -> None:
    """Of 20 mL of paste in 100, a density 20 % too low makes the paste’s share rise by 20 % of its own, less the fifth that the whole grows: 0.8 of 0.2 [A]."""
    usual = things_of({}, Base(density=1.03, solids=0.25))
    made = turned(entry("PX1 24 g; base 82.4 g", "wet 100 µm"), usual)
    assert made.usual == ("PX1",)
    doubts = {doubt.cause: doubt for doubt in made.doubts}
    assert doubts["density of PX1"].sd == 0.20
    assert doubts["density of PX1"].moves["PX1"] == pytest.approx(-0.8, abs=1e-4)
    written = turned(entry("PX1 24 g @ 1.2; base 82.4 g", "wet 100 µm"), usual)
    assert "density of PX1" not in {doubt.cause for doubt in written.doubts}
    assert written.shares["PX1"] == pytest.approx(made.shares["PX1"])


def test_a_name_that_two_have_is_not_guessed() -> None:
    two = things_of({"W1": Thing("W1", "White", 1.9, 0.4), "W2": Thing("W2", "White", 1.5, 0.4)})
    with pytest.raises(Refusal, match="Several things are called White"):
        turned(entry("White 12 g; base 60 g", "wet 100 µm"), two)
    assert set(turned(entry("w2 12 g; base 60 g", "wet 100 µm"), two).shares) == {"W2"}


def test_what_to_weigh_for_a_drawdown_by_hand() -> None:
    """Of 100 mL 18 are white (35.1 g) and 82 base (84.46 g): 50 g hold 14.68 and 35.32 g; 27.7 % stays, so 40 µm dry are laid 144.4 µm wet [A]. Entered so, it is that film."""
    made = weighing({"PW6": 1.0}, THINGS)
    assert made.grams == {
        "White": pytest.approx(50 * 35.1 / 119.56),
        "Clear base": pytest.approx(50 * 84.46 / 119.56),
    }
    assert made.wet == pytest.approx(40 / 0.277)
    tint = weighing({"PW6": 1.0, "PBk7": 0.05}, THINGS)
    mix = Mix(tuple(Part(name, f"{grams:.12f}", "g") for name, grams in tint.grams.items()))
    back = turned(Entry(mix, Film(Laid.WET, tint.wet)), THINGS)
    assert back.microns == pytest.approx(40.0)
    assert back.shares["PBk7"] / back.shares["PW6"] == pytest.approx(0.05)
    assert back.volume["Clear base"] == pytest.approx(0.82)


amounts = st.floats(0.5, 500.0).map(lambda x: float(f"{x:.4g}"))


@settings(max_examples=40, deadline=None)
@given(white=amounts, black=amounts, base=amounts, wet=st.floats(20.0, 900.0), how=st.sampled_from([*Of]))
def test_there_and_back(white: float, black: float, base: float, wet: float, how: Of) -> None:
    """What grams become, written as shares of any kind with the base as the rest, becomes the same film again; and every text reads back as itself."""
    mix = Mix((Part("PW6", f"{white}", "g"), Part("PBk7", f"{black}", "g"), Part("base", f"{base}", "g")))
    laid = Film(Laid.WET, wet)
    made = turned(Entry(mix, laid), THINGS)
    shares = {
        Of.WEIGHT: {key: 100 * made.weight[name] for key, name in made.pigments.items()},
        Of.VOLUME: {key: 100 * made.volume[name] for key, name in made.pigments.items()},
        Of.DRY: made.shares,
    }[how]
    again = Mix(tuple(Part(key, f"{share:.15f}", how) for key, share in shares.items()))
    back = turned(Entry(again, laid), THINGS)
    assert back.microns == pytest.approx(made.microns, rel=1e-9)
    for key, share in made.shares.items():
        assert back.shares[key] == pytest.approx(share, rel=1e-9)
    assert turned(Entry(mix, Film(Laid.DRY, made.microns)), THINGS).wet == pytest.approx(wet)
    assert read_mix(str(mix)) == mix
    assert read_film(str(laid)).value == pytest.approx(wet)
    assert [part.amount for part in read_mix(str(again)).parts] == pytest.approx(
        [p.amount for p in again.parts]
    )


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("12.4 g PW6 + 60 g base", [("PW6", 12.4), ("base", 60.0)]),
        ("PW6=12,4g base=60g", [("PW6", 12.4), ("base", 60.0)]),
        ("Raw umber 1 oz, Clear base 8 oz", [("Raw umber", 28.349523125), ("Clear base", 226.796185)]),
        ("PB15:3 3 g; base 0.06 kg", [("PB15:3", 3.0), ("base", 60.0)]),
    ],
)
def test_mixes_as_people_write_them(text: str, parts: list[tuple[str, float]]) -> None:
    found = [(part.key, part.grams) for part in read_mix(text).parts]
    assert found == [(key, pytest.approx(grams)) for key, grams in parts]


@pytest.mark.parametrize(
    ("mix", "film", "words"),
    [
        ("PW6 12 g; base 60 g", "wet 4 µm", "5 µm"),
        ("PW6 12 g; base 60 g", "wet 1.1 mm", "1 mm"),
        ("PW6 12 g; base 60 g", "wire 500", "No wire-wound bar"),
        ("PW6 18 %", "wet 100 µm", "by weight or by volume"),
        ("PW6 70 % by weight; PBk7 40 % by weight", "wet 100 µm", "more than 100 %"),
        ("PW6 12 g @ 0.1; base 60 g", "wet 100 µm", "0.5 to 6"),
        ("PW6 12 g; thinner 5 g; base 60 g", "wet 100 µm", "No density is known of thinner"),
        ("base 60 g", "wet 100 µm", "no pigment"),
        ("PW6 12 g; PW6 3 g", "wet 100 µm", "twice"),
        ("PW6 12 g; PBk7 5 % by weight", "wet 100 µm", "some in per cent"),
        ("Lamp black paste 3 g; base 60 g", "wet 100 µm", "No pigment is called"),
        ("PW6 twelve g", "wet 100 µm", "no pigment with its amount"),
        ("PW6 1,234 g; base 60 g", "wet 100 µm", "can mean 1234 or 1.234"),
        ("PW6=9", "wet 100 µm", "more than the dry film holds"),
    ],
)
def test_what_cannot_be_is_refused_with_words(mix: str, film: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        turned(entry(mix, film), THINGS)
    assert words in str(refused.value)


def _drawn(name: str, off: float, doubts: tuple[Doubt, ...], microns: float) -> Drawdown:
    """A film of one invented pigment of which e^off as much was laid as was entered."""
    surface, wave = Surface(), np.linspace(0.0, 1.0, 31)
    black, white = np.full(31, 0.05), np.full(31, 0.85)
    k, s = 0.02 + 0.3 * wave, 0.15 - 0.05 * wave
    laid = 0.5 * math.exp(off)
    over = [seen(film(laid * k, laid * s, microns, below(card, surface)), surface) for card in (black, white)]
    return Drawdown(name, {"P": 0.5}, microns, over[0], over[1], black, white, doubts=doubts)


def test_a_doubt_that_all_films_share_does_not_average_out() -> None:
    """The film model knows only share times thickness: when all bars lay a tenth more, all K and S are a tenth off, however many films there are. A doubt of each film’s own does average out."""
    shared, own = Doubt("what a bar lays of its gap", 0.10, {"P": 1.0}), Doubt("", 0.10, {"P": 1.0})
    thick = (12.0, 16.0, 20.0, 24.0)
    bars = [_drawn(f"film {n}", 0.0, (shared,), x) for n, x in enumerate(thick)]
    gauges = [_drawn(f"film {n}", 0.0, (own,), x) for n, x in enumerate(thick)]
    sd = [float(np.median(settled(films).fits(films)["P"].s_sd)) for films in (bars, gauges)]
    assert 0.10 <= sd[0] < 0.15
    assert 0.04 < sd[1] < 0.08 < sd[0]


def test_films_that_differ_as_gauges_do_do_not_contradict() -> None:
    """Entered as exact they contradict each other; with the doubt of a gauge they do not."""
    offs = (0.0, 0.10, -0.08, 0.06)
    thick = (12.0, 16.0, 20.0, 24.0)
    gauge = Doubt("", 0.06, {"P": 1.0})
    films = [
        _drawn(f"film {n}", off, (gauge,), x) for n, (off, x) in enumerate(zip(offs, thick, strict=True))
    ]
    fit = settled(films).fits(films)["P"]
    assert not fit.contradicts
    truth = 0.15 - 0.05 * np.linspace(0.0, 1.0, 31)
    assert np.median(np.abs(np.log(fit.s / truth)) / fit.s_sd) < 2.0


NM = ";".join(f"{wave}" for wave in range(400, 701, 20))
READ = ";".join(["0,3"] * 16)


def test_a_list_with_grams_and_wet_films_comes_in() -> None:
    """A shop’s own sheet: a column of grams for paste and base, mils on the gauge; turned with the shelf’s density, not a usual one."""
    rows = [
        f"{name};{side};{rest};{READ}"
        for name, rest in (("card", ";;;"), ("A", "PW6;39;82,4;4"))
        for side in ("black", "white")
    ]
    text = f"Film;Side;Paste;Pigment (g);Base (g);Wet (mil);{NM}\n" + "\n".join(rows) + "\n"
    shelf = "key,name,index,density,solids,price_per_litre\nPW6,White,PW6,1.95,0.40,38\n"
    base = Base(density=1.03, solids=0.25)
    (drawn,) = api.load_drawdowns(text, shelf=shelf, base=base)
    assert drawn.shares == {"PW6": pytest.approx(20 / 28)}
    assert drawn.microns == pytest.approx(101.6 * 0.28)
    assert drawn.entry is not None
    assert str(drawn.entry.mix) == "PW6 39 g; base 82.4 g"
    assert drawn.amount_sd("PW6") == pytest.approx(0.06, abs=0.003)


def test_a_column_for_each_pigment_comes_in() -> None:
    """“PW6 (g)”, “PBk7 (g)” and “Base (g)”, with decimal commas and empty cells; a column of cups is none of it."""
    rows = [
        f"{name};{side};{rest};{READ}"
        for name, rest in (("card", ";;;;"), ("A", "39;;82,4;100;31"), ("B", "39;2,3;80,1;100;31"))
        for side in ("black", "white")
    ]
    text = f"Film;Side;PW6 (g);PBk7, g;Base (g);Wet (µm);Cup (g);{NM}\n" + "\n".join(rows) + "\n"
    alone, tint = api.load_drawdowns(text, columns={"Cup (g)": "-"})
    assert [str(one.entry.mix) for one in (alone, tint) if one.entry] == [
        "PW6 39 g; base 82.4 g",
        "PW6 39 g; PBk7 2.3 g; base 80.1 g",
    ]


def test_a_per_cent_that_says_neither_is_asked_about() -> None:
    """“18 %” alone is not taken; a heading that says by weight is."""
    rows = [
        f"{name};{side};{rest};{READ}"
        for name, rest in (("card", ";;"), ("A", "PW6;18 %;100 µm"))
        for side in ("black", "white")
    ]
    text = f"Film;Side;Paste;{{}};Wet film;{NM}\n" + "\n".join(rows) + "\n"
    with pytest.raises(Refusal, match="only guessed: Share of that pigment in % by weight"):
        api.load_drawdowns(text.format("Load"))
    (drawn,) = api.load_drawdowns(text.format("Load (by weight)"))
    assert drawn.entry is not None
    assert str(drawn.entry.mix) == "PW6 18 % by weight"
    (other,) = api.load_drawdowns(text.format("Load"), columns={"Load": "share in % by volume"})
    assert other.shares["PW6"] > drawn.shares["PW6"]
