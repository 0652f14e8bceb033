"""Small WAV files made byte by byte, so that headers can be right and wrong in any way."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

PCM, FLOAT, EXTENSIBLE = 1, 3, 0xFFFE
GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")
RATE = 48_000


def chunk(name: bytes, body: bytes, size: int | None = None) -> bytes:
    """A chunk with its size (or a wrong one), padded to an even length."""
    return name + struct.pack("<I", len(body) if size is None else size) + body + b"\0" * (len(body) % 2)


def samples(values: NDArray[np.float64], bits: int, tag: int = PCM) -> bytes:
    """Samples (frames, channels) of full scale 1.0 as bytes: whole numbers are rounded by hand."""
    if tag == FLOAT:
        return values.astype("<f4" if bits == 32 else "<f8").tobytes()
    whole = np.round(values * 2 ** (bits - 1)).astype(np.int64)
    whole = np.clip(whole, -(2 ** (bits - 1)), 2 ** (bits - 1) - 1)
    if bits == 8:
        return (whole + 128).astype("u1").tobytes()
    wide = whole.astype("<i8").tobytes()
    return b"".join(wide[i : i + bits // 8] for i in range(0, len(wide), 8))


@dataclass
class Wav:
    """A WAV file, every field of which can be told wrongly."""

    data: bytes = b""
    tag: int = PCM
    channels: int = 1
    rate: int = RATE
    bits: int = 24
    align: int | None = None
    bytes_a_second: int | None = None
    extensible: bool = False
    head: bytes = b"RIFF"
    riff_size: int | None = None
    data_size: int | None = None
    before: list[bytes] = field(default_factory=list)
    after: list[bytes] = field(default_factory=list)
    without: tuple[str, ...] = ()

    def fmt(self) -> bytes:
        """The chunk of the format."""
        align = self.channels * self.bits // 8 if self.align is None else self.align
        rate = self.rate * align if self.bytes_a_second is None else self.bytes_a_second
        tag = EXTENSIBLE if self.extensible else self.tag
        body = struct.pack("<HHIIHH", tag, self.channels, self.rate, rate, align, self.bits)
        if self.extensible:
            body += struct.pack("<HHIH", 22, self.bits, 0, self.tag) + GUID_TAIL
        return chunk(b"fmt ", body)

    def bytes(self) -> bytes:
        """The whole file."""
        wide = self.head != b"RIFF"
        size = len(self.data) if self.data_size is None else self.data_size
        parts = [] if "fmt" in self.without else [self.fmt()]
        parts += self.before
        parts += [] if "data" in self.without else [chunk(b"data", self.data, 0xFFFFFFFF if wide else size)]
        parts += self.after
        body = b"WAVE" + b"".join(parts)
        if wide:
            total = len(body) + 36 if self.riff_size is None else self.riff_size
            sizes = struct.pack("<QQQI", total, size, len(self.data), 0)
            return self.head + struct.pack("<I", 0xFFFFFFFF) + b"WAVE" + chunk(b"ds64", sizes) + body[4:]
        return self.head + struct.pack("<I", len(body) if self.riff_size is None else self.riff_size) + body


def noise(frames: int = 2000, channels: int = 1, seed: int = 1) -> NDArray[np.float64]:
    """Noise of a tenth of full scale (frames, channels)."""
    return 0.1 * np.random.default_rng(seed).standard_normal((frames, channels))


def wav(frames: int = 2000, channels: int = 1, bits: int = 24, tag: int = PCM, **told: object) -> bytes:
    """A right file, but for what is told."""
    data = samples(noise(frames, channels), bits, tag)
    return Wav(data, tag=tag, channels=channels, bits=bits, **told).bytes()  # type: ignore[arg-type]
