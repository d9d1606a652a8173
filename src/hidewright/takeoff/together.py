"""Several colours on one job: one forecast out of those of the colours."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from hidewright.refusals import Refusal

from .howmuch import Need, Takeoff
from .odds import Spread, sum_of


def erring_together(spreads: Sequence[Spread]) -> Spread:
    """The sum of what one tape, one hand and one gun err about alike: the logarithms are taken as fully correlated, which is the careful side."""
    sigmas = np.array([spread.sigma for spread in spreads])
    sizes = np.array([spread.median for spread in spreads])
    whole = sum_of(sizes, np.zeros(len(sizes)), np.outer(sigmas, sigmas))
    return whole.plus(sum(spread.fixed for spread in spreads))


def together(colours: Sequence[Takeoff], whole: Takeoff) -> Takeoff:
    """The forecast of a job in several colours: mixed colour is the sum of the `colours`, the rest that of all pieces at once (`whole`).

    A session sprays one colour, so each colour brings its own. Refuses none.
    """
    if not colours:
        raise Refusal("There is no colour to work it out for.", where="colours")
    if len(colours) == 1:
        return replace(whole, colour=colours[0].colour, per_piece=colours[0].per_piece)
    parts = [each.colour for each in colours]
    summed = Need(
        parts[0].name,
        erring_together([each.spread for each in parts]),
        sum(each.lands for each in parts),
        sum(each.lost for each in parts),
        sum(each.left for each in parts),
        sum(each.kept for each in parts),
    )
    per_piece = {key: mL for each in colours for key, mL in each.per_piece.items()}
    wiped = sum(each.wiped_area for each in colours)
    sessions = sum(each.sessions for each in colours)
    return replace(whole, colour=summed, per_piece=per_piece, wiped_area=wiped, sessions=sessions)


def shared(parts: Sequence[tuple[float, Mapping[str, float]]]) -> dict[str, float]:
    """Shares of a sum by volume: of each part its volume (mL) and its own shares (key to 0..1); equal parts where all are nothing."""
    whole = sum(volume for volume, _ in parts)
    weights = [volume / whole if whole else 1 / len(parts) for volume, _ in parts]
    found: dict[str, float] = {}
    for weight, (_, shares) in zip(weights, parts, strict=True):
        for key, share in shares.items():
            found[key] = found.get(key, 0.0) + weight * share
    return found
