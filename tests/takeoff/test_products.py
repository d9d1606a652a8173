"""Products and the shopping list."""

from decimal import Decimal

import pytest

from hidewright import demo
from hidewright.refusals import Refusal, Refusals
from hidewright.survey.csv_in import read_pieces
from hidewright.takeoff.howmuch import Takeoff, take_off
from hidewright.takeoff.products import Product, Role
from hidewright.takeoff.products_csv import read_products, write_products
from hidewright.takeoff.shopping import shopping_list


@pytest.fixture(scope="module")
def forecast() -> Takeoff:
    return take_off(read_pieces(demo.text("pieces.csv")))


def test_the_demonstration_reads_and_writes_back_unchanged() -> None:
    products = read_products(demo.text("products.csv"))
    assert {p.role for p in products.values()} == set(Role)
    assert read_products(write_products(products.values())) == products


def test_units_stand_in_the_cells() -> None:
    text = "key;name;role;pack;pot_life;solids;price;flash\nx;X;base;1 US gal;8 h;25 %;€1.250,50;-18\n"
    with pytest.raises(Refusals):
        read_products(text.replace("-18", "cold"))
    made = read_products(text.replace("€1.250,50", "€125,50"))["x"]
    assert made.pack == pytest.approx(3785.411784)
    assert (made.pot_life, made.solids, made.price, made.flash) == (480, 0.25, Decimal("125.50"), -18)


def test_faults_are_named_by_line_and_column() -> None:
    text = "key,name,role,density,ratio\na,A,base,9,\nb,B,glue,1,\nc,C,crosslinker,1,\na,A,base,1,\na,A,base,1,\n"
    with pytest.raises(Refusals) as refused:
        read_products(text)
    assert [item.where for item in refused.value.items] == [
        "line 2, column density",
        "line 3, column role",
        "line 4, column ratio",
        "line 6, column key",
    ]


@pytest.mark.parametrize("text", ["", "key,name\na,b\n", "key,name,role,taste\na,b,base,x\n"])
def test_what_is_no_list_of_products_is_refused(text: str) -> None:
    with pytest.raises(Refusal):
        read_products(text)


def test_shopping_is_need_less_stock_in_whole_packs(forecast: Takeoff) -> None:
    products = read_products(demo.text("products.csv"))
    lines = {line.what: line for line in shopping_list(forecast, products, {"clear-satin": 900.0})}
    clear = lines["Clear"]
    assert clear.need == pytest.approx(forecast.clear.at(0.9))
    assert clear.packs * 5000 + 900 >= clear.need > (clear.packs - 1) * 5000 + 900
    assert clear.price == clear.packs * Decimal("142.00")
    full = {line.what: line for line in shopping_list(forecast, products, {"clear-satin": 50000.0})}["Clear"]
    assert (full.packs, full.short) == (0, 0)


def test_exactly_a_pack_is_one_pack() -> None:
    clear = Product("c", "C", Role.CLEAR, pack=500, price=Decimal("10"))
    takeoff = take_off(read_pieces(demo.text("pieces.csv")))
    need = takeoff.clear.at(0.9)
    line = next(
        row for row in shopping_list(takeoff, {"c": clear}, {"c": need - 500.0}) if row.what == "Clear"
    )
    assert line.packs == 1


def test_better_odds_never_buy_less(forecast: Takeoff) -> None:
    products = read_products(demo.text("products.csv"))
    cheap, dear = (shopping_list(forecast, products, {}, odds=odds) for odds in (0.5, 0.99))
    assert all(a.packs <= b.packs and a.need < b.need for a, b in zip(cheap, dear, strict=True))


def test_a_product_nobody_lists_is_shown_as_such(forecast: Takeoff) -> None:
    lines = shopping_list(forecast, {}, {})
    assert lines
    assert all(line.product is None and line.price == 0 for line in lines)


def test_the_chosen_product_is_taken_and_pigments_too(forecast: Takeoff) -> None:
    products = read_products(demo.text("products.csv"))
    white = Product("PW6", "White", Role.BASE, pack=250, price=Decimal("9.50"))
    lines = shopping_list(
        forecast, products, {}, chosen={Role.CLEAR: "clear-matt"}, base_share=0.83, pigments=[(white, 0.1)]
    )
    found = {line.what: line for line in lines}
    assert found["Clear"].product is not None
    assert found["Clear"].product.key == "clear-matt"
    assert found["White"].need == pytest.approx(0.1 * forecast.colour.at(0.9))


@pytest.mark.parametrize(
    ("warm", "at", "field"), [(60.0, None, "warm_at"), (None, 40.0, "warm_cure"), (721.0, 40.0, "warm_cure")]
)
def test_a_cure_when_warm_has_both_figures_and_is_no_slower(
    warm: float | None, at: float | None, field: str
) -> None:
    assert Product("c", "Clear", Role.CLEAR, cure=720, warm_cure=720.0, warm_at=40.0).warm_cure == 720
    with pytest.raises(Refusal) as refused:
        Product("c", "Clear", Role.CLEAR, cure=720, warm_cure=warm, warm_at=at)
    assert refused.value.where == field
