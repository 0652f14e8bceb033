"""Samples read straight from plain WAV files, against libsndfile (through soundfile) as another route."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from stillroom.readers.sound.audio import blocks
from stillroom.readers.source import Source


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "PCM_32", "FLOAT"])
@pytest.mark.parametrize("channels", [1, 2, 3])
def test_the_same_bits_as_libsndfile(tmp_path: Path, subtype: str, channels: int) -> None:
    rng = np.random.default_rng(channels)
    samples = rng.uniform(-1.0, 1.0, (70_001, channels))
    samples[:2] = [[-1.0] * channels, [1.0] * channels]
    path = tmp_path / "a.wav"
    soundfile.write(path, samples, 48_000, subtype=subtype)
    expected, _ = soundfile.read(path, dtype="float32", always_2d=True)
    for channel in range(channels):
        read = list(blocks(Source.of_path(path), channel + 1, 4096))
        assert {each.dtype for each in read} == {np.dtype(np.float32)}
        assert [len(each) for each in read] == [4096] * 17 + [70_001 - 17 * 4096]
        np.testing.assert_array_equal(np.concatenate(read), expected[:, channel])
    held = Source("a.wav", path.read_bytes())
    np.testing.assert_array_equal(np.concatenate(list(blocks(held, channels))), expected[:, channels - 1])
