"""A ramp as a spectrogram for the charts room: cells over speed and frequency, orders by name, bands to avoid."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom import wording
from stillroom.charts.sound.series import AvoidBand, OrderLine, RampChart
from stillroom.core.arrays import Array
from stillroom.core.sound.orders import Origin
from stillroom.core.sound.ramp_track import RampTrack
from stillroom.core.sound.spectrogram import Spectrogram
from stillroom.errors import NotPossible, StillroomError
from stillroom.lab.book import Book
from stillroom.lab.pictures.picture_words import footer, plain_name
from stillroom.lab.pictures.sound import sound_words as words
from stillroom.lab.pictures.sound.alt_texts import ramp_alt
from stillroom.lab.pictures.sound.level_pictures import avoided
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import FanSound, Heard, Sounds
from stillroom.lab.sound.loading import load_spectrogram
from stillroom.lab.sound.nodes import RecordingNode
from stillroom.store.lab import Lab

COLUMNS, ROWS = 480, 320
"""The most cells along the abscissa and the ordinate."""

LOWEST, HIGHEST = 40.0, 6000.0
"""From where to where the ordinate reaches at the most [Hz]."""

LEAST_TRUSTED = 0.6
"""Share of the frames that must tell the speed themselves for speed to be the abscissa [1]; else it is time."""

SHOWN = 45.0
"""How many decibels lightness spans at the most."""

MOST_ORDERS = 5
POINTS = 61
"""Points of an order's line."""


@dataclass(frozen=True)
class Ramp:
    """One recorded ramp: spectra with the offset that calibrates them [dB], and its track where it has one."""

    heard: Heard
    recording: RecordingNode
    spectrogram: Spectrogram
    offset: float
    track: RampTrack | None


def ramp_chart(lab: Lab, book: Book, graph: Graph, fan: str, obstacle: str) -> tuple[RampChart, str]:
    """The spectrogram of a fan's ramp (rising before falling), and the name of its files.

    Parameters
    ----------
    fan : whose; the first of the lab where none is named. obstacle : with which it stood, "" for free air.

    Raises
    ------
    NotPossible : no sound, or no ramp that could be used. UnknownThing : no such fan.
    """
    sounds = Sounds(lab, book, graph)
    obstacle = words.obstacle_of(sounds, obstacle, [fan] if fan else [])
    names = words.chosen(sounds, fan, (), obstacle)[0]
    used, ramp = _first_ramp(lab, sounds, [fan] if fan else names, obstacle)
    across, is_speed = abscissa(ramp)
    x_low, x_high = float(across.min()), float(across.max())
    y_low, y_high = LOWEST, min(HIGHEST, float(ramp.spectrogram.frequencies[-1]))
    cells = cells_of(ramp.spectrogram, ramp.offset, across, (x_low, x_high), (y_low, y_high))
    quiet, loud = shown_levels(cells)
    avoid = avoided(used.levels)
    orders = tuple(orders_of(ramp, across, is_speed=is_speed))
    bands = _bands(avoid, x_low, x_high) if is_speed else ()
    around = words.where(book, used, obstacle)
    bins = wording.with_unit(wording.bare(ramp.spectrogram.resolution), "Hz")
    low, high = _ends(ramp, used)
    picture = RampChart(
        title=_title(used, avoid, ramp.heard.node.blades, (low, high)),
        subtitle=f"Spectrogram of a {ramp.recording.run.recorded.value} {words.at(used.geometry)} {around}; "
        f"each cell is the level in {bins}",
        footer=footer(book.settings, sounds.comparable.method, f"one recording of {ramp.heard.node.subject}"),
        x_label="Speed" if is_speed else "Time",
        x_unit="rpm" if is_speed else "s",
        x_low=x_low,
        x_high=x_high,
        y_low=y_low,
        y_high=y_high,
        cells=cells,
        quiet=quiet,
        loud=loud,
        scale_words="level, unweighted",
        orders=orders,
        avoid=bands,
        levels=_levels(ramp, across),
        notes=(*_notes(is_speed=is_speed), *words.said_of(used.marks)),
        alt=ramp_alt(
            f"{wording.isolate(used.fan)} {words.at(used.geometry)} {around}",
            f"from {words.rpm(low)} to {words.rpm(high)}",
            [each.label for each in orders],
            [words.band(*each) for each in avoid],
        ),
    )
    return picture, plain_name(
        "ramp", used.fan, obstacle, ramp.recording.run.recorded.value.removeprefix("ramp ")
    )


def _first_ramp(lab: Lab, sounds: Sounds, names: Sequence[str], obstacle: str) -> tuple[FanSound, Ramp]:
    """The first ramp that can be had, a rising one before a falling one."""
    whys: list[str] = []
    for name in names:
        used = sounds.fan(name, obstacle)
        ramps = [
            (heard, each)
            for heard in used.heard
            for each in heard.node.recordings
            if each.run.recorded.is_ramp and each.run.is_recording
        ]
        for heard, each in sorted(ramps, key=lambda pair: pair[1].run.recorded.value, reverse=True):
            try:
                kept = load_spectrogram(lab, heard.node, each.name)
            except StillroomError as error:
                whys.append(f"{each.subject}: {error.found or error.sentence()}")
                continue
            return used, Ramp(heard, each, kept.spectrogram, kept.offset, kept.track)
    found = "; ".join(whys) or "no ramp recorded"
    raise NotPossible(
        f"ramp of {wording.listed(names, last='or')}", found=found, expected="a recording of a slow sweep"
    )


# --- cells ------------------------------------------------------------------------------------------------


def abscissa(ramp: Ramp) -> tuple[Array, bool]:
    """Where each frame lies: at its speed [rpm] where the track tells it, else at its time [s]."""
    track = ramp.track
    if track is None or float(np.mean(track.trusted)) < LEAST_TRUSTED:
        return ramp.spectrogram.times, False
    return np.asarray(np.interp(ramp.spectrogram.times, track.times, track.speed)) * words.RPM, True


def cells_of(
    spectrogram: Spectrogram, offset: float, across: Array, x: tuple[float, float], y: tuple[float, float]
) -> NDArray[np.float32]:
    """Levels [dB] of cells, (frequencies, abscissa): the mean of the frames, and of the bins the loudest.

    Parameters
    ----------
    offset : that makes the spectrogram dB re 20 µPa. across : abscissa of each frame. x, y : ends of both axes; the
        ordinate goes by equal steps of the logarithm.
    """
    columns = int(min(COLUMNS, max(2, len(across) // 2)))
    place = np.clip(((across - x[0]) / (x[1] - x[0]) * columns).astype(int), 0, columns - 1)
    sums = np.zeros((columns, spectrogram.power.shape[1]))
    np.add.at(sums, place, spectrogram.power)
    counts = np.bincount(place, minlength=columns)
    filled = np.flatnonzero(counts)
    nearest = filled[np.abs(np.arange(columns)[:, None] - filled[None, :]).argmin(axis=1)]
    power = sums[nearest] / counts[nearest][:, None]
    edges = y[0] * (y[1] / y[0]) ** (np.arange(ROWS + 1) / ROWS)
    first = np.searchsorted(spectrogram.frequencies, edges[:-1])
    last = np.searchsorted(spectrogram.frequencies, edges[1:])
    middle = np.abs(spectrogram.frequencies[None, :] - np.sqrt(edges[:-1] * edges[1:])[:, None]).argmin(
        axis=1
    )
    rows = [
        power[:, one:other].max(axis=1) if other > one else power[:, near]
        for one, other, near in zip(first, last, middle, strict=True)
    ]
    with np.errstate(divide="ignore"):
        levels = 10.0 * np.log10(np.array(rows)) + offset
    return np.where(np.isfinite(levels), levels, np.nan).astype(np.float32)


def shown_levels(cells: NDArray[np.float32]) -> tuple[float, float]:
    """From which level to which lightness goes [dB], by fives: what is louder than all but a few cells is full."""
    loud = 5.0 * math.ceil(float(np.nanpercentile(cells, 99.8)) / 5.0)
    quiet = 5.0 * math.floor(float(np.nanpercentile(cells, 25.0)) / 5.0)
    return max(min(quiet, loud - 10.0), loud - SHOWN), loud


# --- orders -----------------------------------------------------------------------------------------------


def orders_of(ramp: Ramp, across: Array, *, is_speed: bool) -> Iterable[OrderLine]:
    """Blade pass and its double, then orders and fixed frequencies that were prominent in a dwell."""
    node, sound = ramp.heard.node, ramp.heard.sound
    wanted: dict[str, tuple[float, float]] = {}  # name: order, fixed frequency [Hz]
    if node.blades:
        wanted |= {
            words.order_name(times * node.blades, node.blades): (times * node.blades, 0.0) for times in (1, 2)
        }
    for tone in (each for dwell in sound.dwells for each in dwell.tones if each.tone.prominent):
        if tone.origin is Origin.FIXED:
            hertz = wording.with_unit(wording.number(tone.tone.frequency, -1), "Hz")
            wanted.setdefault(f"fixed {hertz}", (0.0, tone.tone.frequency))
        elif tone.origin is not Origin.UNKNOWN:
            wanted.setdefault(words.tone_name(tone, node.blades), (tone.order, 0.0))
    if ramp.track is None:
        wanted = {name: (order, fixed) for name, (order, fixed) in wanted.items() if fixed}
    places = np.linspace(float(across.min()), float(across.max()), POINTS)
    for name, (order, fixed) in list(wanted.items())[:MOST_ORDERS]:
        speeds = places / words.RPM if is_speed else _speeds_at(ramp, places)
        frequencies = np.full(POINTS, fixed) if fixed else order * speeds
        yield OrderLine(name, tuple(map(float, places)), tuple(map(float, frequencies)))


def _speeds_at(ramp: Ramp, times: Array) -> Array:
    if ramp.track is None:
        return np.ones_like(times)
    return np.asarray(np.interp(times, ramp.track.times, ramp.track.speed))


def _bands(avoid: Sequence[tuple[float, float]], low: float, high: float) -> tuple[AvoidBand, ...]:
    """Bands to avoid that lie on the abscissa [rpm]."""
    within = [each for each in avoid if each[1] * words.RPM > low and each[0] * words.RPM < high]
    return tuple(
        AvoidBand(each[0] * words.RPM, each[1] * words.RPM, f"avoid {words.band(*each)}") for each in within
    )


def _levels(ramp: Ramp, across: Array) -> tuple[tuple[float, float], ...]:
    """A-weighted level along the ramp, by rising abscissa."""
    order = np.argsort(across, kind="stable")
    levels = ramp.spectrogram.levels + ramp.offset
    return tuple((float(across[k]), float(levels[k])) for k in order if np.isfinite(levels[k]))


# --- words ------------------------------------------------------------------------------------------------


def _ends(ramp: Ramp, used: FanSound) -> tuple[float, float]:
    """From which speed to which the ramp goes [1/s]."""
    if ramp.track is not None:
        return float(ramp.track.speed.min()), float(ramp.track.speed.max())
    return used.levels.reach


def _title(
    used: FanSound, avoid: Sequence[tuple[float, float]], blades: int | None, ends: tuple[float, float]
) -> str:
    name = wording.isolate(used.fan)
    if not avoid:
        return f"From {wording.number(ends[0] * words.RPM)} to {words.rpm(ends[1])} {name} has no speeds to avoid"
    title = f"{name} rings {words.bands_listed(avoid, last='and')}"
    if blades and len(avoid) == 1:
        low, high = (wording.number(end * blades) for end in avoid[0])
        title += f": its blade pass is then at {low} to {wording.with_unit(high, 'Hz')}"
    return title


def _notes(*, is_speed: bool) -> Iterable[str]:
    if not is_speed:
        yield "Too few frames of this ramp tell the speed: the abscissa is time."
