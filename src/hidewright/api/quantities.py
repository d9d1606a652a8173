"""Litres with odds: what the pieces take of colour, clear and the rest, and what to buy."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from hidewright.defaults import BASE_SHARE
from hidewright.planning.problem.work import Coats
from hidewright.refusals import Refusal
from hidewright.survey import Piece
from hidewright.takeoff.advice import Advice, advise
from hidewright.takeoff.coats import Assumptions
from hidewright.takeoff.enough import Standing, model_of, standing
from hidewright.takeoff.howmuch import Takeoff, take_off
from hidewright.takeoff.products import Product, Role
from hidewright.takeoff.shopping import Line, shopping_list
from hidewright.units import counted, show_area, show_volume

from .recipes import Mix
from .tables import html_of


@dataclass(frozen=True, slots=True, eq=False)
class Litres:
    """What the pieces take. `takeoff` every need with its odds; `standing` how the colour in hand compares; `shopping` lines at `odds` (empty without products);
    `coats` for `plan`; `products` as given.

    >>> from hidewright import api
    >>> seat = api.load_pieces("key,name,shape,length,width\\nA,panel,panel,600,500\\n")
    >>> small, large = api.litres(seat), api.litres(seat, in_hand_ml=1000)
    >>> small.mix_ml > 0, large.mix_ml  # a litre is enough
    (True, 0.0)
    """

    takeoff: Takeoff
    standing: Standing
    shopping: tuple[Line, ...]
    odds: float
    products: Mapping[str, Product]

    def colour_ml(self, odds: float = 0.9) -> float:
        """mL of mixed colour that suffice with these odds (0 < odds < 1)."""
        return self.takeoff.colour.at(odds)

    def clear_ml(self, odds: float = 0.9) -> float:
        """mL of clear that suffice with these odds."""
        return self.takeoff.clear.at(odds)

    @property
    def mix_ml(self) -> float:
        """mL of colour to mix now; 0 for nothing. What `Mix.grams` takes."""
        return self.standing.mix

    @property
    def advice(self) -> Advice:
        """What to mix now, and why."""
        return advise(self.standing, show_volume)

    @property
    def coats(self) -> Coats:
        """The coats that it was worked out for."""
        assumed = self.takeoff.assumed
        return Coats(assumed.colour_coats, assumed.clear_coats, assumed.wiped)

    @property
    def words(self) -> str:
        """Areas, coats, what is needed half of the time and nine times in ten, and what to mix now."""
        taken, coats = self.takeoff, self.coats
        return "\n".join(
            [
                f"{show_area(taken.area)} coated; {counted(coats.colour, 'coat')} of colour, {coats.clear} of clear; {counted(taken.sessions, 'spray session')}.",
                *(
                    f"{need.name}: {show_volume(need.p50)} half of the time, {show_volume(need.p90)} nine times in ten."
                    for need in taken.needs
                ),
                self.advice.what,
            ]
        )

    def _repr_html_(self) -> str:
        rows = (
            (need.name, *(show_volume(part) for part in (need.p50, need.p90, need.lands, need.lost)))
            for need in self.takeoff.needs
        )
        heads = ("", "Half of the time", "9 in 10", "Lands", "Lost")
        return html_of(f"{self.words.splitlines()[0]}\n{self.advice.words}", heads, rows)


def litres(
    pieces: Sequence[Piece],
    mix: Mix | None = None,
    *,
    products: Mapping[str, Product] | None = None,
    stock_ml: Mapping[str, float] | None = None,
    in_hand_ml: float = 0.0,
    odds: float = 0.9,
    base_share: float = BASE_SHARE,
    **assumed: Any,
) -> Litres:
    """What the pieces take of each product, with odds, and how much colour to mix now.

    A `mix` brings its coats to hide the old colour, its solids and its build; the clear of `products` its solids. `assumed` are figures of `takeoff.coats.Assumptions` that go before both, such
    as `colour_coats=3` or `transfer=0.7`. `stock_ml` on hand by product key, `in_hand_ml` mixed colour that is there. Raises `Refusal`. See docs/science/area-and-quantity.md.

    >>> from hidewright import api
    >>> pieces = api.load_pieces(api.example("pieces.csv"))
    >>> need = api.litres(pieces, colour_coats=3)
    >>> need.coats.colour, need.colour_ml(0.5) < need.colour_ml(0.9)
    (3, True)
    >>> print(need.words.splitlines()[0])
    37.2 m² coated; 3 coats of colour, 2 of clear; 7 spray sessions.
    """
    shelf = products or {}
    figures: dict[str, Any] = {}
    if mix is not None:
        figures |= {"solids_colour": round(mix.solids, 4), "colour_um": mix.coat_um}
        if mix.coats:
            figures["colour_coats"] = min(mix.coats, 12)
    clear = next((p for p in shelf.values() if p.role is Role.CLEAR and p.solids), None)
    if clear is not None:
        figures["solids_clear"] = clear.solids
    known = [field.name for field in fields(Assumptions)]
    strange = sorted(set(assumed) - set(known))
    if strange:
        raise Refusal(
            f"{strange[0]} is no assumption.", where="assumptions", remedy=f"Known are {', '.join(known)}."
        )
    basis = Assumptions(**(figures | assumed))
    forecast = take_off(pieces, basis)
    lines = (
        shopping_list(forecast, shelf, stock_ml or {}, base_share=base_share, odds=odds) if products else ()
    )
    stand = standing(model_of(pieces, basis), {p.key: p.area for p in pieces}, in_hand_ml)
    return Litres(forecast, stand, lines, odds, shelf)
