"""The shop's pigments as their page lists them: what is known of each in one row, and which of them a word finds."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from hidewright.colour.pigments.drawdowns import Drawdown as DrawdownValue
from hidewright.colour.pigments.film import opaque, seen
from hidewright.colour.pigments.pigment import Pigment as PigmentValue
from hidewright.colour.pigments.shop_films import Turned, Weighing, weighing
from hidewright.colour.reading.repeats import Repeats, repeats, repeats_of
from hidewright.refusals import Refusal
from hidewright.workshop.pigments import values as colour
from hidewright.workshop.pigments.models import Drawdown
from hidewright.workshop.shelf.models import Pigment, PigmentLot
from hidewright.workshop.shelf.stock_queries import past_their_day
from hidewright.workshop.shop.models import Run, RunState

POOR = 1.0
"""ΔE00 of a drawdown above which it contradicts the rest: a rule of thumb of this tool, no source."""
MANY = 8
"""From more pigments than this on, the list has a field to find one by."""
LONGEST = 80
"""Letters of what is looked for that count."""


@dataclass(frozen=True, slots=True)
class Line:
    """A pigment of the list as it is shown: screen colours of it alone and 1 in 10 of white (none before K and S are known), and its bottle in use."""

    row: Pigment
    hexes: tuple[str, ...] = ()
    lot: str = ""
    opened: bool = False
    past: bool = False
    """A bottle of it in use is past its day."""

    @property
    def worst(self) -> float | None:
        """ΔE00 by which the drawdown that is told worst is off; None before any was reckoned with."""
        return max((max(pair) for pair in self.row.misfit.values()), default=None)

    @property
    def poor(self) -> bool:
        """True when a drawdown is not told well: worth looking at."""
        return self.worst is not None and self.worst > POOR

    @property
    def strength(self) -> float:
        """Per cent of what the drawdowns said, as the cups tell it."""
        return 100.0 * float((self.row.learned or {}).get("strength", 1.0))

    @property
    def strength_sd(self) -> float:
        """Its spread, per cent."""
        return 100.0 * float((self.row.learned or {}).get("sd", 0.0))


@dataclass(frozen=True, slots=True)
class Listed:
    """What the page lists: the lines that were found, how many pigments there are in all, and the word that was looked for."""

    lines: tuple[Line, ...]
    count: int
    known: int
    """Of how many K and S are known."""
    word: str

    @property
    def many(self) -> bool:
        """Whether there are so many that one is looked for rather than read."""
        return self.count > MANY


def listed(word: str = "") -> Listed:
    """Every pigment in the shop's order; with a `word` those in whose name, key, generic name, note or bottles in use all its parts stand."""
    word = " ".join(word.split())[:LONGEST]
    rows = list(Pigment.objects.filter(active=True, load=1.0))
    lots = _bottles()
    found = [row for row in rows if _holds(word, row, lots.get(row.pk, ()))]
    known = {pigment.key: pigment for pigment in colour.pigments()}
    white = colour.whitest(list(known.values()))
    past = past_their_day()
    lines = []
    for row in found:
        hexes: tuple[str, ...] = ()
        if pigment := known.get(row.key):
            hexes = (colour.masstone_hex(pigment),)
            if white is not None and white.key != row.key:
                hexes = (*hexes, colour.tint_hex(pigment, white))
        own = lots.get(row.pk, ())
        lot = max(own, key=lambda lot: (lot.opened is not None, lot.opened or lot.made.date()), default=None)
        told = ("", False) if lot is None else (lot.name, lot.opened is not None)
        lines.append(Line(row, hexes, *told, past=row.pk in past))
    return Listed(tuple(lines), len(rows), len(known), word)


def _bottles() -> dict[int, list[PigmentLot]]:
    """The bottles that are not finished, by the pigment's number."""
    found: dict[int, list[PigmentLot]] = {}
    for lot in PigmentLot.objects.filter(finished=None, pigment__active=True):
        found.setdefault(lot.pigment_id, []).append(lot)
    return found


def _holds(word: str, row: Pigment, lots: Iterable[PigmentLot]) -> bool:
    text = " ".join([row.name, row.key, row.index, row.note, *(lot.name for lot in lots)]).casefold()
    return all(part in text for part in word.casefold().split())


@dataclass(frozen=True, slots=True)
class Masstone:
    """How often the pigment's masstone is best read (`noise`), and how often it was: 0 where none counts, and it goes by K and S."""

    noise: Repeats
    readings: int

    @property
    def enough(self) -> bool:
        """Whether it was read as often as advised."""
        return self.readings >= self.noise.count

    @property
    def off(self) -> float:
        """ΔE00 by which it may be off as it was read."""
        return self.noise.after(self.readings)


def masstone(row: Pigment, value: PigmentValue | None, drawn: Iterable[Drawdown]) -> Masstone | None:
    """From its masstone among the drawdowns, else from K and S as an opaque film; None where neither is known."""
    alone = [one for one in drawn if one.aside is None and set(one.shares) == {row.key}]
    if alone:
        best = max(alone, key=lambda one: one.readings)
        return Masstone(repeats_of(colour.drawdown_value(best)), best.readings)
    if value is None:
        return None
    return Masstone(repeats(seen(opaque(value.k, value.s), colour.surface())), 0)


ALIKE = 0.1
"""ΔE00 by which two averages differ without anybody noticing (convention of this tool)."""


@dataclass(frozen=True, slots=True)
class FilmEvidence:
    """What the films that hold a pigment said when K and S were found: ΔE00 by which they are off as they are set to be read, and the other way (None: ruled out); and, of
    films held back, without (`off`) and with (`on`) what the others teach beside K and S (None: too few films)."""

    with_shine: bool
    as_set: float
    other: float | None
    off: float | None = None
    on: float | None = None

    @property
    def against(self) -> bool:
        """Whether they fit better the other way."""
        return self.other is not None and self.other < self.as_set - ALIKE

    @property
    def shine_words(self) -> str:
        """How its readings fit with the shine and without it."""
        way, way_round = ("with", "without") if self.with_shine else ("without", "with")
        if self.other is None:
            return f"This bottle’s films can only have been read {way} the shine, as the setting says."
        figures = f"off by ΔE00 {self.as_set:.1f} on average as set, {self.other:.1f} the other way"
        if self.against:
            return (
                f"This bottle’s readings fit better when they were read {way_round} the shine: {figures}. The setting says {way} it. "
                "Look at the instrument’s setting, and set aside what was read another way."
            )
        if self.other - self.as_set <= ALIKE:
            return f"This bottle’s readings fit alike with the shine and without it: {figures}."
        return f"This bottle’s readings fit better when they were read {way} the shine, as the setting says: {figures}."

    @property
    def rest_words(self) -> str:
        """What K and S leave over, and whether the other films teach it; empty where there are too few."""
        if self.off is None or self.on is None:
            return ""
        if self.on > self.off - ALIKE:
            return f"K and S forecast its films to ΔE00 {self.off:.1f} on average; the other films teach nothing beside them that would bring it nearer ({self.on:.1f})."
        return (
            f"This bottle’s readings fit better when what the other films leave over is added: films that were held back are then off by ΔE00 {self.on:.1f} on average, "
            f"{self.off:.1f} by K and S alone. Recipes go by K and S, and by what the cups taught."
        )


def film_evidence(row: Pigment) -> FilmEvidence | None:
    """What the films said of a pigment when K and S were last found; None before that, and where none of them holds it."""
    runs = Run.objects.filter(kind="colour.characterise", state=RunState.DONE, result__has_key="why")
    run = runs.order_by("-id").first()
    why = ((run.result or {}) if run else {}).get("why", {})
    pair = why.get("by", {}).get(row.key)
    if not pair or pair[0] is None:
        return None
    rest = why["rest"].get(row.key)
    return FilmEvidence(why["with"], pair[0], pair[1], *(rest[1:] if rest else (None, None)))


def names_taken(films: Iterable[DrawdownValue]) -> list[str]:
    """The names of these films that a drawdown which counts has already."""
    kept = set(Drawdown.objects.filter(aside=None).values_list("name", flat=True))
    return [film.name for film in films if film.name in kept]


def behind() -> bool:
    """True when drawdowns were added, set aside or brought back since K and S were found."""
    last = Pigment.objects.filter(active=True).exclude(characterised=None).order_by("characterised").last()
    if last is None or last.characterised is None:
        return Drawdown.objects.filter(aside=None).exists()
    counted = {name for misfit in Pigment.objects.values_list("misfit", flat=True) for name in misfit}
    rows = list(Drawdown.objects.filter(aside=None).only("name", "mix", "film", "shares", "microns"))
    return counted != {row.name for row in rows} or any(moved(row) for row in rows)


def moved(row: Drawdown) -> bool:
    """Whether a drawdown's weights and gauges come to something else now than when K and S were found: a density or solids were put right."""
    now = colour.turned_of(row)
    if not isinstance(now, Turned):
        return False
    pairs = [
        (now.microns, row.microns),
        *((share, row.shares.get(key, 0.0)) for key, share in now.shares.items()),
    ]
    return any(abs(new - old) > 1e-6 * abs(new) for new, old in pairs)


def to_weigh(line: Mapping[str, Any]) -> Weighing | None:
    """What to weigh and how thick to lay it for a drawdown that is proposed (`find_actions.next_drawdowns`); None where its pigments are no longer known."""
    try:
        return weighing(dict(line["parts"]), colour.things())
    except Refusal:
        return None


@dataclass(frozen=True, slots=True)
class Film:
    """A drawdown that holds a pigment as its page shows it: how far its forecast is off over black and white (none before K and S were found), what is in it, and how the shop wrote that down."""

    row: Drawdown
    off: Sequence[float] | None
    microns: float
    shares: str
    typed: str = ""
    becomes: str = ""


def film_of(row: Drawdown, off: Sequence[float] | None) -> Film:
    """A drawdown as a pigment's page shows it."""
    value = colour.drawdown_value(row)
    shares = " ".join(f"{key} {share:.3g}" for key, share in value.shares.items())
    made = colour.turned_of(row)
    typed = f"{row.mix}, {row.film}" if row.mix else ""
    becomes = made.plain if isinstance(made, Turned) else str(made or "")
    return Film(row, off, value.microns, shares, typed, becomes)
