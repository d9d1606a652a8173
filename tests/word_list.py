"""The words that no page, paper or document uses, as docs/guide/words.md lists them."""

import re
from pathlib import Path

LIST = Path(__file__).parent.parent / "docs/guide/words.md"


def unwanted(*where: str) -> re.Pattern[str]:
    """The words of the second table's first column, of the rows whose last column is one of `where`."""
    table = LIST.read_text(encoding="utf-8").split("| Not | Say | Where not |")[1].split("\n\n")[0]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines()[2:]]
    words = [word.strip() for row in rows if row[2] in where for word in row[0].split(",")]
    assert {row[2] for row in rows} == {"anywhere", "pages and papers"}
    assert len(words) > 10
    return re.compile(rf"(?<![\w-])(?:{'|'.join(map(re.escape, words))})(?!\w|\.\w)", re.IGNORECASE)
