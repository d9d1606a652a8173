"""How a foreman runs the days: the settings that the search turns."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Policy:
    """`opens` for each day, the last one for all after it, the minutes after opening at which the wave of coats begins (below 0: no wave that day, unless there is nothing dusty to do).

    `span` times its own length a wave must still fit before closing for a piece to join; `ahead`, `prep` shares 0..1 of the table length for work on tomorrow's pieces and for stripping
    on days with a wave; `gun_at` minutes of spraying that lie ready before somebody takes the gun; `least` min of work worth beginning; `turned`, `small` and `like` by how much pieces with
    a second side, small ones, and like ones go first; `late` minutes after the first sprayed coat until which a piece may still join; `first` how much masking and turning for
    today's wave counts (1000: as much as the wave), `split` by how much less work counts at which somebody is already; `weights` for each piece (smaller goes sooner).
    """

    opens: tuple[int, ...] = (120,)
    span: float = 1.15
    ahead: float = 0.4
    prep: float = 0.6
    gun_at: int = 30
    least: int = 15
    turned: float = 300.0
    small: float = 0.0
    like: float = 0.5
    late: int = 90
    first: float = 500.0
    split: float = 0.0
    best_fit: bool = False
    weights: tuple[float, ...] = ()

    def opening(self, day: int) -> int:
        """Minutes after opening at which the wave of the day with that index begins."""
        return self.opens[min(day, len(self.opens) - 1)]
