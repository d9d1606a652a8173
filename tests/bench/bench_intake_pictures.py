"""How long a page waits for pictures of a phone, and the worker for making them smaller.

    python tests/bench/bench_intake_pictures.py --pictures 500

Pictures of 12 megapixels (4000 x 3000, noise on a slope, so that they are as large as a phone's) are sent to the page one by one, as the
page's own script does, while the shop's own worker, a process of its own, makes them smaller; until it is through, pages of the job are asked for one
after the other, and at the end the page of what came in with all of them. Every figure is measured.
"""

import argparse
import io
import json
import os
import re
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np


def picture(seed: int) -> bytes:
    """A JPEG of 12 megapixels that compresses like a photo."""
    from PIL import Image

    rng = np.random.default_rng(seed)
    slope = np.linspace(60, 190, 4000)[None, :, None] + np.linspace(-30, 30, 3000)[:, None, None]
    noise = rng.normal(0, 12, (3000, 4000, 1))
    out = io.BytesIO()
    Image.fromarray(np.clip(slope + noise + [0, -10, -30], 0, 255).astype(np.uint8)).save(
        out, "JPEG", quality=85
    )
    return out.getvalue()


def made_elsewhere(seed: int) -> bytes:
    """The same from a process of its own, so that what it takes is not counted as the server's memory."""
    words = [sys.executable, __file__, "--one", str(seed)]
    return subprocess.run(words, capture_output=True, check=True).stdout


def main() -> None:
    """Measure, and print the figures as JSON."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--pictures", type=int, default=500)
    options.add_argument("--one", type=int, help="only write the picture of this seed to standard output")
    asked_for = options.parse_args()
    if asked_for.one is not None:
        sys.stdout.buffer.write(picture(asked_for.one))
        return
    count = asked_for.pictures
    with tempfile.TemporaryDirectory() as home:
        os.environ |= {"HIDEWRIGHT_HOME": home, "DJANGO_SETTINGS_MODULE": "hidewright.workshop.settings"}
        import django

        django.setup()
        from django.conf import settings
        from django.core.files.uploadedfile import SimpleUploadedFile
        from django.core.management import call_command
        from django.test import Client

        settings.ALLOWED_HOSTS = ["*"]
        call_command("migrate", verbosity=0)
        from datetime import date

        from hidewright.workshop.front.job_actions import open_job
        from hidewright.workshop.intake.models import Picture, PictureState
        from hidewright.workshop.shop.door import make_link

        job = open_job("Pictures", starts=date.today())
        visitor = Client()
        visitor.post(make_link(), {"name": "bench"})
        pages = [f"/jobs/{job.pk}/{page}" for page in ("intake/", "", "survey/", "days/")]

        def asked(page: str) -> float:
            """Seconds that a page takes."""
            before = time.perf_counter()
            answer = visitor.get(page)
            assert answer.status_code == 200, answer.status_code
            return time.perf_counter() - before

        for page in pages:
            asked(page)  # what a page reads once in a server's life is not the pictures' doing
        alone = [asked(page) for page in pages * max(1, count // 10)]
        several = [made_elsewhere(seed) for seed in range(4)]
        worker = subprocess.Popen([sys.executable, "-m", "hidewright.cli", "manage", "work"])
        began = time.perf_counter()
        sent, meanwhile = [], []
        for n in range(count):
            file = SimpleUploadedFile(f"IMG_{n:04d}.jpg", several[n % 4])
            before = time.perf_counter()
            answer = visitor.post(f"/jobs/{job.pk}/intake/pictures/", {"pictures": file, "kind": "arrival"})
            sent.append(time.perf_counter() - before)
            assert answer.status_code == 302, answer.status_code
            if n % 5 == 0:
                meanwhile.append(asked(pages[n // 5 % len(pages)]))
        while Picture.objects.filter(state=PictureState.WAITING).exists():
            meanwhile += [asked(page) for page in pages]
            assert worker.poll() is None, "the worker ended before its work"
            time.sleep(4)
        worked = time.perf_counter() - began
        used = re.search(r"VmHWM:\s*(\d+)", Path(f"/proc/{worker.pid}/status").read_text())
        assert used is not None
        worker.terminate()
        worker.wait()
        last = [asked(pages[0]) for _ in range(3)]
        small = [
            settings.PICTURES_ROOT / row.small for row in Picture.objects.filter(state=PictureState.KEPT)
        ]
        size = sum(path.stat().st_size for path in small) / len(small)
        sys.stdout.write(
            json.dumps({
                "count": count,
                "sent": [statistics.median(sent), max(sent)],
                "meanwhile": [statistics.median(meanwhile), max(meanwhile)],
                "asked": len(meanwhile),
                "worker": worked / count,
                "broken": count - len(small),
                "page": max(last),
                "small": size / 1024,
                "server": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
                "at_work": int(used[1]) / 1024,
                "alone": [statistics.median(alone), max(alone)],
            })
        )  # fmt: skip


def run() -> list[dict[str, Any]]:
    """The rows, measured in a process with a shop of its own; `HIDEWRIGHT_PICTURES` says how many pictures (8)."""
    count = os.environ.get("HIDEWRIGHT_PICTURES", "8")
    done = subprocess.run(
        [sys.executable, __file__, "--pictures", count], capture_output=True, text=True, check=True
    )
    found = json.loads(done.stdout)
    pictures = f"{found['count']} pictures of 12 megapixels"

    def row(name: str, value: float, unit: str, most: float | None) -> dict[str, Any]:
        return {
            "stage": "intake", "name": f"{pictures}: {name}", "value": round(value, 3), "unit": unit,
            "goal": "" if most is None else f"at most {most:g} {unit}", "holds": None if most is None else value <= most, "baseline": "",
        }  # fmt: skip

    return [
        row("sending one, median", found["sent"][0], "s", None),
        row("sending one, worst", found["sent"][1], "s", 1),
        row("a page before, median", found["alone"][0], "s", None),
        row("a page before, worst", found["alone"][1], "s", None),
        row("a page meanwhile, median", found["meanwhile"][0], "s", None),
        row("a page meanwhile, worst", found["meanwhile"][1], "s", 1),
        row("the worker, each", found["worker"], "s", None),
        row("the page with all of them", found["page"], "s", 1),
        row("a thumbnail", found["small"], "kB", 40),
        row("broken", found["broken"], "pictures", 0),
        row("largest memory of the server", found["server"], "MB", None),
        row("largest memory of the worker, without the decoder that it starts", found["at_work"], "MB", None),
    ]


if __name__ == "__main__":
    main()
