"""Every form of the demonstration's job, sent with what nobody should send: it is refused in words, never a fault of ours.

The app is walked by its links; each form found is sent as it stands but for one field at a time. HIDEWRIGHT_ODD sets how many odd values each field gets.
"""

import os
import random
from collections.abc import Iterator
from datetime import date, timedelta
from urllib.parse import urlsplit

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from django.urls import resolve

from hidewright.workshop import demonstration
from hidewright.workshop.bench import jar_actions as jars
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.models import Job
from workshop.crawl import Form, pages
from workshop.few_pigments import find_the_few

EACH = int(os.environ.get("HIDEWRIGHT_ODD", "1"))
ODD = (
    "", " ", "-1", "0", "1e999", "NaN", "-inf", "1e9", "0.0000001", "9" * 40, "٣", "½", "1,5", "1.250,00", "12 fl oz", "3 furlongs", "1e400 mL",
    "x" * 5000, "\x00", "\ud7ff\uffff", "<script>alert(1)</script>", "'; --", "2026-02-30", "0001-01-01", "9999-12-31", "../../etc/passwd", "[]", "{}",
    "null", "true", "None",
)  # fmt: skip
FEW = 40
"""Pieces that are left of the demonstration's, enough for its first cup to fall short: the others are the same fields again, on longer pages."""
BYTES = (
    b"",
    b"\x00" * 64,
    b"\xff\xfeA",
    b"%PDF-1.7",
    b"\x89PNG\r\n\x1a\n" + b"\x00" * 40,
    b"key,name\n" + b"\xc3\x28,\n",
    b'a,b\n"1',
    b"<?xml version='1.0'?><a>",
)


def walked(visitor: Client) -> Iterator[Form]:
    """One form of each kind: of each address that is posted to, with each set of fields."""
    kinds, seen = set(), 0
    for _, _, forms in pages(visitor, papers=False):
        seen += 1
        for form in forms:
            kind = (resolve(urlsplit(form.action).path).url_name, *sorted({*form.names, *form.files}))
            if form.post and kind not in kinds:
                kinds.add(kind)
                yield form
    assert seen > 40


def sent(form: Form, name: str, odd: str) -> dict[str, object]:
    """The form's values with one of them odd; file fields are sent empty."""
    data: dict[str, list[str]] = {}
    for key, value in form.values:
        data.setdefault(key, []).append(value)
    return {**data, name: odd}


def complaint(visitor: Client, form: Form, data: dict[str, object]) -> str:
    """What is wrong with the answer; empty where it is a page, a redirect or a refusal. Nothing stays changed."""
    with transaction.atomic():
        try:
            answer = visitor.post(form.action, data)
        except Exception as error:
            return f"{type(error).__name__}: {error}"
        finally:
            transaction.set_rollback(True)
    return f"answered {answer.status_code}" if answer.status_code >= 500 else ""


@pytest.mark.django_db
def test_odd_input_is_refused_in_words(visitor: Client) -> None:
    """No field of any form breaks a page, whatever stands in it."""
    job = demonstration.open_the_job(date.today() - timedelta(days=4))
    few = [piece.pk for piece in job.pieces.order_by("pk")[:FEW]]
    job.pieces.exclude(pk__in=few).delete()
    find_the_few()
    demonstration.find_recipe(job, lambda _fraction, _words: None)
    demonstration.mix_first_cup(job)
    demonstration.plan_days(job, lambda _fraction, _words: None, 1.0)
    jars.keep_jar(MixVessel.objects.get(job=job), 100.0, name="For touching up")
    wrong: list[str] = []
    for form in list(walked(visitor)):
        rng = random.Random(form.action)
        for name in form.names:
            for odd in rng.sample(ODD, EACH):
                if said := complaint(visitor, form, sent(form, name, odd)):
                    wrong.append(f"{form.action} {name}={odd[:30]!r}: {said[:200]}")
        for name in form.files:
            for odd_file in rng.sample(BYTES, min(EACH, len(BYTES))):
                if said := complaint(
                    visitor, form, {**sent(form, "", ""), name: SimpleUploadedFile("odd.csv", odd_file)}
                ):
                    wrong.append(f"{form.action} {name}={odd_file[:20]!r}: {said[:200]}")
    assert Job.objects.filter(pk=job.pk).exists()
    assert not wrong, "\n".join(wrong)
