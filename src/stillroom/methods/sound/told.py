"""What the method is given: what was heard in each recording, and what is told of it, of the fan and of the chain."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.sound.sound_mounting import Geometry
from stillroom.methods.sound.recording import Heard


@dataclass(frozen=True)
class Told:
    """What is told of one recording or table.

    Parameters
    ----------
    run : short identity. key : of its analysis. file : as people name it. what : was recorded, in words.
    moment : text that sorts. date : the day. setting, setting_kind, setting_word : as for `Placed`.
    channel : from 1; 0 for a table. geometry : of the microphone.
    tachometer, optical : readings beside it [1/s]. speed_from, speed_to : ends of a ramp [1/s].
    rising : of a ramp whether the speed rises; None of what is no ramp. calibrator : level of a calibrator [dB].
    """

    run: str
    key: str
    file: str
    what: str
    moment: str
    date: str
    setting: float | None
    setting_kind: str
    setting_word: str
    channel: int
    geometry: Geometry
    tachometer: float | None = None
    optical: float | None = None
    speed_from: float | None = None
    speed_to: float | None = None
    rising: bool | None = None
    calibrator: float | None = None


@dataclass(frozen=True)
class Item:
    """A recording with what was heard in it: once, or for each row of a sheet; `failed` says why it was not."""

    told: Told
    heard: tuple[Heard, ...]
    failed: str = ""


@dataclass(frozen=True)
class Sides:
    """Calibrators, or backgrounds, before and after a recording."""

    before: tuple[Item, ...] = ()
    after: tuple[Item, ...] = ()

    @property
    def runs(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Their identities: the same ones make the same scale."""
        return tuple(each.told.run for each in self.before), tuple(each.told.run for each in self.after)


@dataclass(frozen=True)
class Session:
    """A dwell, ramp or table with the calibrators and backgrounds that belong to it."""

    item: Item
    calibrators: Sides = Sides()
    backgrounds: Sides = Sides()


@dataclass(frozen=True)
class Microphone:
    """The microphone or meter of a recording, as far as it is told.

    Parameters
    ----------
    name : of the instrument, else of the rig, else "". self_noise : A-weighted [dB].
    full_scale : stated level of a mean square of 1.0 [dB re 20 µPa]. accuracy : stated, ± [dB].
    calibrator : its name, "" where none is told. calibrator_accuracy : stated, ± [dB].
    """

    name: str = ""
    self_noise: float | None = None
    full_scale: float | None = None
    accuracy: float | None = None
    calibrator: str = ""
    calibrator_accuracy: float | None = None


@dataclass(frozen=True)
class Chain(Microphone):
    """By what and on which rig it was recorded."""

    rig: str = ""


@dataclass(frozen=True)
class FanTold:
    """What is told of the fan.

    Parameters
    ----------
    blades, pulses : a revolution. full_speed : by its record [1/s]. top : its greatest setting over all its
    mountings [SI].
    """

    blades: int | None = None
    pulses: int | None = None
    full_speed: float | None = None
    top: float | None = None
