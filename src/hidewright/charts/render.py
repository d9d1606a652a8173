"""Specifications drawn by vl-convert as SVG, with the shipped font.

vl-convert is loaded on first use (it starts a script engine, under a second) and hangs in a process that was
forked after that: start workers by spawning, or use threads.
"""

import json
import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from hidewright.charts import ink
from hidewright.refusals import Refusal

_VEGA_LITE = "5.20"
_SIZE = re.compile(r'<svg [^>]*?class="marks" width="(?P<width>[\d.]+)" height="(?P<height>[\d.]+)"')


def to_svg(spec: Mapping[str, Any], *, label: str) -> str:
    """The drawn specification as one SVG element that scales with the page; `label` says what it shows."""
    drawn = _svg(json.dumps(spec, sort_keys=True))
    size = _SIZE.search(drawn)
    if size is None:
        raise Refusal(
            "The chart could not be drawn.", where=label, remedy="Report the numbers that led to it."
        )
    inside = drawn[drawn.index(">") + 1 : drawn.rindex("</svg>")]
    return ink.picture(float(size["width"]), float(size["height"]), [inside], label=label)


@lru_cache(maxsize=64)
def _svg(spec: str) -> str:
    drawn: str = _engine().vegalite_to_svg(spec, vl_version=_VEGA_LITE)
    return drawn


@lru_cache(maxsize=1)
def _engine() -> Any:
    import vl_convert

    vl_convert.register_font_directory(str(ink.FONTS))
    return vl_convert
