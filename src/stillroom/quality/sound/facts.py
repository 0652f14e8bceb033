"""What the rules of sound are told: plain facts of recordings, mountings and fans, gathered by the lab."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from stillroom.core.sound.sound_mounting import Geometry, SoundMounting
from stillroom.records.limits import Limits

RPM = 1.0 / 60.0

NOTHING = -30.0
"""No room and no microphone is so quiet: a lower level is a file without sound [dB(A)] (common practice)."""


@dataclass(frozen=True)
class SpeedFacts:
    """The speeds of one dwell [1/s]; None where nothing tells it.

    Parameters
    ----------
    sound, sound_u, sound_drift : heard, its standard uncertainty, its relative standard deviation meanwhile [1].
    blades, told_blades_fit : blades that the comb fits; whether the told number does.
    tachometer, optical : readings. used : what counts.
    """

    used: float
    sound: float | None = None
    sound_u: float = 0.0
    sound_drift: float = 0.0
    blades: int | None = None
    told_blades_fit: bool = True
    tachometer: float | None = None
    optical: float | None = None

    @classmethod
    def of(cls, told: Mapping[str, Any]) -> SpeedFacts:
        """From what was kept."""
        return cls(told["used"], told["sound"], told["sound_u"] or 0.0, told["sound_drift"] or 0.0,
                   told["sound_blades"], told["told_blades_fit"] is not False, told["tachometer"],
                   told["optical"])  # fmt: skip


@dataclass(frozen=True)
class ToneFacts:
    """A tone of a dwell: frequency [Hz], whether it is prominent, whether it turns with the rotor."""

    frequency: float
    prominent: bool
    turns: bool


@dataclass(frozen=True, kw_only=True)
class RecordingFacts:
    """One recording, or one row of a table of levels, as it was worked out; None where that isn't known.

    Parameters
    ----------
    run, key, file, what, moment : identity, key of its analysis, file, what was recorded, text that sorts.
    row : of a sheet. setting, setting_kind, setting_word : as told.
    failed : why it could not be used, or "". duration [s]. is_recording : whether there are samples.
    level : A-weighted, as read; corrected : without its background; u : standard uncertainty of its own;
    delta : level read less background; before, after : of the background [dB].
    is_bound : the level is at most `corrected`. rejected : share of seconds left out [1].
    transients : (start [s], length [s], over the median [dB]). burst_rumble : C- less A-weighted level of what was
    left out [dB]. burst : level exceeded 1 % of the time over the median [dB]. scatter : of its seconds [dB].
    clipped : samples. dropouts : (start, length) [s]. silent : no sound at all.
    speed, tones : of a dwell. bands, bands_bound : corrected one-third octaves and where they are bounds, (31,).
    note : beside it. warm_up : time at the setting before it [s].
    """

    run: str
    key: str
    file: str
    what: str
    moment: str = ""
    row: int | None = None
    setting: float | None = None
    setting_kind: str = ""
    setting_word: str = ""
    failed: str = ""
    duration: float | None = None
    is_recording: bool = True
    level: float | None = None
    corrected: float | None = None
    u: float = 0.0
    delta: float | None = None
    before: float | None = None
    after: float | None = None
    is_bound: bool = False
    rejected: float = 0.0
    transients: tuple[tuple[float, float, float], ...] = ()
    burst_rumble: float | None = None
    burst: float | None = None
    scatter: float | None = None
    clipped: int = 0
    dropouts: tuple[tuple[float, float], ...] = ()
    silent: bool = False
    was_read: bool = True
    speed: SpeedFacts | None = None
    tones: tuple[ToneFacts, ...] = ()
    bands: tuple[float | None, ...] | None = None
    bands_bound: tuple[bool, ...] | None = None
    note: str = ""
    warm_up: float | None = None

    @property
    def subject(self) -> str:
        """As a finding names it."""
        return f"run:{self.run}"

    @property
    def place(self) -> str:
        """The file, with the row of a sheet."""
        return self.file if self.row is None else f"{self.file}, row {self.row}"

    @property
    def words(self) -> str:
        """As people name it."""
        if self.what.startswith("ramp"):
            return f"the {self.what}"
        return (
            f"the {self.what} at {self.setting_word}"
            if self.setting_word
            else f"the {self.what} in {self.place}"
        )

    @property
    def is_dwell(self) -> bool:
        """Whether it is of a fan at one speed."""
        return self.what == "dwell"

    @property
    def is_silent(self) -> bool:
        """Whether there is no sound in it, be it zeros or one value throughout."""
        return self.silent or (self.level is not None and self.level < NOTHING)

    @property
    def is_drowned(self) -> bool:
        """Whether it is used, as an upper bound, though it is no louder than its background."""
        return self.is_used and self.delta is not None and self.delta <= 0.0

    @property
    def is_used(self) -> bool:
        """Whether its level is used."""
        return not self.failed and self.corrected is not None

    @property
    def has_background(self) -> bool:
        """Whether a background was taken off."""
        return self.before is not None or self.after is not None


@dataclass(frozen=True)
class ScaleFacts:
    """What makes the levels of recordings dB re 20 µPa.

    Parameters
    ----------
    before, after, drift : by recordings of the calibrator [dB]; None where there is none.
    runs_before, runs_after : these recordings. runs : the recordings that they serve.
    of_meter : whether the levels are a meter's own.
    """

    before: float | None
    after: float | None
    drift: float | None
    runs_before: tuple[str, ...]
    runs_after: tuple[str, ...]
    runs: tuple[str, ...]
    of_meter: bool = False


@dataclass(frozen=True, kw_only=True)
class HeardMounting:
    """The sound of one mounting at one place of the microphone.

    Parameters
    ----------
    name, fan, sample, obstacle, rig, date : of it. judged : the key that findings judge.
    blocked_as : under which name it is blocked while a finding is open.
    geometry : of the microphone; method : as the rig's record has it.
    recordings : of the fan. calibrators, backgrounds : of them. rooms : {run: its backgrounds before and after}.
    scales : of the recordings. sound : as reduced; None where it could not be, `failed` then says why.
    pulses : a revolution, None where nobody told. room_from : lowest frequency of the room [Hz].
    """

    name: str
    fan: str
    sample: str
    obstacle: str
    rig: str
    date: str
    judged: str
    blocked_as: str
    geometry: Geometry = Geometry()
    method: Geometry = Geometry()
    recordings: tuple[RecordingFacts, ...] = ()
    calibrators: tuple[RecordingFacts, ...] = ()
    backgrounds: tuple[RecordingFacts, ...] = ()
    rooms: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = field(default_factory=dict)
    scales: tuple[ScaleFacts, ...] = ()
    sound: SoundMounting | None = None
    failed: str = ""
    blades: int | None = None
    pulses: int | None = None
    room_from: float | None = None

    @property
    def subject(self) -> str:
        """As a finding names it."""
        return f"mounting:{self.name}"

    @property
    def dwells(self) -> tuple[RecordingFacts, ...]:
        """The recordings at one speed that are used."""
        return tuple(each for each in self.recordings if each.is_dwell and each.is_used)

    @property
    def used(self) -> tuple[RecordingFacts, ...]:
        """The recordings that are used, ramps among them."""
        return tuple(each for each in self.recordings if each.is_used)

    def beside(self, run: str) -> RecordingFacts | None:
        """A calibrator or background of it by its run."""
        several = (*self.calibrators, *self.backgrounds)
        return next((each for each in several if each.run == run), None)


@dataclass(frozen=True, kw_only=True)
class HeardFan:
    """A fan with all its sound.

    Parameters
    ----------
    name : the fan's. mountings : in the order of their dates. limits : in force.
    targets : the lab's noise limits [dB(A)]. highest : whether the highest speed at a limit counts.
    contends : whether it contends for the lead in a comparison that was kept.
    free_air : kept values behind an obstacle that rest on noise in free air, in words.
    spread : standard deviation between mountings at equal speed [dB].
    """

    name: str
    mountings: tuple[HeardMounting, ...]
    limits: Limits = Limits()
    targets: tuple[float, ...] = ()
    highest: bool = True
    contends: bool = False
    free_air: tuple[str, ...] = ()
    spread: float = 0.4
