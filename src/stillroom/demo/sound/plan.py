"""What is recorded in the quiet room, in sessions: calibrator, background, fans, background, calibrator."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum

from stillroom.demo.fan import Setting
from stillroom.demo.sound.room import DISTANCE, FIELD, Recorder

DWELL_SECONDS, CALIBRATOR_SECONDS = 30.0, 10.0
RAMP_SECONDS = 60.0


class Form(Enum):
    """How a recording is saved: (suffix, subtype, sampling rate [Hz], channels)."""

    FLAC = ("flac", "PCM_24", 48_000, 1)
    WAV_24 = ("wav", "PCM_24", 48_000, 1)
    WAV_16 = ("wav", "PCM_16", 48_000, 1)
    SLOWER = ("flac", "PCM_24", 44_100, 1)
    FASTER = ("flac", "PCM_24", 96_000, 1)
    TWO = ("flac", "PCM_24", 48_000, 2)
    FLAC_16 = ("flac", "PCM_16", 48_000, 1)

    @property
    def suffix(self) -> str:
        """Of the file."""
        return self.value[0]

    @property
    def subtype(self) -> str:
        """How samples are kept."""
        return self.value[1]

    @property
    def rate(self) -> int:
        """Sampling rate [Hz]."""
        return self.value[2]

    @property
    def channels(self) -> int:
        """The microphone is on the last one."""
        return self.value[3]


class What(Enum):
    """What is recorded, in the words of the run table."""

    DWELL = "dwell"
    RAMP_UP = "ramp up"
    RAMP_DOWN = "ramp down"
    BACKGROUND_BEFORE = "background before"
    BACKGROUND_AFTER = "background after"
    CALIBRATOR_BEFORE = "calibrator before"
    CALIBRATOR_AFTER = "calibrator after"


@dataclass(frozen=True)
class Trouble:
    """What is wrong in one recording. The default is nothing.

    Parameters
    ----------
    lorry : whether one passes. bump : whether somebody knocks against the stand, so that it clips.
    pulses : the tachometer's reading over the true speed.
    """

    lorry: bool = False
    bump: bool = False
    pulses: float = 1.0


NONE = Trouble()


@dataclass(frozen=True)
class Take:
    """One recording of a fan. `setting` is None for a ramp."""

    what: What
    setting: Setting | None = None
    form: Form = Form.FLAC
    seconds: float = DWELL_SECONDS
    wrong: Trouble = NONE


@dataclass(frozen=True)
class Visit:
    """One act of hanging a sample in the quiet room.

    Parameters
    ----------
    fan, sample, number : whose it is; `number` counts its visits.
    obstacle : what it blows through; empty for free air.
    takes : what is recorded. distance : where the microphone stood [m].
    """

    fan: str
    sample: str
    number: int
    takes: tuple[Take, ...]
    obstacle: str = ""
    distance: float = DISTANCE

    @property
    def name(self) -> str:
        """Its name in the tables."""
        return f"{self.fan}-{self.sample}-q{self.number}"


@dataclass(frozen=True)
class Session:
    """Recordings between two calibrations of the chain.

    Parameters
    ----------
    name : its folder's, after the date. day : working day. hour : at which it begins.
    visits : in order. recorder, form : with what calibrator and background are recorded.
    rise : by how much the room itself is louder at its end than at its beginning [dB].
    gain : by how much the recorder's gain is higher after the last fan than before [dB].
    """

    day: int
    hour: int
    visits: tuple[Visit, ...]
    name: str = ""
    recorder: Recorder = FIELD
    form: Form = Form.FLAC
    rise: float = 0.0
    gain: float = 0.0

    def faultless(self) -> Session:
        """The same session with nothing wrong."""
        visits = tuple(
            replace(
                visit,
                distance=DISTANCE,
                takes=tuple(replace(take, wrong=NONE) for take in visit.takes),
            )
            for visit in self.visits
        )
        return replace(self, visits=visits, rise=0.0, gain=0.0)


def dwell(setting: Setting, form: Form = Form.FLAC, wrong: Trouble = NONE) -> Take:
    """A recording at a setting."""
    return Take(What.DWELL, setting, form, wrong=wrong)


def ramp(what: What = What.RAMP_UP, seconds: float = RAMP_SECONDS) -> Take:
    """A recording of a slow sweep of the speed."""
    return Take(what, seconds=seconds)
