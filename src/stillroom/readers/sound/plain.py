"""Samples of plain WAV files as they lie in the file: faster than through a library of formats, and the same bits."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import BinaryIO

import numpy as np
import numpy.typing as npt

Array32 = npt.NDArray[np.float32]
Bytes = npt.NDArray[np.uint8]


def _of_16(raw: Bytes, at: int, stride: int, count: int) -> Array32:
    samples: npt.NDArray[np.int16] = np.ndarray((count,), "<i2", raw, at, (stride,))
    return samples.astype(np.float32) * np.float32(2.0**-15)


def _of_24(raw: Bytes, at: int, stride: int, count: int) -> Array32:
    """With the byte before each sample as a lower one, which is then taken off."""
    samples: npt.NDArray[np.int32] = np.ndarray((count,), "<i4", raw, at - 1, (stride,))
    return (samples & np.int32(-256)).astype(np.float32) * np.float32(2.0**-31)


_WIDTH_AND_WAY: dict[str, tuple[int, Callable[[Bytes, int, int, int], Array32]]] = {
    "PCM_16": (2, _of_16),
    "PCM_24": (3, _of_24),
}


def is_plain(subtype: str) -> bool:
    """Whether `read_plain` reads samples that are kept so."""
    return subtype in _WIDTH_AND_WAY and sys.byteorder == "little"


def read_plain(stream: BinaryIO, subtype: str, channels: int, channel: int, frames: int) -> Array32:
    """The next samples of one channel, full scale 1.0: (frames,), fewer where the file ends.

    Parameters
    ----------
    stream : stands at the beginning of a sample. subtype : for which `is_plain` holds.
    channels : in the file. channel : from 0.
    """
    width, way = _WIDTH_AND_WAY[subtype]
    raw = np.frombuffer(bytes(1) + stream.read(frames * channels * width), dtype=np.uint8)
    return way(raw, 1 + channel * width, channels * width, (len(raw) - 1) // (channels * width))
