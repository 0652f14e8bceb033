"""The level of one recording: on its scale, with its background taken off, in total and in each band."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.background import Background, Corrected, corrected, corrected_bands, mean_background
from stillroom.core.standards.din_45692_2009 import sharpness
from stillroom.core.standards.iso_532_1_2017.loudness import NO_SOUND, Loudness, loudness
from stillroom.errors import NotPossible, OutOfRange
from stillroom.methods.sound.recording import Heard
from stillroom.methods.sound.scales import Scale, offset_for
from stillroom.methods.sound.told import Chain, Item, Session

Flags = NDArray[np.bool_]

REPEAT = 0.15
"""Standard uncertainty of a dwell's level by setting the speed again [dB] (common practice)."""

SHORTEST = 1.0
"""A shorter recording has no level [s]: nothing says whether it was steady (common practice)."""

NOTHING = -30.0
"""No room and no microphone is so quiet: a lower level is a file without sound, such as one value throughout [dB(A)]
(common practice)."""

NOT_THE_SAME = 3.0
"""A recording that is so much quieter than its background was not made as that was, and bounds nothing [dB] (common
practice)."""

READ_BY_EYE = 0.3
"""Standard uncertainty of a level of which nobody knows how it moved [dB]: read off a display (common practice)."""

SURE_LOUDNESS = 0.5
"""Bands that are bounds may make a loudness level so much greater than silence in them would [phon]; beyond, the
loudness is a bound too."""

ZWICKER = slice(1, 29)
"""Where the 28 bands of ISO 532-1, 25 Hz to 12.5 kHz, lie among the 31 from 20 Hz to 20 kHz."""


@dataclass(frozen=True)
class Room:
    """The background of one recording, on its scale.

    Parameters
    ----------
    total : A-weighted; None where there is none. before, after : of each side [dB].
    bands : one-third octaves (31,) [dB]. spectrum : mean square of each bin, re (20 µPa)², with its resolution.
    """

    total: Background | None = None
    before: float | None = None
    after: float | None = None
    bands: Array | None = None
    spectrum: Array | None = None
    resolution: float = 0.0


@dataclass(frozen=True)
class Level:
    """One recording, or one row of a sheet, as a level.

    Parameters
    ----------
    heard : what was heard. scale, room : what it was read by. total : A-weighted, corrected.
    u : standard uncertainty of its own [dB]. bands, bands_bound : one-third octaves, corrected, NaN where there are
    none (31,). spectrum : mean square of each bin, re (20 µPa)². loudness, sharpness [acum] : None where bands
    don't tell; of bounds among the bands the greatest that may be. loudness_is_bound : the sound is at most so loud.
    phon_by_level : change of the loudness level by 1 dB more in each band [phon/dB].
    """

    heard: Heard
    scale: Scale
    room: Room
    total: Corrected
    u: float
    bands: Array | None
    bands_bound: Flags | None
    spectrum: Array | None
    loudness: Loudness | None
    sharpness: float | None
    phon_by_level: float = 1.0
    loudness_is_bound: bool = False

    def shown(self, level: float | None) -> float | None:
        """A level of the recording on the scale [dB re 20 µPa]."""
        return None if level is None else level + self.scale.offset


def room_of(session: Session, heard: Heard, scale: Scale) -> Room:
    """The background of one recording: of its own row, else of the recordings before and after."""
    if heard.background is not None:
        return Room(mean_background(heard.background, None), before=heard.background)
    sides = session.backgrounds
    before, after = (_usable(each, scale) for each in (sides.before, sides.after))
    levels = [_mean(level + offset for level, offset in _totals(each)) for each in (before, after)]
    several = [*before, *after]
    spectra = [(one.spectrum, offset) for one, offset in several if one.spectrum is not None
               and one.resolution == heard.resolution]  # fmt: skip
    return Room(
        total=mean_background(*levels),
        before=levels[0],
        after=levels[1],
        bands=_mean_bands([one.bands + offset for one, offset in several if one.bands is not None]),
        spectrum=_mean_spectrum([_power(offset) * one for one, offset in spectra]),
        resolution=heard.resolution or 0.0,
    )


def _usable(items: Iterable[Item], scale: Scale) -> list[tuple[Heard, float]]:
    """What was heard of backgrounds, each with what makes it dB re 20 µPa."""
    found = [(one, offset_for(one, scale)) for each in items for one in each.heard if not one.silent]
    return [(one, offset) for one, offset in found if offset is not None]


def _totals(several: Iterable[tuple[Heard, float]]) -> list[tuple[float, float]]:
    return [(one.level, offset) for one, offset in several]


def _mean(levels: Iterable[float]) -> float | None:
    powers = [10.0 ** (0.1 * each) for each in levels]
    return 10.0 * math.log10(sum(powers) / len(powers)) if powers else None


def _mean_bands(several: list[Array]) -> Array | None:
    if not several:
        return None
    return np.asarray(10.0 * np.log10(np.mean(10.0 ** (0.1 * np.stack(several)), axis=0)))


def _mean_spectrum(several: list[Array]) -> Array | None:
    if not several:
        return None
    shortest = min(map(len, several))
    return np.asarray(np.mean([each[:shortest] for each in several], axis=0))


def _power(level: float) -> float:
    return float(10.0 ** (0.1 * level))


def level_of(heard: Heard, session: Session, scale: Scale, chain: Chain) -> Level:
    """The level of one recording; of one that is no louder than its background, an upper bound: the level as read.

    Raises
    ------
    NotPossible : it is silent, has no level, or lies so far under its background that it was made otherwise.
    """
    file = session.item.told.file
    if heard.silent or not heard.level + scale.offset > NOTHING:
        raise NotPossible("recording", place=file, found="silence", expected="the sound of a fan")
    if heard.spectrum is not None and heard.duration is not None and heard.duration < SHORTEST:
        raise NotPossible(
            "recording",
            place=file,
            found=f"{heard.duration:.2g} s of sound",
            expected=f"{SHORTEST:g} s or more, so that its seconds can be held against one another",
        )
    room = room_of(session, heard, scale)
    background = room.total.level if room.total else None
    total = corrected(heard.level + scale.offset, background, chain.self_noise)
    if total.delta is not None and total.delta < -NOT_THE_SAME:
        raise NotPossible(
            "recording",
            place=file,
            found=f"{total.uncorrected:.1f} dBA, no louder than the background of {background:.1f} dBA",
            expected="a fan that is heard above it, or the right background",
        )
    if total.drowned:  # the background fell meanwhile, by nobody knows how much: nothing can be taken off
        total = replace(total, level=total.uncorrected, correction=0.0, is_bound=True)
    bands, bound = _corrected_bands(heard, scale, room)
    loud = _loud(bands, bound)
    is_bound = loud is not None and (total.is_bound or loud.open_by > SURE_LOUDNESS)
    return Level(
        heard=heard,
        scale=scale,
        room=room,
        total=total,
        u=_own(heard, room, total),
        bands=bands,
        bands_bound=bound,
        spectrum=None if heard.spectrum is None else heard.spectrum * _power(scale.offset),
        loudness=loud.loudness if loud else None,
        sharpness=loud.sharpness if loud and not is_bound else None,
        phon_by_level=loud.phon_by_level if loud else 1.0,
        loudness_is_bound=is_bound,
    )


def _own(heard: Heard, room: Room, total: Corrected) -> float:
    """Of the reading itself: how its seconds scatter, how well the background is known, setting it again."""
    scatter = READ_BY_EYE
    if heard.seconds is not None and heard.scatter is not None:
        scatter = heard.scatter / math.sqrt(max(len(heard.seconds), 1))
    scatter *= 1.0 + total.by_background  # the fan's own part moves by 1/(1 − 10^(−ΔL/10)) dB for 1 dB read
    by_room = total.by_background * room.total.u if room.total else 0.0
    return math.hypot(REPEAT, scatter, by_room)


def _corrected_bands(heard: Heard, scale: Scale, room: Room) -> tuple[Array | None, Flags | None]:
    """Bands with the background's taken off; NaN stays where a band wasn't read."""
    if heard.bands is None:
        return None, None
    bands = heard.bands + scale.offset
    bound = np.zeros(len(bands), dtype=np.bool_)
    both = np.isfinite(bands)
    if room.bands is not None:
        both &= np.isfinite(room.bands)
        found = corrected_bands(bands[both], room.bands[both])
        bands, bound = bands.copy(), bound.copy()
        bands[both], bound[both] = found.level, found.is_bound
    return bands, bound


@dataclass(frozen=True)
class _Loud:
    loudness: Loudness
    sharpness: float | None
    phon_by_level: float
    open_by: float


def _loud(bands: Array | None, bound: Flags | None) -> _Loud | None:
    """Loudness and sharpness of the bands, bounds at the greatest that they may be.

    Left out, they would make a quiet fan quieter than it is: by 2 phon where it stands 6 dB above the room. `open_by`
    is the difference between the two [phon].
    """
    if bands is None or bound is None:
        return None
    own = np.where(np.isfinite(bands), bands, NO_SOUND)[ZWICKER]
    try:
        found = loudness(own)
        louder = loudness(np.where(own > NO_SOUND, own + 1.0, own))
        sure = loudness(np.where(bound[ZWICKER], NO_SOUND, own))
    except OutOfRange:
        return None  # louder than the standard's tables
    sharp = sharpness(found.specific) if found.specific.any() else None
    return _Loud(found, sharp, louder.phon - found.phon, found.phon - sure.phon)
