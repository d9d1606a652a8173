"""Survey: the heap of parts as pieces, their shapes as faces, and the area of each with its spread."""

from .piece import Condition as Condition
from .piece import Material as Material
from .piece import Piece as Piece
from .piece import make_piece as make_piece
from .shapes import CURVES as CURVES
from .shapes import SHAPES as SHAPES
from .shapes import Face as Face
from .shapes import faces_of as faces_of
from .zones import Zone as Zone
