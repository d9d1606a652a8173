"""How a foreman runs the days: the settings that the search turns."""

from collections.abc import Mapping
from dataclasses import dataclass, field


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


@dataclass(frozen=True, slots=True)
class Listing(Policy):
    """How the days are run by a list (see `lister`), beside what `Policy` says of pieces.

    `barrier` no piece begins a pass before all have ended the pass before; `stick` stay with one kind of work as long as any of it is ready; `slack` what has the least slack goes first; `fits`
    times its own length a side must still fit before closing to be begun (0: at any time); `prep_days` days at first in which nothing is coated while anything is to be prepared; `wave` nothing new
    is wiped down while a first coat waits for what follows; `stages` (kind, number) by how much a kind of work comes later than in the usual order; `starts` operation → its start in a plan whose
    order is the list, and `wait` min for which hands wait for what comes first in it; `back` the last change of a gun on a day
    is kept for going to clear.
    """

    barrier: bool = False
    stick: bool = False
    slack: bool = False
    fits: float = 0.0
    prep_days: int = 0
    wave: bool = False
    stages: tuple[tuple[str, float], ...] = ()
    starts: Mapping[str, float] = field(default_factory=dict, hash=False)
    wait: int = 0
    back: bool = False


LISTS = (
    Listing(barrier=True, stick=True, least=0, turned=0.0),
    Listing(barrier=True, stick=True, least=0, turned=0.0, fits=1.0),
    Listing(slack=True, least=0, turned=0.0),
    Listing(slack=True, least=0, turned=0.0, fits=1.0),
    Listing(stick=True, fits=1.35, least=0, turned=1000.0, small=100.0),
    Listing(stick=True, fits=1.35, least=15, turned=1000.0, small=100.0),
    Listing(barrier=True, stick=True, least=0, turned=1000.0, small=100.0, fits=1.35),
    Listing(stick=True, fits=1.35, least=0, turned=1000.0, small=100.0, prep_days=1),
    Listing(stick=True, fits=1.35, least=15, turned=1000.0, small=100.0, prep_days=1),
    Listing(stick=True, fits=1.35, least=0, wave=True, turned=0.0),
    Listing(stick=True, fits=1.15, least=0, wave=True, turned=1000.0, small=100.0),
    Listing(stick=True, fits=1.0, least=0, wave=True, turned=1000.0, small=100.0),
)
"""The lists that a careful person could follow by hand: stage by stage, the careful list, one rule, and waves."""
