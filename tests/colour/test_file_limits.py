"""Files of the shelf, of jars, cups and libraries: each figure is taken up to its ends and not beyond, and comes out in the units that are said."""

import json
from decimal import Decimal

import numpy as np
import pytest

from hidewright.colour.learning.cup import Cup, Pour, kind_of
from hidewright.colour.learning.cup_rows import (
    CupRow,
    contents_of,
    cup_at_hand,
    cups_of,
    pairs_of,
    sight_of,
    stock_for,
)
from hidewright.colour.learning.cups_csv import read_cups, read_pours
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.library import Library, read_library, write_csv, write_json
from hidewright.colour.learning.lots import USUAL, Lot, Stock
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.drawdowns import Drawdown, Fit
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.pigment import Base
from hidewright.colour.pigments.shelf import read_shelf, stocked
from hidewright.colour.pigments.wet import dry_from_wet
from hidewright.colour.reading.conditions import Conditions
from hidewright.colour.reading.readings import Reading, colour_reading
from hidewright.colour.recipes.leftovers import leftover, read_jars
from hidewright.refusals import Refusal, Refusals
from own_films import KNOWN

HEAD = "key,name,index,density,solids,price_per_litre,note,millilitres"


def refused(make: object) -> bool:
    try:
        make()  # type: ignore[operator]
    except (Refusal, Refusals):
        return True
    return False


@pytest.mark.parametrize(
    ("column", "good", "bad"),
    [
        ("density", ["0.5", "6"], ["0.49", "6.01", "", "x", "NaN", "Infinity"]),
        ("solids", ["0.01", "1"], ["0.009", "1.01"]),
        ("price_per_litre", ["0", "100000"], ["-0.01", "100001"]),
        ("millilitres", ["0", "1000000", ""], ["-1", "1000001"]),
    ],
)
def test_a_line_of_the_shelf_is_taken_up_to_its_ends(column: str, good: list[str], bad: list[str]) -> None:
    plain = {"key": "PW6", "name": "", "index": "PW 6", "density": "1.9", "solids": "0.4", "price_per_litre": "52.5", "note": "n", "millilitres": "30"}  # fmt: skip
    for text in good:
        assert len(read_shelf(HEAD + "\n" + ",".join({**plain, column: text}.values()))) == 1
    for text in bad:
        assert refused(lambda text=text: read_shelf(HEAD + "\n" + ",".join({**plain, column: text}.values())))
    (line,) = read_shelf(HEAD + "\n" + ",".join(plain.values()))
    assert (line.key, line.name, line.index, line.note) == ("PW6", "PW6", "PW 6", "n")
    assert (line.density, line.solids, line.price, line.left) == (1.9, 0.4, Decimal("0.0525"), 30.0)
    assert read_shelf(HEAD + "\n" + ",".join({**plain, "millilitres": ""}.values()))[0].left is None
    assert refused(lambda: read_shelf(HEAD + "\n" + ",".join({**plain, "key": ""}.values())))
    assert refused(lambda: read_shelf(HEAD.replace("solids", "solid") + "\n" + ",".join(plain.values())))


def test_what_is_on_the_shelf_and_was_found_is_a_pigment_with_its_spread() -> None:
    shelf = read_shelf(HEAD + "\nPW6,White,PW 6,1.9,0.4,52.5,,\nPX1,None,,1,0.4,1,,")
    fit = Fit(np.full(31, 0.1), np.full(31, 0.2), np.full(31, 0.01), np.full(31, 0.02), {})
    (one,) = stocked(shelf, {"PW6": fit, "PR101": fit}, illustrative=True)
    assert (one.key, one.name, one.density, one.solids, one.price, one.illustrative) == ("PW6", "White", 1.9, 0.4, Decimal("0.0525"), True)  # fmt: skip
    assert one.covariance is not None
    np.testing.assert_array_equal(one.covariance, [np.full(31, 0.01), np.full(31, 0.02)])
    with pytest.raises(Refusal, match="both"):
        stocked(shelf[1:], {"PW6": fit})


@pytest.mark.parametrize(("millilitres", "fits"), [("0.1", True), ("1000000", True), ("0.09", False), ("1000001", False)])  # fmt: skip
def test_a_jar_is_from_a_drop_to_a_tonne_and_its_litre_is_whole(millilitres: str, fits: bool) -> None:
    text = f"name,millilitres,holds\nJ,{millilitres},PW6=12 PBr7=3 base=70\n"
    assert refused(lambda: read_jars(text, KNOWN, Base())) is not fits
    if fits:
        (one,) = read_jars(text, KNOWN, Base())
        assert [p.volume for p in one.parts] == pytest.approx([12e3 / 85, 3e3 / 85, 70e3 / 85])
        assert [p.density for p in one.parts] == pytest.approx([KNOWN["PW6"].density, KNOWN["PBr7"].density, Base().density])  # fmt: skip
    for amount, good in ((1e-9, True), (0.99e9, True), (0.0, False), (1e9, False)):
        assert refused(lambda a=amount: leftover("J", "J", a, {"PW6": 1.0}, 4.0, KNOWN, Base())) is not good


@pytest.mark.parametrize(("text", "fits"), [("PW6=999999", True), ("PW6=0.001 base=1", True), ("PW6#B7=1", True), ("PW6=1000000", False), ("PW6=0", False), ("base=5", False), ("=5", False), ("PX=1", False), ("PW6=x", False)])  # fmt: skip
def test_pours_are_grams_of_what_is_known(text: str, fits: bool) -> None:
    assert refused(lambda: read_pours(text, known=["PW6"])) is not fits
    assert kind_of("PW6#B7") == "PW6"
    assert [p.lot for p in read_pours("PX=1 base=2 PY#3=4")] == ["PX", "base", "PY#3"]


@pytest.mark.parametrize(("sd", "struck", "fits"), [("0.00001", "no", True), ("0.2", "x", True), ("", "", True), ("0.000009", "", False), ("0.21", "", False), ("x", "", False), ("", "maybe", False)])  # fmt: skip
def test_a_row_of_cups_says_its_spread_and_whether_it_is_struck(sd: str, struck: str, fits: bool) -> None:
    bands = [str(nm) for nm in range(400, 701, 10)]
    text = "\n".join([",".join(["name", "pours", "sd", "struck", "state", *bands]), ",".join(["one", "PW6=20 base=60", sd, struck, "wet", *["0.3"] * 31])])  # fmt: skip
    if not fits:
        assert refused(lambda: read_cups(text))
        return
    (row,) = read_cups(text, ["PW6"])
    assert (row.name, row.struck, row.wet) == ("one", struck == "x", True)
    assert float(np.max(row.reading.sd)) == (float(sd) if sd else 0.0015)
    assert [(p.lot, p.grams) for p in row.pours] == [("PW6", 20.0), ("base", 60.0)]


# From rows to cups.

STOCK = Stock((Lot("PW6", KNOWN["PW6"]), Lot("PBr7", KNOWN["PBr7"])), Base(), USUAL, Surface())
WHITE, UMBER, CLEAR = Pour("PW6", 20.0), Pour("PBr7", 3.0), Pour("base", 60.0)
READ = np.full(31, 0.3)


def row(
    *pours: Pour, wet: bool = False, name: str = "one", struck: bool = False, colour: bool = False
) -> CupRow:
    how = Conditions(state="wet" if wet else "dry")
    read = colour_reading("r", [50.0, 5, 9], np.eye(3), "A", "2", how) if colour else Reading("r", READ, conditions=how, sd=0.002)  # fmt: skip
    return CupRow(name, pours, read, struck)


def test_contents_are_millilitres_by_each_things_density() -> None:
    held = contents_of([WHITE, CLEAR, UMBER, WHITE], STOCK)
    assert dict(held.volumes) == pytest.approx(
        {"PW6": 40 / KNOWN["PW6"].density, "PBr7": 3 / KNOWN["PBr7"].density}
    )
    assert held.base_ml == pytest.approx(60 / 1.03)


def test_a_wet_and_a_dry_row_of_the_same_pours_are_a_pair() -> None:
    """Not one struck out, of other pours, of another cup, or without a spectrum."""
    wet, dry = row(WHITE, CLEAR, wet=True), row(WHITE, CLEAR)
    assert len(pairs_of([wet, dry], STOCK)) == 1
    for other in (row(WHITE, CLEAR, struck=True), row(WHITE), row(WHITE, CLEAR, name="two"), row(WHITE, CLEAR, colour=True)):  # fmt: skip
        assert pairs_of([wet, other], STOCK) == []


def test_rows_whose_pours_begin_another_s_are_one_cup() -> None:
    rows = [row(WHITE), row(WHITE, UMBER), row(UMBER, WHITE), row(CLEAR), row(WHITE, name="two")]
    cups = cups_of(rows, STOCK)
    assert [(c.name, len(c.pours), [s.after for s in c.sights]) for c in cups] == [("one", 2, [1, 2]), ("one (2)", 2, [2]), ("two", 1, [1])]  # fmt: skip
    at_hand = cup_at_hand("now", [WHITE, UMBER, CLEAR], rows, STOCK)
    assert [s.after for s in at_hand.sights] == [1, 2, 1]


def test_a_row_teaches_from_what_was_read() -> None:
    """A spectrum with its noise; a colour under its own light; wet, the dry spectrum that it says, with an sd of .008; a colour read wet, and nothing poured, teach nothing."""
    plain = sight_of(row(WHITE, CLEAR), STOCK)
    assert plain is not None
    assert (plain.after, plain.sd, plain.struck) == (2, 0.002, False)
    seen = sight_of(row(WHITE, colour=True, struck=True), STOCK)
    assert seen is not None
    assert (seen.is_colour, seen.light, seen.observer, seen.struck) == (True, "A", "2", True)
    wet = sight_of(row(WHITE, CLEAR, wet=True), STOCK)
    assert wet is not None
    held = Contents({"PW6": 20 / KNOWN["PW6"].density}, 60 / 1.03)
    np.testing.assert_allclose(wet.values, dry_from_wet(READ, held, [KNOWN["PW6"]]))
    assert wet.sd == 0.008
    assert sight_of(row(WHITE, wet=True, colour=True), STOCK) is None
    assert sight_of(row(), STOCK) is None


def test_every_lot_that_was_poured_stands_in_the_stock_by_its_kind() -> None:
    rows = [row(Pour("PBr7#2", 1.0), WHITE, CLEAR)]
    made = stock_for(rows, [KNOWN["PW6"], KNOWN["PBr7"]], STOCK, {"PBr7": 3.0})
    assert [(lot.key, lot.kind, lot.spread) for lot in made.lots] == [("PW6", "PW6", 1.0), ("PBr7", "PBr7", 3.0), ("PBr7#2", "PBr7", 3.0)]  # fmt: skip


# Libraries.


def test_a_lot_that_is_named_stands_in_for_its_pigment_in_the_library() -> None:
    stock = Stock((Lot("PW6", KNOWN["PW6"]), Lot("PBr7", KNOWN["PBr7"]), Lot("PBr7#B7", KNOWN["PBr7"])), Base(), USUAL, Surface())  # fmt: skip
    known = Knowledge.fresh(stock).after(Cup("c", (WHITE, Pour("PBr7#B7", 3.0))).seen(READ))
    library = Library.of(known)
    assert [p.key for p in library.pigments] == ["PW6", "PBr7#B7"]
    assert library.pigments[1].name == f"{KNOWN['PBr7'].name}, lot B7"
    np.testing.assert_array_equal(library.pigments[1].k, stock.curves_at(known.mean, 2)[0])
    back = read_library(write_json(library))
    assert back.learned is not None
    assert [(o.cup, o.sight, o.aside) for o in back.learned.odd] == [
        (o.cup, o.sight, o.aside) for o in known.odd
    ]
    np.testing.assert_allclose(back.learned.covariance, known.covariance)
    np.testing.assert_allclose(back.learned.mean, known.mean)


def changed(**more: object) -> str:
    told = json.loads(write_json(Library((KNOWN["PW6"],), Surface())))
    told["pigments"][0] |= more
    return json.dumps(told)


@pytest.mark.parametrize(
    ("more", "fits"),
    [({"price_per_litre": "100000"}, True), ({"price_per_litre": "100001"}, False), ({"price_per_litre": "-1"}, False), ({"price_per_litre": "x"}, False), ({"k": [1000.0] * 31}, True), ({"k": [1001.0] * 31}, False),
     ({"k_sd": [0.0] * 31, "s_sd": [0.1] * 31}, True), ({"k_sd": [-0.1] * 31, "s_sd": [0.1] * 31}, False), ({"key": "two words"}, False), ({"key": "a=b"}, False), ({"key": ""}, False)],
)  # fmt: skip
def test_a_library_s_figures_are_taken_up_to_their_ends(more: dict[str, object], fits: bool) -> None:
    assert refused(lambda: read_library(changed(**more))) is not fits


def test_a_csv_library_needs_both_curves_and_its_columns() -> None:
    text = write_csv(Library((KNOWN["PW6"], KNOWN["PBr7"]), Surface(0.03, 0.5, specular=False)))
    assert read_library(text).surface == Surface(0.03, 0.5, specular=False)
    lines = text.splitlines()
    assert refused(lambda: read_library("\n".join(line for line in lines if ",s," not in line)))
    assert refused(lambda: read_library("\n".join([lines[0].replace("density", "dens"), *lines[1:]])))
    assert refused(lambda: read_library("\n".join(line.replace(",k,", ",q,") for line in lines)))


@pytest.mark.parametrize(("field", "value", "fits"), [("microns", 1.0, True), ("microns", 1000.0, True), ("microns", 0.99, False), ("microns", 1001.0, False), ("readings", 100, True), ("readings", 101, False), ("shares", {"a": 200.0}, True), ("shares", {"a": 200.1}, False), ("shares", {}, False)])  # fmt: skip
def test_a_drawdown_has_its_limits(field: str, value: object, fits: bool) -> None:
    plain = {"name": "f", "shares": {"a": 0.5}, "microns": 40.0, **dict.fromkeys(("over_black", "over_white", "black", "white"), READ), field: value}  # fmt: skip
    assert refused(lambda: Drawdown(**plain)) is not fits  # type: ignore[arg-type]
    if fits and field == "readings":
        one = Drawdown(**plain)  # type: ignore[arg-type]
        assert one.sd == pytest.approx(0.0015 / 10)
        assert one.one_ground
    median = [Fit(READ, READ, READ, np.full(31, sd), {}).undetermined for sd in (0.5, 0.51)]
    assert median == [False, True]
