"""Spikes: asked only of the readings that may be some, the answer is that of scipy's median filter over all."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.ndimage

from stillroom.core.arrays import Array
from stillroom.core.heat.bins import NEIGHBOURS, NORMAL_MAD, SPIKE, SPIKE_FLOOR, Flags, spikes


def by_filters(values: Array) -> Flags:
    """Both medians of every reading."""
    off = np.abs(values - scipy.ndimage.median_filter(values, NEIGHBOURS, mode="mirror"))
    scale = NORMAL_MAD * scipy.ndimage.median_filter(off, NEIGHBOURS, mode="mirror")
    flags: Flags = off > SPIKE_FLOOR + SPIKE * scale
    return flags


@pytest.mark.parametrize("count", [1, 2, 3, 7, 8, 15, 16, 30, 400])
def test_spikes_are_those_of_the_whole_filter(count: int) -> None:
    rng, told = np.random.default_rng(count), 0
    for scatter in (0.01, 0.1, 0.5):
        for _ in range(40):
            values = np.cumsum(rng.normal(0.0, scatter / 4.0, count)) + rng.normal(0.0, scatter, count)
            values[rng.integers(0, count, max(1, count // 20))] += rng.normal(0.0, 4.0)
            found = spikes(values)
            assert np.array_equal(found, by_filters(values))
            told += int(found.sum())
    assert told > 0 or count < 8
