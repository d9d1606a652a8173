"""What is brought may cost only so much work, and what goes out carries no formula."""

import io
import os
import subprocess
import sys
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from hidewright import pictures
from hidewright.colour.reading.cxf import read_cxf
from hidewright.refusals import Refusal
from hidewright.sheets import SheetWriter, cell, read_sheet
from hidewright.takeoff.products_csv import read_products

# As spreadsheets take it for a formula: OWASP, "CSV Injection" (read 2026), lists = + - @ tab and carriage return.
FORMULA = ("=", "+", "-", "@", "\t", "\r")
TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\0\r\n"), min_size=1, max_size=12)


def coded(kind: str, size: tuple[int, int] = (40, 30), mode: str = "RGB") -> bytes:
    out = io.BytesIO()
    Image.new(mode, size, 90).save(out, kind)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_pictures_are_known_by_what_is_in_them(kind: str) -> None:
    assert pictures.decoded(coded(kind), 20).size == (20, 15)


@pytest.mark.parametrize(
    "data",
    [
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n%%EndComments\nshowpage\n%%EOF\n",
        coded("TIFF"),
        coded("GIF", mode="L"),
        coded("BMP"),
        coded("PNG")[:60],
        b"",
        os.urandom(2000),
    ],
    ids=["eps", "tiff", "gif", "bmp", "torn", "empty", "noise"],
)
def test_no_other_decoder_is_asked(data: bytes) -> None:
    with pytest.raises(Refusal, match="no picture that can be read"):
        pictures.decoded(data, 100)


def test_a_picture_of_the_queue_has_its_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 500 good ones one was called broken on a busy machine, since a minute had gone by the clock."""
    monkeypatch.setattr(pictures, "WAIT", 0.0)
    with pytest.raises(Refusal, match="too long"):
        pictures.decoded(coded("JPEG"), 20)
    assert pictures.decoded(coded("JPEG"), 20, queued=True).size == (20, 15)


def test_a_small_file_of_a_huge_picture_is_refused_before_it_is_decoded() -> None:
    """A PNG of 20,000 × 20,000 pixels in a few hundred bytes."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return len(body).to_bytes(4, "big") + kind + body + zlib.crc32(kind + body).to_bytes(4, "big")

    head = (20_000).to_bytes(4, "big") * 2 + bytes([8, 2, 0, 0, 0])
    body = zlib.compress(b"\0" * 100_000)
    png = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
    with pytest.raises(Refusal, match="too many pixels"):
        pictures.decoded(png, 100)


ASK_THE_SYSTEM = """
import resource, sys
from hidewright import pictures
size = pictures.decoded(sys.stdin.buffer.read(), 100).size
print(*size, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""


def test_the_largest_picture_that_is_taken_stays_within_its_memory() -> None:
    """The system's own count of the largest child, in kB, asked in a process that has no other child."""
    pytest.importorskip("resource", reason="only POSIX counts it")
    done = subprocess.run(
        [sys.executable, "-c", ASK_THE_SYSTEM],
        input=coded("PNG", (7000, 7000), "RGBA"),
        capture_output=True,
        check=True,
    )
    width, height, most = map(int, done.stdout.split())
    assert (width, height) == (100, 100)
    assert most * 1024 < pictures.MEMORY


@given(TEXT)
def test_no_cell_that_goes_out_is_a_formula_and_each_comes_back_as_it_was(text: str) -> None:
    out = cell(text)
    assert isinstance(out, str)
    try:
        float(out)
    except ValueError:
        assert not out.startswith(FORMULA)
    writer = SheetWriter()
    writer.writerow(["name", "other"])
    writer.writerow([text, "x"])
    (row,) = read_sheet(writer.getvalue()).rows
    # A figure stays as it is, so it comes back as it is, too.
    assert row.get("name") == text.strip()


def test_more_rows_than_anybody_could_look_through_are_refused_in_words() -> None:
    rows = "\n".join(f"p{n},Product {n},base,10" for n in range(60_000))
    with pytest.raises(Refusal, match="60000 rows; up to 2000 are taken at once"):
        read_products(f"key,name,role,price\n{rows}\n")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("<a>" * 500 + "</a>" * 500, "nested too deep"),
        ("<a>" + "<Object/>" * 5000 + "</a>", "5000 objects"),
        ('<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "no readable XML"),
    ],
)
def test_xml_that_is_deep_wide_or_clever_is_refused(text: str, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        read_cxf(text)
