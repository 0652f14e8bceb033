"""Invented sounds of known tones, for the tests of tones, speed and ramps.

A tone's power is set as tone-to-noise ratio: (density of the noise) x (critical bandwidth) x 10^(ratio/10), the
definition of the ratio; the critical bandwidth by ECMA-418-1's Formula (2), written again here.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import welch

from stillroom.core.sound.spectrogram import Spectrogram

Array = NDArray[np.float64]
Shape = Callable[[Array], Array]

REFERENCE = Path(__file__).parents[1] / "reference" / "tones_and_loudness.json"


def entries(quantity: str) -> list[dict]:
    """The reference figures of one quantity."""
    found = [
        each for each in json.loads(REFERENCE.read_text("utf-8"))["entries"] if each["quantity"] == quantity
    ]
    assert found
    return found


def bandwidth(frequency: float) -> float:
    return 25.0 + 75.0 * (1.0 + 1.4 * (frequency / 1000.0) ** 2) ** 0.69


def flat(frequency: Array) -> Array:
    return np.ones_like(frequency)


def fan_like(frequency: Array) -> Array:
    """Amplitude of broadband noise that falls above 800 Hz."""
    return 1.0 / np.sqrt(1.0 + (frequency / 800.0) ** 2)


def noise(rng: np.random.Generator, seconds: float, rate: int, shape: Shape = flat) -> Array:
    """Gaussian noise of density 2/rate per Hz times the square of `shape`."""
    count = round(seconds * rate)
    bins = np.fft.rfft(rng.standard_normal(count))
    return np.fft.irfft(bins * shape(np.maximum(np.fft.rfftfreq(count, 1.0 / rate), 2.0)), count)


def amplitude(frequency: Array | float, ratio: float, rate: int, shape: Shape = flat) -> Array:
    """Amplitude of a tone of that tone-to-noise ratio [dB] in `noise`."""
    f = np.asarray(frequency, dtype=np.float64)
    width = 25.0 + 75.0 * (1.0 + 1.4 * (f / 1000.0) ** 2) ** 0.69
    return np.sqrt(2.0 * (2.0 / rate) * shape(f) ** 2 * width * 10.0 ** (ratio / 10.0))


def with_tones(samples: Array, ratios: Mapping[float, float], rate: int, shape: Shape = flat) -> Array:
    """The samples with tones {frequency [Hz]: tone-to-noise ratio [dB]}."""
    time = np.arange(len(samples)) / rate
    for k, (frequency, ratio) in enumerate(ratios.items()):
        samples = samples + amplitude(frequency, ratio, rate, shape) * np.sin(
            2 * np.pi * frequency * time + 2.4 * k
        )
    return samples


def spectrum_of(samples: Array, rate: int) -> tuple[Array, float]:
    """Mean square per bin of about 1.5 Hz (Hann, half overlapped), and the resolution."""
    length = {48_000: 32_768, 12_000: 8_192}[rate]
    frequencies, density = welch(samples, rate, "hann", length, length // 2, detrend=False)
    return density * frequencies[1], float(frequencies[1])


def turning(
    rng: np.random.Generator,
    speed: Array | float,
    orders: Mapping[int, float],
    seconds: float = 20.0,
    fixed: Mapping[float, float] | None = None,
    rate: int = 12_000,
) -> Array:
    """A fan's sound: tones {order: ratio} locked to a speed [1/s] that may vary, and tones of fixed frequency."""
    samples = with_tones(noise(rng, seconds, rate, fan_like), fixed or {}, rate, fan_like)
    speeds = np.broadcast_to(np.asarray(speed, dtype=np.float64), samples.shape)
    angle = 2.0 * np.pi * np.cumsum(speeds) / rate
    for order, ratio in orders.items():
        samples = samples + amplitude(order * speeds, ratio, rate, fan_like) * np.sin(
            order * angle + 1.7 * order
        )
    return samples


def spectrogram_of(samples: Array, rate: int) -> Spectrogram:
    """Spectra of frames of a third of a second, half overlapped."""
    length = rate // 3
    hop = length // 2
    window = np.hanning(length + 1)[:-1]
    count = (len(samples) - length) // hop + 1
    frames = np.stack([samples[i * hop : i * hop + length] * window for i in range(count)])
    power = 2.0 * np.abs(np.fft.rfft(frames, axis=1)) ** 2 / (length * (window**2).sum())
    return Spectrogram(
        times=(np.arange(count) * hop + length / 2) / rate,
        frequencies=np.arange(power.shape[1]) * rate / length,
        power=power.astype(np.float32),
        resolution=rate / length,
        levels=10.0 * np.log10(power.sum(axis=1)),
    )
