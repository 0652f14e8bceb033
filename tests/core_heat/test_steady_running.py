"""A run kept up to date reading by reading gives the numbers of the whole series."""

from __future__ import annotations

import numpy as np
import pytest
from settling_truth import any_run, opened_door

from stillroom.core.heat.forecast import forecast
from stillroom.core.heat.running import Running
from stillroom.core.heat.steady import steadiness
from stillroom.errors import BadInput, NotPossible


@pytest.mark.parametrize("block", [1, 7, 400])
def test_same_numbers_as_the_whole_series(block: int) -> None:
    rng = np.random.default_rng(1)
    run, _ = any_run(rng, tau=300.0)
    times, values = run.readings(rng, 8.0, 0.6)
    values = values + opened_door(times, 1850.0, 40.0, 0.5)
    values[[500, 2100]] += [4.0, -3.0]
    values[1000:1010] = np.nan
    running = Running()
    for begin in range(0, times.size, block):
        running.extend(times[begin : begin + block], values[begin : begin + block])
        upto = min(begin + block, times.size)
        if upto not in {700, 1200, 2000, 2400}:
            continue
        ours, whole = running.forecast(), forecast(times[:upto], values[:upto])
        assert [ours.final, ours.low, ours.high, ours.tau, ours.wait] == pytest.approx(
            [whole.final, whole.low, whole.high, whole.tau, whole.wait], rel=1e-9
        )
        if upto > 3.1 * run.tau:
            mine, all_at_once = running.steadiness(run.tau), steadiness(times[:upto], values[:upto], run.tau)
            assert mine.is_steady == all_at_once.is_steady
            assert mine.bound == pytest.approx(all_at_once.bound, rel=1e-9)
            assert mine.since == all_at_once.since
    assert running.steadiness(run.tau).is_steady


def test_another_time_constant_asks_anew_since_when() -> None:
    rng = np.random.default_rng(2)
    run, _ = any_run(rng, tau=300.0)
    times, values = run.readings(rng, 9.0, 0.3)
    running = Running()
    running.extend(times, values)
    for tau in (300.0, 303.0, 250.0):
        found = running.steadiness(tau)
        assert found.since == pytest.approx(steadiness(times, values, tau).since, abs=0.3 * tau)


def test_what_is_refused() -> None:
    running = Running()
    with pytest.raises(NotPossible):
        running.steadiness(300.0)
    with pytest.raises(NotPossible, match="0 readings"):
        running.forecast()
    running.add(1.0, 12.0)
    running.add(2.0, np.nan)
    assert len(running) == 1
    with pytest.raises(BadInput, match="rising"):
        running.add(1.0, 12.0)
