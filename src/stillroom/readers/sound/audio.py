"""Sound recordings (WAV and FLAC), checked and streamed in blocks of float32, one channel by its number."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from typing import Any, BinaryIO

import numpy as np
import numpy.typing as npt

from stillroom.errors import BadInput
from stillroom.readers.sound.flac import HEAD as FLAC_HEAD
from stillroom.readers.sound.flac import flac_header, id3_size
from stillroom.readers.sound.format import AudioFormat, cut, refused
from stillroom.readers.sound.plain import is_plain, read_plain
from stillroom.readers.sound.wav import HEADS as WAV_HEADS
from stillroom.readers.sound.wav import wav_format
from stillroom.readers.source import Source

__all__ = ["BLOCK", "AudioFormat", "audio_format", "blocks", "check_audio", "is_audio"]

Array32 = npt.NDArray[np.float32]

BLOCK = 65536
"""Frames of a block, where nobody says otherwise."""

_FLOATS = frozenset({"FLOAT", "DOUBLE"})


def is_audio(source: Source) -> bool:
    """Whether the first bytes are those of a WAV or FLAC file, whatever its name."""
    head = source.head(12)
    return _is_wav(head) or _is_flac(source, head)


def _is_wav(head: bytes) -> bool:
    return head[:4] in WAV_HEADS


def _is_flac(source: Source, head: bytes) -> bool:
    if head.startswith(FLAC_HEAD):
        return True
    if not (before := id3_size(head)):
        return False
    with source.open() as stream:
        stream.seek(before)
        return stream.read(4) == FLAC_HEAD


def audio_format(source: Source) -> AudioFormat:
    """What a recording is, as its header tells it: nothing is read but the header.

    Raises
    ------
    UnreadableFile : empty, cut short, not sound, or a header that contradicts itself or the file's size; says
        where, what was found and what would be right.
    BadInput : larger than the source's limit.
    """
    return _header(source)[0]


def _header(source: Source) -> tuple[AudioFormat, bytes]:
    """The format, and the MD5 of the samples where the file tells it."""
    if source.size == 0:
        raise refused(source.name, "no bytes at all")
    head = source.head(12)
    try:
        with source.open() as stream:
            if _is_wav(head):
                return wav_format(stream, source.size, source.name), b""
            if _is_flac(source, head):
                flac = flac_header(stream, source.size, source.name)
                return flac.format, flac.md5
    except OSError as problem:
        raise refused(source.name, problem.strerror or str(problem), "a file that can be read") from None
    raise refused(
        source.name, source.container or f"bytes that begin {ascii(head[:8])[2:-1]!r}, and no sound"
    )


def blocks(source: Source, channel: int, frames: int = BLOCK) -> Iterator[Array32]:
    """One channel of a recording in blocks of float32 with full scale 1.0; whole numbers of up to 24 bits exactly.

    Parameters
    ----------
    channel : from 1. frames : greatest length of a block.

    Raises
    ------
    UnreadableFile : as `audio_format`; samples that are missing, or no numbers, with the time at which they are.
    BadInput : there is no such channel.
    """
    known = audio_format(source)
    if not 1 <= channel <= known.channels:
        raise BadInput(
            "channel",
            place=source.name,
            found=f"channel {channel}",
            expected="channel 1, the only one" if known.channels == 1 else f"1 to {known.channels}",
        )
    return _channel(source, known, channel - 1, frames)


def _channel(source: Source, known: AudioFormat, index: int, frames: int) -> Iterator[Array32]:
    if known.begins is not None and is_plain(known.subtype):
        yield from _plain(source, known, known.begins, index, frames)
        return
    done = 0
    for block in _read(source, known, frames, "float32"):
        one: Array32 = np.ascontiguousarray(block[:, index])
        _check_finite(source, known, one, done)
        done += len(one)
        yield one


def _plain(source: Source, known: AudioFormat, begins: int, index: int, frames: int) -> Iterator[Array32]:
    done = 0
    try:
        with source.open() as stream:
            stream.seek(begins)
            while done < known.frames:
                count = min(frames, known.frames - done)
                block = read_plain(stream, known.subtype, known.channels, index, count)
                if len(block) < count:
                    break
                done += count
                yield block
    except OSError as problem:
        raise cut(f"{source.name}, from {done / known.rate:.3f} s", _reason(problem)) from None
    _check_whole(source, known, done)


def check_audio(source: Source) -> AudioFormat:
    """What a recording is, after a look at all its samples where its header can't tell that they are whole: at the
    sums of a FLAC file, at the numbers of a float file. Plain WAV files are whole if their sizes agree.

    Raises
    ------
    UnreadableFile : as `blocks`, and samples of a FLAC file that aren't those that were written.
    """
    known, md5 = _header(source)
    if known.subtype in _FLOATS:
        done = 0
        for block in _read(source, known, BLOCK, "float32"):
            _check_finite(source, known, block, done)
            done += len(block)
    elif known.container == "FLAC":
        _check_sum(source, known, md5)
    return known


def _check_sum(source: Source, known: AudioFormat, md5: bytes) -> None:
    width = int(known.subtype.removeprefix("PCM_")) // 8
    digest = hashlib.md5(usedforsecurity=False)
    for block in _read(source, known, BLOCK, "int16" if width == 2 else "int32"):
        if md5:
            little = np.ascontiguousarray(block, dtype=f"<i{2 if width == 2 else 4}")
            sample = little.view(np.uint8).reshape(-1, 2 if width == 2 else 4)
            digest.update(np.ascontiguousarray(sample[:, -width:]).data)
    if md5 and digest.digest() != md5:
        raise refused(
            source.name,
            "samples that differ from those that were written (their MD5 is another)",
            "an undamaged copy of the recording",
        )


def _check_finite(source: Source, known: AudioFormat, block: npt.NDArray[Any], done: int) -> None:
    if known.subtype in _FLOATS and not np.isfinite(block).all():
        at = done + int(np.argmin(np.isfinite(block).reshape(len(block), -1).all(axis=1)))
        raise refused(
            f"{source.name}, at {at / known.rate:.3f} s",
            "a sample that is no finite number",
            "numbers only: export the recording again",
        )


def _read(source: Source, known: AudioFormat, frames: int, dtype: str) -> Iterator[npt.NDArray[Any]]:
    """All channels in blocks (frames, channels), exactly as many frames as the header says."""
    import soundfile  # slow to load, and only wanted where a recording is read

    done = 0
    try:
        with source.open() as raw, soundfile.SoundFile(_opened(raw)) as file:
            if (file.samplerate, file.channels) != (known.rate, known.channels):
                raise refused(source.name, "a header that can be read in two ways", "a plain recording")
            while done < known.frames:
                block = file.read(min(frames, known.frames - done), dtype=dtype, always_2d=True)
                if not len(block):
                    break
                done += len(block)
                yield block
    except (soundfile.LibsndfileError, OSError) as problem:
        raise cut(f"{source.name}, from {done / known.rate:.3f} s", _reason(problem)) from None
    _check_whole(source, known, done)


def _check_whole(source: Source, known: AudioFormat, done: int) -> None:
    if done < known.frames:
        raise cut(
            f"{source.name}, at {done / known.rate:.3f} s",
            f"{done:,} samples, and the header says {known.frames:,}",
        )


def _opened(raw: BinaryIO) -> BinaryIO | Bw64:
    """The stream, with the name of its container that the library knows."""
    head = raw.read(4)
    raw.seek(0)
    return Bw64(raw) if head == b"BW64" else raw


class Bw64(io.RawIOBase):
    """A BW64 file as the RF64 file that it is but for its first four bytes."""

    def __init__(self, raw: BinaryIO) -> None:
        super().__init__()
        self.raw = raw

    def seek(self, offset: int, whence: int = io.SEEK_SET, /) -> int:
        """As of the file."""
        return self.raw.seek(offset, whence)

    def tell(self) -> int:
        """As of the file."""
        return self.raw.tell()

    def readinto(self, buffer: Any, /) -> int:
        """As of the file, but for the first four bytes."""
        at = self.raw.tell()
        data = self.raw.read(len(buffer))
        if at < len(_RF64):
            data = (_RF64[at:] + data[len(_RF64) - at :])[: len(data)]
        buffer[: len(data)] = data
        return len(data)


_RF64 = b"RF64"


def _reason(problem: Exception) -> str:
    words = getattr(problem, "error_string", "") or getattr(problem, "strerror", "") or str(problem)
    return f"samples that can't be decoded ({str(words).strip().rstrip('.')})"
