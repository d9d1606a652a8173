"""The forecast as plain data, for `--json`, for papers and for whoever reads on."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from hidewright.survey import Piece

from .advice import advise
from .enough import Standing
from .howmuch import Need, Takeoff
from .shopping import Line

ODDS = (0.5, 0.8, 0.9, 0.95, 0.99)
"""The odds that every answer carries."""


def answer(
    pieces: Sequence[Piece], takeoff: Takeoff, lines: Sequence[Line], odds: float, stand: Standing
) -> dict[str, Any]:
    """Everything in SI (m², mL); money as text; keys in plain words. `stand` says what to mix of the colour now, and why."""
    return {
        "pieces": len(pieces),
        "area_m2": takeoff.area,
        "stripped_m2": takeoff.stripped_area,
        "wiped_in_m2": takeoff.wiped_area,
        "sessions": takeoff.sessions,
        "odds": odds,
        "needs": [_need(need) for need in takeoff.needs],
        "shopping": [_line(line) for line in lines],
        "colour_in_hand_ml": stand.in_hand,
        "colour_odds": stand.odds,
        "colour_mix_ml": stand.mix,
        "colour_advice": advise(stand, lambda millilitres: f"{millilitres:.0f} mL").words,
        "colour_per_piece_ml": dict(takeoff.per_piece),
        "assumptions": asdict(takeoff.assumed),
    }


def _need(need: Need) -> dict[str, Any]:
    return {
        "what": need.name,
        "p50_ml": need.p50,
        "p90_ml": need.p90,
        "ml_at_odds": {f"{odds:g}": need.at(odds) for odds in ODDS},
        "lands_ml": need.lands,
        "lost_ml": need.lost,
        "left_in_gun_and_cup_ml": need.left,
        "kept_back_ml": need.kept,
    }


def _line(line: Line) -> dict[str, Any]:
    return {
        "what": line.what,
        "product": line.product.key if line.product else None,
        "likely_ml": line.likely,
        "need_ml": line.need,
        "stock_ml": line.stock,
        "packs": line.packs,
        "pack_ml": line.product.pack if line.product else None,
        "price": str(line.price),
    }
