"""Excerpts of fans' recordings to be listened to, all on one scale from sound pressure to full scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.analysis import Weighting, analyse
from stillroom.core.sound.excerpt import faded, steadiest
from stillroom.core.sound.sound_mounting import Dwell, Geometry
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.pictures.sound.sound_words import obstacle_of
from stillroom.lab.sound.excerpt_ramps import passed
from stillroom.lab.sound.fan_sound import FREE_AIR, FanSound, Heard, Sounds
from stillroom.lab.sound.level_words import TOPS_OUT, limit_words, speed_in_words
from stillroom.lab.sound.limits import fan_limit
from stillroom.lab.sound.loading import load_heard
from stillroom.lab.sound.nodes import RecordingNode
from stillroom.measures import Condition
from stillroom.readers.sound.audio import blocks
from stillroom.readers.source import Source
from stillroom.store import originals
from stillroom.store.lab import Lab

NEAR = 0.1
"""A recording this far from the speed that is asked for still stands for it [1]; what it turned at is said."""

OFF = 2.0
"""A recording whose level is this far from the one that the fan has at its noise limit doesn't stand for it [dB]."""

TO_BE_HEARD = "a calibrated recording of a dwell near the speed or setting that is asked for"

ROOM = 1.0
"""Between the highest sample of all excerpts and full scale [dB], at least."""

Array32 = NDArray[np.float32]


@dataclass(frozen=True)
class Excerpt:
    """A stretch of one recording, faded, as it will be written.

    Parameters
    ----------
    fan, run, file, key : whose, and what it was taken from: the run, its file, the key of the result.
    speed : that the fan turned at [1/s]. asked : what it stands for, in words.
    obstacle : with which it was recorded, "" in free air. geometry : of the microphone.
    start, length : within the recording [s]. rate : [Hz].
    level : LAeq of the excerpt before its fades, the room's sound included [dB(A)].
    corrected : level of the fan alone at that speed [dB(A)]; is_bound : it is at most that.
    shift : by which its level was changed, 0 where it is true [dB]. marks : what must be said beside.
    samples : (F,), in units of a pressure whose level is 0 dB re 20 µPa.
    """

    fan: str
    run: str
    file: str
    key: str
    speed: float
    asked: str
    obstacle: str
    geometry: Geometry
    start: float
    length: float
    rate: int
    level: float
    corrected: float
    is_bound: bool
    shift: float
    marks: tuple[str, ...]
    samples: Array

    @property
    def peak(self) -> float:
        """Level of its highest sample [dB re 20 µPa]."""
        return 20.0 * math.log10(max(float(np.abs(self.samples).max()), 1e-10))

    @property
    def played(self) -> float:
        """LAeq as written [dB(A)]."""
        return self.level + self.shift


@dataclass(frozen=True)
class Excerpts:
    """All excerpts of one call; scale : level of a mean square of full scale [dB re 20 µPa]; who has none, and why."""

    found: tuple[Excerpt, ...]
    scale: float
    left_out: tuple[tuple[str, str], ...]


def excerpts(
    sounds: Sounds, fans: Sequence[str], condition: Condition, *, seconds: float, matched: bool
) -> Excerpts:
    """The excerpts of fans under a condition.

    Parameters
    ----------
    fans : names. condition : limit, speed, duty or voltage, the fastest dwell where none is given; and the obstacle,
        where none is given the one with which the fans were heard, unless one was in free air.
    seconds : length of each. matched : bring all to the level of the quietest.

    Raises
    ------
    UnknownThing : a fan or an obstacle that the lab doesn't know. NotPossible : none has an excerpt.
    """
    known = {each.fan for each in sounds.graph.sounding()} | set(sounds.book.fans)
    for fan in fans:
        if fan not in known:
            raise UnknownThing(
                "fan", found=repr(fan), expected=", ".join(sorted(known)) or "a fan of the lab"
            )
    obstacle = obstacle_of(sounds, condition.obstacle, fans)
    found: list[Excerpt] = []
    left_out: list[tuple[str, str]] = []
    for fan in dict.fromkeys(fans):
        try:
            found.append(_excerpt(sounds, fan, obstacle, condition, seconds))
        except NotPossible as error:
            left_out.append(
                (fan, f"{error.found or error.sentence()}{_other_obstacle(sounds, fan, obstacle)}")
            )
    if not found:
        raise NotPossible(
            "excerpts", found="; ".join(f"{fan}: {why}" for fan, why in left_out), expected=TO_BE_HEARD
        )
    if matched:
        quietest = min(each.level for each in found)
        found = [_shifted(each, quietest - each.level) for each in found]
    scale = float(math.ceil(max(each.peak for each in found) + ROOM))
    return Excerpts(tuple(found), scale, tuple(left_out))


def _other_obstacle(sounds: Sounds, fan: str, obstacle: str) -> str:
    """How a fan can be heard that was recorded behind another obstacle only."""
    heard = {each.obstacle for each in sounds.comparable.nodes.get(fan, ())}
    return "" if not heard or heard & {"", obstacle} else f" (--through {min(heard)} lets it be heard)"


def _shifted(each: Excerpt, shift: float) -> Excerpt:
    return replace(each, shift=shift, samples=each.samples * 10.0 ** (shift / 20.0))


@dataclass(frozen=True)
class _Piece:
    """What an excerpt is cut from: a recording, where, its scale [dB], and the fan's own level there [dB(A)]."""

    heard: Heard
    node: RecordingNode
    start: float
    offset: float
    speed: float
    level: float
    is_bound: bool
    marks: tuple[str, ...] = ()


def _excerpt(sounds: Sounds, fan: str, obstacle: str, condition: Condition, seconds: float) -> Excerpt:
    used = sounds.fan(fan, obstacle)
    wanted = _wanted(sounds, used, obstacle, condition)
    piece = _piece(sounds.lab, used, wanted, condition, seconds)
    placed = piece.node.run.placed
    rate = int(placed.taken.layout["rate"])
    samples = _samples(sounds.lab, piece.node, round(piece.start * rate), round(seconds * rate))
    level = analyse([samples], rate).whole[Weighting.A] + piece.offset
    return Excerpt(
        fan=fan,
        run=piece.node.name,
        file=placed.taken.file,
        key=piece.heard.node.key,
        speed=piece.speed,
        asked=wanted.words,
        obstacle=used.obstacle,
        geometry=piece.heard.node.geometry,
        start=round(piece.start, 3),
        length=len(samples) / rate,
        rate=rate,
        level=level,
        corrected=piece.level,
        is_bound=piece.is_bound,
        shift=0.0,
        marks=(*wanted.marks, *piece.marks, *((FREE_AIR,) if FREE_AIR in used.marks else ())),
        samples=faded(samples, rate) * 10.0 ** (piece.offset / 20.0),
    )


def _piece(lab: Lab, used: FanSound, wanted: _Wanted, condition: Condition, seconds: float) -> _Piece:
    """The steadiest stretch of the nearest dwell; where none is near, that of a ramp that passes the speed."""
    try:
        heard, dwell = _nearest(used, wanted, condition)
    except NotPossible:
        by = None if wanted.speed is None else passed(lab, used, wanted.speed, seconds)
        if by is None or wanted.speed is None:
            raise
        marks = (by.words,)
        return _Piece(by.heard, by.recording, by.start, by.offset, wanted.speed, by.level, by.is_bound, marks)
    node = next(each for each in heard.node.recordings if each.name == dwell.run)
    known, offset = load_heard(lab, heard.node, dwell.run)
    if known.seconds is None:
        raise NotPossible(f"excerpt of {used.fan}", found=f"a table of levels ({dwell.file})")
    start = float(steadiest(known.seconds, seconds))
    return _Piece(heard, node, start, offset, dwell.speed, dwell.level, dwell.is_bound)


@dataclass(frozen=True)
class _Wanted:
    """What is asked for, in words; its speed [1/s] and level [dB(A)] where they are known; what is said beside."""

    words: str
    speed: float | None = None
    level: float | None = None
    marks: tuple[str, ...] = ()


def _wanted(sounds: Sounds, used: FanSound, obstacle: str, condition: Condition) -> _Wanted:
    if condition.is_limited:
        found = fan_limit(sounds.lab, sounds.book, sounds.graph, used.fan, obstacle, condition, sounds)
        if found.why:
            raise NotPossible(f"excerpt of {used.fan}", found=found.why)
        speed = float(found.limit.speeds[0])
        words = f"{limit_words(condition, used.geometry)}, which it meets at {speed_in_words(speed)}"
        tops_out = tuple(each for each in found.marks if each.startswith(TOPS_OUT))
        return _Wanted(words, speed, found.level[0], tops_out)
    if condition.speed is not None:
        return _Wanted(speed_in_words(condition.speed), condition.speed)
    if condition.duty is not None:
        return _Wanted(f"{100.0 * condition.duty:g} % duty")
    return _Wanted("its highest speed recorded" if condition.volts is None else f"{condition.volts:g} V")


def _nearest(used: FanSound, wanted: _Wanted, condition: Condition) -> tuple[Heard, Dwell]:
    """The recorded dwell that comes nearest to what is asked for, over all mountings."""
    there = [
        (heard, dwell)
        for heard in used.heard
        for dwell in heard.sound.dwells
        if any(each.name == dwell.run and each.run.is_recording for each in heard.node.recordings)
    ]
    if not there:
        raise NotPossible(f"excerpt of {used.fan}", found="no recording, only levels in tables")
    if wanted.speed is not None:
        return _near_speed(used.fan, there, wanted.speed, wanted.level)
    kind, value = ("duty", condition.duty) if condition.volts is None else ("volts", condition.volts)
    if value is None:
        return max(there, key=lambda each: each[1].speed)
    at = [each for each in there if _is_at(each[1], kind, value)]
    if not at:
        raise NotPossible(f"excerpt of {used.fan}", found=f"recorded at {_settings(there, kind)}")
    return at[0]


def _near_speed(
    fan: str, there: Sequence[tuple[Heard, Dwell]], speed: float, level: float | None
) -> tuple[Heard, Dwell]:
    """The dwell nearest to a speed [1/s], of those that are near a level [dB(A)] where one is told."""
    near = [each for each in there if abs(each[1].speed / speed - 1.0) <= NEAR]
    if not near:
        dwell = min(there, key=lambda each: abs(each[1].speed - speed))[1]
        found = f"nothing recorded near {speed_in_words(speed)}: {speed_in_words(dwell.speed)} is nearest"
        raise NotPossible(f"excerpt of {fan}", found=f"{found}; {_record(speed)}")
    fitting = [each for each in near if level is None or abs(each[1].level - level) <= OFF]
    if not fitting:
        dwell = min(near, key=lambda each: abs(each[1].speed - speed))[1]
        found = f"recorded near {speed_in_words(speed)} only at {speed_in_words(dwell.speed)}, {dwell.level:.1f} dBA"
        raise NotPossible(f"excerpt of {fan}", found=f"{found}; {_record(speed)}")
    return min(fitting, key=lambda each: abs(each[1].speed - speed))


def _record(speed: float) -> str:
    return f"record a dwell at {speed_in_words(speed)}"


def _is_at(dwell: Dwell, kind: str, value: float) -> bool:
    return (
        dwell.setting_kind == kind and dwell.setting is not None and abs(dwell.setting - value) < 0.01 * value
    )


def _settings(there: Sequence[tuple[Heard, Dwell]], kind: str) -> str:
    values = sorted(
        {each.setting for _, each in there if each.setting_kind == kind and each.setting is not None}
    )
    shown = [f"{100 * value:g} %" if kind == "duty" else f"{value:g} V" for value in values]
    return (
        f"{', '.join(shown)} only" if shown else f"no {'duty' if kind == 'duty' else 'voltage'} that is told"
    )


def _samples(lab: Lab, node: RecordingNode, first: int, count: int) -> Array32:
    """Samples of a recording, (count,), full scale 1.0."""
    taken = node.run.placed.taken
    source = Source.of_path(originals.path_of(lab.path, taken.place, taken.sha256), taken.file)
    parts, at = [], 0
    for block in blocks(source, node.run.channel):
        parts.append(block[max(0, first - at) : max(0, first + count - at)])
        at += len(block)
        if at >= first + count:
            break
    return np.concatenate(parts)
