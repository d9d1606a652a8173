"""Inputs with something wrong, for every reader of files, every form, the commands and the archives: nothing uncaught, nothing half written, no process large or slow.

HIDEWRIGHT_FUZZ says how many (starting value 2000; the goal is 100,000). Of a hundred 80 go to readers of files, 3 to spreadsheets (each a process), 9 to
forms of every address that takes one, 6 to commands, 2 to copies and closing files. What is half written is looked for in the rows of all tables and, for
commands, in the file that they were to write.

    python tests/bench/bench_trust_fuzz.py --inputs 2000      the part that runs in a process of its own
"""

import argparse
import io
import json
import os
import random
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

MOST_MB, MOST_SECONDS = 600.0, 20.0
ODD_FIELDS = (
    "", " ", "-1", "0", "1e999", "NaN", "9" * 40, "٣", "½", "1,234", "1.250,00", "12 fl oz", "x" * 5000, "\x00", "\ud7ff\uffff", "<script>", "'; --",
    "2026-02-30", "0001-01-01", "9999-12-31", "../../etc/passwd", "[]", "{}", "null", "[[[1,2]]]",
)  # fmt: skip


def forms(found: Any, count: int) -> None:
    """Every form of the app with one or two of its fields odd, or gone; each is undone, and a refusal must have changed nothing."""
    from django.core.files.uploadedfile import SimpleUploadedFile
    from django.db import transaction
    from django.test import Client

    from fuzzing import mutated
    from hidewright.workshop.shop.door import make_link
    from workshop.rows import changes, rows
    from workshop.sends import SENDS, address
    from workshop.world import build

    visitor = Client()
    visitor.post(make_link(), {"name": "bench"})
    world, names = build(), sorted(SENDS)
    before = rows()

    def odd(name: str, dice: random.Random) -> None:
        with transaction.atomic():
            try:
                place, fields = SENDS[name](world)
                sent = dict(fields)
                made = rows()
                for key in dice.sample(sorted(sent), min(len(sent), dice.randrange(1, 3))):
                    if hasattr(sent[key], "read"):
                        sent[key] = SimpleUploadedFile("odd.csv", mutated(sent[key].read(), dice))
                    elif dice.random() < 0.2:
                        del sent[key]
                    else:
                        sent[key] = dice.choice(ODD_FIELDS)
                answer = visitor.post(address(name, (place, sent)), sent)
                if answer.status_code >= 500:
                    raise RuntimeError(f"answered {answer.status_code}")
                if answer.status_code >= 400 and (half := changes(made, rows())):
                    raise RuntimeError(f"refused, and yet changed {half}")
            finally:
                transaction.set_rollback(True)

    for n in range(count):
        name = names[n % len(names)]
        dice = random.Random(f"{name} {n}")
        found.one(f"form {name} {n}", lambda name=name, dice=dice: odd(name, dice))  # type: ignore[misc]
    assert not changes(before, rows()), "every try was taken back"


def commands(found: Any, count: int, folder: Path) -> None:
    """Commands that take files, each with one of its files mutated; what is refused leaves no file behind."""
    from fuzzing import head, mutated
    from hidewright.refusals import Refusal
    from odd_files import ended

    good = {f"@{name}": head(f"{name}.csv", 4) for name in ("pieces", "tables", "people", "products")}
    good |= {"@readings": head("readings.csv"), "@hours": head("hours.csv", 12)}
    room = ["--tables", "@tables", "--hours", "@hours", "--people", "@people", "--start", "2026-03-02"]
    runs = (
        ("@pieces", ["takeoff", "@pieces"]),
        ("@products", ["takeoff", "@pieces", "@products"]),
        ("@tables", ["plan", "@pieces", *room, "--seconds", "0"]),
        ("@hours", ["plan", "@pieces", *room, "--seconds", "0"]),
        ("@people", ["plan", "@pieces", *room, "--seconds", "0"]),
        ("@readings", ["readings", "@readings", "--out", "@out"]),
    )

    def run(which: str, words: list[str], dice: random.Random) -> None:
        out = folder / "@out"
        out.unlink(missing_ok=True)
        for name, data in good.items():
            (folder / name).write_bytes(mutated(data, dice) if name == which else data)
        code = ended([str(folder / word) if word.startswith("@") else word for word in words])
        if code not in (0, 1, 2):
            raise RuntimeError(f"ended with {code}")
        if code == 2:
            if out.exists():
                raise RuntimeError("refused, and yet wrote a file")
            raise Refusal("refused in words")

    for n in range(count):
        which, words = runs[n % len(runs)]
        dice = random.Random(f"{which} {n}")
        found.one(f"command {words[0]} {which} {n}", lambda w=which, s=words, d=dice: run(w, s, d))  # type: ignore[misc]


def archives(found: Any, count: int) -> None:
    """Copies and closing files with something wrong, brought in: whole, or not at all."""
    from django.db import transaction

    from fuzzing import mutated
    from hidewright.refusals import Refusal
    from hidewright.workshop.closing.bring_actions import bring_in
    from hidewright.workshop.closing.file_actions import closing_zip
    from hidewright.workshop.front import copy_file
    from hidewright.workshop.front.restore_actions import restore
    from hidewright.workshop.shop.models import Job
    from workshop.rows import changes, rows

    closed, copied = closing_zip(Job.objects.order_by("pk")[0]).getvalue(), io.BytesIO()
    copy_file.write_copy(copied)
    ways: tuple[tuple[str, bytes, Callable[[io.BytesIO], Any]], ...] = (
        ("closing file", closed, bring_in),
        ("copy", copied.getvalue(), lambda file: restore(file, over=False)),
    )

    def bring(data: bytes, into: Callable[[io.BytesIO], Any]) -> None:
        before = rows()
        try:
            with transaction.atomic():
                into(io.BytesIO(data))
                transaction.set_rollback(True)
        except Refusal:
            if half := changes(before, rows()):
                raise RuntimeError(f"refused, and yet changed {half}") from None
            raise

    for n in range(count):
        name, good, into = ways[n % len(ways)]
        data = mutated(good, random.Random(f"{name} {n}"))
        found.one(f"{name} {n}", lambda data=data, into=into: bring(data, into))  # type: ignore[misc]


def main() -> None:
    """Try them all in a shop of its own, and print what became of them as JSON."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--inputs", type=int, default=2000)
    count = options.parse_args().inputs
    with tempfile.TemporaryDirectory(prefix="hidewright-fuzz-") as home:
        os.environ |= {"HIDEWRIGHT_HOME": home, "DJANGO_SETTINGS_MODULE": "hidewright.workshop.settings"}
        import django

        django.setup()
        from django.conf import settings
        from django.core.management import call_command

        settings.ALLOWED_HOSTS = ["*"]
        call_command("migrate", verbosity=0)
        from fuzzing import READERS, WORKBOOKS, Fuzzed, fuzz_readers

        found = Fuzzed()
        fuzz_readers(found, READERS, count * 80 // 100)
        fuzz_readers(found, WORKBOOKS, count * 3 // 100)
        forms(found, count * 9 // 100)
        archives(found, count * 2 // 100)
        commands(found, count * 6 // 100, Path(home))
        largest = max(
            resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
        )
        told = {
            "tried": found.tried,
            "taken": found.taken,
            "wrong": found.wrong,
            "slowest": found.slowest,
            "megabytes": largest / 1024,
        }
        sys.stdout.write(json.dumps(told))


def run() -> list[dict[str, Any]]:
    """The rows; `HIDEWRIGHT_FUZZ` says how many inputs."""
    count = os.environ.get("HIDEWRIGHT_FUZZ", "2000")
    done = subprocess.run(
        [sys.executable, __file__, "--inputs", count], capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise RuntimeError(done.stderr[-1500:])
    found = json.loads(done.stdout.splitlines()[-1])
    for line in found["wrong"][:40]:
        print(f"  {line}")
    half = [line for line in found["wrong"] if "and yet" in line]
    of = f"{found['tried']} inputs, {found['taken']} of them taken"

    def row(name: str, value: float, unit: str, most: float) -> dict[str, Any]:
        return {
            "stage": "trust", "name": name, "value": value, "unit": unit,
            "goal": f"at most {most:g} {unit}" if most else "none", "holds": value <= most, "baseline": of,
        }  # fmt: skip

    return [
        row("answered with something else than a value or a refusal", len(found["wrong"]) - len(half), "", 0),
        row("refused, and yet something was written", len(half), "", 0),
        row(f"the slowest input ({found['slowest'][1]})", round(found["slowest"][0], 2), "s", MOST_SECONDS),
        row("memory of the largest process", round(found["megabytes"], 1), "MB", MOST_MB),
    ]


if __name__ == "__main__":
    main()
