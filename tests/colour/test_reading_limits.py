"""Files of readings and how they were taken: each way to write them, each limit from both sides, and the words that go with it."""

from collections.abc import Callable

import numpy as np
import pytest

from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.pigments.film import Surface
from hidewright.colour.reading.cgats import read_cgats
from hidewright.colour.reading.conditions import Conditions
from hidewright.colour.reading.cxf import DEEPEST, MOST_OBJECTS, read_cxf
from hidewright.colour.reading.formats import (
    conditions_of,
    format_of,
    read_any,
    resampled,
    typed_colour,
    write_csv,
)
from hidewright.colour.reading.readings import (
    Reading,
    colour_reading,
    drawdowns_of,
    read_csv,
    read_shares,
    resample,
)
from hidewright.colour.reading.readings_in import DRAWDOWNS, READINGS
from hidewright.colour.reading.shine import darker_than_surface, read_alike, shine_stated
from hidewright.refusals import Refusal, Refusals
from hidewright.sheets import Row

NM = np.arange(400, 701, 10)
CURVE = np.linspace(0.2, 0.6, 31)


def refused(make: Callable[[], object]) -> bool:
    try:
        make()
    except (Refusal, Refusals):
        return True
    return False


# CGATS.17.


def cgats(fields: list[str], *rows: str, heads: str = "") -> str:
    return "\n".join(["CGATS.17", heads, "BEGIN_DATA_FORMAT", " ".join(fields), "END_DATA_FORMAT", "BEGIN_DATA", *rows, "END_DATA"])  # fmt: skip


@pytest.mark.parametrize("form", ["SPECTRAL_NM{}", "SPECTRAL_NM_{}", "SPECTRAL_{}", "NM_{}", "NM{}", "R_{}", "R{}", "nm{}"])  # fmt: skip
@pytest.mark.parametrize(("times", "told"), [(1.0, 1.0), (100.0, 1.0), (3.2, 1.0)])
def test_bands_are_read_by_any_of_their_names_as_shares_or_per_cent(
    form: str, times: float, told: float
) -> None:
    """A file whose largest value is above 2 is per cent: one up to 1.92 would be too bright and is refused."""
    text = cgats(
        ["SAMPLE_ID", *(form.format(nm) for nm in NM)], "A " + " ".join(f"{v * times:.6f}" for v in CURVE)
    )
    if times == 3.2:
        assert refused(lambda: read_cgats(text))
        return
    (one,) = read_cgats(text)
    np.testing.assert_allclose(one.reflectance, CURVE * told, atol=1e-6)
    assert (one.name, one.bands) == ("A", tuple(float(nm) for nm in NM))


def test_the_name_is_the_sample_s_and_facts_stand_beside_it() -> None:
    fields = ["SAMPLE_ID", "SAMPLE_NAME", "NOTE", *(f"NM{nm}" for nm in NM)]
    row = '7 "Seat, left" "a b" ' + " ".join(f"{v:.5f}" for v in CURVE)
    (one,) = read_cgats(
        cgats(fields, "# not a row", row, "", heads='INSTRUMENTATION "Thing"\nSAMPLE_BACKING "Black"')
    )
    assert one.name == "Seat, left"
    assert dict(one.facts) == {"sample_id": "7", "sample_name": "Seat, left", "note": "a b"}
    assert (one.conditions.instrument, one.conditions.over) == ("Thing", "Black")
    assert refused(lambda: read_cgats(cgats(fields, row.replace('"a b"', '"a b'))))
    assert refused(lambda: read_cgats(cgats(fields, row.replace("0.6", "nan"))))
    assert refused(lambda: read_cgats(cgats(fields)))


@pytest.mark.parametrize(("heads", "observer"), [("", "10"), ('WEIGHTING_FUNCTION "OBSERVER, 2DEG"', "2"), ('A "2 °"', "2"), ('A "ILLUMINANT, D50"', "")])  # fmt: skip
def test_lab_without_a_spectrum_is_for_daylight_and_its_observer(heads: str, observer: str) -> None:
    text = cgats(["ID", "LAB_L", "LAB_A", "LAB_B"], "A 50 4,5 -9", heads=heads)
    if not observer:
        assert refused(lambda: read_cgats(text))
        return
    (one,) = read_cgats(text)
    assert one.colour is not None
    np.testing.assert_allclose(one.colour.lab, [50, 4.5, -9])
    assert (one.colour.light, one.colour.observer) == ("D65", observer)
    np.testing.assert_allclose(one.colour.covariance, 0.3**2 * np.eye(3))


# CxF3.


def cxf(inside: str, more: str = "") -> str:
    return f'<CxF><Resources><ObjectCollection><Object Name="Seat">{inside}</Object></ObjectCollection>{more}</Resources></CxF>'


@pytest.mark.parametrize(("start", "step", "told", "fits"), [(400, 10, "", True), (390, 20, "20", True), (380, 5, "5", True), (380, 21, "21", False), (400, 0.5, "0.5", False), (400, 1, "1", True)])  # fmt: skip
def test_a_spectrum_says_where_it_starts_and_its_step(start: int, step: float, told: str, fits: bool) -> None:
    """10 nm where no step is told; from 1 to 20."""
    grid = np.arange(start, 720 + step / 2, step)
    values = " ".join(f"{v:.6f}" for v in np.interp(grid, NM, CURVE))
    span = f'<ColorSpecification Id="s"><WavelengthRange StartWL="{start}" Increment="{told}"/><Model>Thing</Model></ColorSpecification>'
    text = cxf(f'<ReflectanceSpectrum ColorSpecification="s">{values}</ReflectanceSpectrum>', span if told else span.replace('Increment=""', ""))  # fmt: skip
    if not fits:
        assert refused(lambda: read_cxf(text))
        return
    (one,) = read_cxf(text)
    np.testing.assert_allclose(one.reflectance, CURVE, atol=0.01)
    assert one.bands[:2] == (start, start + step)
    assert (one.name, one.conditions.instrument) == ("Seat", "Thing")


def test_percent_is_told_by_the_largest_value_and_the_start_may_stand_on_the_spectrum() -> None:
    for times in (1.0, 100.0):
        values = " ".join(f"{v * times:.6f}" for v in CURVE)
        (one,) = read_cxf(cxf(f'<ReflectanceSpectrum StartWL="400">{values}</ReflectanceSpectrum>'))
        np.testing.assert_allclose(one.reflectance, CURVE, atol=1e-6)
    assert refused(lambda: read_cxf(cxf(f"<ReflectanceSpectrum>{values}</ReflectanceSpectrum>")))


@pytest.mark.parametrize(("angle", "observer"), [("2_Degree", "2"), ("10_Degree", "10"), ("", "10")])
def test_lab_goes_with_its_light_and_observer(angle: str, observer: str) -> None:
    told = f'<ColorSpecification Id="s"><Illuminant>a</Illuminant><Observer>{angle}</Observer></ColorSpecification>'
    colour = '<ColorCIELab ColorSpecification="s"><L>50</L><A>4.5</A><B>-9</B></ColorCIELab>'
    (one,) = read_cxf(cxf(colour, told))
    assert one.colour is not None
    np.testing.assert_allclose(one.colour.lab, [50, 4.5, -9])
    assert (one.colour.light, one.colour.observer) == ("A", observer)
    (bare,) = read_cxf(cxf(colour))
    assert bare.colour is not None
    assert (bare.colour.light, bare.colour.observer) == ("D65", "10")


def test_a_file_is_as_deep_and_as_long_as_is_said_and_no_more() -> None:
    """32 levels of elements and 2,000 objects; what is deeper or longer is refused before it is searched."""

    def deep(levels: int) -> str:
        colour = "<ColorCIELab><L>50</L><A>4.5</A><B>-9</B></ColorCIELab>"
        return cxf("<a>" * (levels - 6) + colour + "</a>" * (levels - 6))

    assert len(read_cxf(deep(DEEPEST))) == 1
    assert refused(lambda: read_cxf(deep(DEEPEST + 1)))
    many = "<CxF>" + "<Object/>" * (MOST_OBJECTS + 1) + "</CxF>"
    with pytest.raises(Refusal, match="2001 objects"):
        read_cxf(many)
    with pytest.raises(Refusal, match="no object"):
        read_cxf(many.replace("<Object/>", "", 1))


# CSV and typed colours.


@pytest.mark.parametrize(
    ("bands", "words"),
    [
        (list(range(400, 701, 10)), "400–700 nm, 31 bands: taken as they are"),
        (list(range(380, 731, 10)), "380–730 nm, 36 bands: every 10 nm from 400 to 700 taken as it is"),
        (list(range(400, 701, 20)), "400–700 nm, 16 bands: brought to every 10 nm from 400 to 700 by linear interpolation"),
        ([], ""),
    ],
)  # fmt: skip
def test_how_bands_were_brought_to_ten_nanometres_is_said(bands: list[int], words: str) -> None:
    assert resampled([float(nm) for nm in bands]) == words


@pytest.mark.parametrize(("first", "last", "step", "fits"), [(400, 700, 20, True), (380, 740, 20, True), (401, 701, 10, False), (390, 699, 10.3, False), (400, 700, 25, False)])  # fmt: skip
def test_bands_cover_the_light_in_steps_of_twenty_at_most(first: float, last: float, step: float, fits: bool) -> None:  # fmt: skip
    grid = np.arange(first, last + 0.001, step)
    if fits:
        turned = np.random.default_rng(1).permutation(grid.size)
        line = 0.2 + 0.001 * (grid - 400)
        np.testing.assert_allclose(resample(grid[turned], line[turned], "file"), 0.2 + 0.001 * (NM - 400))
    else:
        assert refused(lambda: resample(grid, np.full(grid.size, 0.4), "file"))


@pytest.mark.parametrize(("values", "lch", "fits"), [((99.9, 130, -130), False, True), ((0.1, 0, 0), False, True), ((100, 0, 0), False, False), ((0, 0, 0), False, False), ((50, 130.1, 0), False, False), ((50, 0, -130.1), False, False), ((50, 0, 0), True, True), ((50, -5, 0), True, False), ((50, 20, 400), True, True)])  # fmt: skip
def test_a_typed_colour_is_one_of_a_surface(
    values: tuple[float, float, float], lch: bool, fits: bool
) -> None:
    if fits:
        one = typed_colour_like(values, lch)
        assert one is not None
    else:
        assert refused(lambda: typed_colour("a", values, lch=lch))


def typed_colour_like(values: tuple[float, float, float], lch: bool) -> object:
    """The colour, or the refusal to stand for it with a spectrum: a limit of surfaces, not of what may be written."""
    try:
        return typed_colour("a", values, lch=lch)
    except Refusal as refusal:
        return refusal if "only reflects" in str(refusal) else None


def test_a_file_of_colours_is_read_with_what_stands_beside_them() -> None:
    text = "name;L*;C*;H°;sd;observer;light;state\nSeat;50;20;90;0,5;2°;A;Wet\nBack;40;0;0;;;;\n"
    seat, back = read_any(text)
    assert seat.colour is not None
    assert back.colour is not None
    np.testing.assert_allclose(seat.colour.lab, [50, 0, 20], atol=1e-9)
    np.testing.assert_allclose(seat.colour.covariance, 0.25 * np.eye(3))
    np.testing.assert_allclose(back.colour.covariance, 0.09 * np.eye(3))
    assert (seat.colour.light, seat.colour.observer, seat.conditions.state) == ("A", "2", "wet")
    assert (back.colour.light, back.colour.observer) == ("D65", "10")
    for cell, fits in (("0.001", True), ("50", True), ("0.0009", False), ("50.1", False)):
        assert refused(lambda cell=cell: read_any(f"name,l,a,b,sd\nSeat,50,0,0,{cell}\n")) is not fits
    assert refused(lambda: read_any("name,l,a,b\n,50,0,0\n"))


def test_our_own_file_comes_back_and_a_mixture_is_refused() -> None:
    spectrum = Reading("Seat", CURVE, {"use": "target", "over": "black", "other": "x"})
    colour = colour_reading("Back", [50.0, 5.0, -9.0], np.diag([0.1, 0.2, 0.3]), "A", "2")
    (back,) = read_any(write_csv([spectrum]))
    np.testing.assert_allclose(back.reflectance, CURVE, atol=1e-6)
    assert dict(back.facts) == {"use": "target", "over": "black"}
    (again,) = read_any(write_csv([colour]))
    assert again.colour is not None
    np.testing.assert_allclose(again.colour.lab, [50, 5, -9])
    np.testing.assert_allclose(again.colour.covariance, 0.2 * np.eye(3), rtol=1e-3)
    assert (again.colour.light, again.colour.observer) == ("A", "2")
    for mixture in ([spectrum, colour], []):
        with pytest.raises(Refusal):
            write_csv(mixture)
    assert [format_of(t) for t in ("\ufeff <a", "CGATS.17\nBEGIN_DATA", "name,l")] == [
        "CxF3",
        "CGATS.17",
        "CSV",
    ]


@pytest.mark.parametrize(("cell", "share"), [("0,8", 0.8), ("0", 0.0), ("1", 1.0), ("1.01", None), ("-0.1", None), ("much", None)])  # fmt: skip
def test_what_a_foreign_column_says_otherwise_is_left_untold(cell: str, share: float | None) -> None:
    assert conditions_of({"base_share": cell}).base_share == share
    for word, told in (("SCI", True), ("in", True), ("Excluded", False), ("maybe", None)):
        assert conditions_of({"specular": word}).specular is told
    assert conditions_of({"made": "Raw pigment"}).made == "raw pigment"
    assert conditions_of({"made": "by hand"}).made == ""
    with pytest.raises(Refusal):
        conditions_of({"state": "damp"})


@pytest.mark.parametrize(("text", "fits"), [("PW6=5", True), ("PW6=0.001 PBk7=1", True), ("PW6=0", False), ("PW6=5.01", False), ("PW6", False), ("PW6=x", False)])  # fmt: skip
def test_shares_lie_above_nothing_and_up_to_five(text: str, fits: bool) -> None:
    assert refused(lambda: read_shares(text)) is not fits


def test_a_films_readings_count_by_its_side_with_fewer() -> None:
    """Three over black and two over white are two readings of the film; cards are averaged too."""
    facts = {"shares": "PW6=0.5", "microns": "40"}
    cards = [Reading("card", np.full(31, v), {"over": side}) for side, v in (("black", 0.04), ("black", 0.06), ("white", 0.9))]  # fmt: skip
    films = [Reading("film", np.full(31, v), {**facts, "over": side}) for side, v in (("black", 0.2), ("black", 0.3), ("black", 0.4), ("white", 0.5), ("white", 0.6))]  # fmt: skip
    (one,) = drawdowns_of([*cards, *films])
    assert (one.readings, one.microns, dict(one.shares)) == (2, 40.0, {"PW6": 0.5})
    for part, level in (("black", 0.05), ("white", 0.9), ("over_black", 0.3), ("over_white", 0.55)):
        np.testing.assert_allclose(getattr(one, part), level)
    assert refused(lambda: drawdowns_of([*cards, *films[:3]]))
    assert refused(lambda: drawdowns_of([*cards[:2], *films]))


def test_a_long_file_and_a_wide_one_are_the_same_reading() -> None:
    wide = "name,use," + ",".join(f"R{nm}" for nm in NM) + "\nSeat,target," + ",".join(f"{v:.4f}%" for v in CURVE * 100)  # fmt: skip
    long = "name,wavelength,reflectance\n" + "\n".join(f"Seat,{nm},{v:.6f}" for nm, v in zip(NM, CURVE, strict=True))  # fmt: skip
    (one,), (two,) = read_csv(wide), read_csv(long)
    np.testing.assert_allclose(one.reflectance, two.reflectance, atol=1e-6)
    assert (one.bands, dict(one.facts), dict(two.facts)) == (two.bands, {"use": "target"}, {})
    assert refused(lambda: read_csv(wide.replace("20.0000%", "20.0000")))


# Rows of the two lists.


def band_row(level: float = 0.3, **more: str) -> Row:
    return Row(3, {**{str(nm): f"{level}" for nm in NM}, **more})


@pytest.mark.parametrize(("level", "fits"), [(0.0, True), (1.3, True), (1.31, False), (-0.01, False)])
def test_a_band_of_a_list_is_a_share_of_the_light(level: float, fits: bool) -> None:
    row = band_row(level, name="Seat")
    if not fits:
        with pytest.raises(Refusals) as wrong:
            READINGS.one(row)
        proposal = getattr(wrong.value.items[0], "proposal", "")
        assert (len(wrong.value.items), proposal) == (31, "0.0131" if level > 0 else "")
        return
    (one,) = READINGS.one(row)
    np.testing.assert_allclose(one.reflectance, level)
    assert one.bands == tuple(float(nm) for nm in NM)


def test_a_row_of_a_list_of_readings_is_a_spectrum_or_a_colour() -> None:
    """The use by any of its words, the facts beside it; of a colour, Lab or LCh with its spread; what is missing is named."""
    (one,) = READINGS.one(band_row(name="Seat", use="Soll", state="wet", specular="in"))
    assert (one.facts["use"], one.conditions.state, one.conditions.specular) == ("target", "wet", True)
    (old,) = READINGS.one(band_row(name="Seat", use="Alt"))
    assert old.facts["use"] == "old colour"
    (typed,) = READINGS.one(Row(3, {"name": "Seat", "l": "50", "c": "10", "h": "90", "sd": "0.5", "observer": "2°"}))  # fmt: skip
    assert typed.colour is not None
    np.testing.assert_allclose(typed.colour.lab, [50, 0, 10], atol=1e-9)
    np.testing.assert_allclose(typed.colour.covariance, 0.25 * np.eye(3))
    assert typed.colour.observer == "2"
    for cells, where in (({"l": "50", "a": "1"}, "b"), ({"l": "50", "c": "1"}, "h"), ({}, ""), ({"name": ""}, "name")):  # fmt: skip
        with pytest.raises(Refusal) as wrong:
            READINGS.one(Row(3, {"name": "Seat", **cells}))
        assert wrong.value.where == where


@pytest.mark.parametrize(("microns", "fits"), [("1 µm", True), ("1000 µm", True), ("0.9", False), ("1001", False), ("", False)])  # fmt: skip
def test_a_row_of_a_list_of_drawdowns_is_a_film_or_its_card(microns: str, fits: bool) -> None:
    row = band_row(name="film", over="black", shares="PW6=0,55; PBk7 = 0.03", microns=microns)
    if not fits:
        assert refused(lambda: DRAWDOWNS.one(row))
        return
    (one,) = DRAWDOWNS.one(row)
    assert one.facts == {"over": "black", "shares": "PW6=0.55 PBk7=0.03", "microns": microns.removesuffix(" µm")}  # fmt: skip
    (card,) = DRAWDOWNS.one(band_row(name="Bare card", over="white"))
    assert (card.name, dict(card.facts)) == ("card", {"over": "white"})
    weighed = {"name": "film", "over": "black", "pigment": "PW6", "grams": "3 g", "wet": "100 µm"}
    (one,) = DRAWDOWNS.one(band_row(**weighed, base="12 g"))
    (two,) = DRAWDOWNS.one(band_row(name="film", over="black", shares="PW6 3 g; base 12 g", wet="100 µm"))
    assert one.facts == two.facts
    assert refused(lambda: DRAWDOWNS.one(band_row(**weighed)))
    for wrong in ({"shares": ""}, {"shares": "PW6"}, {"shares": "PW6=6"}, {"over": ""}, {"name": ""}):
        cells = {"name": "film", "over": "black", "shares": "PW6=0.5", "microns": "40", **wrong}
        assert refused(lambda cells=cells: DRAWDOWNS.one(band_row(**cells)))


def test_films_are_looked_at_as_wholes() -> None:
    """Both sides of every film and of the card, one thickness and one set of shares: each lack at its film's first row."""
    (card_b, card_w) = (DRAWDOWNS.one(band_row(name="card", over=side))[0] for side in ("black", "white"))

    def film(over: str, microns: str = "40", shares: str = "PW6=0.5", name: str = "film") -> Reading:
        return DRAWDOWNS.one(band_row(name=name, over=over, microns=microns, shares=shares))[0]  # type: ignore[no-any-return]

    def faults(*rows: Reading) -> list[tuple[int, str]]:
        return [(line, str(r)) for line, r in DRAWDOWNS.together(tuple(enumerate(rows, start=2)))]

    assert faults(card_b, card_w, film("black"), film("white")) == []
    assert faults() == []
    (one,) = faults(card_b, film("black"), film("white"))
    assert (one[0], "white is missing" in one[1]) == (2, True)
    (lone,) = faults(card_b, card_w, film("white"))
    assert (lone[0], "one over white" in lone[1]) == (4, True)
    for other, words in (({"microns": "41"}, "thickness"), ({"shares": "PW6=0.4"}, "shares")):
        (apart,) = faults(card_b, card_w, film("black"), film("white", **other))
        assert (apart[0], words in apart[1]) == (4, True)


# With the shine or without.


@pytest.mark.parametrize(("mean", "band", "dark"), [(0.0405, 0.0405, False), (0.0395, 0.0395, True), (0.05, 0.0345, False), (0.05, 0.0335, True)])  # fmt: skip
def test_darker_than_the_shine_is_so_as_a_whole_or_in_a_band_by_four_sd(mean: float, band: float, dark: bool) -> None:  # fmt: skip
    """The shine is 4 %, an instrument's sd .0015."""
    read = np.full(31, mean)
    read[7] = band
    one = Reading("seat", read)
    assert darker_than_surface(one, Surface()) is dark
    assert not darker_than_surface(one, Surface(specular=False))
    assert bool(read_alike(one, Surface())[1]) is dark


@pytest.mark.parametrize("specular", [True, False])
def test_what_a_missing_word_about_the_shine_could_cost_is_said(specular: bool) -> None:
    """Under .3 ΔE00 it matters little; above it is said by how much; where it is told, or wet, there is nothing to say."""
    surface = Surface(specular=specular)
    white, dark = Reading("a", np.full(31, 0.95)), Reading("b", np.full(31, 0.08))
    off = float(delta_e00(lab(np.full(31, 0.95)), lab(np.full(31, 0.95 - 0.04 if specular else 0.95 + 0.04))))
    assert off > 0.3, "so that the next line holds for a brighter one only"
    assert "off by" in shine_stated(dark, surface)
    little = Surface(0.001, 0.596, specular)
    assert "matters little" in shine_stated(white, little)
    told = Reading("c", np.full(31, 0.3), conditions=Conditions(specular=specular))
    assert (
        shine_stated(told, surface)
        == f"Read {'with' if specular else 'without'} the shine, like the pigments."
    )
    assert shine_stated(Reading("d", np.full(31, 0.3), {"state": "wet"}), surface) == ""
    assert shine_stated(colour_reading("e", [50.0, 0, 0], 0.3), surface) == ""
