"""Put a shop of this release into the gallery: what every later release must open.

    python tests/gallery/make.py

makes the demonstration's invented shop in a folder that is gone afterwards, copies it to `VERSION-demonstration.zip` beside this file, and notes how many
rows each table has. It is done once a release, after `python tests/freeze.py`; what is in the gallery is never made anew.
"""

import json
import sqlite3
import subprocess
import sys
import tempfile
import zipfile
from contextlib import closing
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from hidewright import __version__
from own_shop import environment, words

HERE = Path(__file__).resolve().parent


def main() -> None:
    """Make the shop and its copy; refuses to overwrite one."""
    target = HERE / f"{__version__}-demonstration.zip"
    if target.exists():
        sys.exit(f"{target.name} is in the gallery already and stays as it is.")
    with tempfile.TemporaryDirectory(prefix="hidewright-gallery-") as home:
        env = environment(Path(home) / "shop")
        subprocess.run(words("demo", "--no-serve", "--seconds", "3"), env=env, check=True)
        for database in Path(home).rglob("*.sqlite3"):
            # The name of the machine that made it is nobody's business.
            with closing(sqlite3.connect(database)) as opened, opened:
                opened.execute("UPDATE workshop_run SET worker = 'a machine:1'")
        subprocess.run(words("copy", str(target)), env=env, check=True)
    with zipfile.ZipFile(target) as packed:
        about = json.loads(packed.read("about.json"))
    print(f"{target.name}: {sum(about['rows'].values())} rows, {target.stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
