"""Pictures as pixels: what the rasteriser drew is read back, and a PNG is put together from strips.

A PNG's rows are one deflate stream. Flushed at the end of a strip, with nothing referred to before it, the stream may
be cut there: so a strip is packed once and stands in as many pictures as show it.
Source: PNG (W3C, third edition) 7.3, 9.2, 10.1; RFC 1950 (Adler-32) and RFC 1951, 3.2.3.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.charts.fonts import register
from stillroom.errors import BadInput

Pixels = NDArray[np.uint8]
"""(height, width, 4): red, green, blue, and how much of it covers."""

SIGNATURE = b"\x89PNG\r\n\x1a\n"
LEVEL = 6
MODULUS = 65521
NONE, SUB, UP = 0, 1, 2
"""Filters of a row: as it is, less the pixel at its left, less the row above."""


@dataclass(frozen=True)
class Box:
    """A part of a page, in whole page units."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def size(self) -> str:
        """Width and height."""
        return f"{self.right - self.left} {self.bottom - self.top}"


def rasterised(inner: str, box: Box, scale: float) -> Pixels:
    """The pixels of a part of a page without paper, `scale` of them a unit.

    It is drawn on black and on white, and what covers and its colour are found from both: drawn on nothing, the
    rasteriser darkens the pixels that are covered in part (no channel of them is more than what covers), which shows
    as a dark rim around light words.

    Parameters
    ----------
    inner : SVG with its colours.
    """
    black, white = (pixels_of(drawn_png(_on(inner, box, ground), scale)) for ground in ("#000", "#fff"))
    return unmixed(black, white)


def drawn_png(svg: str, scale: float = 1.0) -> bytes:
    """An SVG as a PNG, `scale` pixels a unit."""
    import vl_convert

    register()
    return bytes(vl_convert.svg_to_png(svg, scale=scale))


def repacked(png: bytes) -> bytes:
    """The same picture in a third of the bytes: the rasteriser packs in haste, with a single IDAT chunk."""
    return SIGNATURE + b"".join(
        _chunk(kind, zlib.compress(zlib.decompress(body), LEVEL) if kind == b"IDAT" else body)
        for kind, body in _chunks(png)
    )


def _on(inner: str, box: Box, ground: str) -> str:
    wide, high = box.size.split()
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" '
        f'viewBox="{box.left} {box.top} {box.size}"><rect x="{box.left}" y="{box.top}" width="{wide}" '
        f'height="{high}" fill="{ground}"/>{inner}</svg>'
    )


def unmixed(black: Pixels, white: Pixels) -> Pixels:
    """A picture without what is behind it, from the same on black and on white.

    With c the colour and a what covers, black holds a·c and white a·c + 255·(1 − a): their difference tells a.
    """
    cover = 255 - (white[..., 1] - black[..., 1])
    out = black.copy()
    out[..., 3] = cover
    part = (cover > 0) & (cover < 255)
    amount = cover[part].astype(np.uint32)[:, None]
    mixed = black[part][:, :3].astype(np.uint32)
    out[part, :3] = np.minimum(255, (mixed * 255 + amount // 2) // amount)
    return out


def pixels_of(png: bytes) -> Pixels:
    """The pixels of a PNG with eight bits a channel, four channels, not interlaced.

    Raises
    ------
    BadInput : another kind of PNG, or rows filtered by more than their neighbours at the left or above.
    """
    header, packed = b"", []
    for kind, body in _chunks(png):
        if kind == b"IHDR":
            header = body
        elif kind == b"IDAT":
            packed.append(body)
    wide, high, bits, colours, _, _, interlaced = struct.unpack(">IIBBBBB", header)
    if (bits, colours, interlaced) != (8, 6, 0):
        raise BadInput(
            "PNG",
            found=f"{bits} bits, colour type {colours}",
            expected="8 bits, colour type 6, not interlaced",
        )
    rows = np.frombuffer(zlib.decompress(b"".join(packed)), np.uint8).reshape(high, 1 + 4 * wide)
    return _unfiltered(rows[:, 0], rows[:, 1:].reshape(high, wide, 4))


def _unfiltered(filters: NDArray[np.uint8], rows: Pixels) -> Pixels:
    if (filters == SUB).all():
        return np.cumsum(rows, axis=1, dtype=np.uint8)
    out = rows.copy()
    for index, each in enumerate(filters):
        if each == SUB:
            out[index] = np.cumsum(rows[index], axis=0, dtype=np.uint8)
        elif each == UP and index:
            out[index] += out[index - 1]
        elif each not in (NONE, UP):
            raise BadInput(
                "PNG", place=f"row {index + 1}", found=f"filter {each}", expected="filter 0, 1 or 2"
            )
    return out


def _chunks(png: bytes) -> Iterator[tuple[bytes, bytes]]:
    place = len(SIGNATURE)
    while place < len(png):
        (length,) = struct.unpack_from(">I", png, place)
        yield png[place + 4 : place + 8], png[place + 8 : place + 8 + length]
        place += 12 + length


def _chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


@dataclass(frozen=True)
class Strip:
    """Rows of a picture, packed: a part of a PNG's stream as a chunk of its own.

    Parameters
    ----------
    chunk : the chunk. rows : how many of them. length, sum : of the bytes before they were packed: count and Adler-32.
    """

    chunk: bytes
    rows: int
    length: int
    sum: int


def strip(pixels: Pixels) -> Strip:
    """Pack rows of a picture, each pixel less the one at its left."""
    high, wide, _ = pixels.shape
    rows = np.empty((high, 1 + 4 * wide), np.uint8)
    rows[:, 0] = SUB
    body = rows[:, 1:].reshape(high, wide, 4)
    body[:, 0] = pixels[:, 0]
    np.subtract(pixels[:, 1:], pixels[:, :-1], out=body[:, 1:])
    plain = rows.tobytes()
    packer = zlib.compressobj(LEVEL, zlib.DEFLATED, -zlib.MAX_WBITS)
    packed = packer.compress(plain) + packer.flush(zlib.Z_FULL_FLUSH)
    return Strip(_chunk(b"IDAT", packed), high, len(plain), zlib.adler32(plain))


def png_of(strips: Sequence[Strip], wide: int) -> bytes:
    """A PNG of strips under each other, all `wide` pixels wide. Same strips, same bytes."""
    high = sum(each.rows for each in strips)
    header = struct.pack(">IIBBBBB", wide, high, 8, 6, 0, 0, 0)
    total = 1
    for each in strips:
        total = _joined(total, each.sum, each.length)
    return b"".join(
        (
            SIGNATURE,
            _chunk(b"IHDR", header),
            _chunk(b"IDAT", b"\x78\x01"),
            *(each.chunk for each in strips),
            _chunk(b"IDAT", b"\x03\x00" + struct.pack(">I", total)),
            _chunk(b"IEND", b""),
        )
    )


def _joined(first: int, second: int, length: int) -> int:
    """The Adler-32 of two pieces, the second `length` bytes long, from those of each (RFC 1950, 8.2)."""
    low = ((first & 0xFFFF) + (second & 0xFFFF) - 1) % MODULUS
    high = ((first >> 16) + (second >> 16) + length * ((first & 0xFFFF) - 1)) % MODULUS
    return high << 16 | low
