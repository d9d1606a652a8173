"""A library of pigments as a file: what each absorbs and scatters with its spread, and what cups have taught since. JSON, or CSV of the curves alone.

JSON: `{"hidewright": "pigments", "specular": true, "k1": …, "k2": …, "pigments": [{"key", "name", "index", "density" g/mL, "solids" 0..1,
"price_per_litre", "illustrative", "k": [31], "s": [31], "k_sd", "s_sd" (relative)}], "learned": …}`. CSV: four rows a pigment (`curve` k, s, k_sd, s_sd), columns by band.
What was learned is kept whole (the mean and covariance of `learn.Knowledge`), so that forecasts keep their spread; a CSV drops it and keeps the curves.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from decimal import Decimal, InvalidOperation
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hidewright.colour.light.cie import BANDS, WAVELENGTHS
from hidewright.colour.light.spectra import spectrum
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.pigment import Base, Pigment
from hidewright.refusals import Refusal
from hidewright.sheets import Row, SheetWriter, read_each, read_sheet

from .cup import LOT, kind_of
from .learn import Knowledge, Odd
from .lots import STRENGTH_MORE, Lot, Prior, Stock

Array = NDArray[np.float64]
MARK = "pigments"
CURVES = ("k", "s", "k_sd", "s_sd")
FACTS = (
    "key",
    "name",
    "index",
    "density",
    "solids",
    "price_per_litre",
    "illustrative",
    "k1",
    "k2",
    "specular",
)
STRONGEST = 1000.0
"""K or S per µm above which a file is surely not one of ours: a film of a nanometre would hide."""
REMEDY = "Write it again with hidewright characterise or hidewright learn."


@dataclass(frozen=True, slots=True, eq=False)
class Library:
    """Pigments as they now are, and the surface they were found with; `learned` what cups taught, if any did."""

    pigments: tuple[Pigment, ...]
    surface: Surface
    learned: Knowledge | None = None

    def __post_init__(self) -> None:
        keys = [p.key for p in self.pigments]
        if not keys or len(set(keys)) != len(keys):
            raise Refusal("A library holds at least one pigment, each once.", where="pigments", remedy=REMEDY)

    @classmethod
    def of(cls, known: Knowledge) -> "Library":
        """What is known, as a library: where lots of a pigment are named, those stand in for it."""
        lots = [lot.key for lot in known.stock.lots]
        named = {kind_of(key) for key in lots if kind_of(key) != key}
        found = tuple(
            replace(p, name=f"{p.name}, lot {p.key.partition(LOT)[2]}") if LOT in p.key else p
            for p in known.pigments()
            if p.key not in named
        )
        return cls(found, known.surface, known)


def _row(pigment: Pigment) -> dict[str, Any]:
    return {
        "key": pigment.key,
        "name": pigment.name,
        "index": pigment.index,
        "density": pigment.density,
        "solids": pigment.solids,
        "price_per_litre": str(pigment.price * 1000),
        "illustrative": pigment.illustrative,
    }


def _curves(pigment: Pigment) -> dict[str, Array]:
    spread = pigment.covariance
    extra = {} if spread is None else {"k_sd": spread[0], "s_sd": spread[1]}
    return {"k": pigment.k, "s": pigment.s, **extra}


def _short(values: Array) -> list[float]:
    """Seven figures: more than any instrument gives, and every covariance stays positive."""
    return [float(f"{v:.7g}") for v in np.ravel(values)]


def write_json(library: Library) -> str:
    """The library as JSON."""
    surface = library.surface
    told: dict[str, Any] = {
        "hidewright": MARK,
        "specular": surface.specular,
        "k1": surface.k1,
        "k2": surface.k2,
        "pigments": [
            _row(p) | {name: _short(curve) for name, curve in _curves(p).items()} for p in library.pigments
        ],
    }
    known = library.learned
    if known is not None:
        stock = known.stock
        told["learned"] = {
            "prior": asdict(stock.prior),
            "strength_more": STRENGTH_MORE,
            "base": {"density": stock.base.density, "solids": stock.base.solids},
            "surface": {"k1": stock.surface.k1, "k2": stock.surface.k2},
            "lots": [
                {"key": lot.key, "kind": lot.kind, "name": lot.pigment.name, "spread": lot.spread}
                | {name: _short(getattr(lot.pigment, name)) for name in ("k", "s")}
                for lot in stock.lots
            ],
            "mean": known.mean.tolist(),
            "covariance": known.covariance[np.tril_indices(stock.size)].tolist(),
            "readings": known.readings,
            "odd": [asdict(odd) for odd in known.odd],
        }
    return json.dumps(told, ensure_ascii=False)


def write_csv(library: Library) -> str:
    """The library's curves as CSV; what was learned is in the curves, its covariance is left out."""
    writer = SheetWriter()
    writer.writerow([*FACTS, "curve", *(f"{nm:.0f}" for nm in WAVELENGTHS)])
    surface = library.surface
    for pigment in library.pigments:
        facts = [*_row(pigment).values(), surface.k1, surface.k2, surface.specular]
        for name, curve in _curves(pigment).items():
            writer.writerow([*facts, name, *(f"{v:.7g}" for v in curve)])
    return writer.getvalue()


def read_library(text: str) -> Library:
    """A library from either file; refuses what is none, and names the place."""
    if text.lstrip().startswith("{"):
        return _from_json(text)
    return _from_csv(text)


def _from_json(text: str) -> Library:
    try:
        told = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise Refusal(f"The file is torn: {error}.", remedy=REMEDY) from error
    if told.get("hidewright") != MARK:
        raise Refusal("This is no library of pigments.", remedy=REMEDY)
    try:
        found = tuple(
            _pigment(one, {c: one[c] for c in CURVES if c in one}) for one in _list(told["pigments"])
        )
        surface = Surface(float(told["k1"]), float(told["k2"]), bool(told["specular"]))
        known = _learned(told["learned"], found, surface) if told.get("learned") else None
    except (KeyError, TypeError, ValueError, AttributeError, ArithmeticError, IndexError) as error:
        if isinstance(error, Refusal):
            raise
        raise Refusal(f"The file lacks something or it cannot be read: {error}.", remedy=REMEDY) from error
    return Library(found, surface, known)


def _list(told: object) -> list[dict[str, Any]]:
    if not isinstance(told, list) or not all(isinstance(one, dict) for one in told):
        raise Refusal("The list of pigments cannot be read.", where="pigments", remedy=REMEDY)
    return told


def _pigment(facts: Mapping[str, Any], curves: Mapping[str, Sequence[float]]) -> Pigment:
    key = str(facts["key"])
    if not key or any(mark.isspace() or mark == "=" for mark in key):
        raise Refusal("A key is one word.", where=f"pigment {key[:30]}", remedy=REMEDY)
    try:
        price = Decimal(str(facts.get("price_per_litre") or 0)) / 1000
    except InvalidOperation:
        price = Decimal("NaN")
    if not price.is_finite() or not 0 <= price <= 100:
        raise Refusal("The price of a litre cannot be read.", where=key, remedy=REMEDY)
    spread = None
    if "k_sd" in curves and "s_sd" in curves:
        spread = np.array([curves["k_sd"], curves["s_sd"]], dtype=float)
        if spread.shape != (2, BANDS) or not np.all(np.isfinite(spread)) or spread.min() < 0:
            raise Refusal("The spread of its curves cannot be read.", where=key, remedy=REMEDY)
    for name in ("k", "s"):
        spectrum(curves[name], f"{key} {name}", upper=STRONGEST)
    illustrative = str(facts.get("illustrative", "")).lower() in ("true", "yes", "1")
    return Pigment(
        key,
        str(facts.get("name") or key),
        str(facts.get("index") or ""),
        np.array(curves["k"], dtype=float),
        np.array(curves["s"], dtype=float),
        float(facts["density"]),
        float(facts["solids"]),
        price,
        illustrative,
        spread,
    )


def _units(stock: Stock, more: float) -> Array:
    """What brings unknowns (size,) that were written in units of another prior (`lots.STRENGTH_MORE`; 1 up to version 0.1.0) to those of today's."""
    scale = np.ones(stock.size)
    for number, lot in enumerate(stock.lots):
        scale[stock.where(number).start] = lot.spread ** (more - STRENGTH_MORE)
    return scale


def _learned(told: Mapping[str, Any], pigments: Sequence[Pigment], surface: Surface) -> Knowledge:
    facts = {kind_of(p.key): p for p in pigments}
    lots = []
    for one in _list(told["lots"]):
        drawn = replace(
            facts[str(one["kind"])],
            key=str(one["kind"]),
            name=str(one["name"]),
            k=np.array(one["k"], dtype=float),
            s=np.array(one["s"], dtype=float),
        )
        lots.append(Lot(str(one["key"]), drawn, float(one["spread"])))
    start = Surface(float(told["surface"]["k1"]), float(told["surface"]["k2"]), surface.specular)
    base = Base(density=float(told["base"]["density"]), solids=float(told["base"]["solids"]))
    stock = Stock(tuple(lots), base, Prior(**told["prior"]), start)
    mean = np.array(told["mean"], dtype=float)
    covariance = np.zeros((stock.size, stock.size))
    low = np.tril_indices(stock.size)
    covariance[low] = np.array(told["covariance"], dtype=float)
    covariance = covariance + np.tril(covariance, -1).T
    if mean.shape == (stock.size,):
        scale = _units(stock, float(told.get("strength_more", 1.0)))
        mean, covariance = mean * scale, covariance * np.outer(scale, scale)
    fits = mean.shape == (stock.size,) and bool(np.all(np.isfinite(mean)) and np.all(np.isfinite(covariance)))
    if not fits or np.abs(mean).max() > 50 or np.linalg.eigvalsh(covariance).min() < -1e-6:
        raise Refusal("What was learned cannot be.", where="learned", remedy=REMEDY)
    odd = tuple(
        Odd(str(o["cup"]), int(o["sight"]), float(o["times"]), bool(o["aside"])) for o in _list(told["odd"])
    )
    return Knowledge(stock, mean, covariance, int(told["readings"]), odd)


def _from_csv(text: str) -> Library:
    sheet = read_sheet(text, columns=", ".join([*FACTS, "curve"]))
    bands = [f"{nm:.0f}" for nm in WAVELENGTHS]
    missing = [c for c in ("key", "density", "solids", "curve", "k1", "k2", *bands) if c not in sheet.columns]
    if missing:
        shown = f"{', '.join(missing[:4])}{' …' if len(missing) > 4 else ''}"
        raise Refusal(
            f"This is no library of pigments: the columns {shown} are missing.", where="line 1", remedy=REMEDY
        )

    def numbers(row: Row) -> tuple[Row, list[float]]:
        if row.get("curve") not in CURVES:
            raise Refusal(
                f"“{row.get('curve')[:20]}” is no curve.", where="curve", remedy=f"Write {', '.join(CURVES)}."
            )
        return row, [_figure(row, column) for column in bands]

    grouped: dict[str, dict[str, list[float]]] = {}
    facts: dict[str, Row] = {}
    for row, values in read_each(sheet.rows, numbers):
        grouped.setdefault(row.get("key"), {})[row.get("curve")] = values
        facts.setdefault(row.get("key"), row)

    def one(row: Row) -> Pigment:
        curves = grouped[row.get("key")]
        if not {"k", "s"} <= set(curves):
            raise Refusal("It needs a row for k and one for s.", where="curve", remedy=REMEDY)
        return _pigment(
            dict(row.cells) | {name: _figure(row, name) for name in ("density", "solids")}, curves
        )

    found = tuple(read_each(list(facts.values()), one))
    first = next(iter(facts.values()))
    specular = first.get("specular").lower() != "false"
    return Library(found, Surface(_figure(first, "k1"), _figure(first, "k2"), specular))


def _figure(row: Row, column: str) -> float:
    try:
        value = float(row.get(column))
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        raise Refusal(f"“{row.get(column)[:30]}” is not a number.", where=column)
    return value
