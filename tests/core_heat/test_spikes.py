"""Spikes: asked only of the readings that may be some, the answer is that of scipy's median filter over all."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.ndimage

from stillroom.core.arrays import Array
from stillroom.core.heat.bins import CORNER, NEIGHBOURS, NORMAL_MAD, SPIKE, SPIKE_FLOOR, Flags, spikes


def by_filters(values: Array) -> Flags:
    """Both medians of every reading; at the ends, where the mirror makes a corner, the rise is no spike."""
    off = np.abs(values - scipy.ndimage.median_filter(values, NEIGHBOURS, mode="mirror"))
    scale = NORMAL_MAD * scipy.ndimage.median_filter(off, NEIGHBOURS, mode="mirror")
    if values.size >= NEIGHBOURS:
        off[:7] -= CORNER * abs(np.median(values[6:9]) - np.median(values[:3]))
        off[-7:] -= CORNER * abs(np.median(values[-9:-6]) - np.median(values[-3:]))
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


def test_a_steep_begin_and_end_are_no_spikes_and_spikes_there_are() -> None:
    """15 K at τ = 600 s, read every 5 s with 0.03 K: the first readings rise by 0.125 K each."""
    probe = [3.49, 4.52, 5.21, 5.61, 5.94, 6.24, 6.46, 6.65, 6.79, 6.97, 7.15, 7.33, 7.5, 7.63, 7.71]
    assert not spikes(np.array(probe)).any()  # a fast mode beside the slow one
    rng = np.random.default_rng(5)
    rise = 15.0 * (1.0 - np.exp(-np.arange(0.0, 3000.0, 5.0) / 600.0))
    for _ in range(100):
        noise = rng.normal(0.0, 0.03, rise.size)
        assert not spikes(rise + noise).any()
        assert not spikes((rise + noise)[::-1]).any()
        steady = 15.0 + noise
        steady[[0, -1]] += (1.0, -1.0)
        assert np.array_equal(np.flatnonzero(spikes(steady)), [0, rise.size - 1])
