"""Inputs with something wrong, seeded: for every reader of files, every form, the commands and the archive. A reader may refuse in words; anything else is a fault.

Used by `test_fuzz.py` (a thousand) and `bench/bench_trust_fuzz.py` (as many as asked for).
"""

import random
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from hidewright import demo
from hidewright.charts.signature import read_signature
from hidewright.colour.learning.cups_csv import read_cups
from hidewright.colour.light.lamps import read_lamp
from hidewright.colour.pigments.shelf import read_shelf
from hidewright.colour.reading.formats import read_any
from hidewright.colour.reading.readings import read_drawdowns
from hidewright.colour.reading.readings_in import DRAWDOWNS, READINGS
from hidewright.lists.draft import Answers, draft_of
from hidewright.lists.grid import grid_of_file
from hidewright.lists.headings import IGNORED
from hidewright.lists.kinds import ListKind
from hidewright.planning.problem.csv_in import read_hours, read_tables
from hidewright.planning.problem.lists_in import HOURS, PEOPLE, TABLES
from hidewright.refusals import Refusal
from hidewright.sheets import file_text
from hidewright.survey.csv_in import read_pieces
from hidewright.survey.pieces_in import PIECES
from hidewright.takeoff.products_csv import read_products
from hidewright.takeoff.products_in import PRODUCTS
from lists.foreign import MERGED_ROWS, MERGED_SPANS, OWN, PASTE, TABBED, ods, xlsx
from odd_files import spoiled

CGATS = (
    "CGATS.17\nNUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\n"
    'BEGIN_DATA\n"Seat" 52.1 4.3 18.9\n"Back" 50 4 17\nEND_DATA\n'
)
CXF = (
    '<?xml version="1.0"?><cc:CxF xmlns:cc="http://colorexchangeformat.com/CxF3-core"><cc:Resources><cc:ObjectCollection><cc:Object Name="Seat" Id="1">'
    "<cc:ColorValues><cc:ColorCIELab><cc:L>52</cc:L><cc:A>4</cc:A><cc:B>18</cc:B></cc:ColorCIELab></cc:ColorValues></cc:Object>"
    "</cc:ObjectCollection></cc:Resources></cc:CxF>"
)
SPLICES = (
    b"",
    b"\x00",
    b"\xff\xfe",
    b"\r",
    b'"',
    b"'",
    b"<",
    b"&amp;",
    b"=1+1",
    b"1,234.5",
    b"9" * 60,
    b"1e999",
    "½٣".encode(),
    b"\n" * 30,
    b";" * 200,
    b"x" * 3000,
)


def mutated(data: bytes, dice: random.Random) -> bytes:
    """A good file with one to three things wrong: as `spoiled`, or bytes turned, torn, doubled, or put in."""
    for _ in range(dice.randrange(1, 4)):
        way = dice.choice(("spoiled", "spoiled", "flip", "splice", "repeat", "tear"))
        if not data:
            return dice.randbytes(dice.randrange(40))
        at = dice.randrange(len(data))
        if way == "spoiled":
            data = spoiled(data, dice)
        elif way == "flip":
            data = data[:at] + bytes([data[at] ^ (1 << dice.randrange(8))]) + data[at + 1 :]
        elif way == "splice":
            data = data[:at] + dice.choice(SPLICES) + data[at:]
        elif way == "repeat":
            data = data[:at] + data[at : at + dice.randrange(1, 60)] * dice.randrange(2, 20) + data[at:]
        else:
            data = data[at:] if dice.random() < 0.5 else data[:at]
    return data


def head(name: str, lines: int = 6) -> bytes:
    """The first lines of one of the demonstration's files."""
    return "\n".join(demo.text(name).splitlines()[:lines]).encode() + b"\n"


def as_text(read: Callable[[str], Any]) -> Callable[[bytes], Any]:
    """A reader of text as a reader of bytes."""
    return lambda data: read(file_text(data))


def as_list(kind: ListKind) -> Callable[[bytes], Any]:
    """A list as the pages take it: read, every guess agreed to, its values made."""

    def read(data: bytes) -> None:
        grid = kind.tidied(grid_of_file(data))
        first = draft_of(kind, grid)
        said = Answers(
            columns={c.at: (c.meaning or IGNORED, c.unit) for c in first.columns},
            words={(q.meaning, q.word): q.likely for q in first.questions if q.likely},
        )
        draft = draft_of(kind, grid, said)
        assert draft.fingerprint
        assert draft.ready or draft.refusals()

    return read


READERS: dict[str, tuple[Callable[[bytes], Any], tuple[bytes, ...]]] = {
    "pieces": (as_list(PIECES), (head("pieces.csv"), OWN.encode(), TABBED.encode(), PASTE.encode())),
    "products": (as_list(PRODUCTS), (head("products.csv"),)),
    "tables": (as_list(TABLES), (head("tables.csv"),)),
    "people": (as_list(PEOPLE), (head("people.csv"),)),
    "hours": (as_list(HOURS), (head("hours.csv"),)),
    "readings": (as_list(READINGS), (head("readings.csv"), b"name,l,a,b\nSeat,52,4,18\nBack,50,4,17\n")),
    "drawdowns": (as_list(DRAWDOWNS), (head("drawdowns.csv", 5),)),
    "pieces, our own": (as_text(read_pieces), (head("pieces.csv"),)),
    "products, our own": (as_text(read_products), (head("products.csv"),)),
    "tables, our own": (as_text(read_tables), (head("tables.csv"),)),
    "hours, our own": (as_text(read_hours), (head("hours.csv"),)),
    "readings, any file": (as_text(read_any), (head("readings.csv"), CGATS.encode(), CXF.encode())),
    "drawdowns, our own": (as_text(read_drawdowns), (head("drawdowns.csv", 5),)),
    "pigments": (as_text(read_shelf), (head("pigments.csv"),)),
    "cups": (as_text(read_cups), (head("cups.csv"),)),
    "lamp": (as_text(read_lamp), (("wavelength,power\n" + "".join(f"{nm},1.0\n" for nm in range(380, 731, 10))).encode(),)),
    "signature": (as_text(read_signature), (b"[[[10, 10], [200, 120], [400, 60]]]",)),
}  # fmt: skip
"""Every reader of text that no process of its own is needed for, with good files."""
WORKBOOKS: dict[str, tuple[Callable[[bytes], Any], tuple[bytes, ...]]] = {
    "spreadsheets": (as_list(PIECES), (xlsx(MERGED_ROWS, MERGED_SPANS), ods(MERGED_ROWS)))
}
"""Spreadsheets, which are read in a child process: some tenths of a second each."""


@dataclass
class Fuzzed:
    """What became of the inputs: how many were tried, how many were taken, and every one that was answered with something else than a value or a refusal."""

    tried: int = 0
    taken: int = 0
    wrong: list[str] = field(default_factory=list)
    slowest: tuple[float, str] = (0.0, "")

    def one(self, name: str, work: Callable[[], Any]) -> None:
        """Try one input."""
        self.tried += 1
        began = time.perf_counter()
        try:
            work()
            self.taken += 1
        except Refusal as refusal:
            if not str(refusal).strip():
                self.wrong.append(f"{name}: refused without a word")
        except Exception as error:
            self.wrong.append(f"{name}: {type(error).__name__}: {error}"[:300])
        self.slowest = max(self.slowest, (time.perf_counter() - began, name))


def fuzz_readers(
    into: Fuzzed,
    readers: dict[str, tuple[Callable[[bytes], Any], tuple[bytes, ...]]],
    count: int,
    seed: int = 1,
) -> None:
    """`count` mutated files, shared out over the readers."""
    names = sorted(readers)
    for n in range(count):
        name = names[n % len(names)]
        read, good = readers[name]
        dice = random.Random(f"{name} {seed} {n}")
        data = mutated(dice.choice(good), dice)
        into.one(f"{name} {seed} {n}", lambda read=read, data=data: read(data))  # type: ignore[misc]
