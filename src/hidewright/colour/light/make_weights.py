"""Write `weights.json` from colour-science's tables: `python -m hidewright.colour.light.make_weights`."""

import json
from pathlib import Path

from .cie import LIGHTS, OBSERVERS, compute_weights


def main() -> None:
    """Compute the weights of every known light and observer and write them with all their digits."""
    table = {
        f"{light}/{view}": compute_weights(light, view).tolist() for light in LIGHTS for view in OBSERVERS
    }
    Path(__file__).with_name("weights.json").write_text(json.dumps(table, indent=0) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
