"""Discrete tones in a narrow-band spectrum, and whether they are prominent (ECMA-418-1)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.lines import Lines, find_lines
from stillroom.core.standards import ecma_418_1_2024 as ecma
from stillroom.core.standards.limits import require_positive

BY_NOISE = "tone-to-noise ratio"
BY_BANDS = "prominence ratio"

OWN_SHARE = 0.5
"""By its prominence ratio a tone is prominent only where tones carry this share of the critical band's power:
a bump of broadband noise with a weak line on it stands out of its neighbours too, but not as a tone."""

LEFT_FOR_NOISE = 0.25
"""Where less than this share of a critical band lies between tones, its noise is that beneath the lines [1]."""

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Tone:
    """One discrete tone.

    Parameters
    ----------
    frequency : its frequency [Hz].
    level : level of the tone alone [dB], with the reference of the spectrum.
    tone_to_noise : tone-to-noise ratio [dB]; of the strongest tone of a critical band together with those that
        lie within the proximity spacing.
    prominence_ratio : prominence ratio [dB].
    tnr_criterion, pr_criterion : from where on each of the two makes a tone prominent [dB].
    prominent : whether it is, by at least one of the two.
    by : by which ("tone-to-noise ratio", "prominence ratio").
    """

    frequency: float
    level: float
    tone_to_noise: float
    prominence_ratio: float
    tnr_criterion: float
    pr_criterion: float
    prominent: bool
    by: tuple[str, ...]


class Cumulated:
    """Mean square of a spectrum up to any frequency, each bin's spread evenly over its width."""

    def __init__(self, spectrum: Array, resolution: float) -> None:
        self._sum = np.concatenate([[0.0], np.cumsum(spectrum, dtype=np.float64)])
        self._resolution = resolution
        self.end = (len(spectrum) - 0.5) * resolution

    def between(self, low: Array, high: Array) -> Array:
        """Mean square from one frequency to another [Hz]."""
        return self._up_to(high) - self._up_to(low)

    def _up_to(self, frequency: Array) -> Array:
        place = np.clip(frequency / self._resolution + 0.5, 0.0, len(self._sum) - 1.0)
        whole = np.minimum(place.astype(np.intp), len(self._sum) - 2)
        below = self._sum[whole]
        return np.asarray(below + (place - whole) * (self._sum[whole + 1] - below))


def tones(spectrum: Array, resolution: float, noise_bandwidth: float) -> tuple[Tone, ...]:
    """Every discrete tone of a spectrum from 89.1 Hz to 11.22 kHz, in rising frequency.

    All candidates at once: band powers are differences of one cumulated sum. A candidate is a spectral line
    that stands out of the noise (`lines.find_lines`), so that broadband noise alone gives none. The tone's
    power is what stands above the noise in its own band (as wide as the window's main lobe, wider where the
    tone drifts). Lines outside the range are taken off the noise of their neighbours too.

    A tone that is not the strongest of its critical band is judged by its own tone-to-noise ratio alone: its
    prominence ratio is the stronger one's.

    Parameters
    ----------
    spectrum : mean square per bin (Hann), shape (B,), bins at 0, 1, 2 … times the resolution, scaled so that a
        band's mean square is the sum of its bins.
    resolution : distance of the bins [Hz]; 1.5 Hz or less for tones down to 89.1 Hz.
    noise_bandwidth : equivalent noise bandwidth of the window in bins [1].

    Returns
    -------
    the tones; a tone whose upper neighbouring band reaches beyond the spectrum is left out.

    Raises
    ------
    OutOfRange : a resolution or bandwidth that can't be, a bin below zero, fewer than 16 bins.

    Source
    ------
    ECMA-418-1:2024, clauses 10 to 12, but for what `OWN_SHARE` and `LEFT_FOR_NOISE` say.
    """
    require_positive("a resolution", resolution, "Hz")
    require_positive("a noise bandwidth", noise_bandwidth)
    cumulated = Cumulated(spectrum, resolution)
    lines = find_lines(spectrum, resolution)
    _, reach = ecma.neighbour_edges(np.maximum(lines.frequency, 1.0))
    chosen = np.flatnonzero(ecma.in_range(lines.frequency) & (reach <= cumulated.end))
    if chosen.size == 0:
        return ()
    return _judged(cumulated, lines, chosen, resolution)


def _judged(
    spectrum: Cumulated, lines: Lines, chosen: NDArray[np.intp], resolution: float
) -> tuple[Tone, ...]:
    """The chosen lines as tones."""
    f = lines.frequency[chosen]
    noise_ratio, strongest, share = _tone_to_noise(spectrum, lines, chosen, resolution)
    ratio = _prominence(spectrum, f)
    noise_criterion, criterion = ecma.tone_to_noise_criterion(f), ecma.prominence_criterion(f)
    by_noise = noise_ratio >= noise_criterion
    by_bands = (ratio >= criterion) & strongest & (share >= OWN_SHARE)
    levels = 10.0 * np.log10(lines.power[chosen])
    return tuple(
        Tone(
            frequency=float(f[i]),
            level=float(levels[i]),
            tone_to_noise=float(noise_ratio[i]),
            prominence_ratio=float(ratio[i]),
            tnr_criterion=float(noise_criterion[i]),
            pr_criterion=float(criterion[i]),
            prominent=bool(by_noise[i] or by_bands[i]),
            by=(BY_NOISE,) * bool(by_noise[i]) + (BY_BANDS,) * bool(by_bands[i]),
        )
        for i in range(len(f))
    )


def _tone_to_noise(
    spectrum: Cumulated, lines: Lines, chosen: NDArray[np.intp], resolution: float
) -> tuple[Array, Flags, Array]:
    """Of each chosen line: tone-to-noise ratio, whether it is the strongest of its band, the lines' share of it."""
    f, power = lines.frequency[chosen], lines.power
    f1, f2 = ecma.critical_band(f)
    bandwidth = f2 - f1
    band = spectrum.between(f1, f2)

    inside = (lines.frequency >= f1[:, None]) & (lines.frequency <= f2[:, None])
    strongest = power[chosen] >= np.where(inside, power, 0.0).max(axis=1)
    near = np.abs(lines.frequency - f[:, None]) <= ecma.proximity_spacing(f)[:, None]
    own = np.arange(len(power)) == chosen[:, None]
    combined = own | (inside & near & strongest[:, None])
    tone = np.where(combined, power, 0.0).sum(axis=1)

    low = np.maximum(lines.low, f1[:, None])
    high = np.minimum(lines.high, f2[:, None])
    overlaps = high > low
    within = np.where(overlaps, spectrum.between(low, np.maximum(low, high)), 0.0).sum(axis=1)
    width = np.where(overlaps, high - low, 0.0).sum(axis=1)
    ratio = ecma.tone_to_noise(tone, band, within, width, bandwidth)
    beneath = 10.0 * np.log10(tone / (np.maximum(lines.floor[chosen], 1e-300) * bandwidth / resolution))
    crowded = bandwidth - width < LEFT_FOR_NOISE * bandwidth
    share = np.where(inside, power, 0.0).sum(axis=1) / band
    return np.where(crowded | ~np.isfinite(ratio), beneath, ratio), strongest, share


def _prominence(spectrum: Cumulated, f: Array) -> Array:
    """The prominence ratio of the critical band about each frequency."""
    f1, f2 = ecma.critical_band(f)
    lowest, highest = ecma.neighbour_edges(f)
    return ecma.prominence(
        spectrum.between(f1, f2), spectrum.between(lowest, f1), spectrum.between(f2, highest), f
    )
