"""Two loggers whose clocks differ, put together by the bend of the hot probe as the heat goes on or the speed steps.

The truth is that of a block of one heat capacity, whose probe follows it late, worked out step by step here.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from stillroom.core.heat.clocks import How
from stillroom.methods.heat.bends import by_bends

Array = NDArray[np.float64]
Pieces = dict[str, tuple[Array, Array]]

CAPACITY, POWER, ROOM = 5000.0, 297.0, 295.0
EVERY = 5.0
APART = 35.0
"""The other logger's clock is so far ahead [s]."""

SPEEDS = ((0.0, 30.0, 36.0), (1900.0, 20.0, 27.0), (3500.0, 13.0, 20.0))
"""From when [s] which speed [1/s] and conductance [W/K]."""


def true_run(on: float, off: float, late: float, end: float = 5000.0) -> tuple[Array, Array, Array, Array]:
    """Times, hot temperature, heater's power and speed of a run, every half second."""
    times = np.arange(0.0, end, 0.5)
    at = np.searchsorted([each[0] for each in SPEEDS], times, side="right") - 1
    speed, conductance = (np.array([each[i] for each in SPEEDS])[at] for i in (1, 2))
    power = np.where((times >= on) & (times < off), POWER, 0.0)
    block = np.zeros(len(times))
    probe = np.zeros(len(times))
    for i in range(1, len(times)):
        block[i] = block[i - 1] + 0.5 * (power[i - 1] - conductance[i - 1] * block[i - 1]) / CAPACITY
        probe[i] = probe[i - 1] + 0.5 * (block[i - 1] - probe[i - 1]) / late if late else block[i]
    return times, ROOM + probe, power, speed


def loggers(
    *, on: float = 400.0, off: float = 1e9, late: float = 0.0, seed: int = 0, begin: float = 0.0
) -> tuple[Pieces, Pieces]:
    """The hot probe in one logger, heater and speed in the other, each read every 5 s at its own moments."""
    rng = np.random.default_rng(seed)
    times, hot, power, speed = true_run(on, off, late)
    one = np.arange(begin + rng.uniform(0.0, EVERY), times[-1], EVERY)
    two = np.arange(begin + rng.uniform(0.0, EVERY), times[-1], EVERY)
    held = np.searchsorted(times, two, side="right") - 1
    main = {"hot_temperature": (one, np.interp(one, times, hot) + rng.normal(0.0, 0.03, len(one)))}
    other = {
        "heater_power": (two + APART, power[held] + rng.normal(0.0, 0.3, len(two))),
        "speed": (two + APART, speed[held] + rng.normal(0.0, 0.03, len(two))),
    }
    return main, other


def only(pieces: Pieces, name: str) -> Pieces:
    """One channel of a logger."""
    return {name: pieces[name]}


@pytest.mark.parametrize("late", [0.0, 10.0, 30.0])
@pytest.mark.parametrize("channel", ["heater_power", "speed"])
def test_clocks_35_s_apart_are_put_together_within_their_uncertainty(channel: str, late: float) -> None:
    found = []
    for seed in range(10):
        main, other = loggers(late=late, seed=seed)
        found.append(by_bends(main, only(other, channel), 0.0))
    sure = [each for each in found if each is not None]
    assert len(sure) >= (10 if channel == "heater_power" else 6)  # a late probe leaves a doubt of small steps
    assert all(each.how is How.SHARED_EDGE for each in sure)
    assert sum(abs(each.offset + APART) <= 2.0 * each.u for each in sure) >= len(sure) - 1
    assert 3.0 < float(np.median([each.u for each in sure])) < 10.0


def test_what_the_reference_is_shifted_by_counts() -> None:
    main, other = loggers()
    plain, shifted = (by_bends(main, only(other, "heater_power"), shift) for shift in (0.0, 60.0))
    assert plain is not None
    assert shifted is not None
    assert shifted.offset - plain.offset == pytest.approx(60.0)


def test_a_temperature_of_the_other_logger_bends_as_well() -> None:
    main, other = loggers()
    turned = {"heater_power": other["heater_power"], "air_in_temperature": main["hot_temperature"]}
    found = by_bends(turned, {"liquid_out_temperature": main["hot_temperature"]}, 0.0)
    assert found is not None
    assert found.offset == pytest.approx(APART, abs=2.0 * found.u)


@pytest.mark.parametrize(
    ("told", "channel"),
    [
        ({"on": 60.0}, "heater_power"),  # the heat goes on too early in the record: no bend of it is seen
        ({"begin": 600.0}, "heater_power"),  # it was on before
        ({"begin": 2500.0}, "speed"),  # one step of speed alone
        ({"on": 1e9}, "speed"),  # never heated: nothing bends
    ],
)
def test_where_it_is_not_sure_nothing_is_aligned(told: dict[str, float], channel: str) -> None:
    for seed in range(5):
        main, other = loggers(seed=seed, **told)
        found = by_bends(main, only(other, channel), 0.0)
        assert found is None or abs(found.offset + APART) <= 2.0 * found.u
        assert found is None


def test_a_heater_that_goes_off_too_tells_twice() -> None:
    main, other = loggers(off=3000.0)
    found = by_bends(main, only(other, "heater_power"), 0.0)
    assert found is not None
    assert found.edges == 2
    assert found.offset == pytest.approx(-APART, abs=2.0 * found.u)


def test_a_step_that_bent_nothing_leaves_a_doubt() -> None:
    main, other = loggers()
    times, power = other["heater_power"]
    twice = np.where((times > 2700.0) & (times < 3000.0), 0.0, power)
    assert by_bends(main, {"heater_power": (times, twice)}, 0.0) is None
