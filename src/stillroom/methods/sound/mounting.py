"""From the recordings of one mounting to its sound: calibrated, corrected, with speeds, tones and loudness."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from stillroom.core.sound.level_curve import LevelCurve
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.ramp_track import RampTrack
from stillroom.core.sound.sound_mounting import Dwell, Geometry, SoundMounting
from stillroom.errors import StillroomError
from stillroom.methods.sound.beside import beside_facts, calibration_facts
from stillroom.methods.sound.curves import level_curve, phon_curve
from stillroom.methods.sound.levels import Level
from stillroom.methods.sound.scales import Scale
from stillroom.methods.sound.sources import shared_sources
from stillroom.methods.sound.told import Chain, FanTold, Session
from stillroom.methods.sound.turning import Turning
from stillroom.methods.sound.working import Taken, Work

FULL = 0.99
"""From this share of the greatest setting on a dwell is at full setting [1]."""


@dataclass(frozen=True)
class Reduced:
    """A mounting's sound, and all recordings in plain words.

    Parameters
    ----------
    sound : None where no recording could be used; then `failed` says why.
    recordings : a dict each, calibrators and backgrounds among them. calibrations : a dict each.
    marks : what must be said beside the numbers. tracks : {run: the track of a ramp}.
    """

    sound: SoundMounting | None
    failed: str
    recordings: tuple[dict[str, Any], ...]
    calibrations: tuple[dict[str, Any], ...]
    marks: tuple[str, ...]
    tracks: Mapping[str, RampTrack] = field(default_factory=dict)


def reduce_sound(
    sessions: Sequence[Session],
    *,
    fan: FanTold,
    chain: Chain,
    geometry: Geometry,
    identity: str,
    trials: int,
) -> Reduced:
    """Reduce the recordings of one mounting at one place of the microphone.

    Parameters
    ----------
    sessions : dwells, ramps and tables, each with its calibrators and backgrounds. fan, chain : as they are told.
    geometry : of the microphone. identity : of the mounting. trials : number of trials.
    """
    work = Work(fan, chain)
    for each in sessions:
        work.take(each)
    work.name_tones()
    facts = [*work.facts(), *beside_facts(sessions, work.scales)]
    marks = tuple(dict.fromkeys((*work.marks(), *_geometry_marks(geometry))))
    calibrations = calibration_facts(sessions, work.scales, chain)
    if not work.points():
        return Reduced(None, _why(work.taken), tuple(facts), calibrations, marks, work.tracks)
    try:
        sound = _sound(work, geometry, identity, trials, marks)
    except StillroomError as error:
        return Reduced(None, error.sentence(), tuple(facts), calibrations, marks, work.tracks)
    return Reduced(sound, "", tuple(facts), calibrations, marks, work.tracks)


def _geometry_marks(geometry: Geometry) -> Iterable[str]:
    if geometry.distance is None:
        yield "distance not told"


def _sound(
    work: Work, geometry: Geometry, identity: str, trials: int, marks: tuple[str, ...]
) -> SoundMounting:
    points = work.points()
    curve, phons = _curves(work, points, geometry, identity, trials)
    return SoundMounting(
        levels=curve,
        phons=phons,
        dwells=tuple(_dwell(*each) for each in work.dwells),
        settings=_settings(work),
        full_speed=_full_speed(work, points),
        geometry=geometry,
        floor=work.floor,
        marks=marks,
    )


def _why(taken: Iterable[Taken]) -> str:
    """Why none can be used: each reason once."""
    return "; ".join(dict.fromkeys(each.failed for each in taken)) or "no recording"


def _curves(
    work: Work,
    points: list[tuple[Taken, Scale, LevelPoint]],
    geometry: Geometry,
    identity: str,
    trials: int,
) -> tuple[LevelCurve, LevelCurve | None]:
    own = [point for _, _, point in points]
    sources = shared_sources([(taken.told, scale) for taken, scale, _ in points], work.chain, geometry)
    curve = level_curve(own, sources, identity=f"sound/{identity}", trials=trials, floor=work.floor)
    dwells = [(taken.level, point) for taken, _, point in points if taken.level and taken.turning]
    of_dwells = shared_sources(
        [(taken.told, scale) for taken, scale, _ in points if taken.level and taken.turning],
        work.chain,
        geometry,
    )
    phons = phon_curve(
        [point for _, point in dwells],
        [level.loudness.phon if level.loudness else None for level, _ in dwells],
        [level.loudness_is_bound for level, _ in dwells],
        [level.phon_by_level for level, _ in dwells],
        of_dwells,
        identity=f"sound/{identity}",
        trials=trials,
    )
    return curve, phons


def _dwell(taken: Taken, level: Level, turning: Turning) -> Dwell:
    told = taken.told
    return Dwell(
        run=told.run,
        file=told.file,
        setting_kind=told.setting_kind,
        setting=told.setting,
        speed=turning.used,
        u_speed=turning.u,
        speed_from=turning.by,
        level=level.total.level,
        u=level.u,
        is_bound=level.total.is_bound,
        c_level=level.shown(level.heard.c_level),
        z_level=level.shown(level.heard.z_level),
        loudness=level.loudness.sone if level.loudness and not level.loudness_is_bound else None,
        sharpness=level.sharpness,
        tones=taken.tones,
        bands=level.bands,
        bands_background=level.room.bands,
        bands_bound=level.bands_bound,
    )


def _settings(work: Work) -> dict[str, tuple[tuple[float, float], ...]]:
    """The speed at each duty and voltage, mean over the dwells at it."""
    found: dict[str, dict[float, list[float]]] = {}
    for taken, _, turning in work.dwells:
        told = taken.told
        if told.setting is not None and told.setting_kind in {"duty", "volts"}:
            found.setdefault(told.setting_kind, {}).setdefault(told.setting, []).append(turning.used)
    return {
        kind: tuple((setting, float(np.mean(speeds))) for setting, speeds in sorted(pairs.items()))
        for kind, pairs in found.items()
    }


def _full_speed(work: Work, points: list[tuple[Taken, Scale, LevelPoint]]) -> float | None:
    """The speed at the fan's greatest setting; where settings were not told, the fastest."""
    top = work.fan.top
    if top is None:
        return max(point.speed for _, _, point in points)
    kinds = {taken.told.setting_kind for taken, _, _ in work.dwells}
    kind = next((each for each in ("duty", "volts", "speed") if each in kinds), "")
    full = [
        turning.used
        for taken, _, turning in work.dwells
        if taken.told.setting_kind == kind and (taken.told.setting or 0.0) >= FULL * top
    ]
    return float(np.mean(full)) if full else None
