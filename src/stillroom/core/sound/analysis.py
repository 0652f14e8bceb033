"""One pass over a recording: all that its levels, tones and faults are read from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.fast_levels import FastLevels, LevelsInTime
from stillroom.core.sound.frames import (
    FADE,
    GROUP,
    HANN_BANDWIDTH,
    FrameStream,
    crossing,
    hann,
    in_batches,
)
from stillroom.core.sound.integrity import Integrity, SampleCheck
from stillroom.core.sound.levels import level_of
from stillroom.core.sound.spectra import SortedSpectra
from stillroom.core.sound.spectrogram import SpectraInTime, Spectrogram
from stillroom.core.sound.transients import Transient, kept_seconds, transients, unsteadiness
from stillroom.core.sound.transients import limit as transient_limit
from stillroom.core.sound.weighting import Weighting, bin_weights
from stillroom.core.standards.iec_61260_1_2014 import band_powers
from stillroom.core.standards.iec_61260_1_2014 import edges as band_edges
from stillroom.errors import NotPossible

__all__ = ["Analysis", "Weighting", "analyse"]

Array32 = NDArray[np.float32]
Flags = NDArray[np.bool_]

FOR_LEVELS = 1.5
"""Shortest frame for levels and bands [s]: so the bands are well within class 1 from 20 Hz."""

FOR_TONES = 1.0
"""Shortest frame for tones [s]: bins of 1 Hz."""

LEAST_PRODUCT = 4.0
"""A band has a level when its width times the duration is at least this [1]."""


@dataclass(frozen=True)
class Analysis:
    """What one recording holds; levels are 10 lg of the mean square [dB re full scale].

    Parameters
    ----------
    rate : sampling rate [Hz]. frames : samples in all.
    equivalent : A-, C- and Z-weighted levels over what is kept: without transients [dB].
    whole : the same over everything [dB].
    seconds : LAeq of each second, (n,) [dB]; the rest of a second at the end counts with its own length.
    bands : one-third-octave levels of 20 Hz to 20 kHz over what is kept, (31,) [dB].
    band_valid : where a band has a level, (31,): below half of the rate, and wide enough for the duration.
    spectrum : mean square of each bin of a Hann window, (B,); over all bins it sums to the mean square.
    resolution : distance of its bins, from 0 Hz [Hz]. noise_bandwidth : of the window [bins].
    fast : time-weighted levels. integrity : what is wrong with the samples.
    transients : what was left out. kept : the seconds that were not, (n,). rejected : share that was [1].
    drift : slope of the kept seconds times the duration [dB]; None under three seconds.
    scatter : standard deviation of the kept seconds about that slope [dB]; None under three seconds.
    spectrogram : where it was asked for.
    """

    rate: float
    frames: int
    equivalent: Mapping[Weighting, float]
    whole: Mapping[Weighting, float]
    seconds: Array
    bands: Array
    band_valid: Flags
    spectrum: Array
    resolution: float
    noise_bandwidth: float
    fast: FastLevels
    integrity: Integrity
    transients: tuple[Transient, ...]
    kept: Flags
    rejected: float
    drift: float | None
    scatter: float | None
    spectrogram: Spectrogram | None


def analyse(blocks: Iterable[Array32], rate: float, *, spectrogram: bool = False) -> Analysis:
    """Everything about a recording in one pass.

    Every sample weighs alike in levels and bands, up to the last; 10 ms at both ends fade. Levels of sound below
    10 Hz and above the 20 kHz band aren't counted, nor is an offset. Against a meter that weights and filters, the
    rejection works by whole seconds, and a frame that touches a rejected one is left out with it.

    Parameters
    ----------
    blocks : its samples in order, full scale 1.0, each (F,) of any length; the result doesn't hang on the lengths.
    rate : sampling rate [Hz], at least 2.5 kHz.
    spectrogram : the recording is a sweep of speed: keep spectra against time, and leave nothing out.

    Raises
    ------
    NotPossible : no samples at all; a sweep of more than a quarter of an hour.
    OutOfRange : samples that are no numbers; a rate that is too low.

    Source
    ------
    IEC 61672-1:2013 (weightings), IEC 61260-1:2014 (bands).
    """
    second, sort = round(rate), not spectrogram
    levels = SortedSpectra(FrameStream(rate, FOR_LEVELS, crossing, 2), second, sort=sort)
    tones = SortedSpectra(FrameStream(rate, FOR_TONES, hann, 2), second, sort=sort)
    in_time, check = LevelsInTime(rate), SampleCheck(rate)
    sweep = SpectraInTime(rate) if spectrogram else None
    offset, frames = None, 0
    for recorded, last in in_batches(blocks, GROUP * levels.frames.hop, round(FADE * rate)):
        check.feed(recorded)
        if offset is None:
            offset = np.float32(np.mean(recorded, dtype=np.float64))
        samples = recorded - offset  # an offset would jump at the ends
        frames += len(samples)
        in_time.feed(samples, last=last)
        levels.feed(samples, in_time.seconds, last=last)
        tones.feed(samples, in_time.seconds, last=last)
        if sweep is not None:
            sweep.feed(samples, last=last)
    if offset is None:
        raise NotPossible(
            "analysis of a recording", found="no samples", expected="a recording of some seconds"
        )
    return _put_together(rate, frames, levels, tones, in_time, check.done(), sweep)


def _put_together(
    rate: float,
    frames: int,
    levels: SortedSpectra,
    tones: SortedSpectra,
    in_time: LevelsInTime,
    integrity: Integrity,
    sweep: SpectraInTime | None,
) -> Analysis:
    seconds, lengths = np.array(in_time.seconds), np.array(in_time.lengths)
    kept = kept_seconds(seconds, lengths) if sweep is None else np.ones(len(seconds), dtype=np.bool_)
    limit = math.inf if kept.all() else transient_limit(seconds)
    steady = levels.mean(limit)
    drift, scatter = unsteadiness(seconds, lengths, kept)
    return Analysis(
        rate=rate,
        frames=frames,
        equivalent=_weighted(steady, levels.frames.resolution),
        whole=_weighted(levels.mean(), levels.frames.resolution),
        seconds=seconds,
        bands=level_of(band_powers(steady, levels.frames.resolution)),
        band_valid=valid_bands(rate, frames),
        spectrum=tones.mean(limit, ends=False),
        resolution=tones.frames.resolution,
        noise_bandwidth=HANN_BANDWIDTH * max(1.0, tones.frames.length / frames),
        fast=in_time.done(),
        integrity=integrity,
        transients=transients(seconds, lengths, kept),
        kept=kept,
        rejected=float(lengths[~kept].sum() / lengths.sum()),
        drift=drift,
        scatter=scatter,
        spectrogram=None if sweep is None else sweep.done(),
    )


def valid_bands(rate: float, frames: int) -> Flags:
    """Which one-third-octave bands have a level, (31,): those that end below half of the sampling rate [Hz], and
    that are wider than what a recording of so many samples can resolve."""
    edges = band_edges()
    valid: Flags = (edges[1:] <= rate / 2.0) & (np.diff(edges) * frames / rate >= LEAST_PRODUCT)
    return valid


def _weighted(power: Array, resolution: float) -> dict[Weighting, float]:
    return {each: float(level_of(power @ bin_weights(each, resolution, len(power)))) for each in Weighting}
