"""Levels, bands and time-weighted levels against PyOctaveBand 2.0.0 and pyfar: other routes to the same numbers."""

from __future__ import annotations

import numpy as np
import pyfar
import pyoctaveband
import pytest
from pyoctaveband.levels import laeq, ln_levels
from sound_reference import figures

from stillroom.core.sound.analysis import Analysis, Weighting, analyse
from stillroom.core.standards import iec_61260_1_2014 as bands

SECONDS = 30


@pytest.fixture(scope="module", params=[44_100, 48_000])
def rate(request: pytest.FixtureRequest) -> int:
    return int(request.param)


@pytest.fixture(scope="module")
def samples(rate: int) -> np.ndarray:
    """Fan-like noise (falling 5 dB per octave), a tone, and a slow swell of 4 dB."""
    rng = np.random.default_rng(7)
    spectrum = np.fft.rfft(rng.standard_normal(rate * SECONDS))
    f = np.maximum(np.fft.rfftfreq(rate * SECONDS, 1.0 / rate), 10.0)
    noise = np.fft.irfft(spectrum * np.where(f > 12.0, f**-0.8, 0.0))
    time = np.arange(rate * SECONDS) / rate
    swell = 10.0 ** (0.1 * np.sin(2.0 * np.pi * time / 10.0))
    return (swell * (0.02 * noise / noise.std() + 0.01 * np.sin(2 * np.pi * 205.3 * time))).astype(np.float32)


@pytest.fixture(scope="module")
def found(samples: np.ndarray, rate: int) -> Analysis:
    return analyse([samples], rate)


def test_totals_agree_with_pyoctaveband(found: Analysis, samples: np.ndarray, rate: int) -> None:
    assert found.equivalent[Weighting.A] == pytest.approx(laeq(samples, rate, dbfs=True), abs=0.02)
    c_weighted = pyoctaveband.weighting_filter(samples, rate, "C")
    theirs = 10.0 * np.log10(np.mean(c_weighted**2))
    assert found.equivalent[Weighting.C] == pytest.approx(theirs, abs=0.02)
    assert found.equivalent[Weighting.Z] == pytest.approx(10.0 * np.log10(np.mean(samples**2)), abs=0.02)


def test_levels_exceeded_agree_with_pyoctaveband(found: Analysis, samples: np.ndarray, rate: int) -> None:
    theirs = ln_levels(samples, rate, n=(1, 10, 50, 90), weighting="A", dbfs=True)
    for share, level in theirs.items():
        assert found.fast.exceeded[share] == pytest.approx(level, abs=0.08), share


def test_the_highest_levels_agree_with_pyoctaveband(found: Analysis, samples: np.ndarray, rate: int) -> None:
    weighted = pyoctaveband.weighting_filter(samples, rate, "A")
    for mode, ours in (("fast", found.fast.fast_max), ("slow", found.fast.slow_max)):
        theirs = 10.0 * np.log10(pyoctaveband.time_weighting(weighted, rate, mode=mode).max())
        assert ours == pytest.approx(theirs, abs=0.03)


def test_bands_agree_with_pyoctaveband_but_for_the_bandwidth_of_its_filters(
    found: Analysis, samples: np.ndarray, rate: int
) -> None:
    """Its Butterworth bands of order 6 read noise higher by a bias that is known; its tone's band has none."""
    (bias,) = (e["expected"] for e in figures("noise_bandwidth_bias_dB") if e["inputs"]["order"] == 6)
    levels, midbands = pyoctaveband.octavefilter(samples, rate, fraction=3, limits=[18, 17_000], dbfs=True)
    first = int(np.argmin(np.abs(bands.midbands() - midbands[0])))
    difference = np.array(levels) - found.bands[first : first + len(levels)]
    with_noise = np.abs(np.array(midbands) - 200.0) > 70.0
    above_100 = (np.array(midbands) > 90.0) & (np.array(midbands) < 0.4 * rate)
    used = with_noise & above_100
    assert used.sum() >= 18
    assert difference[used].mean() == pytest.approx(bias, abs=0.03)
    np.testing.assert_allclose(difference[used], bias, atol=0.15)
    np.testing.assert_allclose(
        difference[~above_100 & with_noise][1:-3], bias, atol=0.7
    )  # few degrees of freedom
    np.testing.assert_allclose(difference[np.abs(np.array(midbands) - 200.0) < 1.0], 0.0, atol=0.12)


def test_bands_agree_with_pyfar(found: Analysis, samples: np.ndarray, rate: int) -> None:
    """Its Butterworth bands of order 14: the bias is next to nothing."""
    signal = pyfar.Signal(samples.astype(np.float64), rate)
    filtered = pyfar.dsp.filter.fractional_octave_bands(
        signal, 3, frequency_range=(100.0, 10_000.0), order=14
    )
    theirs = 10.0 * np.log10(np.mean(filtered.time[..., 0, :] ** 2, axis=-1)).ravel()
    ours = found.bands[7:28]
    assert len(theirs) == len(ours)
    assert abs(float(np.mean(theirs - ours))) < 0.04
    np.testing.assert_allclose(theirs, ours, atol=0.2)
