"""Quick logs with long gaps: what looks at even places stays small and soon done."""

from __future__ import annotations

import tracemalloc

import numpy as np

from stillroom.core.heat.cutting import by_change
from stillroom.core.heat.edges import MOST_PLACES, kink_edges
from stillroom.core.heat.gusts import air_gusts
from stillroom.methods.heat.channels import Channels
from stillroom.methods.heat.turning import turning_of

MOST_BYTES = 80 * MOST_PLACES
"""Ten arrays of the most places at once."""


def test_a_gap_of_days_in_a_quick_log_takes_little_room() -> None:
    times = np.concatenate([np.arange(0.0, 20.0, 0.01), 6 * 86_400.0 + np.arange(0.0, 20.0, 0.01)])
    values = 20.0 + 0.01 * np.sin(times)
    tracemalloc.start()
    assert air_gusts(times, values) == ()
    assert kink_edges(times, values) == ()
    assert len(by_change(times, values)) == 1
    assert tracemalloc.get_traced_memory()[1] < MOST_BYTES
    tracemalloc.stop()


def test_a_speed_read_years_apart_takes_little_room() -> None:
    times = np.concatenate([np.arange(0.0, 300.0), 1e12 + np.arange(0.0, 300.0)])
    channels = Channels(times, {"speed": np.full(times.size, 20.0)})
    found = turning_of(channels, slice(0, times.size), "", None)
    assert found.sd == 0.0
