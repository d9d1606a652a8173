"""How long a page waits for pictures of a phone, and the worker for making them smaller.

    python tests/bench/bench_intake_pictures.py --pictures 500

Pictures of 12 megapixels (4000 x 3000, noise on a slope, so that they are as large as a phone's) are sent to the page one by one, as the
page's own script does; then the worker makes them smaller, and the page of what came in is asked for with all of them. Every figure is measured.
"""

import argparse
import io
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
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


def main() -> None:
    """Measure, and print the figures as JSON."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--pictures", type=int, default=500)
    count = options.parse_args().pictures
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
        from hidewright.workshop.intake.models import Picture
        from hidewright.workshop.intake.picture_actions import keep_waiting
        from hidewright.workshop.shop.door import make_link

        job = open_job("Pictures", starts=date.today())
        visitor = Client()
        visitor.post(make_link(), {"name": "bench"})
        several = [picture(seed) for seed in range(4)]
        sent = []
        for n in range(count):
            file = SimpleUploadedFile(f"IMG_{n:04d}.jpg", several[n % 4])
            before = time.perf_counter()
            answer = visitor.post(f"/jobs/{job.pk}/intake/pictures/", {"pictures": file, "kind": "arrival"})
            sent.append(time.perf_counter() - before)
            assert answer.status_code == 302, answer.status_code
        before = time.perf_counter()
        kept = keep_waiting(job)
        worked = time.perf_counter() - before
        times = []
        for _ in range(3):
            before = time.perf_counter()
            page = visitor.get(f"/jobs/{job.pk}/intake/")
            times.append(time.perf_counter() - before)
        small = [settings.PICTURES_ROOT / row.small for row in Picture.objects.all()]
        shown = page.content.count(b"<img")
        size = sum(path.stat().st_size for path in small) / len(small)
        sys.stdout.write(
            json.dumps({
                "count": count,
                "worst": max(sent),
                "median": statistics.median(sent),
                "worker": worked / count,
                "broken": kept["broken"],
                "page": min(times),
                "shown": shown,
                "small": size / 1024,
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
        row("the page waits for one, worst", found["worst"], "s", 1),
        row("the worker, each", found["worker"], "s", None),
        row("the page with all of them", found["page"], "s", 1),
        row("a thumbnail", found["small"], "kB", 40),
    ]


if __name__ == "__main__":
    main()
