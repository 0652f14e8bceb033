"""The header of a FLAC file.

Source: RFC 9639 (2024), section 8; its field widths are from memory, and held in the tests against files of
another writer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import BinaryIO

from stillroom.readers.sound.format import AudioFormat, check_format, cut, refused
from stillroom.readers.sound.wav import moment_of

HEAD = b"fLaC"
MOST_BLOCKS = 10_000
LARGEST_COMMENT = 64 * 1024
"""Bytes of the comments that are read."""

_STREAMINFO, _COMMENT = 0, 4
_STREAMINFO_SIZE = 34
_DEPTHS = {16: "PCM_16", 24: "PCM_24", 32: "PCM_32"}
_MOMENTS = ("creation_time", "recorded", "date")


@dataclass(frozen=True)
class FlacHeader:
    """What a FLAC file tells of itself: its format, and the MD5 of its samples (empty where it wasn't told)."""

    format: AudioFormat
    md5: bytes


def id3_size(head: bytes) -> int:
    """The size of an ID3 tag that stands before the file proper [bytes]; 0 without one."""
    if len(head) < 10 or head[:3] != b"ID3" or any(byte > 127 for byte in head[6:10]):
        return 0
    size = 0
    for byte in head[6:10]:
        size = size << 7 | byte
    return 10 + size + (10 if head[5] & 0x10 else 0)


def flac_header(stream: BinaryIO, size: int, place: str) -> FlacHeader:
    """What a FLAC file is.

    Parameters
    ----------
    stream : the file. size : of it [bytes]. place : its name, for messages.

    Raises
    ------
    UnreadableFile : cut short, without a length, or of a format that isn't read.
    """
    stream.seek(0)
    at = id3_size(stream.read(10))
    stream.seek(at)
    if stream.read(4) != HEAD:
        raise refused(place, "no FLAC file")
    at, info, moment = at + 4, b"", None
    for number in range(MOST_BLOCKS):
        stream.seek(at)
        head = stream.read(4)
        length = int.from_bytes(head[1:], "big")
        if len(head) < 4 or at + 4 + length > size:
            raise cut(f"{place}, byte {at}", f"a header of {at + 4 + length:,} bytes, and {size:,} are there")
        kind = head[0] & 0x7F
        if (number == 0) != (kind == _STREAMINFO):
            raise refused(
                f"{place}, byte {at}", "a header without the description of its stream first, and once"
            )
        if kind == _STREAMINFO:
            info = stream.read(length)
        elif kind == _COMMENT and moment is None:
            moment = _moment(stream.read(min(length, LARGEST_COMMENT)))
        at += 4 + length
        if head[0] & 0x80:
            break
    else:
        raise refused(place, f"more than {MOST_BLOCKS:,} blocks in its header", "a recording")
    found = _format(info, place, moment)
    if at >= size:
        raise cut(place, "a header and no sound behind it")
    return FlacHeader(found, info[18:34] if any(info[18:34]) else b"")


def _format(info: bytes, place: str, moment: str | None) -> AudioFormat:
    if len(info) < _STREAMINFO_SIZE:
        raise refused(place, f"a description of {len(info)} bytes", f"{_STREAMINFO_SIZE}")
    packed = int.from_bytes(info[10:18], "big")
    rate, channels = packed >> 44, (packed >> 41 & 0x7) + 1
    bits, frames = (packed >> 36 & 0x1F) + 1, packed & (1 << 36) - 1
    if bits not in _DEPTHS:
        raise refused(place, f"samples of {bits} bits", "16, 24 or 32 bits")
    if frames == 0:
        raise refused(place, "no length in the header", "a file that was closed by its writer")
    check_format(place, rate, channels, frames)
    return AudioFormat(rate, channels, frames, _DEPTHS[bits], "FLAC", moment)


def _moment(body: bytes) -> str | None:
    """When the recording was made, as its comments tell it."""
    at = 4 + int.from_bytes(body[:4], "little")
    count, at = int.from_bytes(body[at : at + 4], "little"), at + 4
    told: dict[str, str] = {}
    for _ in range(min(count, MOST_BLOCKS)):
        size = int.from_bytes(body[at : at + 4], "little")
        if at + 4 + size > len(body) or len(body) - at < 4:
            break
        key, _, value = body[at + 4 : at + 4 + size].decode("utf-8", "replace").partition("=")
        told.setdefault(key.casefold(), value.strip())
        at += 4 + size
    moments = (moment_of(told[each][:10], told[each][11:19]) for each in _MOMENTS if each in told)
    return next(filter(None, moments), None)
