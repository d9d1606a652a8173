"""Mixing: the cup and its pours, what is still needed, the steps on the balance, portions, top-ups and jars.

Volumes are whole microlitres (µL) inside, so that thousands of pours, splits and boxings balance to the last one.
"""

from .ledger import SPRAYED as SPRAYED
from .ledger import STOCK as STOCK
from .ledger import WASTE as WASTE
from .ledger import Act as Act
from .ledger import Entry as Entry
from .ledger import Ledger as Ledger
from .ledger import Move as Move
from .ledger import Vessel as Vessel
from .ledger import VesselKind as VesselKind
from .recipe import MixPart as MixPart
from .recipe import MixRecipe as MixRecipe
