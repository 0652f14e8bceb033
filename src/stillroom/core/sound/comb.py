"""How well a comb of harmonics stands in a spectrum, for many fundamentals at once, and its exact place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.lines import Lines, gamma_quantile, lines_of

Real = NDArray[np.floating]
"""Spectra of recordings come in double, those of ramps in single precision."""

MOST = 25.0
"""No tooth of a comb counts for more than this [dB]: one loud tone alone is no comb."""

PRESENT = 1.5
"""What a tooth has to stand above the noise before it counts [dB], in a spectrum with little scatter."""

ABSENT = 6.0
"""What a tooth that isn't there takes from a comb [dB]: else half of a fundamental would fit as well as the whole."""

SKIRT = 10.0**-0.4
"""A bin this far below the highest within three bins is a line's skirt, and no tooth [1]."""

TEETH = 12
"""Harmonics whose sum makes the score; the best sum of the first 1, 2 … of them counts."""

REFINED = 24
"""Harmonics that the exact place may use."""

HIGHEST = 6000.0
"""Harmonics are used up to here [Hz]."""

BESIDE = 2.5
"""A harmonic so near to a tone that is something else is moved by it, and left out [bins]."""

SPREAD_SHARE = 0.3
"""How much of a line's own widening its centre may be off by [1]."""


@dataclass(frozen=True)
class Comb:
    """A comb of harmonics.

    Parameters
    ----------
    fundamental, u : its frequency and standard uncertainty [Hz].
    harmonics : numbers of the harmonics that were used, in rising order.
    drift : standard deviation of the fundamental during the recording over itself [1].
    """

    fundamental: float
    u: float
    harmonics: tuple[int, ...]
    drift: float


def whitened(power: Real, floor: Real) -> Real:
    """How far each bin, with its two neighbours, stands above the noise: 0 … 25 dB, shape (…, B)."""
    over = power / np.maximum(floor, 1e-9 * power.max(axis=-1, keepdims=True) + 1e-300)
    over[..., 1:-1] = (over[..., :-2] + over[..., 1:-1] + over[..., 2:]) / 3.0
    over[over < SKIRT * scipy.ndimage.maximum_filter1d(over, 7, axis=-1)] = 1.0
    white: Real = np.clip(10.0 * np.log10(np.maximum(over, 1.0)), 0.0, MOST)
    return white


def tooth_threshold(scatter: float) -> float:
    """What a tooth has to stand above the noise before it counts, in noise of that scatter [dB]."""
    return max(PRESENT, 10.0 * float(np.log10(gamma_quantile(0.7 * scatter, 2.0))))


def scores(white: Real, resolution: float, fundamentals: Array, threshold: float, teeth: int = TEETH) -> Real:
    """The score of each fundamental.

    Parameters
    ----------
    white : what `whitened` gives, shape (…, B).
    resolution : distance of the bins [Hz].
    fundamentals : candidates [Hz], shape (g,).
    threshold : what each tooth has to stand above the noise [dB].
    teeth : harmonics that are summed.

    Returns
    -------
    the best partial sum of the first harmonics [dB], shape (…, g).
    """
    last = white.shape[-1] - 1
    total = np.zeros((*white.shape[:-1], len(fundamentals)), dtype=white.dtype)
    best = np.full(total.shape, -np.inf, dtype=white.dtype)
    for harmonic in range(1, teeth + 1):
        place = harmonic * fundamentals / resolution
        bins = np.rint(place).astype(np.intp)
        tooth = np.where(bins <= last, white[..., np.minimum(bins, last)], 0.0)
        total += np.where(tooth > threshold, tooth - threshold, -ABSENT)
        np.maximum(best, total, out=best)
    return best


def exact_score(white: Array, resolution: float, found: Comb, threshold: float) -> float:
    """The score of a refined comb [dB]: like `scores`, of the harmonics alone that agree on one fundamental."""
    total, best = 0.0, float("-inf")
    for harmonic in range(1, TEETH + 1):
        middle = round(harmonic * found.fundamental / resolution)
        tooth = float(white[max(middle - 1, 0) : middle + 2].max(initial=0.0))
        agrees = harmonic in found.harmonics and tooth > threshold
        total += tooth - threshold if agrees else -ABSENT
        best = max(best, total)
    return best


def grid(low: float, high: float, resolution: float) -> Array:
    """Fundamentals [Hz] so close that no comb's teeth fall between the bins."""
    step = 0.6 * resolution / TEETH
    return np.arange(low, high + step, step)


def refined(
    power: Array, floor: Array, scatter: float, resolution: float, start: float, avoid: Sequence[float] = ()
) -> Comb | None:
    """The exact place of the comb near a fundamental, by weighted least squares over its harmonics.

    Harmonics are taken in from the lowest up, each looked for where those before put it, so that an error of the
    start doesn't grow. Those that disagree with the rest lose their weight (bisquare).

    Parameters
    ----------
    power, floor : mean square of each bin and of the noise beneath it, shape (B,).
    scatter : relative standard deviation of a bin of noise [1].
    resolution : distance of the bins [Hz].
    start : the fundamental, good to a part of a bin [Hz].
    avoid : frequencies of tones that are known to be something else [Hz].

    Returns
    -------
    the comb, or None where no harmonic stands out.
    """
    f, found = start, list[tuple[int, Lines]]()
    top = min(HIGHEST, (len(power) - 16) * resolution)
    for harmonic in range(1, min(REFINED, int(top / start)) + 1):
        line = _tooth(power, floor, scatter, resolution, harmonic * f)
        if line is None or any(abs(line.frequency[0] - other) < BESIDE * resolution for other in avoid):
            continue
        if abs(line.frequency[0] - harmonic * f) <= (1.5 if len(found) < 2 else 0.75) * resolution:
            found.append((harmonic, line))
            f = _fitted(found, resolution)[0]
    if not found:
        return None
    f, u, kept = _fitted(found, resolution)
    used = [pair for pair, keep in zip(found, kept, strict=True) if keep]
    if not used:
        return None
    return Comb(f, u, tuple(harmonic for harmonic, _ in used), _drift(used))


def _tooth(power: Array, floor: Array, scatter: float, resolution: float, at: float) -> Lines | None:
    """The line within 1½ bins of a frequency, or None."""
    middle = round(at / resolution)
    if not 4 <= middle < len(power) - 8:
        return None
    near = np.arange(middle - 1, middle + 2)
    peak = near[int(np.argmax(power[near] / np.maximum(floor[near], 1e-300)))]
    peaks = np.array([peak])
    line = lines_of(power, floor, scatter, resolution, peaks, peaks - 3, peaks + 3)
    return line if len(line) and line.power[0] > 4.0 * line.u_power[0] else None


def _fitted(found: Sequence[tuple[int, Lines]], resolution: float) -> tuple[float, float, NDArray[np.bool_]]:
    """Fundamental, standard uncertainty [Hz], and which harmonics kept weight."""
    h = np.array([harmonic for harmonic, _ in found], dtype=np.float64)
    f = np.array([line.frequency[0] for _, line in found])
    variance = np.array([line.u[0] ** 2 for _, line in found]) + (0.003 * resolution) ** 2
    variance += SPREAD_SHARE**2 * np.array([max(float(line.variance[0]), 0.0) for _, line in found])
    weight = np.ones(len(h))
    fundamental = float(np.median(f / h)) if len(h) > 2 else float(f[0] / h[0])
    for _ in range(6):
        total = (weight * h**2 / variance).sum()
        if total <= 0.0:
            break
        fundamental = float((weight * h * f / variance).sum() / total)
        z = (f - h * fundamental) / np.sqrt(variance)
        scale = (
            max(1.0, 1.4826 * float(np.median(np.abs(z)))) if len(h) > 2 else max(1.0, float(np.abs(z).max()))
        )
        weight = np.clip(1.0 - (z / (4.7 * scale)) ** 2, 0.0, 1.0) ** 2
    kept = weight > 0.0
    left = (weight * h**2 / variance).sum()
    degrees = max(float(weight.sum()) - 1.0, 1.0)
    misfit = max(1.0, float((weight * z**2).sum()) / degrees)
    return fundamental, float(np.sqrt(misfit / max(left, 1e-300))), kept


def _drift(used: Sequence[tuple[int, Lines]]) -> float:
    """Relative standard deviation of the fundamental: the weighted median of what its harmonics say.

    A median, since a tone close beside one of them widens that one alone.
    """
    f = np.array([line.frequency[0] for _, line in used])
    squared = np.array([line.variance[0] for _, line in used]) / f**2
    weight = (f**2 / np.maximum(np.array([line.u[0] for _, line in used]), 1e-12)) ** 2
    rising = np.argsort(squared)
    middle = int(np.searchsorted(np.cumsum(weight[rising]), 0.5 * weight.sum()))
    return float(np.sqrt(max(squared[rising[min(middle, len(rising) - 1)]], 0.0)))
