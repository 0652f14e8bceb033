"""Spectral lines in a narrow-band spectrum: what stands out of the noise, narrow enough to be a tone.

The noise beneath is a running quantile (low enough that the lines of a dense comb don't lift it), and how much
a bin of noise scatters is read from the spectrum itself: nobody has to tell how many spectra were averaged.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.standards import ecma_418_1_2024 as ecma
from stillroom.core.standards.limits import require_not_negative
from stillroom.errors import OutOfRange

Indices = NDArray[np.intp]

QUANTILE, LOW_QUANTILE = 0.35, 0.10
"""Which quantile of the bins around is taken as the noise, and the one beside it that tells the scatter."""

Z_QUANTILE, Z_LOW_QUANTILE = -0.3853, -1.2816
"""The same as normal deviates."""

FLOOR_SPANS = ((0.0, 60.0), (1000.0, 120.0), (3000.0, 300.0))
"""From which frequency on [Hz], over which width the quantile is taken [Hz]: wider than a line may be. From
0.7 of it on the wider one gains weight."""

WIDEST, UNSTEADY = 4.0, 0.01
"""A line's power over the density of its three middle bins is at most this many bins (a steady one's: 3.0 … 3.4),
and this share of its frequency: a speed that wanders by ± 0.5 %."""

RING = 10
"""Bins on each side, just outside of what a line may fill, that it has to stand out of as well."""

STAND_OUT = 10.0**0.6
"""A line's highest bin stands at least this far above the noise [1]: 6 dB."""

SIGNIFICANCE = 5.2
"""… and beyond this many standard deviations of a bin of noise (as a normal deviate): 1 in 10 million bins."""

LOBE = 2
"""Bins on either side that hold a Hann window's main lobe."""

HANN_VARIANCE = 1.0 / 3.0
"""Variance of a steady line's power about its centre [bins²]: −R″(0)/(4π² R(0)) of the window's autocorrelation."""

CORRELATED = 1.4
"""Neighbouring bins of a Hann window go together: so much wider is a sum of them than of independent ones [1]."""

LOWEST = 15.0
"""Lines are looked for from here up [Hz]."""


@dataclass(frozen=True)
class Lines:
    """Spectral lines in rising frequency, n of them.

    Parameters
    ----------
    frequency, u : centre of each line's power and its standard uncertainty [Hz], shape (n,).
    power, u_power : mean square of the line alone, the noise beneath taken off, and its standard uncertainty.
    low, high : edges of the line's own band [Hz].
    floor : mean square of the noise in one bin beneath.
    variance : of the power about the centre, beyond the window's own [Hz²]: noise can make it negative.
    scatter : relative standard deviation of a bin of noise [1].
    """

    frequency: Array
    u: Array
    power: Array
    u_power: Array
    low: Array
    high: Array
    floor: Array
    variance: Array
    scatter: float

    def __len__(self) -> int:
        return len(self.frequency)


def gamma_quantile(scatter: float, z: float) -> float:
    """A quantile of a mean of independent spectra, by Wilson and Hilferty's cube [1].

    Parameters
    ----------
    scatter : its relative standard deviation [1].
    z : the normal deviate of the quantile.

    Returns
    -------
    the quantile over the mean [1].

    Source
    ------
    Wilson, Hilferty, PNAS 17 (1931) 684.
    """
    return float(max(1.0 - scatter**2 / 9.0 + z * scatter / 3.0, 0.05) ** 3)


def noise_floor(spectrum: Array, resolution: float) -> tuple[Array, float]:
    """The noise beneath the lines, and how much a bin of it scatters.

    Parameters
    ----------
    spectrum : mean square per bin, shape (B,), bins at 0, 1, 2 … times the resolution.
    resolution : distance of the bins [Hz].

    Returns
    -------
    mean square of the noise per bin, shape (B,), and its relative standard deviation [1].
    """
    quantile, reached = np.empty(len(spectrum)), 0
    ends = [*(start for start, _ in FLOOR_SPANS[1:]), np.inf]
    for (start, span), end in zip(FLOOR_SPANS, ends, strict=True):
        first, last = round(0.7 * start / resolution), int(min(end / resolution + 1.0, len(spectrum)))
        if first >= last:
            break
        wide = _running_quantile(spectrum, resolution, span, first, last)
        shared = reached - first  # bins that the narrower one reached too
        weight = np.clip((np.arange(first, reached) * resolution / max(start, 1e-9) - 0.7) / 0.3, 0.0, 1.0)
        wide[:shared] = weight * wide[:shared] + (1.0 - weight) * quantile[first:reached]
        quantile[first:last], reached = wide, last
    ratio = spectrum[quantile > 0.0] / quantile[quantile > 0.0]
    if ratio.size == 0:
        return quantile, 0.0
    scatter = _scatter(float(np.quantile(ratio, LOW_QUANTILE)))
    return quantile / gamma_quantile(scatter, Z_QUANTILE), scatter


def _running_quantile(spectrum: Array, resolution: float, span: float, first: int, last: int) -> Array:
    """The quantile over a width [Hz] about each bin, from the bin `first` to the one before `last`."""
    size = 2 * max(round(span / resolution / 2.0), 4) + 1
    start = max(first - size, 0)
    found = scipy.ndimage.percentile_filter(
        spectrum[start : last + size], 100.0 * QUANTILE, size=size, mode="nearest"
    )
    return np.asarray(found[first - start : last - start], dtype=np.float64)


def _scatter(low_over_quantile: float) -> float:
    """The scatter s for which the two quantiles have this ratio: a(1 − s²/9) = s/3 b, by Wilson–Hilferty."""
    cube = min(low_over_quantile, 1.0) ** (1.0 / 3.0)
    a, b = 1.0 - cube, (-Z_LOW_QUANTILE + cube * Z_QUANTILE) / 3.0
    if a < 1e-9:
        return 0.0
    return min(float((-b + np.sqrt(b**2 + 4.0 * a**2 / 9.0)) / (2.0 * a / 9.0)), 1.0)


def find_lines(spectrum: Array, resolution: float, *, up_to: float = ecma.RANGE[1]) -> Lines:
    """Every spectral line of a spectrum.

    A local maximum is a line when it stands out of the noise beneath (6 dB, and significantly), and when its
    power fits in a band that a tone may have (`WIDEST`, `UNSTEADY`): a resonance of broadband noise is wider.

    Parameters
    ----------
    spectrum : mean square per bin (a Hann window's), shape (B,), bins at 0, 1, 2 … times the resolution.
    resolution : distance of the bins [Hz].
    up_to : lines are looked for up to here [Hz].

    Returns
    -------
    the lines in rising frequency.

    Raises
    ------
    OutOfRange : fewer than 16 bins, a bin below zero or not finite.
    """
    power = require_not_negative("a bin of the spectrum", spectrum)
    if power.ndim != 1 or len(power) < 16:
        raise OutOfRange("narrow-band spectrum", found=f"shape {power.shape}", expected="at least 16 bins")
    power = power[: int(1.2 * up_to / resolution) + 64]
    floor, scatter = noise_floor(power, resolution)
    least = max(STAND_OUT, gamma_quantile(scatter, SIGNIFICANCE))
    over = power / np.maximum(floor, 1e-9 * power.max() + 1e-300)
    peaks = _peaks(over, least, scatter)
    peaks = peaks[(peaks * resolution >= LOWEST) & (peaks * resolution <= up_to)]
    peaks = peaks[power[peaks] >= least * _beside(power, peaks, resolution, scatter)]
    low, high = _edges(over, peaks, max(2.0, gamma_quantile(scatter, 3.0)))
    return lines_of(power, floor, scatter, resolution, peaks, low, high)


def _peaks(over: Array, least: float, scatter: float) -> Indices:
    """Local maxima that stand out, and out of the scatter of a wider line that they may sit on."""
    decibels = 10.0 * np.log10(np.maximum(over, 1e-3))
    dip = max(3.0, 10.0 * np.log10(gamma_quantile(min(scatter, 0.5), 4.0)))
    return np.asarray(
        scipy.signal.find_peaks(decibels, height=10.0 * np.log10(least), prominence=dip)[0], dtype=np.intp
    )


def _widest(frequency: Array, resolution: float) -> Array:
    """The most bins that a line at a frequency may fill."""
    unsteady = np.minimum(UNSTEADY * frequency, ecma.TONE_SHARE * ecma.critical_bandwidth(frequency))
    return np.asarray(WIDEST + unsteady / resolution)


def _beside(power: Array, peaks: Indices, resolution: float, scatter: float) -> Array:
    """The noise close beside each peak, just outside what a line may fill: the peak may sit on a wide hump."""
    half = np.ceil(_widest(np.asarray(peaks * resolution, dtype=np.float64), resolution) / 2.0).astype(
        np.intp
    )
    ring = half[:, None] + np.arange(1, RING + 1)
    around = np.concatenate([peaks[:, None] - ring, peaks[:, None] + ring], axis=1)
    bins = power[np.clip(around, 0, len(power) - 1)]
    return np.asarray(np.quantile(bins, QUANTILE, axis=1) / gamma_quantile(scatter, Z_QUANTILE))


def _edges(over: Array, peaks: Indices, edge: float) -> tuple[Indices, Indices]:
    """First and last bin of each line: its main lobe, or as far as it stands over the noise without a gap."""
    inside = np.concatenate([[False], over > edge, [False]])
    change = np.flatnonzero(inside[1:] != inside[:-1])
    starts, ends = change[::2], change[1::2] - 1
    run = np.maximum(np.searchsorted(starts, peaks, side="right") - 1, 0)
    low = np.minimum(starts[run], peaks - LOBE) if len(starts) else peaks - LOBE
    high = np.maximum(ends[run], peaks + LOBE) if len(starts) else peaks + LOBE
    for i in range(1, len(peaks)):
        if low[i] <= high[i - 1]:
            valley = peaks[i - 1] + int(np.argmin(over[peaks[i - 1] : peaks[i] + 1]))
            high[i - 1] = min(high[i - 1], valley)
            low[i] = max(low[i], valley + 1)
    return np.maximum(low, 1), np.minimum(high, len(over) - 1)


def lines_of(
    power: Array, floor: Array, scatter: float, resolution: float, peaks: Indices, low: Indices, high: Indices
) -> Lines:
    """The lines of given bins: those that have power and are narrow enough.

    Parameters
    ----------
    power, floor : mean square of each bin, and of the noise beneath it, shape (B,).
    scatter : relative standard deviation of a bin of noise [1].
    resolution : distance of the bins [Hz].
    peaks, low, high : highest, first and last bin of each line, shape (n,).

    Returns
    -------
    the lines with centre, power and uncertainties.
    """
    width = high - low + 1
    owner = np.repeat(np.arange(len(peaks)), width)
    bins = np.arange(len(owner)) - np.repeat(np.cumsum(width) - width, width) + low[owner]
    excess, off = power[bins] - floor[bins], (bins - peaks[owner]).astype(np.float64)

    def summed(weights: Array) -> Array:
        return np.bincount(owner, weights, minlength=len(peaks)).astype(np.float64)

    above = summed(excess)
    total = np.maximum(above, 1e-6 * floor[peaks] + 1e-300)
    centre = summed(excess * off) / total
    variance = summed(excess * off**2) / total - centre**2
    noise = floor[peaks] / total
    u_power = CORRELATED * scatter * total * np.sqrt(width * noise**2 + 2.0 * noise)
    u = scatter * np.sqrt(summed(off**2) * noise**2 + 2.0 * HANN_VARIANCE * noise)
    at = np.maximum(peaks + centre, 1.0) * resolution
    middle = summed(np.where(np.abs(off) <= 1, excess, 0.0))
    equivalent = np.full(len(peaks), np.inf)  # where nothing stands out at the peak itself: no line
    np.divide(3.0 * total, middle, out=equivalent, where=middle > 1e-300 + 1e-9 * total)
    good = (
        (total > 2.0 * u_power)
        & (equivalent <= _widest(at, resolution))
        & (peaks + centre > low)
        & (peaks + centre < high)
    )
    return Lines(
        frequency=at[good],
        u=(u * resolution)[good],
        power=total[good],
        u_power=u_power[good],
        low=np.asarray((low[good] - 0.5) * resolution, dtype=np.float64),
        high=np.asarray((high[good] + 0.5) * resolution, dtype=np.float64),
        floor=floor[peaks][good],
        variance=((variance - HANN_VARIANCE) * resolution**2)[good],
        scatter=scatter,
    )
