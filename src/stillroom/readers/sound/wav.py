"""The header of a WAV file: RIFF, and RF64 or BW64 for files of more than 4 GiB.

Sources: Multimedia Programming Interface and Data Specifications 1.0 (1991) for RIFF; RFC 2361 for the codes of
formats; EBU Tech 3306 (2009) and ITU-R BS.2088-1 (2019) for 64 bits; EBU Tech 3285 (2011) for bext; their field
offsets are from memory, and held in the tests against files of another writer.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from stillroom.errors import UnreadableFile
from stillroom.readers.sound.format import DEPTHS, AudioFormat, check_format, cut, refused

HEADS = (b"RIFF", b"RF64", b"BW64")
UNWRITTEN = 0xFFFFFFFF
"""A size of 32 bits that says "see ds64", or that it was never filled in."""

MOST_CHUNKS = 10_000
LARGEST_FMT = 4096
LARGEST_INFO = 64 * 1024
"""Largest pieces of a header that are read [bytes]."""

SLACK = 4096
"""Bytes that may follow what a header speaks of: padding, the marks of some file systems."""

LABEL = b"ID3"
"""How a label begins that some programs hang on to the end of a file."""

_PCM, _FLOAT, _EXTENSIBLE = 0x0001, 0x0003, 0xFFFE
_GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")
_OTHERS = {
    0x0002: "ADPCM", 0x0006: "A-law", 0x0007: "µ-law", 0x0011: "ADPCM", 0x0031: "GSM", 0x0050: "MPEG audio",
    0x0055: "MP3", 0x0092: "AC-3", 0x00FF: "AAC", 0x0161: "WMA", 0x0162: "WMA", 0x2000: "AC-3", 0x2001: "DTS",
    0x674F: "Vorbis", 0xF1AC: "FLAC inside a WAV file",
}  # fmt: skip
_SUBTYPES = {(_PCM, 16): "PCM_16", (_PCM, 24): "PCM_24", (_PCM, 32): "PCM_32",
             (_FLOAT, 32): "FLOAT", (_FLOAT, 64): "DOUBLE"}  # fmt: skip
_NEVER_CLOSED = (
    "a file whose recording was closed: the recorder, or a repair by its maker's tool, writes the sizes"
)
_BEXT_DATE, _BEXT_END = 320, 338
_DATE = re.compile(r"(\d{4})[-:/ ](\d{2})[-:/ ](\d{2})")
_TIME = re.compile(r"([01]\d|2[0-3])[-:. ]([0-5]\d)[-:. ]([0-5]\d)")


@dataclass(frozen=True)
class Chunk:
    """A chunk of the file: its name, where its body begins, and the body's size [bytes] as it says."""

    name: bytes
    start: int
    size: int

    @property
    def words(self) -> str:
        """The name as it can be shown."""
        return ascii(self.name.decode("latin-1"))

    @property
    def end(self) -> int:
        """Where the body ends, without padding."""
        return self.start + self.size


@dataclass(frozen=True)
class _Wide:
    """The sizes of a ds64 chunk [bytes]."""

    riff: int
    data: int


def wav_format(stream: BinaryIO, size: int, place: str) -> AudioFormat:
    """What a WAV file is.

    Parameters
    ----------
    stream : the file. size : of it [bytes]. place : its name, for messages.

    Raises
    ------
    UnreadableFile : cut short, never closed, no sound in it, or a format that isn't read; says where and what.
    """
    head = _read(stream, 0, 12)
    if len(head) < 12 or head[8:] != b"WAVE":
        if head[:4] in HEADS and len(head) == 12:
            raise refused(place, f"a RIFF file of {head[8:].decode('latin-1')!a}, and no WAVE")
        raise cut(place, f"{size} bytes, and the header alone has 12")
    told = int.from_bytes(head[4:8], "little")
    found: dict[bytes, Chunk] = {}
    info: list[Chunk] = []
    wide: _Wide | None = None
    for chunk in _chunks(stream, size, place, wide_head=head[:4] != b"RIFF"):
        if chunk.name == b"ds64":
            wide = _wide(stream, chunk, place)
        if chunk.name == b"LIST":
            info.append(chunk)
        elif chunk.name in {b"fmt ", b"data"} and chunk.name in found:
            raise refused(f"{place}, byte {chunk.start - 8}", f"a second chunk {chunk.words}", "one")
        found.setdefault(chunk.name, chunk)
    if b"fmt " not in found:
        raise refused(place, "no chunk 'fmt ', which tells the format")
    rate, channels, align, subtype = _format(_read(stream, found[b"fmt "].start, LARGEST_FMT), found, place)
    if b"data" not in found:
        raise refused(place, "no chunk 'data', which holds the samples")
    data = found[b"data"]
    if data.start < found[b"fmt "].start:
        raise refused(
            f"{place}, byte {data.start - 8}", "samples before their format", "'fmt ' before 'data'"
        )
    _check_sizes(data, told, wide, size, place)
    _check_rest(stream, max(each.end + each.size % 2 for each in (*found.values(), *info)), place)
    if data.size % align:
        raise refused(
            f"{place}, byte {data.start - 8}",
            f"{data.size:,} bytes of samples, no multiple of {align} (a sample of each channel)",
            "whole samples: the header is wrong, or the file is cut",
        )
    check_format(place, rate, channels, data.size // align)
    container = "WAV" if head[:4] == b"RIFF" else "RF64"
    moment = _bext(stream, found.get(b"bext")) or next(
        filter(None, (_info(stream, each) for each in info)), None
    )
    return AudioFormat(rate, channels, data.size // align, subtype, container, moment, data.start)


def _read(stream: BinaryIO, start: int, count: int) -> bytes:
    stream.seek(start)
    return stream.read(count)


def _chunks(stream: BinaryIO, size: int, place: str, *, wide_head: bool) -> Iterator[Chunk]:
    """The chunks of the file one after the other, never into one another; sizes are as they say."""
    at, wide = 12, None
    for _ in range(MOST_CHUNKS):
        head = _read(stream, at, 8)
        if len(head) < 8:
            return
        chunk = Chunk(head[:4], at + 8, int.from_bytes(head[4:], "little"))
        if chunk.name == b"data" and wide_head and chunk.size == UNWRITTEN and wide is not None:
            chunk = Chunk(chunk.name, chunk.start, wide.data)
        if chunk.name != b"data" and not all(32 <= each < 127 for each in chunk.name):
            return  # nothing that a chunk is called: what follows is judged by the sizes
        if chunk.name == b"data" and chunk.size in {0, UNWRITTEN} and size > chunk.start:
            raise _unwritten(chunk, size, place)
        if chunk.end > size:
            raise cut(
                f"{place}, byte {at}",
                f"a chunk {chunk.words} that says {chunk.size:,} bytes, and {size - chunk.start:,} are there",
            )
        if chunk.name == b"ds64":
            wide = _wide(stream, chunk, place)
        yield chunk
        at = chunk.end + chunk.size % 2
    raise refused(place, f"more than {MOST_CHUNKS:,} chunks", "a recording")


def _unwritten(chunk: Chunk, size: int, place: str) -> UnreadableFile:
    """The error for samples whose size was never filled in: a recorder that was switched off."""
    return refused(
        f"{place}, byte {chunk.start - 8}",
        f"{chunk.size:,} bytes of samples as the header says, and {size - chunk.start:,} bytes that follow",
        _NEVER_CLOSED,
    )


def _wide(stream: BinaryIO, chunk: Chunk, place: str) -> _Wide:
    body = _read(stream, chunk.start, 28)
    if chunk.size < 28 or len(body) < 28:
        raise refused(
            f"{place}, byte {chunk.start - 8}", f"a chunk 'ds64' of {chunk.size} bytes", "28 or more"
        )
    riff, data, _, _ = struct.unpack("<QQQI", body)
    return _Wide(riff, data)


def _check_sizes(data: Chunk, told: int, wide: _Wide | None, size: int, place: str) -> None:
    """Refuse sizes that contradict one another: which of them is right can't be known."""
    told = wide.riff if wide is not None and told == UNWRITTEN else told
    if told in {0, UNWRITTEN}:
        raise refused(place, f"a size of {told:,} in the header", _NEVER_CLOSED)
    if told + 8 < data.end:
        raise refused(
            place,
            f"{told + 8:,} bytes in all as the header says, and samples up to byte {data.end:,}",
            "sizes that agree",
        )
    if size > max(told + 8, data.end) + SLACK:
        raise refused(
            place,
            f"{size:,} bytes, of which the header speaks of {told + 8:,}",
            "a header for all of it (RF64 beyond 4 GiB)",
        )


def _check_rest(stream: BinaryIO, end: int, place: str) -> None:
    """Refuse bytes behind the last chunk that are neither padding nor a label: where one byte more or less was
    written in between, all samples after it are shifted, and are noise.
    """
    rest = _read(stream, end, SLACK)
    if rest.strip(b"\0") and not rest.startswith(LABEL):
        raise refused(
            f"{place}, byte {end}",
            f"{len(rest):,} bytes that belong to no chunk"
            if len(rest) > 1
            else "a byte that belongs to no chunk",
            "the end: bytes were put into the file or lost, and the samples after them would be shifted",
        )


def _format(body: bytes, found: dict[bytes, Chunk], place: str) -> tuple[int, int, int, str]:
    """Rate, channels, bytes of a frame, subtype."""
    chunk = found[b"fmt "]
    where, body = f"{place}, byte {chunk.start - 8}", body[: chunk.size]
    if len(body) < 16:
        raise refused(where, f"a chunk 'fmt ' of {len(body)} bytes", "16 or more")
    tag, channels, rate, bytes_a_second, align, bits = struct.unpack("<HHIIHH", body[:16])
    if tag == _EXTENSIBLE:
        if len(body) < 40 or body[26:40] != _GUID_TAIL:
            raise refused(where, "an extensible format that names no kind of sample")
        tag = int.from_bytes(body[24:26], "little")
        valid = int.from_bytes(body[18:20], "little")
        if valid > bits:
            raise refused(where, f"{valid} bits that count of {bits}", "at most as many as there are")
    if tag not in {_PCM, _FLOAT}:
        name = _OTHERS.get(tag, f"format {tag:#06x}")
        raise refused(where, f"compressed sound ({name})" if tag in _OTHERS else f"sound of {name}")
    if (tag, bits) not in _SUBTYPES:
        depths = "32 or 64 bits" if tag == _FLOAT else " or ".join(map(str, DEPTHS)) + " bits"
        raise refused(where, f"samples of {bits} bits", depths)
    check_format(place, rate, channels, 1)
    if align != channels * bits // 8 or bytes_a_second != rate * align:
        raise refused(
            where,
            f"{rate:,} samples a second of {channels} × {bits} bits,"
            f" and beside it {align} bytes a sample and {bytes_a_second:,} bytes a second",
            f"{channels * bits // 8} and {rate * channels * bits // 8:,}: the header contradicts itself",
        )
    return rate, channels, align, _SUBTYPES[tag, bits]


def _bext(stream: BinaryIO, chunk: Chunk | None) -> str | None:
    """When the recording began, as a bext chunk tells it."""
    if chunk is None or chunk.size < _BEXT_END:
        return None
    text = _read(stream, chunk.start + _BEXT_DATE, _BEXT_END - _BEXT_DATE).decode("latin-1")
    return moment_of(text[:10], text[10:])


def _info(stream: BinaryIO, chunk: Chunk) -> str | None:
    """The day on which the recording was made, as a list of informations tells it (ICRD)."""
    body = _read(stream, chunk.start, min(chunk.size, LARGEST_INFO))
    at = 4
    while body[:4] == b"INFO" and at + 8 <= len(body):
        name, count = body[at : at + 4], int.from_bytes(body[at + 4 : at + 8], "little")
        if name == b"ICRD":
            text = body[at + 8 : at + 8 + count].split(b"\0")[0].decode("latin-1").strip()
            return moment_of(text[:10], text[11:19])
        at += 8 + count + count % 2
    return None


def moment_of(date: str, time: str) -> str | None:
    """A date, or a date and a time, in ISO 8601; None where they are none."""
    day, clock = _DATE.match(date), _TIME.match(time)
    if day is None or not (1990 <= int(day[1]) <= 2200 and 1 <= int(day[2]) <= 12 and 1 <= int(day[3]) <= 31):
        return None
    iso = "-".join(day.groups())
    return iso if clock is None else f"{iso}T{':'.join(clock.groups())}"
