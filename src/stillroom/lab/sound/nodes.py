"""The sound nodes of the recipe graph.

    original + layout + channel + reader + analysis → recording ─┐
    speeds told, blades, pulses, place, microphone, trials      ─┴→ sound of a mounting

A recording's analysis hangs on its bytes alone, so that a new calibration costs no new pass over the file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from stillroom.core.sound.sound_mounting import Geometry
from stillroom.lab.sound.placing import SoundRun
from stillroom.methods.sound import versions
from stillroom.methods.sound.told import Microphone

KIND = "sound"
RECORDING = "recording"


def blocked_as(mounting: str) -> str:
    """Under which name the sound of a mounting is blocked: airflow of a mounting of the same name is not."""
    return f"sound of {mounting}"


@dataclass(frozen=True)
class RecordingNode:
    """The analysis of one recording or table, whatever its calibration."""

    key: str
    run: SoundRun
    kind: str = field(default=RECORDING, init=False)

    @property
    def subject(self) -> str:
        """The file, as people name it."""
        return self.run.placed.taken.words

    @property
    def inputs(self) -> dict[str, Any]:
        """What the result hangs on."""
        taken = self.run.placed.taken
        return {"original": taken.sha256, "part": taken.part, "channel": self.run.channel}

    @property
    def method(self) -> str:
        """The method with its version."""
        return f"sound recording {versions.RECORDING}"

    @property
    def name(self) -> str:
        """Short identity of the run."""
        return self.run.placed.run


@dataclass(frozen=True)
class Beside:
    """What was recorded before and after a recording to make its scale, or to say what the room sounds like."""

    before: tuple[RecordingNode, ...] = ()
    after: tuple[RecordingNode, ...] = ()

    @property
    def all(self) -> tuple[RecordingNode, ...]:
        """Both."""
        return (*self.before, *self.after)


@dataclass(frozen=True)
class SoundNode:
    """The sound of one mounting at one place of the microphone.

    Parameters
    ----------
    key : of the result. subject : the mounting. fan, sample, obstacle : names, obstacle "" in free air. rig : name.
    geometry : of the microphone. recordings : dwells, ramps and tables used. calibrators, backgrounds : of them.
    scales, rooms : {run: its calibrators}, {run: its backgrounds}. microphone : the chain.
    blades, pulses : of the fan, None where nobody told. trials : number of trials.
    full_speed : that the fan's record tells [1/s]. top : the fan's greatest setting over all its mountings [SI].
    judged : key of what findings judge: the same, with nothing left out. left_out : excluded by decisions.
    """

    key: str
    subject: str
    fan: str
    sample: str
    mounting: str
    obstacle: str
    rig: str
    geometry: Geometry
    recordings: tuple[RecordingNode, ...]
    backgrounds: tuple[RecordingNode, ...]
    calibrators: tuple[RecordingNode, ...]
    scales: Mapping[str, Beside]
    rooms: Mapping[str, Beside]
    microphone: Microphone
    blades: int | None
    pulses: int | None
    full_speed: float | None
    top: float | None
    trials: int
    judged: str
    left_out: tuple[RecordingNode, ...] = ()
    kind: str = field(default=KIND, init=False)

    @property
    def date(self) -> str:
        """When it was recorded: its first recording, ISO 8601."""
        return self.recordings[0].run.placed.date

    @property
    def blocked_as(self) -> str:
        """Under which name it is blocked while a finding is open."""
        return blocked_as(self.subject)

    @property
    def members(self) -> tuple[RecordingNode, ...]:
        """All recordings that it rests on."""
        return (*self.recordings, *self.calibrators, *self.backgrounds)

    @property
    def inputs(self) -> dict[str, Any]:
        """What the result hangs on, by role: {role: [{run, key, file, …}]}."""
        roles = {
            "recordings": self.recordings,
            "calibrators": self.calibrators,
            "backgrounds": self.backgrounds,
        }
        return {
            role: [
                {
                    "run": each.name,
                    "key": each.key,
                    "file": each.subject,
                    "rig": each.run.placed.rig,
                    "setting": each.run.placed.setting_word,
                }
                for each in nodes
            ]
            for role, nodes in roles.items()
        }

    @property
    def method(self) -> str:
        """The method with its version."""
        return f"sound mounting {versions.MOUNTING}"
