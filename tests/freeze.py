"""Freeze the migrations that a release brings: from then on none of them may be changed, only others added.

    python tests/freeze.py

writes the SHA-256 of each into tests/frozen.json; a test holds them to it.
"""

import hashlib
import json
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
MIGRATIONS = ROOT / "src" / "hidewright" / "workshop" / "migrations"
FROZEN = ROOT / "tests" / "frozen.json"


def sums() -> dict[str, str]:
    """The hash of every migration that is here."""
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(MIGRATIONS.glob("0*.py"))
    }


def changed() -> list[str]:
    """The frozen migrations that are not what they were."""
    now = sums()
    return [
        name
        for name, known in json.loads(FROZEN.read_text(encoding="utf-8")).items()
        if now.get(name) != known
    ]


if __name__ == "__main__":
    FROZEN.write_text(json.dumps(sums(), indent=1) + "\n", encoding="utf-8")
