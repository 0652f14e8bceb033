"""How a mounting's sound is kept: plain words and numbers, and arrays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillroom.core.sound.level_curve import LevelCurve
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.orders import NamedTone, Origin
from stillroom.core.sound.ramp_track import RampTrack
from stillroom.core.sound.sound_mounting import Dwell, Geometry, SoundMounting, SpeedFrom
from stillroom.core.sound.tones import Tone

Arrays = dict[str, NDArray[Any]]
_CURVE_ARRAYS = ("speeds", "central", "effects", "noise", "bound")
_POINTS = ("points", "held")
_BANDS = ("bands", "bands_background", "bands_bound")


def sound_parts(sound: SoundMounting) -> tuple[dict[str, Any], Arrays]:
    """A mounting's sound as a JSON object and arrays."""
    arrays: Arrays = {}
    body: dict[str, Any] = {
        "geometry": asdict(sound.geometry),
        "settings": {kind: [list(pair) for pair in pairs] for kind, pairs in sound.settings.items()},
        "full_speed": sound.full_speed,
        "floor": sound.floor,
        "marks": list(sound.marks),
        "dwells": [_dwell_parts(i, each, arrays) for i, each in enumerate(sound.dwells)],
        "levels": _curve_parts("levels", sound.levels, arrays),
        "phons": None if sound.phons is None else _curve_parts("phons", sound.phons, arrays),
    }
    return body, arrays


def sound_of(body: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> SoundMounting:
    """A mounting's sound from its parts."""
    return SoundMounting(
        levels=_curve("levels", body["levels"], arrays),
        phons=None if body["phons"] is None else _curve("phons", body["phons"], arrays),
        dwells=tuple(_dwell(i, each, arrays) for i, each in enumerate(body["dwells"])),
        settings={
            kind: tuple((pair[0], pair[1]) for pair in pairs) for kind, pairs in body["settings"].items()
        },
        full_speed=body["full_speed"],
        geometry=Geometry(**body["geometry"]),
        floor=body["floor"],
        marks=tuple(body["marks"]),
    )


def _curve_parts(name: str, curve: LevelCurve, arrays: Arrays) -> dict[str, Any]:
    """A curve; its own deviations in half precision (within 0.002 dB) in half of the room."""
    values = {each.name: getattr(curve, each.name) for each in fields(LevelCurve)}
    for each in _CURVE_ARRAYS:
        arrays[f"{name}_{each}"] = values.pop(each)
    arrays[f"{name}_noise"] = arrays[f"{name}_noise"].astype(np.float16)
    return values | {each: [asdict(point) for point in values[each]] for each in _POINTS}


def _curve(name: str, told: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> LevelCurve:
    values = dict(told)
    values |= {each: tuple(LevelPoint(**point) for point in told[each]) for each in _POINTS}
    values |= {each: arrays[f"{name}_{each}"] for each in _CURVE_ARRAYS}
    values["noise"] = values["noise"].astype(np.float32)
    values["sources"], values["reach"] = tuple(told["sources"]), tuple(told["reach"])
    return LevelCurve(**values)


def _dwell_parts(i: int, dwell: Dwell, arrays: Arrays) -> dict[str, Any]:
    values = {each.name: getattr(dwell, each.name) for each in fields(Dwell)}
    for each in _BANDS:
        if (value := values.pop(each)) is not None:
            arrays[f"dwell_{i}_{each}"] = value
    values["speed_from"] = dwell.speed_from.value
    values["tones"] = [asdict(each) | {"origin": each.origin.value} for each in dwell.tones]
    return values


def _dwell(i: int, told: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> Dwell:
    values = dict(told) | {each: arrays.get(f"dwell_{i}_{each}") for each in _BANDS}
    values["speed_from"] = SpeedFrom(told["speed_from"])
    values["tones"] = tuple(_tone(each) for each in told["tones"])
    return Dwell(**values)


def _tone(told: Mapping[str, Any]) -> NamedTone:
    tone = dict(told["tone"])
    return NamedTone(Tone(**tone | {"by": tuple(tone["by"])}), told["order"], Origin(told["origin"]))


def track_parts(run: str, track: RampTrack) -> Arrays:
    """The track of a ramp as arrays."""
    return {f"track_{run}_{each.name}": getattr(track, each.name) for each in fields(RampTrack)}


def track_of(run: str, arrays: Mapping[str, NDArray[Any]]) -> RampTrack | None:
    """The track of a ramp from its arrays; None where there is none."""
    if f"track_{run}_times" not in arrays:
        return None
    return RampTrack(**{each.name: arrays[f"track_{run}_{each.name}"] for each in fields(RampTrack)})
