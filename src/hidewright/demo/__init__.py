"""The demonstration interior: an invented private rail car, as the files a user would bring.

Nothing here was measured: pieces, readings, prices and people are made up. `make_colours` rebuilds the readings.
"""

from importlib.resources import files


def text(name: str) -> str:
    """The text of one of the demonstration's files, such as `pieces.csv`."""
    return files(__package__).joinpath(name).read_text(encoding="utf-8")
