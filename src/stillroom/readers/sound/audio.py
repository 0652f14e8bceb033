"""Sound recordings (WAV and FLAC), checked and streamed in blocks of float32, one channel by its number."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stillroom.readers.source import Source

Array32 = npt.NDArray[np.float32]

BLOCK = 65536
"""Frames of a block, where nobody says otherwise."""


@dataclass(frozen=True)
class AudioFormat:
    """What a recording is, as its header tells it.

    Parameters
    ----------
    rate : samples a second [Hz]. channels : how many. frames : samples of each channel.
    subtype : how a sample is kept ("PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE").
    container : "WAV", "RF64" or "FLAC". recorded : when, in ISO 8601, where the file tells it; else None.
    """

    rate: int
    channels: int
    frames: int
    subtype: str
    container: str
    recorded: str | None

    @property
    def length(self) -> float:
        """Length [s]."""
        return self.frames / self.rate


def is_audio(source: Source) -> bool:
    """Whether the first bytes are those of a WAV or FLAC file."""
    raise NotImplementedError


def audio_format(source: Source) -> AudioFormat:
    """What a recording is; a file that is cut, empty, or not sound is refused.

    Raises
    ------
    UnreadableFile : it is no recording that can be used; says where and why.
    """
    raise NotImplementedError


def blocks(source: Source, channel: int, frames: int = BLOCK) -> Iterator[Array32]:
    """One channel of a recording (from 1), in blocks of up to `frames` samples with full scale 1.0.

    Raises
    ------
    UnreadableFile : as `audio_format`, or samples that are missing or no numbers.
    """
    raise NotImplementedError
