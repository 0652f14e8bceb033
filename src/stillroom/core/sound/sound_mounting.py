"""One mounting's sound as a whole: level against speed, its dwells, and at which setting it turns how fast."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.core.sound.level_curve import LevelCurve
from stillroom.core.sound.orders import NamedTone

Flags = NDArray[np.bool_]


class SpeedFrom(Enum):
    """From what a dwell's speed is known."""

    SOUND = "sound"
    TACHOMETER = "tachometer"
    OPTICAL = "optical"
    TOLD = "told"


@dataclass(frozen=True)
class Geometry:
    """Where the microphone stood, and how the fan was held; None and "" where nobody told.

    Parameters
    ----------
    distance : from the fan's centre [m]. angle : from the fan's axis [rad].
    height : of the microphone above the fan's centre [m]. side : of the fan on which the microphone stood.
    holder : that held the fan. room_from : lowest frequency at which the room is qualified [Hz].
    """

    distance: float | None = None
    angle: float | None = None
    height: float | None = None
    side: str = ""
    holder: str = ""
    room_from: float | None = None

    @property
    def words(self) -> str:
        """The place as it stands beside a level: "0.5 m, 45°"; "an untold distance" where that isn't known."""
        told = ["an untold distance" if self.distance is None else f"{self.distance:g} m"]
        if self.angle is not None:
            told.append(f"{math.degrees(self.angle):g}°")
        if self.height:
            told.append(f"{self.height:+g} m high")
        return ", ".join([*told, *filter(None, (self.side, self.holder))])

    @property
    def place(self) -> tuple[float | None, float | None, float | None, str, str]:
        """What must be the same for two levels to be compared."""
        return self.distance, self.angle, self.height, self.side.casefold(), self.holder.casefold()


@dataclass(frozen=True)
class Dwell:
    """A fan at one speed.

    Parameters
    ----------
    run : short identity. file : as people name it. setting_kind, setting : "duty", "volts", "speed" or "" [SI].
    speed, u_speed : shaft speed and its standard uncertainty [1/s]. speed_from : what told it.
    level : A-weighted sound pressure level, corrected for background [dB re 20 µPa]; is_bound : it is at most that.
    u : standard uncertainty of the reading itself [dB].
    c_level, z_level : C- and Z-weighted levels, not corrected; None where they weren't read [dB].
    loudness [sone], sharpness [acum] : None where bands weren't read, or where they tell but a bound.
    tones : named, of this position.
    bands : one-third-octave levels corrected for background, (31,), NaN where there is no band [dB].
    bands_background : of the background, None where none was recorded. bands_bound : where the level is a bound.
    """

    run: str
    file: str
    setting_kind: str
    setting: float | None
    speed: float
    u_speed: float
    speed_from: SpeedFrom
    level: float
    u: float
    is_bound: bool
    c_level: float | None
    z_level: float | None
    loudness: float | None
    sharpness: float | None
    tones: tuple[NamedTone, ...]
    bands: Array | None
    bands_background: Array | None
    bands_bound: Flags | None


@dataclass(frozen=True)
class SoundMounting:
    """One mounting's sound, reduced.

    Parameters
    ----------
    levels : A-weighted level against speed. phons : loudness level against speed, None where bands weren't read.
    dwells : in order of speed. settings : {"duty" or "volts": ((setting [SI], speed [1/s]), …) rising}.
    full_speed : the greatest speed at the greatest setting [1/s], None where settings weren't told.
    geometry : of the microphone. floor : below which levels are bounds [dB], None where nobody knows it.
    marks : what must be said beside the numbers.
    """

    levels: LevelCurve
    phons: LevelCurve | None
    dwells: tuple[Dwell, ...]
    settings: Mapping[str, tuple[tuple[float, float], ...]]
    full_speed: float | None
    geometry: Geometry
    floor: float | None
    marks: tuple[str, ...] = ()
