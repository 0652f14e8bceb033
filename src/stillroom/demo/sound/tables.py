"""The quiet room's tables: which recording is what, and when which sample hung there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from stillroom.demo.calendar import Calendar
from stillroom.demo.catalogue import INITIALS
from stillroom.demo.fan import Control, Setting
from stillroom.demo.sound.plan import Session
from stillroom.demo.sound.room import RIG
from stillroom.demo.tables import write_table

RUNS, MOUNTINGS = "quiet-room-runs.csv", "quiet-room-mountings.csv"


@dataclass(frozen=True)
class SoundLine:
    """One line of the table of recordings; empty strings and None where a thing doesn't apply.

    `tachometer` is a reading [1/s], `ends` those of a ramp, `distance` [m] where it isn't the usual one.
    """

    file: str
    recording: str
    session: str
    mounting: str = ""
    fan: str = ""
    sample: str = ""
    obstacle: str = ""
    setting: Setting | None = None
    tachometer: float | None = None
    ends: tuple[float, float] | None = None
    channel: int | None = None
    distance: float | None = None
    rig: str = RIG


def write_sound_runs(folder: Path, lines: Iterable[SoundLine]) -> None:
    """The table of recordings."""
    header = ["file", "rig", "recording", "session", "mounting", "fan", "sample", "obstacle", "duty [%]", "volts [V]",
              "tachometer [rpm]", "speed from [rpm]", "speed to [rpm]", "channel", "distance [m]"]  # fmt: skip
    rows = [
        [
            *(
                each.file,
                RIG,
                each.recording,
                each.session,
                each.mounting,
                each.fan,
                each.sample,
                each.obstacle,
            ),
            *(_by(each, way) for way in Control),
            _rpm(each.tachometer),
            *(_rpm(end) for end in (each.ends or (None, None))),
            "" if each.channel is None else str(each.channel),
            "" if each.distance is None else f"{each.distance:g}",
        ]
        for each in lines
    ]
    write_table(folder / RUNS, header, rows)


def write_sound_mountings(
    folder: Path,
    sessions: Sequence[Session],
    calendar: Calendar,
    more: Iterable[tuple[str, str, str, str, int]],
) -> None:
    """The table of who hung there when; `more` are other mountings (name, fan, sample, rig, working day)."""
    rows = [
        [visit.name, visit.fan, visit.sample, RIG, calendar.day(session.day), INITIALS[i % len(INITIALS)]]
        for i, session in enumerate(sessions)
        for visit in session.visits
    ]
    rows += [[*told, calendar.day(day), INITIALS[0]] for *told, day in more]
    write_table(folder / MOUNTINGS, ["mounting", "fan", "sample", "rig", "date", "by"], rows)


def _by(line: SoundLine, way: Control) -> str:
    told = line.setting is not None and line.setting.control is way
    return f"{line.setting.value:g}" if told and line.setting else ""


def _rpm(speed: float | None) -> str:
    return "" if speed is None else f"{speed * 60:.0f}"
