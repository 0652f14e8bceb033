"""What one recording, or one row of a table of levels, tells before it is calibrated; and how that is kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.analysis import Analysis, Weighting
from stillroom.core.sound.levels import QUIETEST
from stillroom.core.sound.spectrogram import Spectrogram

TOP = 12_500.0
"""Up to where a narrow-band spectrum is kept [Hz]: tones are looked for up to 11.2 kHz."""

Arrays = dict[str, NDArray[Any]]


@dataclass(frozen=True)
class Series:
    """Levels against time, with the speed where it was read beside them: (n,) each [s], [dB], [1/s]."""

    times: Array
    levels: Array
    speeds: Array | None


@dataclass(frozen=True)
class Heard:
    """What was heard. None where a table doesn't tell it.

    Parameters
    ----------
    calibrated : whether levels are dB re 20 µPa (of a meter), not dB re full scale (of samples).
    level : LAeq without transients [dB]. c_level, z_level : likewise C- and Z-weighted.
    duration [s]. rate [Hz].
    seconds : LAeq of each second, (n,). fast : LAF every 0.125 s, (m,).
    fast_max, slow_max : LAFmax, LASmax. exceeded : {1, 10, 50, 90: level exceeded for that share of the time, %}.
    transients : (start [s], length [s], over the median [dB]) each. rejected : share of the seconds left out [1].
    rumble : C- less A-weighted level of what was left out [dB].
    clipped : samples. dropouts : (start [s], length [s]) each. silent : no sound at all. dc_offset : of full scale.
    drift, scatter : of the seconds [dB].
    bands : one-third octaves, (31,), NaN where there is none.
    spectrum : mean square of each bin up to `TOP`, (b,). resolution : of its bins [Hz]. noise_bandwidth [bins].
    spectrogram : of a ramp. series : of a table. speed [1/s], background [dB] : of a row of a sheet.
    """

    calibrated: bool
    level: float
    c_level: float | None = None
    z_level: float | None = None
    duration: float | None = None
    rate: float | None = None
    seconds: Array | None = None
    fast: Array | None = None
    fast_max: float | None = None
    slow_max: float | None = None
    exceeded: Mapping[int, float] | None = None
    transients: tuple[tuple[float, float, float], ...] = ()
    rejected: float = 0.0
    rumble: float | None = None
    clipped: int = 0
    dropouts: tuple[tuple[float, float], ...] = ()
    silent: bool = False
    dc_offset: float = 0.0
    drift: float | None = None
    scatter: float | None = None
    bands: Array | None = None
    spectrum: Array | None = None
    resolution: float | None = None
    noise_bandwidth: float | None = None
    spectrogram: Spectrogram | None = None
    series: Series | None = None
    speed: float | None = None
    background: float | None = None


def heard_in(analysis: Analysis) -> Heard:
    """What a recording tells, from its analysis."""
    bins = min(len(analysis.spectrum), int(TOP / analysis.resolution) + 1)
    fast, integrity = analysis.fast, analysis.integrity
    return Heard(
        calibrated=False,
        level=analysis.equivalent[Weighting.A],
        c_level=analysis.equivalent[Weighting.C],
        z_level=analysis.equivalent[Weighting.Z],
        duration=analysis.frames / analysis.rate,
        rate=analysis.rate,
        seconds=analysis.seconds,
        fast=fast.levels,
        fast_max=fast.fast_max,
        slow_max=fast.slow_max,
        exceeded=fast.exceeded,
        transients=tuple((each.start, each.length, each.over) for each in analysis.transients),
        rejected=analysis.rejected,
        rumble=_rumble(analysis),
        clipped=integrity.clipped,
        dropouts=integrity.dropouts,
        silent=integrity.silent,
        dc_offset=integrity.dc_offset,
        drift=analysis.drift,
        scatter=analysis.scatter,
        bands=np.where(analysis.band_valid, analysis.bands, np.nan),
        spectrum=analysis.spectrum[:bins],
        resolution=analysis.resolution,
        noise_bandwidth=analysis.noise_bandwidth,
        spectrogram=analysis.spectrogram,
    )


def _rumble(analysis: Analysis) -> float | None:
    """C- less A-weighted level of what was left out: high of an engine, low of a voice; None where nothing was."""
    share = analysis.rejected
    a, c = (
        10.0 ** (0.1 * analysis.whole[each]) - (1.0 - share) * 10.0 ** (0.1 * analysis.equivalent[each])
        for each in (Weighting.A, Weighting.C)
    )
    return float(10.0 * np.log10(c / a)) if share > 0.0 and a > 0.0 and c > 0.0 else None


# --- keeping -------------------------------------------------------------------------------------------------

_ARRAYS = {"seconds": np.float32, "fast": np.float32, "bands": np.float64, "spectrum": np.float32}
_APART = {*_ARRAYS, "spectrogram", "series"}


def heard_parts(several: Sequence[Heard]) -> tuple[dict[str, Any], Arrays]:
    """What was heard as a JSON object and arrays."""
    bodies, arrays = [], Arrays()
    for i, each in enumerate(several):
        values = {name: value for name, value in vars(each).items() if name not in _APART}
        bodies.append(values)
        for name, form in _ARRAYS.items():
            value = getattr(each, name)
            if value is not None:
                arrays[f"{i}_{name}"] = np.asarray(value, dtype=form)
        arrays |= {f"{i}_{name}": value for name, value in _apart(each).items()}
    return {"heard": bodies}, arrays


def _apart(each: Heard) -> Arrays:
    found: Arrays = {}
    if each.series is not None:
        found |= {f"series_{name}": value for name, value in vars(each.series).items() if value is not None}
    if each.spectrogram is not None:
        found |= _spectrogram_parts(each.spectrogram)
    return found


def _spectrogram_parts(kept: Spectrogram) -> Arrays:
    """A spectrogram as levels in half precision: within 0.06 dB, in half of the room."""
    levels = 10.0 * np.log10(np.maximum(kept.power, 10.0 ** (QUIETEST / 10.0)))
    return {
        "spectrogram_times": kept.times,
        "spectrogram_frequencies": kept.frequencies,
        "spectrogram_levels": levels.astype(np.float16),
        "spectrogram_totals": kept.levels.astype(np.float32),
        "spectrogram_resolution": np.asarray(kept.resolution),
    }


def heard_of(body: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> tuple[Heard, ...]:
    """What was heard from its parts."""
    return tuple(_heard(i, each, arrays) for i, each in enumerate(body["heard"]))


def _heard(i: int, told: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> Heard:
    own = {name.partition("_")[2]: value for name, value in arrays.items() if name.startswith(f"{i}_")}
    values = dict(told)
    values["transients"] = _tuples(told["transients"])
    values["dropouts"] = _tuples(told["dropouts"])
    if told["exceeded"] is not None:
        values["exceeded"] = {int(name): value for name, value in told["exceeded"].items()}
    for name in _ARRAYS:
        values[name] = own[name].astype(np.float64) if name in own else None
    if "series_times" in own:
        values["series"] = Series(own["series_times"], own["series_levels"], own.get("series_speeds"))
    if "spectrogram_times" in own:
        values["spectrogram"] = Spectrogram(
            times=own["spectrogram_times"],
            frequencies=own["spectrogram_frequencies"],
            power=np.power(10.0, own["spectrogram_levels"].astype(np.float32) / np.float32(10.0)),
            resolution=float(own["spectrogram_resolution"]),
            levels=own["spectrogram_totals"].astype(np.float64),
        )
    return Heard(**values)


def _tuples(rows: Iterable[Iterable[Any]]) -> tuple[tuple[Any, ...], ...]:
    return tuple(tuple(each) for each in rows)
