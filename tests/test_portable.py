"""Nothing but machine.py needs what POSIX alone has: everything can be imported where those modules are missing."""

import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import hidewright
from hidewright.cli.serve import command as serve

HIDDEN = ("fcntl", "resource", "pwd", "grp", "termios", "tty", "pty", "syslog")
SRC = Path(hidewright.__file__).parent
ROOT = Path(__file__).resolve().parents[1]
ONLY_POSIX = (
    "os.fork",
    "os.kill(",
    "os.killpg",
    "os.getuid",
    "os.geteuid",
    "os.setsid",
    "SIGKILL",
    "import fcntl",
    "import resource",
)


def test_everything_is_imported_with_the_modules_of_posix_hidden(tmp_path: Path) -> None:
    code = (
        "import sys\n"
        f"for name in {HIDDEN!r}: sys.modules[name] = None\n"
        "import django; django.setup()\n"
        "import importlib, pkgutil, hidewright\n"
        "names = [m.name for m in pkgutil.walk_packages(hidewright.__path__, 'hidewright.')]\n"
        "for name in names:\n"
        "    if not name.endswith(('__main__', '.wsgi')) and '.make_' not in name: importlib.import_module(name)\n"
        "print(len(names))\n"
    )
    env = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "hidewright.workshop.settings",
        "HIDEWRIGHT_HOME": str(tmp_path),
        "PYTHONPATH": str(SRC.parent),
    }
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    assert int(done.stdout) > 200


def test_what_only_posix_has_is_called_in_one_file() -> None:
    found = [
        f"{path.relative_to(SRC)}: {word}"
        for path in SRC.rglob("*.py")
        if path.name != "machine.py"
        for word in ONLY_POSIX
        if word in path.read_text(encoding="utf-8")
    ]
    assert not found


def test_the_container_file_takes_what_is_there_and_serves_where_it_says() -> None:
    lines = (ROOT / "Containerfile").read_text(encoding="utf-8").splitlines()
    copied = [
        word
        for line in lines
        if line.startswith("COPY") and "--from" not in line
        for word in line.split()[1:-1]
    ]
    assert copied
    assert [name for name in copied if not (ROOT / name).exists()] == []
    wanted = set(re.findall(r'"\.\[([\w,]+)\]"', "\n".join(lines))[0].split(","))
    extras = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"][
        "optional-dependencies"
    ]
    assert wanted <= set(extras)
    port = next(option for option in serve.params if option.name == "port").default
    assert f"EXPOSE {port}" in lines
    (said,) = (json.loads(line.removeprefix("CMD ")) for line in lines if line.startswith("CMD "))
    assert said[:2] == ["hidewright", "serve"]
    assert set(said[2:]) <= {name for option in serve.params for name in option.opts}
