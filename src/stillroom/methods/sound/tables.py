"""What tables of levels tell: sheets of single levels, series in time, one-third octaves, narrow bands.

Their levels are dB re 20 µPa already.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from enum import Enum

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound.background import energy_mean
from stillroom.core.sound.levels import level_of
from stillroom.core.standards.iec_61260_1_2014 import band_powers, edges, midbands
from stillroom.core.standards.iec_61672_1_2013 import a_weighting, c_weighting
from stillroom.errors import BadInput
from stillroom.methods.sound.recording import Heard, Series

Columns = Mapping[str, Array]

WHOLE = (100.0, 8000.0)
"""Between these midbands a fan's A-weighted level lies: bands that leave out some of them make no total [Hz]
(common practice)."""

_NEAR = 1.06


class Table(Enum):
    """The kinds of tables of levels."""

    SHEET = "sheet"
    SERIES = "series"
    BANDS = "bands"
    NARROW_BAND = "narrow band"


def heard_in_table(table: Table, columns: Columns) -> tuple[Heard, ...]:
    """What a table tells: once for each row of a sheet, else once.

    Parameters
    ----------
    columns : {quantity: values (readings,) [SI]}.

    Raises
    ------
    BadInput : a column that the kind needs is missing, or bands that are no one-third octaves.
    """
    return _FORMS[table](columns)


def _needed(columns: Columns, name: str) -> Array:
    if name not in columns:
        raise BadInput("table of levels", found=f"no column of {name.replace('_', ' ')}", expected="one")
    return columns[name]


def _sheet(columns: Columns) -> tuple[Heard, ...]:
    levels = _needed(columns, "sound_level")
    speeds, rooms, c_levels = (columns.get(name) for name in ("speed", "background_level", "c_level"))
    return tuple(
        Heard(
            calibrated=True,
            level=float(level),
            c_level=_at(c_levels, i),
            speed=_at(speeds, i),
            background=_at(rooms, i),
        )
        for i, level in enumerate(levels)
    )


def _at(values: Array | None, i: int) -> float | None:
    return None if values is None or not np.isfinite(values[i]) else float(values[i])


def _series(columns: Columns) -> tuple[Heard, ...]:
    """Levels in time: LAeq of each step or LAF; with the speed beside them they are a ramp's."""
    times = _needed(columns, "time")
    fast = columns.get("fast_level")
    levels = columns.get("sound_level", fast)
    if levels is None or len(levels) < 2:
        raise BadInput("series of levels", found="fewer than two levels", expected="a column of levels")
    step = float(np.median(np.diff(times)))
    if not step > 0.0:
        raise BadInput("series of levels", found="times that don't rise", expected="rising times")
    seconds = _seconds(times - times[0], levels, step)
    shares = (1, 10, 50, 90)
    exceeded = None if fast is None else {n: float(np.percentile(fast, 100 - n)) for n in shares}
    return (
        Heard(
            calibrated=True,
            level=energy_mean(seconds),
            duration=float(times[-1] - times[0] + step),
            seconds=seconds,
            fast=fast,
            fast_max=None if fast is None else float(fast.max()),
            exceeded=exceeded,
            scatter=float(np.std(seconds, ddof=1)) if len(seconds) > 1 else None,
            series=Series(times - times[0], levels, columns.get("speed")),
        ),
    )


def _seconds(times: Array, levels: Array, step: float) -> Array:
    """Levels of whole seconds; as they are where the steps are no shorter."""
    if step > 0.75:
        return levels
    second = times.astype(np.intp)
    power = np.bincount(second, weights=10.0 ** (0.1 * levels)) / np.maximum(np.bincount(second), 1)
    return np.asarray(10.0 * np.log10(power[power > 0.0]))


def _bands(columns: Columns) -> tuple[Heard, ...]:
    """One-third octaves: the total by the weights at their midbands, where no level is told beside them."""
    frequencies, levels = _needed(columns, "frequency"), _needed(columns, "band_level")
    centres = midbands()
    places = np.argmin(np.abs(np.log(frequencies[:, None] / centres)), axis=1)
    off = np.abs(np.log(frequencies / centres[places]))
    if np.any(off > np.log(1.06)) or len(set(places)) != len(places):
        wrong = frequencies[int(np.argmax(off))]
        raise BadInput(
            "one-third octaves", found=f"a band at {wrong:g} Hz", expected="nominal midbands, each once"
        )
    bands = np.full(len(centres), np.nan)
    bands[places] = levels
    told = columns.get("sound_level")
    if told is None:
        _require_whole(centres, places)
    total = _total(levels + a_weighting(frequencies)) if told is None else energy_mean(told)
    return (
        Heard(
            calibrated=True,
            level=total,
            c_level=_total(levels + c_weighting(frequencies)),
            z_level=_total(levels),
            bands=bands,
        ),
    )


def _require_whole(centres: Array, places: Array) -> None:
    """Refuse bands whose sum is no total: some between the outer ones are missing, or the outer ones are too near.

    Raises
    ------
    BadInput : with what is there.
    """
    there = np.sort(places)
    holes = np.setdiff1d(np.arange(there[0], there[-1] + 1), there)
    low, high = float(centres[there[0]]), float(centres[there[-1]])
    if holes.size == 0 and low <= WHOLE[0] * _NEAR and high >= WHOLE[1] / _NEAR:
        return
    lacking = f", without {float(centres[holes[0]]):.4g} Hz" if holes.size else ""
    raise BadInput(
        "total of one-third octaves",
        found=f"bands from {low:.4g} to {high:.4g} Hz{lacking}",
        expected=f"all from {WHOLE[0]:g} to {WHOLE[1]:,.0f} Hz, or the A-weighted level beside them",
    )


def _total(levels: Array) -> float:
    return float(10.0 * np.log10(np.sum(10.0 ** (0.1 * levels))))


def _narrow(columns: Columns) -> tuple[Heard, ...]:
    """Levels of narrow bands of equal width: the bins of a spectrum."""
    frequencies, levels = _needed(columns, "frequency"), _needed(columns, "band_level")
    steps = np.diff(frequencies)
    if len(steps) < 1 or steps.min() <= 0.0 or np.ptp(steps) > 0.02 * steps.mean():
        raise BadInput(
            "narrow-band spectrum", found="frequencies that are not evenly spaced", expected="even steps"
        )
    step = float(steps.mean())
    first = round(float(frequencies[0]) / step)
    spectrum = np.zeros(first + len(levels))
    spectrum[first:] = 10.0 ** (0.1 * levels)
    heard = frequencies > 0.0
    return (
        Heard(
            calibrated=True,
            level=_total(levels[heard] + a_weighting(frequencies[heard])),
            c_level=_total(levels[heard] + c_weighting(frequencies[heard])),
            z_level=_total(levels[heard]),
            bands=_bands_in(spectrum, step, float(frequencies[0]), float(frequencies[-1])),
            spectrum=spectrum,
            resolution=step,
            noise_bandwidth=1.0,
        ),
    )


def _bands_in(spectrum: Array, step: float, first: float, last: float) -> Array:
    """One-third octaves that lie wholly in a spectrum and are two bins wide; NaN for the others."""
    low, high = edges()[:-1], edges()[1:]
    there = (low >= first - step / 2.0) & (high <= last + step / 2.0) & (high - low >= 2.0 * step)
    return np.where(there, level_of(band_powers(spectrum, step)), np.nan)


_FORMS: Mapping[Table, Callable[[Columns], tuple[Heard, ...]]] = {
    Table.SHEET: _sheet,
    Table.SERIES: _series,
    Table.BANDS: _bands,
    Table.NARROW_BAND: _narrow,
}
