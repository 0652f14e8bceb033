"""The analysis of a recording against signals whose levels are known in closed form."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest
from sound_reference import figures

from stillroom.core.sound.analysis import Analysis, Weighting, analyse
from stillroom.core.standards import iec_61672_1_2013 as iec
from stillroom.errors import NotPossible, OutOfRange

RATES = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
REFERENCE = 20.0 * math.log10(20e-6)  # of sound pressure, ISO 1683


def sine(frequency: float, rate: int, seconds: float, amplitude: float = 0.1) -> np.ndarray:
    time = np.arange(round(rate * seconds)) / rate
    return (amplitude * np.sin(2.0 * np.pi * frequency * time + 0.3)).astype(np.float32)


def white(rate: int, seconds: float, rms: float = 0.05, seed: int = 1) -> np.ndarray:
    return (rms * np.random.default_rng(seed).standard_normal(round(rate * seconds))).astype(np.float32)


@pytest.mark.parametrize("rate", RATES)
def test_1_khz_at_1_pascal_is_94_decibels(rate: int) -> None:
    """A full scale of 10 Pa: level 93.979 dB, by definition (ISO 1683, IEC 61672-1)."""
    found = analyse([sine(1000.0, rate, 10.0, math.sqrt(2.0) / 10.0)], rate)
    (published,) = figures("LAeq_dB")
    scale = 20.0 - REFERENCE
    for weighting in Weighting:
        assert found.equivalent[weighting] + scale == pytest.approx(published["expected"], abs=0.002)
        assert found.whole[weighting] == found.equivalent[weighting]
    np.testing.assert_allclose(found.seconds + scale, published["expected"], atol=0.005)
    assert found.bands[17] + scale == pytest.approx(published["expected"], abs=0.01)
    assert 10.0 * math.log10(found.spectrum.sum()) + scale == pytest.approx(published["expected"], abs=0.002)
    assert found.resolution <= 1.0
    assert found.noise_bandwidth == 1.5
    assert found.resolution * int(np.argmax(found.spectrum)) == pytest.approx(1000.0, abs=0.51)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("frequency", [31.5, 97.3, 222.2, 3150.0, 11_111.0])
def test_a_sine_is_weighted_as_the_definition_says(rate: int, frequency: float) -> None:
    found = analyse([sine(frequency, rate, 6.0)], rate)
    level = 10.0 * math.log10(0.005)
    expected_a = level + float(iec.a_weighting(frequency))
    within = 0.08 if frequency < 50.0 else 0.02  # the weighting bends over the width of a window's lobe
    assert found.equivalent[Weighting.Z] == pytest.approx(level, abs=0.01)
    assert found.equivalent[Weighting.A] == pytest.approx(expected_a, abs=within)
    assert found.equivalent[Weighting.C] == pytest.approx(level + float(iec.c_weighting(frequency)), abs=0.02)
    np.testing.assert_allclose(found.seconds, expected_a, atol=0.1)


def test_two_sines_add_by_energy() -> None:
    found = analyse([sine(222.2, 48_000, 8.0, 0.1) + sine(1481.0, 48_000, 8.0, 0.05)], 48_000)
    parts = [
        0.005 * 10.0 ** (iec.a_weighting(222.2) / 10.0),
        0.00125 * 10.0 ** (iec.a_weighting(1481.0) / 10.0),
    ]
    assert found.equivalent[Weighting.A] == pytest.approx(10.0 * math.log10(sum(parts)), abs=0.005)
    assert found.equivalent[Weighting.Z] == pytest.approx(10.0 * math.log10(0.00625), abs=0.002)
    assert found.bands[10] == pytest.approx(10.0 * math.log10(0.005), abs=0.05)  # 200 Hz: up to 223.9 Hz
    assert found.bands[19] == pytest.approx(10.0 * math.log10(0.00125), abs=0.02)


@pytest.mark.parametrize("rate", RATES)
def test_white_noise_has_the_power_it_was_given(rate: int) -> None:
    samples = white(rate, 20.0)
    found = analyse([samples], rate)
    f = np.arange(10.0, min(rate / 2.0, 22_387.0))
    density = 2.0 * float(np.mean(samples.astype(np.float64) ** 2)) / rate
    truth = 10.0 * math.log10(density * float(np.sum(iec.a_response(f) ** 2)))
    assert found.equivalent[Weighting.A] == pytest.approx(truth, abs=0.03)
    f = np.arange(10.0, rate / 2.0)  # a filter lets through what lies above 20 kHz as well
    filtered = density * float(np.sum(iec.a_response(f) ** 2))
    assert float(np.mean(10.0 ** (found.seconds / 10.0))) == pytest.approx(filtered, rel=0.02)
    assert found.spectrum[100:20_000].mean() / found.resolution == pytest.approx(density, rel=0.01)
    assert found.rejected == 0.0
    assert found.scatter is not None
    assert 0.0 < found.scatter < 0.15


def test_bands_above_half_of_the_rate_are_marked_and_not_taken_for_levels() -> None:
    expected = {44_100: 30, 48_000: 31, 22_050: 27, 8000: 23}
    for rate, count in expected.items():
        valid = analyse([white(rate, 5.0)], rate).band_valid
        assert valid.tolist() == [True] * count + [False] * (31 - count)


# --- streaming ---------------------------------------------------------------------------------------------------


def cut(samples: np.ndarray, lengths: list[int]) -> Iterator[np.ndarray]:
    at, i = 0, 0
    while at < len(samples):
        yield samples[at : at + lengths[i % len(lengths)]]
        at, i = at + lengths[i % len(lengths)], i + 1


def everything(found: Analysis) -> list[object]:
    levels = [*found.equivalent.values(), *found.whole.values(), *found.fast.exceeded.values(), found.drift]
    arrays = [found.seconds, found.bands, found.spectrum, found.fast.levels, found.fast.times]
    rest = [found.integrity, found.transients, found.fast.fast_max, found.fast.slow_max, found.rejected]
    return [*levels, *(each.tobytes() for each in arrays), *rest]


@pytest.mark.parametrize("lengths", [[65_536], [1000], [4096, 1, 77_777], [48_000], [7]])
@pytest.mark.parametrize("seconds", [2.0, 5.337])
def test_the_same_bits_whatever_the_blocks(lengths: list[int], seconds: float) -> None:
    samples = white(48_000, seconds) + np.float32(0.003)
    assert everything(analyse(cut(samples, lengths), 48_000)) == everything(analyse([samples], 48_000))


def test_blocks_of_one_sample() -> None:
    samples = white(8000, 1.6)
    assert everything(analyse(cut(samples, [1]), 8000)) == everything(analyse([samples], 8000))


def test_empty_blocks_between_don_t_matter() -> None:
    samples, nothing = white(8000, 1.5), np.zeros(0, dtype=np.float32)
    blocks = [nothing, samples[:5000], nothing, samples[5000:], nothing]
    assert everything(analyse(blocks, 8000)) == everything(analyse([samples], 8000))


def test_what_was_given_is_not_changed() -> None:
    samples = white(48_000, 2.0) + np.float32(0.1)
    before = samples.copy()
    analyse([samples], 48_000)
    np.testing.assert_array_equal(samples, before)


def test_a_spectrogram_has_the_same_levels_and_leaves_nothing_out() -> None:
    rate = 48_000
    samples = white(rate, 6.0)
    samples[2 * rate : 3 * rate] *= 10.0
    found = analyse(cut(samples, [10_000]), rate, spectrogram=True)
    assert found.rejected == 0.0
    assert found.transients == ()
    assert found.equivalent == found.whole
    assert found.whole[Weighting.A] == pytest.approx(analyse([samples], rate).whole[Weighting.A], abs=1e-4)
    kept = found.spectrogram
    assert kept is not None
    assert kept.power.shape == (len(kept.times), len(kept.frequencies))
    assert kept.frequencies[-1] == pytest.approx(6000.0, abs=5.0)
    assert kept.resolution == pytest.approx(3.0, abs=0.1)
    np.testing.assert_allclose(np.diff(kept.times), 1.0 / 9.0, atol=0.005)
    loud = (kept.times > 2.2) & (kept.times < 2.8)
    quiet = (kept.times < 1.8) | (kept.times > 3.2)
    assert np.mean(kept.levels[loud]) - np.mean(kept.levels[quiet]) == pytest.approx(20.0, abs=0.2)
    band = kept.power[quiet][:, (kept.frequencies > 500.0) & (kept.frequencies < 5500.0)]
    assert band.mean() / kept.resolution == pytest.approx(2.0 * 0.05**2 / rate, rel=0.03)


# --- ends and short recordings -------------------------------------------------------------------------------------


@pytest.mark.parametrize("place", ["start", "end"])
@pytest.mark.parametrize("length", [0.1, 0.3, 1.0])
def test_a_burst_at_an_end_weighs_as_much_as_anywhere(place: str, length: float) -> None:
    rate, seconds = 48_000, 7.41
    samples = np.zeros(round(rate * seconds), dtype=np.float32)
    burst = sine(1000.0, rate, length, 0.5)
    where = slice(0, len(burst)) if place == "start" else slice(len(samples) - len(burst), len(samples))
    samples[where] = burst
    found = analyse([samples], rate)
    truth = 10.0 * math.log10(0.125 * length / seconds)
    assert found.whole[Weighting.A] == pytest.approx(truth, abs=0.3 if length == 0.1 else 0.1)
    mean = np.sum(10.0 ** (found.seconds / 10.0) * np.array([*[1.0] * 7, seconds - 7.0])) / seconds
    assert 10.0 * math.log10(mean) == pytest.approx(truth, abs=0.02)


@pytest.mark.parametrize("where", np.linspace(0.3, 5.0, 9))
def test_a_burst_weighs_the_same_wherever_it_falls(where: float) -> None:
    rate = 48_000
    samples = np.zeros(rate * 6, dtype=np.float32)
    burst = sine(1000.0, rate, 0.05, 0.5)
    at = round(where * rate)
    samples[at : at + len(burst)] = burst
    found = analyse([samples], rate)
    assert found.whole[Weighting.A] == pytest.approx(10.0 * math.log10(0.125 * 0.05 / 6.0), abs=0.02)


@pytest.mark.parametrize("frames", [1, 2, 3, 10, 480, 4801, 24_000, 47_999, 48_000, 48_001, 64_000, 70_000])
def test_recordings_of_any_length(frames: int) -> None:
    rate = 48_000
    samples = sine(1000.0, rate, 2.0)[:frames]
    found = analyse([samples], rate)
    assert found.frames == frames
    assert len(found.seconds) == -(-frames // rate) == len(found.kept)
    assert np.isfinite(found.spectrum).all()
    assert np.isfinite(list(found.equivalent.values())).all()
    assert np.isfinite(list(found.fast.exceeded.values())).all()
    if frames > 4000:
        level = 10.0 * math.log10(0.005)
        assert found.equivalent[Weighting.A] == pytest.approx(level, abs=0.1)
        assert found.seconds[0] == pytest.approx(level, abs=0.1)
        assert 10.0 * math.log10(found.spectrum.sum()) == pytest.approx(level, abs=0.1)
    assert found.band_valid[17] == (frames * 230.0 / rate >= 4.0)
    assert found.noise_bandwidth == pytest.approx(1.5 * max(1.0, rate / frames))
    assert (found.drift is None) == (frames < 3 * rate)


def test_no_samples_have_no_analysis() -> None:
    with pytest.raises(NotPossible, match="no samples"):
        analyse([], 48_000)
    with pytest.raises(NotPossible, match="no samples"):
        analyse([np.zeros(0, dtype=np.float32)], 48_000)


def test_several_channels_at_once_are_refused() -> None:
    with pytest.raises(OutOfRange, match="one channel"):
        analyse([np.zeros((100, 2), dtype=np.float32)], 48_000)


def test_a_sweep_of_half_an_hour_is_refused() -> None:
    block = white(8000, 60.0)
    with pytest.raises(NotPossible, match="15 minutes"):
        analyse([block] * 30, 8000, spectrogram=True)


# --- rumble and offset -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("frequency", [3.3, 7.7, 9.1])
def test_a_strong_rumble_does_not_leak_into_a_quiet_fan(frequency: float) -> None:
    """Rumble of a building 50 dB over the fan's A-weighted level (rectangular blocks would read 10 dB too much)."""
    rate = 48_000
    fan = white(rate, 30.0, 1e-5)
    rumble = sine(frequency, rate, 30.0, math.sqrt(2.0) * 10.0 ** (2.5) * 1e-5)
    without, with_it = analyse([fan], rate), analyse([fan + rumble], rate)
    for name in ("equivalent", "whole"):
        assert getattr(with_it, name)[Weighting.A] == pytest.approx(
            getattr(without, name)[Weighting.A], abs=0.2
        )
    np.testing.assert_allclose(with_it.bands[13:], without.bands[13:], atol=0.2)
    np.testing.assert_allclose(with_it.seconds, without.seconds, atol=0.3)
    assert with_it.fast.fast_max == pytest.approx(without.fast.fast_max, abs=0.2)


def test_an_offset_is_told_and_counts_for_nothing() -> None:
    samples = white(48_000, 10.0, 1e-4)
    without, found = analyse([samples], 48_000), analyse([samples + np.float32(0.05)], 48_000)
    assert found.integrity.dc_offset == pytest.approx(0.05, abs=1e-5)
    for weighting in Weighting:
        assert found.equivalent[weighting] == pytest.approx(without.equivalent[weighting], abs=0.02)
    np.testing.assert_allclose(found.bands, without.bands, atol=0.05)
