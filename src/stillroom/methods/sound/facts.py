"""One recording in plain words and numbers, as findings, charts and traces read it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.orders import NamedTone
from stillroom.core.sound.ramp_track import RampTrack
from stillroom.methods.sound.levels import Level, Room
from stillroom.methods.sound.recording import Heard
from stillroom.methods.sound.told import Told
from stillroom.methods.sound.turning import Turning


def told_facts(told: Told, row: int | None = None, failed: str = "") -> dict[str, Any]:
    """What is told of a recording; all that there is of one that could not be used."""
    place = told.geometry
    facts: dict[str, Any] = {
        "run": told.run,
        "key": told.key,
        "file": told.file,
        "what": told.what,
        "moment": told.moment,
        "date": told.date,
        "setting": told.setting,
        "setting_kind": told.setting_kind,
        "setting_word": told.setting_word,
        "distance": place.distance,
        "angle": place.angle,
        "height": place.height,
        "side": place.side,
        "holder": place.holder,
        "channel": told.channel,
    }
    if row is not None:
        facts["row"] = row
    return facts | ({"failed": failed} if failed else {})


def heard_facts(heard: Heard, offset: float | None) -> dict[str, Any]:
    """What was heard; levels in dB re 20 µPa, or None where nothing makes them so."""

    def shown(level: float | None) -> float | None:
        return None if level is None or offset is None or not np.isfinite(level) else level + offset

    exceeded = heard.exceeded or {}
    return {
        "duration": heard.duration,
        "rate": heard.rate,
        "level": shown(heard.level),
        "c_level": shown(heard.c_level),
        "z_level": shown(heard.z_level),
        "fast_max": shown(heard.fast_max),
        "slow_max": shown(heard.slow_max),
        "exceeded": {str(share): shown(level) for share, level in exceeded.items()},
        "seconds": None if heard.seconds is None or offset is None else listed(heard.seconds + offset),
        "rejected": heard.rejected,
        "rumble": heard.rumble,
        "transients": [list(each) for each in heard.transients],
        "clipped": heard.clipped,
        "dropouts": [list(each) for each in heard.dropouts],
        "silent": heard.silent,
        "dc_offset": heard.dc_offset,
        "drift": heard.drift,
        "scatter": heard.scatter,
        "bands": None if heard.bands is None or offset is None else listed(heard.bands + offset),
    }


def level_facts(level: Level) -> dict[str, Any]:
    """The level of a recording of the fan."""
    total, room = level.total, level.room
    facts: dict[str, Any] = {
        "level_corrected": total.level,
        "is_bound": total.is_bound,
        "correction": total.correction,
        "delta": total.delta,
        "u": level.u,
        "loudness": level.loudness.sone if level.loudness else None,
        "loudness_level": level.loudness.phon if level.loudness else None,
        "loudness_is_bound": level.loudness_is_bound,
        "sharpness": level.sharpness,
        "bands_corrected": None if level.bands is None else listed(level.bands),
        "bands_bound": None if level.bands_bound is None else [bool(each) for each in level.bands_bound],
    }
    return facts | room_facts(room)


def room_facts(room: Room) -> dict[str, Any]:
    """The background of a recording."""
    return {
        "background": room.total.level if room.total else None,
        "background_before": room.before,
        "background_after": room.after,
        "bands_background": None if room.bands is None else listed(room.bands),
    }


def turning_facts(turning: Turning) -> dict[str, Any]:
    """The speeds of a dwell [1/s]."""
    sound = turning.sound
    return {
        "sound": sound.speed if sound else None,
        "sound_u": sound.u if sound else None,
        "sound_drift": sound.drift if sound else None,
        "sound_blades": sound.blades if sound else None,
        "told_blades_fit": sound.told_blades_fit if sound else None,
        "tachometer": turning.tachometer,
        "optical": turning.optical,
        "told": turning.told,
        "used": turning.used,
        "u": turning.u,
        "from": turning.by.value,
    }


def ramp_facts(points: Sequence[LevelPoint], track: RampTrack | None) -> dict[str, Any]:
    """What a ramp gave: between which speeds [1/s], at how many steps, and how many of its frames told their speed."""
    speeds = [each.speed for each in points]
    return {
        "from": min(speeds),
        "to": max(speeds),
        "steps": len(points),
        "trusted": None if track is None else float(np.mean(track.trusted)),
    }


def tone_facts(tones: Sequence[NamedTone]) -> list[dict[str, Any]]:
    """The tones of a dwell."""
    return [
        {
            "frequency": each.tone.frequency,
            "level": each.tone.level,
            "tnr": each.tone.tone_to_noise,
            "pr": each.tone.prominence_ratio,
            "tnr_criterion": each.tone.tnr_criterion,
            "pr_criterion": each.tone.pr_criterion,
            "prominent": each.tone.prominent,
            "by": list(each.tone.by),
            "order": each.order,
            "origin": each.origin.value,
        }
        for each in tones
    ]


def listed(values: Array) -> list[float | None]:
    """Numbers as they are kept: None where there is none."""
    return [float(each) if np.isfinite(each) else None for each in values]
