"""Faults of the samples: clipping, drop-outs, silence. Each signal is made with the fault, and its like without."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.sound.analysis import analyse
from stillroom.core.sound.integrity import Integrity
from stillroom.core.sound.levels import QUIETEST
from stillroom.errors import OutOfRange

RATE = 48_000
TIME = np.arange(RATE * 6) / RATE


def faults(samples: np.ndarray, rate: int = RATE, block: int = 65_536) -> Integrity:
    samples = samples.astype(np.float32)
    return analyse([samples[i : i + block] for i in range(0, len(samples), block)], rate).integrity


def rounded(samples: np.ndarray, bits: int) -> np.ndarray:
    """As a file of so many bits holds them, cut at full scale."""
    step = 2.0 ** (1 - bits)
    return np.clip(np.round(samples / step) * step, -1.0, 1.0 - step)


def fan_noise(rms: float, seed: int = 3) -> np.ndarray:
    """Noise below about 2 kHz: neighbouring samples are alike."""
    white = np.random.default_rng(seed).standard_normal(len(TIME) + 24)
    smooth = np.convolve(white, np.ones(25) / 25.0, mode="valid")
    return rms * smooth / smooth.std()


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("frequency", [50.0, 1000.0, 1000.0 * np.sqrt(2.0)])
@pytest.mark.parametrize("amplitude", [0.9, 0.3, 0.02, 0.001])
def test_a_clean_sine_is_not_clipped(bits: int, frequency: float, amplitude: float) -> None:
    found = faults(rounded(amplitude * np.sin(2.0 * np.pi * frequency * TIME), bits))
    assert (found.clipped, found.clipped_runs, found.clipped_at) == (0, 0, None)
    assert found.dropouts == ()
    assert not found.silent


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("rms", [0.1, 0.01, 1e-3, 2e-4])
def test_clean_noise_has_no_fault(bits: int, rms: float) -> None:
    for samples in (fan_noise(rms), rms * np.random.default_rng(1).standard_normal(len(TIME))):
        found = faults(rounded(samples, bits))
        assert found.clipped == 0
        assert found.dropouts == ()
        assert not found.silent
        assert abs(found.dc_offset) < rms / 10.0


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("level", [1.0, 0.7, 0.05])
def test_a_clipped_sine_is_seen_at_any_level(bits: int, level: float) -> None:
    sine = np.clip(1.2 * np.sin(2.0 * np.pi * 997.0 * TIME), -1.0, 1.0)
    found = faults(rounded(level * sine, bits))
    share = 1.0 - np.arcsin(1.0 / 1.2) / (np.pi / 2.0)
    assert found.clipped == pytest.approx(share * len(TIME), rel=0.15)
    assert found.clipped_runs == pytest.approx(2 * 997 * 6, abs=3)
    assert found.clipped_at == pytest.approx(level, abs=1e-4)


@pytest.mark.parametrize("level", [1.0, 0.4])
def test_clipped_noise_is_seen(level: float) -> None:
    found = faults(rounded(np.clip(fan_noise(level / 2.5), -level, level), 24))
    assert found.clipped > 1000
    assert found.clipped_at == pytest.approx(level, abs=1e-4)


def test_one_side_is_enough() -> None:
    found = faults(rounded(np.maximum(fan_noise(0.1), -0.2), 24))
    assert found.clipped > 1000


def test_few_samples_at_full_scale_are_told() -> None:
    samples = fan_noise(0.1)
    samples[[1000, 1001, 200_000]] = 1.0
    found = faults(rounded(samples, 24))
    assert found.clipped == 3
    assert found.clipped_runs == 2


@pytest.mark.parametrize("value", [0.0, 0.0123])
@pytest.mark.parametrize("start", [0, 12_345, 65_536 - 100, 64_000 - 7, len(TIME) - 480])
def test_a_drop_out_is_found_where_it_is(value: float, start: int) -> None:
    samples = fan_noise(0.05)
    samples[start : start + 480] = value
    for block in (65_536, 1000):
        (found,) = faults(samples, block=block).dropouts
        assert found == pytest.approx((start / RATE, 0.01), abs=1e-9)


def test_several_drop_outs_are_told_apart() -> None:
    samples = fan_noise(0.05)
    for start, length in ((5000, 60), (5100, 200), (100_000, 200_000)):
        samples[start : start + length] = 0.0
    found = faults(samples).dropouts
    assert [round(a * RATE) for a, _ in found] == [5000, 5100, 100_000]
    assert [round(b * RATE) for _, b in found] == [60, 200, 188_000 if len(TIME) < 300_000 else 200_000]


def test_half_a_millisecond_is_no_drop_out() -> None:
    samples = fan_noise(0.05)
    samples[5000:5024] = 0.0
    assert faults(samples).dropouts == ()


@pytest.mark.parametrize("value", [0.0, 0.25])
def test_silence_is_marked_and_its_levels_stand_as_none(value: float) -> None:
    found = analyse([np.full(3 * RATE + 100, value, dtype=np.float32)], RATE)
    assert found.integrity.silent
    assert found.integrity.dropouts == ((0.0, pytest.approx(3.0 + 100 / RATE)),)
    assert found.integrity.dc_offset == pytest.approx(value)
    assert set(found.equivalent.values()) == {QUIETEST}
    assert (found.seconds == QUIETEST).all()
    assert found.rejected == 0.0


def test_the_last_digit_alone_is_silence() -> None:
    toggling = np.random.default_rng(2).integers(0, 2, len(TIME)) * 2.0**-15
    assert faults(toggling).silent
    assert not faults(4.0 * toggling).silent


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_sample_that_is_no_number_is_refused(bad: float) -> None:
    samples = fan_noise(0.05)
    samples[70_000] = bad
    with pytest.raises(OutOfRange, match="no finite number"):
        faults(samples)
