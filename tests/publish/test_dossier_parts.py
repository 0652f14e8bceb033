"""The parts of a dossier by themselves: pictures without their cameras' notes, and names that stay out."""

from __future__ import annotations

import contextlib
import re
import struct
import zlib
from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from stillroom.errors import UnreadableFile
from stillroom.lab.book import Book
from stillroom.lab.recipes import Graph
from stillroom.publish.document import Document
from stillroom.publish.document.as_html import as_html
from stillroom.publish.dossier.photos import picture_of
from stillroom.publish.dossier.raw_excerpt import _safe
from stillroom.publish.dossier.veil import Veil
from stillroom.records.products import Fan

SECRET = b"54.1234 N, 2.9876 W, telephone of A. M."


def segment(marker: int, body: bytes) -> bytes:
    return bytes([0xFF, marker]) + struct.pack(">H", len(body) + 2) + body


def exif(turned: int, order: str) -> bytes:
    """A camera's note with the orientation and a secret (Exif 2.32, 4.6.2: a TIFF header and one directory)."""
    mark = {"<": b"II", ">": b"MM"}[order]
    entry = struct.pack(f"{order}HHIHH", 0x0112, 3, 1, turned, 0)
    tiff = (
        mark + struct.pack(f"{order}HI", 42, 8) + struct.pack(f"{order}H", 1) + entry + b"\0\0\0\0" + SECRET
    )
    return segment(0xE1, b"Exif\0\0" + tiff)


FRAME = segment(0xC0, bytes([8]) + struct.pack(">HH", 30, 40) + b"\x01\x01\x11\x00")
SCAN = segment(0xDA, b"\x01\x01\x00\x00\x3f\x00") + b"\x12\xff\x00\x34\xff\xd0\x56"
END = b"\xff\xd9"


def jpeg(*notes: bytes) -> bytes:
    return b"\xff\xd8" + b"".join(notes) + FRAME + SCAN + SCAN + END


def png(*extra: tuple[bytes, bytes]) -> bytes:
    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", 3, 2, 8, 0, 0, 0, 0)
    rows = zlib.compress(b"\0\x10\x20\x30" * 2)
    made = [
        chunk(b"IHDR", head),
        *(chunk(*each) for each in extra),
        chunk(b"IDAT", rows),
        chunk(b"IEND", b""),
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(made)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("turned", range(1, 9))
def test_a_jpeg_keeps_its_picture_and_orientation_and_loses_its_notes(order: str, turned: int) -> None:
    notes = [
        exif(turned, order),
        segment(0xFE, SECRET),
        segment(0xED, SECRET),
        segment(0xE2, b"MPF\0" + SECRET),
    ]
    found = picture_of(jpeg(*notes) + SECRET, "a.jpg")
    assert found.data == jpeg()
    assert (found.width, found.height, found.turned) == (40, 30, turned)
    again = picture_of(found.as_file, "a.jpg")
    assert again == found
    assert SECRET not in found.as_file


def test_a_jpeg_keeps_what_its_colours_need() -> None:
    kept = [
        segment(0xE0, b"JFIF\0\1\1\0\0\1\0\1\0\0"),
        segment(0xE2, b"ICC_PROFILE\0\1\1"),
        segment(0xEE, b"Adobe"),
    ]
    assert picture_of(jpeg(*kept), "a.jpg").data == jpeg(*kept)


def test_a_png_loses_text_and_what_stands_behind_its_end() -> None:
    found = picture_of(png((b"tEXt", SECRET), (b"eXIf", SECRET), (b"tIME", b"1234567")) + SECRET, "a.png")
    assert found.data == png()
    assert (found.width, found.height) == (3, 2)


@pytest.mark.parametrize(
    "data", [jpeg()[:-2], jpeg()[:9], png()[:-4], png()[:30], b"GIF89a", b"", b"\xff\xd8"]
)
def test_a_picture_that_is_cut_off_is_refused(data: bytes) -> None:
    with pytest.raises(UnreadableFile):
        picture_of(data, "a.jpg")


@given(st.binary(max_size=80), st.sampled_from([b"\xff\xd8", b"\x89PNG\r\n\x1a\n", jpeg()[:20], png()[:40]]))
@settings(max_examples=200, deadline=None)
def test_no_bytes_make_it_stumble(tail: bytes, head: bytes) -> None:
    with contextlib.suppress(UnreadableFile):
        picture_of(head + tail, "a.jpg")


def test_a_photo_is_shown_upright_in_a_page_that_lets_only_it_in() -> None:
    figure = picture_of(jpeg(exif(6, ">")), "a.jpg").figure("Photo of Sedge", "photos/01.jpg")
    assert 'viewBox="0 0 30 40"' in figure.svg
    assert 'transform="translate(30 0) rotate(90)"' in figure.svg
    page = as_html(Document("T", "", "2026-03-01", (figure,)))
    assert "img-src data:;" in page
    assert "img-src" not in as_html(Document("T", "", "2026-03-01", ()))


# --- names that stay out -------------------------------------------------------------------------------------------


def veil(own: str, **fans: tuple[str, str]) -> Veil:
    """Over a lab whose fans are told as name=(maker, model)."""
    records = {name.replace("_", " "): Fan(fan=name.replace("_", " "), maker=maker or None, model=model or None)
               for name, (maker, model) in fans.items()}  # fmt: skip
    empty: Mapping[str, Any] = {}
    book = SimpleNamespace(fans=records, runs=empty, taken=empty, legacy=empty, claims=empty, prices=empty)
    return Veil(own, cast(Book, book), cast(Graph, SimpleNamespace(fans=set())))


OVER = veil("Heath Pro", Heath=("Fennock", "H 120"), Heath_Pro=("Quillmoor", "HP"), Sedge=("Ulverhag", ""))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("as loud as Sedge", "as loud as another fan"),
        ("exports/SEDGE/s1/sedge_100pct.csv", "exports/another fan/s1/another fan_100pct.csv"),
        ("the Heath Pro, not the Heath", "the Heath Pro, not the another fan"),
        ("heath-pro and heath_pro", "heath-pro and heath_pro"),
        ("a heathland of sedges", "a heathland of sedges"),
        ("by Ulverhag; Quillmoor's own", "by another maker; Quillmoor's own"),
        ("H-120 and HP", "another fan and HP"),
        ("nothing at all", "nothing at all"),
    ],
)
def test_names_of_others_are_hidden_as_whole_words(text: str, said: str) -> None:
    assert OVER.over(text) == said


@example(parts=["Sedge", "Heath Pro"])  # one word with the fan's own name at its end: nobody's name
@given(
    st.lists(st.sampled_from(["Sedge", "Heath", "Heath Pro", "fennock", " ", "_", "-", "x", "."]), max_size=8)
)
def test_nothing_hidden_stays_and_nothing_of_its_own_goes(parts: list[str]) -> None:
    text = OVER.over("".join(parts))
    own = r"(?<![^\W_])heath[-_ ]+pro(?![^\W_])"
    words = re.split(r"[^\w]|_", re.sub(own, "", text, flags=re.IGNORECASE).casefold())
    assert not {"sedge", "heath", "fennock"} & set(words)
    assert OVER.over(text) == text


@pytest.mark.parametrize(
    ("cell", "said"),
    [("-1,5", "-1,5"), ("1 234.5", "1 234.5"), ("55 %", "55 %"), ("=1+1", "'=1+1"), ("-Sedge", "'-another fan"),
     ("N16+N25", "N16+N25"), ("1e-3", "1e-3"), ("1" * 41, "1" * 41), ("+1;=2", "'+1;'=2")],
)  # fmt: skip
def test_raw_cells_are_numbers_as_they_stand_or_safe_text(cell: str, said: str) -> None:
    assert _safe(cell, OVER) == said


def test_a_long_cell_costs_no_time() -> None:
    assert len(_safe("1" * 200_000 + "x", OVER)) == 200_001
