"""Defaults that more than one stage starts from: each is written here once, so that litres, days and pages speak of the same coats.

Common practice, no source, all of it: starting values for the shop to edit. Where a shorter and a longer value are both common, the one that costs less when it is wrong:
a coat too many in the forecast is a jar left over, an hour too many a table that waits; wet work that is touched is done again.
"""

COLOUR_COATS = 2
"""Sprayed coats of colour, where no recipe says how many hide the old one."""
CLEAR_COATS = 2
"""Coats of clear."""
WIPED_IN = True
"""Whether faces that are sat on get colour wiped in first."""
TOUCH_DRY = 40.0
"""min at 20 °C and 50 % until a thin coat (wiped in, primer, colour, clear) takes the next, where no data sheet says."""
CURE = 840.0
"""min at 20 °C and 50 % until the last coat of a side is turned or moved, where no data sheet says: a night."""
LOAD = (0.16, 0.20)
"""Least and most of a mix's volume that is pigment dispersion."""
MIDDLE_LOAD = 0.18
"""The middle of that window."""
BASE_SHARE = 0.82
"""Share of a mix's volume that is clear base: what the middle of the window leaves."""
TOLERANCE = 1.0
"""ΔE00 that is near enough."""
