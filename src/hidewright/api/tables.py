"""A result as a notebook shows it: its words, and a table under them."""

from collections.abc import Iterable, Sequence
from html import escape

Cell = object
"""What stands in a cell: a text, or anything that `str` makes one of; a hex colour such as “#aabbcc” becomes a swatch."""


def _cell(value: Cell) -> str:
    text = str(value)
    if len(text) == 7 and text.startswith("#"):
        square = f"display:inline-block;width:2em;height:1em;background:{escape(text)}"
        return f'<td><span title="{escape(text)}, on a screen only" style="{square}"></span></td>'
    side = "left" if text[:1].isalpha() or not text else "right"
    return f'<td style="text-align:{side}">{escape(text)}</td>'


def html_of(words: str, heads: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """HTML of a result: every text is escaped, so that a name from a file stays a name."""
    head = "".join(f"<th>{escape(each)}</th>" for each in heads)
    body = "".join(f"<tr>{''.join(map(_cell, row))}</tr>" for row in rows)
    lines = "<br>".join(escape(line) for line in words.splitlines())
    return f"<p>{lines}</p><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
