"""Photos of a fan as they leave the house: without what a camera wrote into them, and as figures of a document.

A camera's notes tell where and when a picture was taken, and with whose telephone. Only what a picture needs to be
seen is kept: of JPEG (ISO/IEC 10918-1:1994, annex B) all but application segments and comments, of PNG (third
edition, 2025, 5.6 and 11) all but text, time and camera notes; what stands behind the picture's end is cut off.
"""

from __future__ import annotations

import base64
import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

from stillroom.errors import UnreadableFile
from stillroom.publish.document import Figure

LARGEST = 24 * 2**20
"""Largest picture that is shown in the document [bytes]; larger ones lie beside it as files."""

MOST_PIXELS, LONGEST_SIDE = 250_000_000, 65_535
"""A picture that says to be larger is none of a camera: few bytes can be made to unpack to all the room there is."""

_JPEG, _PNG = b"\xff\xd8", b"\x89PNG\r\n\x1a\n"
_NEXT = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
_SCAN, _END, _EXIF = 0xDA, 0xD9, 0xE1
_FRAMES = frozenset({*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC})
_KEPT_APPS = frozenset({0xE0, 0xEE})
_NOTES = frozenset({*range(0xE0, 0xF0), 0xFE})
_CHUNKS = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT"}
)
_DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
"""Bits of a channel by colour type (PNG, third edition, table 8)."""
_PALETTE = 3
_MOST_BYTES, _BLOCK = 9, 1 << 20
"""Of a pixel with its share of the rows' filters; unpacked at a time."""
_ORIENTATION = 0x0112

_TURNS = {
    1: "", 2: "translate({w} 0) scale(-1 1)", 3: "translate({w} {h}) rotate(180)", 4: "translate(0 {h}) scale(1 -1)",
    5: "matrix(0 1 1 0 0 0)", 6: "translate({h} 0) rotate(90)", 7: "matrix(0 -1 -1 0 {h} {w})",
    8: "translate(0 {w}) rotate(-90)",
}  # fmt: skip
"""How a picture is brought upright, by the orientation that its camera noted (Exif 2.32, 4.6.4, tag 274)."""


@dataclass(frozen=True)
class Picture:
    """A picture without a camera's notes.

    Parameters
    ----------
    data : its bytes. ending : ".jpg" or ".png". width, height : as stored [pixels]. turned : its orientation, 1 to 8.
    """

    data: bytes
    ending: str
    width: int
    height: int
    turned: int = 1

    @property
    def as_file(self) -> bytes:
        """The bytes of a file that is shown upright: with the orientation as its camera's only note."""
        if self.turned == 1 or self.ending != ".jpg":
            return self.data
        return _JPEG + _note_of(self.turned) + self.data[len(_JPEG) :]

    def figure(self, alt: str, caption: str) -> Figure:
        """The picture in a document, upright."""
        kind = "jpeg" if self.ending == ".jpg" else "png"
        wide, high = (self.height, self.width) if self.turned >= 5 else (self.width, self.height)
        turn = _TURNS[self.turned].format(w=self.width, h=self.height)
        inside = (
            f'<image width="{self.width}" height="{self.height}"'
            f' href="data:image/{kind};base64,{base64.b64encode(self.data).decode()}"/>'
        )
        grouped = f'<g transform="{turn}">{inside}</g>' if turn else inside
        root = f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}">'
        return Figure(f"{root}{grouped}</svg>", alt, caption)


def picture_of(data: bytes, place: str) -> Picture:
    """A JPEG or PNG picture without its camera's notes.

    Raises
    ------
    UnreadableFile : it is neither, or is cut off.
    """
    try:
        if data.startswith(_JPEG):
            return _of_jpeg(data)
        if data.startswith(_PNG):
            return _of_png(data)
    except (IndexError, ValueError):
        pass
    raise UnreadableFile("picture", place=place, found="bytes of no whole picture", expected="JPEG or PNG")


def _of_jpeg(data: bytes) -> Picture:
    kept, size, turned = [_JPEG], (0, 0), 1
    for marker, piece in _segments(data):
        body = piece[4:]
        if marker == _EXIF and body.startswith(b"Exif\0\0"):
            turned = _orientation(body[6:])
        if marker in _FRAMES:
            size = int.from_bytes(body[3:5], "big"), int.from_bytes(body[1:3], "big")
        is_profile = marker == 0xE2 and body.startswith(b"ICC_PROFILE\0")
        if marker not in _NOTES or marker in _KEPT_APPS or is_profile:
            kept.append(piece)
    return Picture(b"".join(kept), ".jpg", *_checked_size(*size), turned)


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """(marker, bytes) of each segment up to the picture's end; a scan with all that it codes."""
    at = len(_JPEG)
    while True:
        if data[at] != 0xFF:
            raise ValueError("no marker")
        while data[at + 1] == 0xFF:  # fill bytes
            at += 1
        marker = data[at + 1]
        if marker == _END:
            yield marker, data[at : at + 2]
            return
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        if marker == _SCAN:
            following = _NEXT.search(data, end)
            if following is None:
                raise ValueError("no end")
            end = following.start()
        yield marker, data[at:end]
        at = end


def _orientation(tiff: bytes) -> int:
    """The orientation that a camera noted; 1 where it noted none, or nothing that can be read."""
    order = {b"II": "little", b"MM": "big"}.get(tiff[:2])
    if order is None:
        return 1
    little = order == "little"

    def number(at: int, size: int) -> int:
        return int.from_bytes(tiff[at : at + size], "little" if little else "big")

    first = number(4, 4)
    for entry in range(min(number(first, 2), 200)):
        at = first + 2 + 12 * entry
        if number(at, 2) == _ORIENTATION:
            return turned if (turned := number(at + 8, 2)) in _TURNS else 1
    return 1


def _note_of(turned: int) -> bytes:
    """A camera's note that holds the orientation alone."""
    entry = b"\x01\x12\x00\x03\x00\x00\x00\x01" + turned.to_bytes(2, "big") + b"\0\0"
    body = b"Exif\0\0MM\x00\x2a\x00\x00\x00\x08\x00\x01" + entry + b"\0\0\0\0"
    return b"\xff\xe1" + (len(body) + 2).to_bytes(2, "big") + body


def _of_png(data: bytes) -> Picture:
    kept, coded, at = [_PNG], zlib.decompressobj(), len(_PNG)
    name, rows, colours = b"", 0, False
    size, colour = _header(data)
    while name != b"IEND":
        length = int.from_bytes(data[at : at + 4], "big")
        end = at + 12 + length
        name, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        if end > len(data) or zlib.crc32(name + body) != int.from_bytes(data[end - 4 : end], "big"):
            raise ValueError("cut off or changed")
        if name == b"IDAT":
            rows += _unpacked(coded, body, _MOST_BYTES * (size[0] + 1) * size[1] - rows)
        colours |= name == b"PLTE"
        if name in _CHUNKS:
            kept.append(data[at:end])
        at = end
    if not coded.eof or rows < size[1] or (colour == _PALETTE and not colours):
        raise ValueError("not whole")
    return Picture(b"".join(kept), ".png", *size)


def _header(data: bytes) -> tuple[tuple[int, int], int]:
    """Width and height of a PNG picture, and its colour type."""
    if data[len(_PNG) : len(_PNG) + 8] != b"\0\0\0\x0dIHDR":
        raise ValueError("no header")
    wide, high = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    depth, colour = data[24], data[25]
    if depth not in _DEPTHS.get(colour, ()) or data[26:28] != b"\0\0" or data[28] > 1:
        raise ValueError("no such kind")
    return _checked_size(wide, high), colour


def _checked_size(wide: int, high: int) -> tuple[int, int]:
    """A size in pixels that a picture of a camera can have."""
    if not (0 < wide <= LONGEST_SIDE and 0 < high <= LONGEST_SIDE and wide * high <= MOST_PIXELS):
        raise ValueError("no size of a picture")
    return wide, high


def _unpacked(coded: zlib._Decompress, data: bytes, most: int) -> int:
    """How many bytes of rows a part of a PNG's stream holds; none of them is kept.

    Raises
    ------
    ValueError : it can't be unpacked, or holds more than its picture.
    """
    count = 0
    try:
        while data and not coded.eof:
            count += len(coded.decompress(data, _BLOCK))
            data = coded.unconsumed_tail
            if count > most:
                raise ValueError("more rows than it has")
    except zlib.error as error:
        raise ValueError(str(error)) from None
    return count
