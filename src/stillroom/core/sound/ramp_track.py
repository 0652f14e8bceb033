"""The shaft's speed against time over a ramp, from its spectrogram.

The comb of blade-pass harmonics is scored for every frame and every fundamental; the best path through the scores
(dynamic programming) is the track; each frame then places its harmonics exactly, and a smoother of speed and
acceleration joins the frames and bridges those in which the comb drowns.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound import comb
from stillroom.core.sound.shaft_speed import BLADES
from stillroom.core.sound.spectrogram import Spectrogram
from stillroom.core.sound.track_smoothing import smoothed
from stillroom.core.standards.limits import require_positive
from stillroom.errors import NotPossible, OutOfRange

Flags = NDArray[np.bool_]

TEETH = 6
"""Harmonics that a frame is scored by."""

PLACED = 8
"""Harmonics by which a frame places the speed."""

STEP = 0.12
"""Distance of the fundamentals that are tried [bins]."""

QUICKEST = 8.0
"""No ramp runs through the whole range of speed in less [s]."""

BLOCK = 75.0
"""Width over which the noise of a frame is taken [Hz]."""

TOOTH = 6.0
"""What a tooth of one frame has to stand above the noise [dB]."""

LEAST_TRUSTED = 0.2
"""Share of the frames that have to tell the speed themselves for there to be a track [1]."""

FIXED = 4.0
"""A tone of fixed level stands at least so far above the bins around, in all but a tenth of the time [1]; what is
not this much louder than it counts for nothing."""

AROUND, ASTRAY = 25, 0.5
"""Where few of so many frames around tell the speed, the track may follow another line beside: half a bin of the
fundamental where none does, less in proportion."""

OFF_TRACK = 1.5
"""A tooth further than this from where the track puts it belongs to something else [bins]."""

CONVINCED = 6.0
"""A line between the blade harmonics stands out of the rest by so many standard deviations, and by 1 dB."""


@dataclass(frozen=True)
class RampTrack:
    """Speed against time.

    Parameters
    ----------
    times : middle of each frame [s], shape (f,).
    speed, u : the shaft's speed and its standard uncertainty [1/s], shape (f,).
    trusted : where the frame itself tells the speed; elsewhere it is bridged, with a wider `u`, shape (f,).
    """

    times: Array
    speed: Array
    u: Array
    trusted: Flags


def track_ramp(
    spectrogram: Spectrogram, *, blades: int | None, between: tuple[float, float], rising: bool | None
) -> RampTrack:
    """The shaft's speed in each frame of a ramp.

    Tones of a fixed frequency and resonances of the room are what stays in a bin for most of the time: each bin
    is divided by its median over time first.

    Parameters
    ----------
    spectrogram : spectra against time.
    blades : the fan's number of blades; None where it is not known: then shaft orders have to tell it.
    between : lowest and highest speed that the fan can have [1/s].
    rising : whether the speed rises, or falls; None where that is not known.

    Returns
    -------
    speed, uncertainty and trust of each frame.

    Raises
    ------
    NotPossible : fewer than 8 frames, no comb in at least a fifth of them, or a number of blades not to be told.
    OutOfRange : limits of the speed that can't be, or bins that don't begin at 0 Hz.
    """
    low, high = between
    if not 0.0 < low < high:
        raise OutOfRange(
            "limits of the speed", found=f"{low:g} … {high:g} 1/s", expected="rising, above zero"
        )
    require_positive("a resolution", spectrogram.resolution, "Hz")
    if spectrogram.frequencies[0] != 0.0:
        raise OutOfRange(
            "bins of the spectrogram", found=f"from {spectrogram.frequencies[0]:g} Hz", expected="from 0 Hz"
        )
    if len(spectrogram.times) < 8:
        raise NotPossible(
            "speed over the ramp", found=f"{len(spectrogram.times)} frames", expected="at least 8"
        )
    over = _above_noise(spectrogram.power, spectrogram.resolution)
    count = (blades, blades) if blades else (BLADES[0], BLADES[-1])
    candidates = _candidates(count[0] * low, count[1] * high, spectrogram.resolution)
    white = comb.whitened(over, np.ones_like(over))
    score = comb.scores(white, spectrogram.resolution, candidates, TOOTH / 2.0, TEETH)
    hop = float(np.median(np.diff(spectrogram.times)))
    path = _best_path(np.maximum(score, -comb.ABSENT), candidates, hop, rising)
    placed, u, trusted = _placed(over, spectrogram.resolution, candidates[path])
    if trusted.mean() < LEAST_TRUSTED:
        raise NotPossible(
            "speed over the ramp",
            found=f"a comb of blade-pass tones in {100.0 * trusted.mean():.0f} % of the time",
            expected=f"in {100.0 * LEAST_TRUSTED:.0f} % or more",
        )
    fundamental, u, trusted = smoothed(spectrogram.times, placed, u, trusted)
    around = scipy.ndimage.uniform_filter1d(trusted.astype(np.float64), AROUND, mode="nearest")
    u = np.hypot(u, ASTRAY * spectrogram.resolution * (1.0 - around))
    fits = blades or _blades(white[trusted], spectrogram.resolution, fundamental[trusted], between)
    return RampTrack(spectrogram.times, fundamental / fits, u / fits, trusted)


def _candidates(low: float, high: float, resolution: float) -> Array:
    """Fundamentals to try [Hz]."""
    return np.arange(low, min(high, comb.HIGHEST / 2.0) + STEP * resolution, STEP * resolution)


def _above_noise(power: NDArray[np.float32], resolution: float) -> NDArray[np.float32]:
    """Each bin over the noise of its frame, and over what stays in the bin all the time, shape (f, b)."""
    size = max(round(BLOCK / resolution), 8)
    blocks = max(power.shape[1] // size, 1)
    cut = power[:, : blocks * size].reshape(len(power), blocks, -1)
    level = np.quantile(cut, 0.35, axis=2) / 0.43  # the quantile of an exponential distribution over its mean
    middles = (np.arange(blocks) + 0.5) * cut.shape[2] - 0.5
    noise = _interpolated(level, middles, power.shape[1])
    over = power / np.maximum(noise, 1e-9 * noise.max() + 1e-30)
    stays = np.median(over, axis=0) / np.log(2.0)
    over = over / np.maximum(stays, 1.0)
    fixed = _fixed(power)
    return np.asarray(np.where(power < FIXED * fixed, np.minimum(over, 1.0), over), dtype=np.float32)


def _fixed(power: NDArray[np.float32]) -> NDArray[np.float32]:
    """Mean square of the tones of a fixed level and frequency in each bin, 0 where there is none, shape (b,).

    What is there in all but a tenth of the time, and stands out of the bins around.
    """
    quiet = np.quantile(power, 0.1, axis=0)
    around = scipy.ndimage.median_filter(quiet, size=25, mode="nearest")
    tone = np.where(quiet > FIXED * around, quiet, 0.0)
    return np.asarray(scipy.ndimage.maximum_filter1d(tone, 5), dtype=np.float32)


def _interpolated(level: comb.Real, middles: Array, bins: int) -> comb.Real:
    """Levels of blocks, linearly between their middles, shape (f, bins)."""
    if len(middles) == 1:
        return np.repeat(level, bins, axis=1)
    at = np.clip(np.arange(bins), middles[0], middles[-1])
    left = np.clip(np.searchsorted(middles, at, side="right") - 1, 0, len(middles) - 2)
    share = (at - middles[left]) / (middles[left + 1] - middles[left])
    return np.asarray(level[:, left] * (1.0 - share) + level[:, left + 1] * share)


def _best_path(score: comb.Real, candidates: Array, hop: float, rising: bool | None) -> NDArray[np.intp]:
    """The candidate of each frame on the best path, shape (f,)."""
    most = max(
        2, int(np.ceil((candidates[-1] - candidates[0]) / QUICKEST * hop / (candidates[1] - candidates[0])))
    )
    if rising is None:
        paths = [_path(score, shifts) for shifts in (range(-1, most + 1), range(-most, 2))]
        return max(paths, key=lambda found: found[1])[0]
    return _path(score, range(-1, most + 1) if rising else range(-most, 2))[0]


def _path(score: comb.Real, shifts: range) -> tuple[NDArray[np.intp], float]:
    """The path with the greatest sum, stepping by `shifts` from frame to frame, and that sum."""
    frames, count = score.shape
    came = np.empty((frames, count), dtype=np.int16)
    total = score[0].astype(np.float64)
    padded = np.full(count + len(shifts) - 1, -np.inf)
    reach = sliding_window_view(padded, len(shifts))
    at = np.arange(count)
    for frame in range(1, frames):
        padded[shifts[-1] : shifts[-1] + count] = total
        best = reach.argmax(axis=1)
        came[frame] = shifts[-1] - best
        total = padded[at + best] + score[frame]
    path = np.empty(frames, dtype=np.intp)
    path[-1] = int(np.argmax(total))
    for frame in range(frames - 1, 0, -1):
        path[frame - 1] = path[frame] - came[frame, path[frame]]
    return path, float(total.max())


def _placed(over: NDArray[np.float32], resolution: float, track: Array) -> tuple[Array, Array, Flags]:
    """The fundamental of each frame, its standard uncertainty [Hz], and whether its harmonics tell it."""
    h = np.arange(1, PLACED + 1)
    frames = np.arange(len(over))[:, None, None]
    middle = np.rint(h * track[:, None] / resolution).astype(np.intp)
    near = np.clip(middle[..., None] + np.arange(-1, 2), 3, over.shape[1] - 4)
    peak = np.take_along_axis(near, over[frames, near].argmax(axis=2)[..., None], axis=2)[..., 0]
    off = np.arange(-2, 3)
    excess = over[frames, peak[..., None] + off].astype(np.float64) - 1.0
    power = np.maximum(excess.sum(axis=2), 1e-3)
    at = (peak + (excess * off).sum(axis=2) / power) * resolution
    variance = resolution**2 * (10.0 / power**2 + 0.7 / power) + (0.02 * resolution) ** 2
    good = (excess.max(axis=2) > 10.0 ** (TOOTH / 10.0)) & (middle < over.shape[1] - 4)
    good &= np.abs(at - h * track[:, None]) < OFF_TRACK * resolution
    weight = good / variance
    fundamental, rest = track.copy(), weight
    for _ in range(3):
        total = (rest * h**2).sum(axis=1)
        fundamental = np.where(
            total > 0.0, (rest * h * at).sum(axis=1) / np.maximum(total, 1e-300), fundamental
        )
        z = (at - h * fundamental[:, None]) / np.sqrt(variance)
        rest = weight * np.clip(1.0 - (z / 6.0) ** 2, 0.0, 1.0) ** 2
    total = (rest * h**2).sum(axis=1)
    several = (rest > 0.0).sum(axis=1) >= 2
    loud = (np.where(rest > 0.0, power, 0.0).max(axis=1)) > 10.0
    u = 1.0 / np.sqrt(np.maximum(total, 1e-300))
    return fundamental, np.where(total > 0.0, u, np.inf), (several | loud) & (total > 0.0)


def _blades(white: comb.Real, resolution: float, fundamental: Array, between: tuple[float, float]) -> int:
    """The number of blades that puts every line between the blade harmonics on a shaft order; raises if unclear.

    The spectra are averaged at equal shares of the blade pass, over the frames of the highest speeds: there the
    orders are furthest apart.
    """
    high = np.flatnonzero(fundamental >= np.quantile(fundamental, 2.0 / 3.0))
    shares = np.arange(0.05, 2.95, 0.004)
    bins = np.rint(shares[:, None] * fundamental[high] / resolution).astype(np.intp)
    mean = white[high, np.minimum(bins, white.shape[1] - 1)].mean(axis=1)
    apart = np.abs(shares - np.rint(shares)) > 0.06
    base = float(np.median(mean[apart]))
    deviation = 1.4826 * float(np.median(np.abs(mean[apart] - base)))
    peaks = scipy.signal.find_peaks(
        np.where(apart, mean, base), height=base + max(1.0, CONVINCED * deviation), distance=8
    )[0]
    if len(peaks) >= 2:
        for n in BLADES:
            off = np.abs(shares[peaks] * n - np.rint(shares[peaks] * n))
            inside = fundamental.min() / n >= 0.98 * between[0] and fundamental.max() / n <= 1.02 * between[1]
            if inside and bool((off <= 0.012 * n).all()):
                return n
    raise NotPossible(
        "speed over the ramp",
        found="a blade pass whose shaft orders don't tell the number of blades",
        expected="the number of blades",
    )
