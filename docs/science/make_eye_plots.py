"""Draw the plots of the note on colour by eye: `python docs/science/make_eye_plots.py`."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from hidewright.charts.curves import DASHES, TONES, house_config
from hidewright.charts.render import to_svg
from hidewright.colour.cups.advice import advise
from hidewright.colour.cups.estimate import Estimate, estimate
from hidewright.colour.cups.fresh import fresh_cup
from hidewright.colour.cups.memory import Memory
from hidewright.colour.cups.things import PIECE, Comparison, CupAt, Job, Swatch, SwatchAt
from hidewright.colour.cups.words import STRENGTHS, Word, Words
from hidewright.colour.learning.cup import BASE, Cup, Pour
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.lots import USUAL, Lot, Stock
from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.light.local import metric
from hidewright.colour.pigments.film import Surface, opaque, seen
from hidewright.colour.pigments.generic import SPREAD, generic_set
from hidewright.colour.pigments.pigment import Base, mixed

HERE = Path(__file__).parent
PIGMENTS = {
    g.pigment.key: g.pigment for g in generic_set() if g.pigment.key in ("PW6", "PY42", "PR101", "PBk7")
}
TRUE_STRENGTH = {"PW6": 1.0, "PY42": 1.7, "PR101": 0.6, "PBk7": 1.4}
"""How strong the bottles of the drawn job really are; the tool begins with 1 for each."""
TARGET, PHOTO = np.array([58.0, 10.0, 24.0]), np.array([62.5, 8.0, 20.0])
"""The true colour of the drawn job, and what a photo makes of it."""


def memory() -> Memory:
    lots = tuple(Lot(key, pigment, SPREAD) for key, pigment in PIGMENTS.items())
    return Memory.of(Knowledge.fresh(Stock(lots, Base(), USUAL, Surface())))


def words_plot() -> list[dict[str, Any]]:
    """What a cup and a target 1.5 ΔE00 apart by all that is known are believed to be apart after one word, and with which spread."""
    known = memory()
    cup = Cup("cup", (Pour("PW6", 30.0), Pour("PY42", 6.0), Pour("PR101", 1.0), Pour(BASE, 110.0)))
    start = Swatch.of(PHOTO, "photo")
    job = Job({PIECE: start}, (cup,))
    here = estimate(job, known)
    labs = here.slopes_of(cup, here.amounts(cup)[0][None])[0][0]
    aim = labs - np.linalg.solve(metric(labs), np.array([1.5, 0.0, 0.0]))
    job = Job({PIECE: Swatch(aim, start.covariance, "photo")}, (cup,))
    looks = [("nothing yet", None), ("the same", Words())]
    looks += [(f"lighter, {strength}", Words((Word("lighter", strength),))) for strength in STRENGTHS]
    rows = []
    for label, said in looks:
        seen_job = job if said is None else job.seen(Comparison(CupAt("cup", 4), SwatchAt(), said))
        off, covariance = estimate(seen_job, known).off(cup)
        sd = float(np.sqrt(covariance[0, 0]))
        rows.append(
            {"said": label, "mean": float(off[0]), "low": float(off[0]) - sd, "high": float(off[0]) + sd}
        )
    return rows


def true_colour(grams: dict[str, float]) -> np.ndarray:
    """Lab of what these grams really make when dry."""
    volumes = {k: TRUE_STRENGTH[k] * g / PIGMENTS[k].density for k, g in grams.items() if k != BASE}
    return np.asarray(lab(seen(opaque(*mixed(volumes, PIGMENTS)), Surface())))


def plain_words(cup: np.ndarray) -> Words:
    """What somebody says who sees every axis without error, in the usual sizes: at most the two largest."""
    off = np.diag(metric(TARGET)) * (cup - TARGET)
    pairs = (("lighter", "darker"), ("redder", "greener"), ("yellower", "bluer"))
    said = []
    for axis in np.argsort(-np.abs(off))[:2]:
        size = abs(float(off[axis]))
        strength = next(
            (s for s, limit in zip(STRENGTHS, (1.3, 2.8, 5.0, 99.0), strict=True) if size < limit)
        )
        if size > 0.45:
            said.append(Word(pairs[axis][0 if off[axis] > 0 else 1], strength))
    return Words(tuple(said))


def drawn_job() -> Iterator[tuple[Estimate, Cup, float]]:
    """One job by words alone: the estimate after each look, the cup then, and how far that truly is from the target, ΔE00."""
    job = Job({PIECE: Swatch.of(PHOTO, "photo")})
    now = estimate(job, memory())
    cup = Cup("cup", tuple(Pour(k, g, 0.05) for k, g in fresh_cup(now, 150.0).grams.items()))
    for _ in range(10):
        colour = true_colour(dict(cup.grams))
        job = job.with_cup(cup).seen(
            Comparison(CupAt("cup", len(cup.pours)), SwatchAt(), plain_words(colour))
        )
        now = estimate(job, memory())
        yield now, cup, float(delta_e00(colour, TARGET))
        advice = advise(now, cup)
        if advice.act == "done":
            return
        if advice.act == "pour":
            cup = cup.poured([Pour(k, g, 0.05) for k, g in advice.pours[0].grams.items()])


def job_plot() -> list[dict[str, Any]]:
    """By look: the true distance, the believed one, and the spread of that."""
    rows = []
    for number, (now, cup, true) in enumerate(drawn_job(), start=1):
        off, covariance = now.off(cup)
        rows += [
            {"look": number, "what": "true", "value": true},
            {"look": number, "what": "believed", "value": float(np.linalg.norm(off))},
            {"look": number, "what": "spread of that", "value": float(np.sqrt(np.trace(covariance)))},
            {"look": number, "what": "spread of the target", "value": now.target_spread},
        ]
    return rows


def frame(rows: list[dict[str, Any]], height: int = 200) -> dict[str, Any]:
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "width": 380,
        "height": height,
        "config": house_config(),
        "data": {
            "values": [{k: round(v, 3) if isinstance(v, float) else v for k, v in r.items()} for r in rows]
        },
    }


def main() -> None:
    """Write both pictures beside this file."""
    rows = words_plot()
    y = {"field": "said", "type": "nominal", "sort": [r["said"] for r in rows], "axis": {"title": None}}
    x = {"type": "quantitative", "axis": {"title": "The cup is lighter by, ΔE00: mean and one sd"}}
    spec = frame(rows) | {
        "layer": [
            {"mark": {"type": "rule", "strokeWidth": 3, "color": TONES[2]}, "encoding": {"y": y, "x": x | {"field": "low"}, "x2": {"field": "high"}}},
            {"mark": {"type": "point", "filled": True, "size": 70, "color": TONES[0]}, "encoding": {"y": y, "x": x | {"field": "mean"}}},
        ]
    }  # fmt: skip
    label = "What one word makes of the difference between cup and target that is believed"
    (HERE / "by-eye-words.svg").write_text(to_svg(spec, label=label), encoding="utf-8")
    rows = job_plot()
    names = ["true", "believed", "spread of that", "spread of the target"]
    order = {
        "sort": names,
        "legend": {
            "title": None,
            "orient": "bottom",
            "columns": 2,
            "symbolSize": 900,
            "symbolType": "stroke",
        },
    }
    spec = frame(rows) | {
        "mark": {"type": "line", "strokeWidth": 2, "point": True},
        "encoding": {
            "x": {"field": "look", "type": "quantitative", "axis": {"title": "Look", "tickMinStep": 1}},
            "y": {"field": "value", "type": "quantitative", "axis": {"title": "ΔE00"}},
            "color": {"field": "what", "type": "nominal", "scale": {"domain": names, "range": list(TONES[:4])}, **order},
            "strokeDash": {"field": "what", "type": "nominal", "scale": {"domain": names, "range": [list(d) for d in DASHES[:4]]}, **order},
        },
    }  # fmt: skip
    label = "One job by words alone: how far the cup is off, truly and as believed, look by look"
    (HERE / "by-eye-job.svg").write_text(to_svg(spec, label=label), encoding="utf-8")


if __name__ == "__main__":
    main()
