"""From one release to the next: a shop of an earlier version is copied and brought up, its copies come back, and a downgrade is refused in words."""

import json
import os
import re
import sqlite3
import subprocess
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

import freeze
import hidewright
from own_shop import environment
from own_shop import words as command

INITIAL = Path(hidewright.__file__).parent / "workshop" / "migrations" / "0001_initial.py"


def two_releases(folder: Path) -> None:
    """Migrations as if the shop's address had come with a release after this one, and settings that use them."""
    text = INITIAL.read_text(encoding="utf-8")
    earlier, count = re.subn(
        r'\n *\(\s*"address",\s*models\.CharField\((?:[^()]|\([^()]*\))*\),?\s*\),', "", text, count=1
    )
    assert count == 1
    package = folder / "two_releases"
    package.mkdir()
    (package / "__init__.py").touch()
    (package / "0001_initial.py").write_text(earlier, encoding="utf-8")
    last = INITIAL.stem
    for later in sorted(INITIAL.parent.glob("0*.py"))[1:]:
        (package / later.name).write_text(later.read_text(encoding="utf-8"), encoding="utf-8")
        last = later.stem
    (package / "9999_address.py").write_text(
        "from django.db import migrations, models\n\n\n"
        "class Migration(migrations.Migration):\n"
        f"    dependencies = [('workshop', '{last}')]\n"
        "    operations = [migrations.AddField('shop', 'address', models.CharField(blank=True, default='', max_length=200), preserve_default=False)]\n"
    )
    (folder / "settings_of_two.py").write_text(
        "from hidewright.workshop.settings import *\nMIGRATION_MODULES = {'workshop': 'two_releases'}\n"
    )


@pytest.mark.own_sqlite
def test_a_shop_of_an_earlier_release_is_copied_brought_up_and_comes_back(tmp_path: Path) -> None:
    two_releases(tmp_path)
    home = tmp_path / "home"
    plain = environment(home)
    plain["PYTHONPATH"] = os.pathsep.join([str(tmp_path), plain["PYTHONPATH"]])

    def say(*words: str, later: bool = True) -> subprocess.CompletedProcess[str]:
        env = {**plain, "DJANGO_SETTINGS_MODULE": "settings_of_two"} if later else plain
        return subprocess.run(command(*words), env=env, capture_output=True, text=True, check=False)

    assert say("manage", "migrate", "workshop", "0001", "-v", "0").returncode == 0
    database = home / "hidewright.sqlite3"
    with closing(sqlite3.connect(database)) as opened, opened:
        opened.execute(
            "INSERT INTO workshop_job (name, kind, client, registration, notes, starts, made, is_demo)"
            " VALUES ('Saloon', '', '', '', '', '2026-03-02', '2026-03-01 08:00:00.123456', 0)"
        )

    done = say("link")
    assert done.returncode == 0, done.stderr
    (copy,) = (home / "copies").glob("before-update-*.zip")
    with zipfile.ZipFile(copy) as packed:
        about = json.loads(packed.read("about.json"))
        assert (about["format"], about["migration"]) == (2, "0001_initial")
        assert b"Saloon" in packed.read("rows/job.jsonl")

    done = say("restore", str(copy), "--over")
    assert done.returncode == 0, done.stderr
    with closing(sqlite3.connect(database)) as opened:
        assert opened.execute("SELECT name, made FROM workshop_job").fetchall() == [
            ("Saloon", "2026-03-01 08:00:00.123456")
        ]
        names = [row[1] for row in opened.execute("PRAGMA table_info(workshop_shop)")]
        assert "address" in names

    assert say("copy", str(tmp_path / "later.zip")).returncode == 0
    before = database.read_bytes()
    refused = say("link", later=False)
    assert refused.returncode == 2
    assert "A later version of Hidewright" in refused.stderr
    assert database.read_bytes() == before
    refused = say("restore", str(tmp_path / "later.zip"), "--over", later=False)
    assert refused.returncode == 2
    assert "made by a later version" in refused.stderr
    assert database.read_bytes() == before


def test_no_migration_of_a_release_was_changed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also with one frozen here and changed afterwards, so that the test is known to see it."""
    assert freeze.changed() == []
    monkeypatch.setattr(freeze, "FROZEN", tmp_path / "frozen.json")
    freeze.FROZEN.write_text(json.dumps({**freeze.sums(), "0001_initial.py": "another"}))
    assert freeze.changed() == ["0001_initial.py"]
