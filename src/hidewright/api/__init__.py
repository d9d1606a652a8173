"""The public face for Python: the whole job, from readings and a list of pieces to grams, litres and days.

Seven verbs, each of which takes what another one gives:

* `load_readings`, `load_pieces`, `load_products`, `load_drawdowns`, `load_pigments`, `load_room` read files (a path, or the text itself);
* `characterise` turns drawdowns into `Pigments`; `generic_pigments` are an illustrative set to begin with;
* `match` finds `Mixes` for a target `Reading`; a `Mix` says its grams and millilitres for a batch;
* `adjust` says what to add to a cup: grams in, grams out;
* `litres` says what the pieces take, with odds; the mix brings its coats and solids along;
* `plan` says what goes on which table on which day; the litres bring the coats, drying times and pot life along.

Every result has `.words`, plain text for a person, and shows itself as a table in a notebook (`_repr_html_`). What cannot be accepted raises `Refusal`: what is wrong, where, and
what to do. Units are in the names: `_g`, `_ml`, `_um`, `_m2`; a share is 0..1; colours are CIELAB under D65 and the ten-degree observer where nothing else is said.

Stable from 0.1.0 on: every name in `__all__`, its parameters, and the attributes that its docstring names. Not stable: the wording of `.words`, the HTML, the figures of a
forecast (they follow better models), and everything below `hidewright` that is not re-exported here. `docs/guide/python.md` walks through the whole job.
"""

from hidewright.colour.reading.readings import Reading as Reading
from hidewright.refusals import Refusal as Refusal
from hidewright.refusals import Refusals as Refusals
from hidewright.survey import Piece as Piece
from hidewright.takeoff.products import Product as Product

from .cups import Advice as Advice
from .cups import Way as Way
from .cups import adjust as adjust
from .days import Days as Days
from .days import Room as Room
from .days import load_room as load_room
from .days import plan as plan
from .files import Source as Source
from .files import example as example
from .files import load_drawdowns as load_drawdowns
from .files import load_pieces as load_pieces
from .files import load_products as load_products
from .pigments import Pigments as Pigments
from .pigments import characterise as characterise
from .pigments import generic_pigments as generic_pigments
from .pigments import load_pigments as load_pigments
from .quantities import Litres as Litres
from .quantities import litres as litres
from .readings import Readings as Readings
from .readings import colour as colour
from .readings import load_readings as load_readings
from .recipes import Mix as Mix
from .recipes import Mixes as Mixes
from .recipes import match as match

__all__ = [
    "Advice",
    "Days",
    "Litres",
    "Mix",
    "Mixes",
    "Piece",
    "Pigments",
    "Product",
    "Reading",
    "Readings",
    "Refusal",
    "Refusals",
    "Room",
    "Source",
    "Way",
    "adjust",
    "characterise",
    "colour",
    "example",
    "generic_pigments",
    "litres",
    "load_drawdowns",
    "load_pieces",
    "load_pigments",
    "load_products",
    "load_readings",
    "load_room",
    "match",
    "plan",
]
