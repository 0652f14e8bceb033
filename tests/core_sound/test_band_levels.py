"""One-third-octave bands against IEC 61260-1:2014: midbands, class 1 limits by sines, sums of noise."""

from __future__ import annotations

import math

import numpy as np
import pytest
from pyoctaveband.compliance import class_limits
from sound_reference import figures

from stillroom.core.sound.analysis import FOR_LEVELS, Weighting, analyse
from stillroom.core.sound.frames import FrameStream, crossing
from stillroom.core.sound.spectra import SortedSpectra
from stillroom.core.standards import iec_61260_1_2014 as bands

RATES = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)


def test_midbands_are_the_exact_ones_and_named_by_the_nominal() -> None:
    midbands = dict(zip(bands.NUMBERS, bands.midbands(), strict=True))
    for entry in figures("third_octave_exact_midband_Hz"):
        assert midbands[entry["inputs"]["band_index_x"]] == pytest.approx(entry["expected"], abs=1e-4)
    assert len(bands.NOMINAL) == len(midbands) == 31
    np.testing.assert_allclose(bands.midbands() / bands.NOMINAL, 1.0, atol=0.013)
    np.testing.assert_allclose(np.sqrt(bands.edges()[1:] * bands.edges()[:-1]), bands.midbands(), rtol=1e-12)


def test_breakpoints_of_the_mask_are_the_published_ones() -> None:
    for entry in figures("third_octave_mask_breakpoint_f_over_fm"):
        ratio = float(bands.breakpoint_ratio(_exponent(entry)))
        assert ratio == pytest.approx(entry["expected"]["high"], abs=1e-5)
        assert 1.0 / ratio == pytest.approx(entry["expected"]["low"], abs=1e-5)


def test_class_1_limits_are_those_of_table_1() -> None:
    for entry in figures("class1_relative_attenuation_limits_dB"):
        ratio = bands.breakpoint_ratio(_exponent(entry)) * (1.0 + 1e-9 * ("outside" in str(entry["inputs"])))
        least, most = bands.class_1_limits(ratio)
        assert least == pytest.approx(entry["expected"]["min"], abs=1e-6)
        assert most == pytest.approx(entry["expected"]["max"] or math.inf)


def test_class_1_limits_agree_with_pyoctaveband_everywhere() -> None:
    ratio = np.geomspace(0.05, 20.0, 2001)
    for ours, theirs in zip(bands.class_1_limits(ratio), class_limits(3, 1, ratio), strict=True):
        np.testing.assert_allclose(ours, theirs, atol=1e-9)


def _exponent(entry: dict[str, dict[str, str]]) -> float:
    words = entry["inputs"]["octave_exponent"].split()[0].lstrip(">=")
    top, _, bottom = words.partition("/")
    return float(top) / float(bottom or 1)


# --- the response of the analysis ---------------------------------------------------------------------------------


def responses(frequency: float, rate: int) -> np.ndarray:
    """Attenuation of a steady sine in each band [dB]: what its switching on and off adds is left out."""
    time = np.arange(3 * rate) / rate
    sine = np.sin(2.0 * np.pi * frequency * time + frequency).astype(np.float32)
    spectra = SortedSpectra(FrameStream(rate, FOR_LEVELS, crossing, 2), rate, sort=False)
    spectra.feed(sine, (), last=True)
    power = bands.band_powers(spectra.mean(ends=False), spectra.frames.resolution)
    with np.errstate(divide="ignore"):
        return -10.0 * np.log10(2.0 * power)


def check_mask(frequencies: np.ndarray, rate: int, room: float) -> None:
    """Every band at these frequencies lies within class 1, with some room to spare inside the band [dB]."""
    valid = bands.edges()[1:] <= rate / 2.0
    found = np.array([responses(float(f), rate) for f in frequencies])
    reference = np.array([responses(float(f), rate)[i] for i, f in enumerate(bands.midbands()) if valid[i]])
    assert np.abs(reference).max() < 0.1  # the midband itself is attenuated by next to nothing
    for i, midband in enumerate(bands.midbands()[valid]):
        relative = found[:, i] - reference[i]
        least, most = bands.class_1_limits(frequencies / midband)
        outside = ~np.isfinite(most)
        assert (relative[~outside] >= least[~outside] + 0.2).all()
        assert (relative[~outside] <= most[~outside] - room).all(), midband
        assert (relative[outside] >= least[outside]).all(), midband


@pytest.mark.slow
def test_every_band_is_of_class_1_at_its_breakpoints() -> None:
    exponents = np.array([each for each, _ in (*bands.PASS_MOST[1:], *bands.STOP_LEAST[:3])])
    ratios = bands.breakpoint_ratio(exponents) * np.array([1, 1, 1, 1 - 1e-4, 1 + 1e-4, 1, 1])
    ratios = np.concatenate([ratios, 1.0 / ratios])
    frequencies = np.unique(np.round((bands.midbands()[:, None] * ratios).ravel(), 3))
    check_mask(frequencies[(frequencies > 4.0) & (frequencies < 23_000.0)], 48_000, 0.2)


@pytest.mark.slow
@pytest.mark.parametrize("rate", RATES)
def test_every_band_is_of_class_1_over_all_frequencies(rate: int) -> None:
    check_mask(np.geomspace(4.1, min(0.49 * rate, 40_000.0), 120 if rate < 60_000 else 45), rate, 0.2)


def noise(rate: int, seconds: int, slope: float, seed: int = 5) -> np.ndarray:
    """Gaussian noise whose density goes as f^slope, mean square 0.01."""
    rng = np.random.default_rng(seed)
    spectrum = np.fft.rfft(rng.standard_normal(rate * seconds))
    f = np.maximum(np.fft.rfftfreq(rate * seconds, 1.0 / rate), 5.0)
    shaped = np.fft.irfft(spectrum * f ** (slope / 2.0))
    return (0.1 * shaped / shaped.std()).astype(np.float32)


@pytest.mark.parametrize("rate", RATES)
def test_bands_of_noise_are_what_the_noise_was_made_of(rate: int) -> None:
    """Against the noise's own periodogram summed between the edges (closed form: Parseval)."""
    for slope in (0.0, -1.0):
        samples = noise(rate, 20, slope)
        found = analyse([samples], rate)
        power = np.abs(np.fft.rfft(samples.astype(np.float64))) ** 2 * 2.0 / len(samples) ** 2
        place = np.minimum(np.ceil(bands.edges() * 20.0).astype(int), len(power))
        truth = 10.0 * np.log10(np.add.reduceat(np.append(power, 0.0), place)[:-1])
        valid = found.band_valid
        assert valid.sum() == (30 if rate == 44_100 else 31)
        np.testing.assert_allclose(found.bands[valid][10:], truth[valid][10:], atol=0.03)
        np.testing.assert_allclose(
            found.bands[valid][:10], truth[valid][:10], atol=0.6
        )  # few degrees of freedom
        total = 10.0 * math.log10(power[place[0] : place[-1]].sum())
        assert 10.0 * math.log10(np.sum(10.0 ** (found.bands / 10.0))) == pytest.approx(total, abs=0.01)
        low, high = np.searchsorted(np.arange(len(power)) / 20.0, [10.0, bands.edges()[-1]])
        assert found.equivalent[Weighting.Z] == pytest.approx(
            10 * math.log10(power[low:high].sum()), abs=0.05
        )
