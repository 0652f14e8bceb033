"""Background taken off levels: values, bounds, and what neither is."""

import math

import numpy as np
import pytest

from stillroom.core.sound.background import (
    chain_floor,
    corrected,
    corrected_bands,
    energy_mean,
    mean_background,
)
from stillroom.errors import BadInput, OutOfRange


def sum_of(*levels: float) -> float:
    return 10 * math.log10(sum(10 ** (level / 10) for level in levels))


@pytest.mark.parametrize("fan", [24.8, 26.0, 30.0, 34.0])
def test_a_level_over_its_background_is_found_again(fan: float) -> None:
    found = corrected(sum_of(fan, 20.0), 20.0)
    assert not found.is_bound
    assert found.level == pytest.approx(fan, abs=1e-9)
    assert found.delta == pytest.approx(sum_of(fan, 20.0) - 20.0)


def test_far_above_nothing_is_taken_off() -> None:
    found = corrected(36.0, 20.0)
    assert (found.level, found.correction, found.is_bound) == (36.0, 0.0, False)


@pytest.mark.parametrize("fan", [23.9, 20.0, 10.0, -40.0])
def test_too_near_it_is_a_bound_that_the_fan_keeps(fan: float) -> None:
    read = sum_of(fan, 20.0)
    found = corrected(read, 20.0)
    assert found.is_bound
    assert found.level == pytest.approx(read - 1.2563, abs=1e-4)
    assert not found.drowned
    if fan < 18.0:
        assert found.level > fan


def test_a_background_louder_than_the_fan_with_it_is_told() -> None:
    found = corrected(20.0, 22.0)
    assert found.is_bound
    assert found.drowned
    assert found.delta == -2.0
    assert found.level == pytest.approx(18.7437, abs=1e-4)
    assert found.by_background == 0.0  # a bound does not fall further with a louder background


def test_without_a_background_nothing_is_taken_off_and_nothing_made_up() -> None:
    found = corrected(30.0, None)
    assert (found.level, found.delta, found.is_bound, found.drowned) == (30.0, None, False, False)


def test_self_noise_is_a_floor() -> None:
    assert corrected(30.0, None, floor=17.0).is_bound is False
    assert corrected(22.9, None, floor=17.0).is_bound is True
    assert corrected(24.0, 15.0, floor=17.0).is_bound is False  # 24.0 − 0.58
    assert corrected(23.5, 15.0, floor=17.0).is_bound is True  # 23.5 − 0.66 lies under 17 + 6


def test_sensitivity_to_the_background_is_the_derivative() -> None:
    step = 1e-6
    found = corrected(28.0, 20.0)
    slope = (corrected(28.0, 20.0 - step).level - corrected(28.0, 20.0 + step).level) / (2 * step)
    assert found.by_background == pytest.approx(slope, rel=1e-6)
    assert corrected(36.0, 20.0).by_background == 0.0


def test_bands_each_have_their_own() -> None:
    found = corrected_bands(np.array([30.0, 30.0, 30.0]), np.array([10.0, 22.0, 29.0]))
    assert found.is_bound.tolist() == [False, False, True]
    assert found.correction == pytest.approx([0.0, 0.7494, 1.2563], abs=1e-4)
    assert found.level == pytest.approx(30.0 - found.correction)
    floors = corrected_bands(np.array([30.0, 30.0]), None, np.array([20.0, 25.0]))
    assert floors.is_bound.tolist() == [False, True]
    assert floors.delta is None


def test_background_before_and_after_are_averaged_as_energy() -> None:
    found = mean_background(20.0, 26.0)
    assert found is not None
    assert found.level == pytest.approx(sum_of(20.0, 26.0) - 10 * math.log10(2))
    assert found.difference == 6.0
    assert found.u == pytest.approx(3.0 / math.sqrt(3.0))
    for one in (mean_background(20.0, None), mean_background(None, 20.0)):
        assert one is not None
        assert (one.level, one.difference) == (pytest.approx(20.0), None)
        assert one.u == 1.0
    assert mean_background(None, None) is None
    with pytest.raises(OutOfRange, match="background"):
        mean_background(float("-inf"), 20.0)


def test_the_floor_of_a_chain_is_the_lowest_value_that_it_can_give() -> None:
    assert chain_floor(None, None) is None
    assert chain_floor(None, 16.0) == 22.0
    lowest = corrected(26.0, 20.0)
    assert not lowest.is_bound
    assert chain_floor(20.0, 10.0) == pytest.approx(lowest.level)


def test_energy_mean() -> None:
    assert energy_mean(np.array([30.0, 30.0])) == pytest.approx(30.0)
    assert energy_mean(np.array([30.0, -400.0])) == pytest.approx(30.0 - 3.0103, abs=1e-4)
    with pytest.raises(BadInput, match="levels to average"):
        energy_mean(np.array([]))


def test_silence_is_refused() -> None:
    with pytest.raises(OutOfRange, match="level"):
        corrected(float("-inf"), 20.0)
