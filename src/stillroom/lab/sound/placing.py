"""What is told of a sound recording: the run table's row before names and `--as`, these before the file itself,
and the rig's own place of the microphone where nothing else is told.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from stillroom.core.sound.sound_mounting import Geometry
from stillroom.errors import BadInput
from stillroom.lab.book import Book, Placed
from stillroom.lab.eras.rigs_by_date import rig_on
from stillroom.readers.words.recordings import Recorded
from stillroom.records.bench import Rig

__all__ = ["Geometry", "SoundRun", "sound_run"]

Value = TypeVar("Value")


@dataclass(frozen=True)
class SoundRun:
    """A recording, or a table of levels, with all that is told of it.

    Parameters
    ----------
    placed : with its place in the lab. recorded : a dwell, a ramp, a background, a calibrator.
    channel : from 1; 0 for a table. microphone : name of the instrument, "" where none is told.
    calibrator : the rig's, "" where none is told. calibrator_level : what it gives [dB]; None where nobody told.
    geometry : of the microphone.
    tachometer, optical : readings beside the sound [1/s]. speed_from, speed_to : ends of a ramp [1/s].
    session : recordings that are told to belong together, or "". moment : text that sorts.
    timed : whether the moment is a time of day that was recorded, not the file's arrival.
    """

    placed: Placed
    recorded: Recorded
    channel: int
    microphone: str
    calibrator: str
    calibrator_level: float | None
    geometry: Geometry
    tachometer: float | None = None
    optical: float | None = None
    speed_from: float | None = None
    speed_to: float | None = None
    session: str = ""
    moment: str = ""
    timed: bool = False

    @property
    def is_recording(self) -> bool:
        """Whether there are samples, not a table of levels."""
        return "audio" in self.placed.taken.layout


def sound_run(book: Book, placed: Placed) -> SoundRun:
    """All that is told of a placed recording or table of levels.

    Raises
    ------
    BadInput : a number that isn't one.
    """
    told = _Told(placed)
    rig = rig_on(book.rigs, placed.rig, placed.date)
    roles = (rig.roles if rig else None) or {}
    microphone = told.text("microphone") or roles.get("sound_pressure") or roles.get("sound_level") or ""
    calibrator = book.instruments.get(roles.get("calibrator_level", ""))
    stated = calibrator.calibrator_level if calibrator else None
    level = told.number("calibrator")
    return SoundRun(
        placed=placed,
        recorded=Recorded(placed.recording),
        channel=placed.channel,
        microphone=microphone,
        calibrator=calibrator.instrument if calibrator else "",
        calibrator_level=stated if level is None else level,
        geometry=_geometry(told, rig),
        tachometer=told.number("tachometer"),
        optical=told.number("optical"),
        speed_from=told.number("speed_from"),
        speed_to=told.number("speed_to"),
        session=told.text("session"),
        moment=placed.moment,
        timed=len(placed.taken.measured or "") > len("YYYY-MM-DD"),
    )


def _geometry(told: _Told, rig: Rig | None) -> Geometry:
    """Of the run, else of the rig, field by field."""

    def number(name: str) -> float | None:
        own = told.number(name)
        return own if own is not None or rig is None else getattr(rig, name)

    def text(name: str) -> str:
        return told.text(name) or (getattr(rig, name) if rig else None) or ""

    return Geometry(
        distance=number("distance"),
        angle=number("angle"),
        height=number("height"),
        side=text("microphone_side"),
        holder=text("holder"),
        room_from=rig.room_from if rig else None,
    )


class _Told:
    """What is told of a run, by who tells it first."""

    def __init__(self, placed: Placed) -> None:
        self.placed = placed

    def text(self, name: str) -> str:
        return self._first(name, str) or ""

    def number(self, name: str) -> float | None:
        return self._first(name, float)

    def _first(self, name: str, form: Callable[[str], Value]) -> Value | None:
        taken = self.placed.taken
        by_row = getattr(self.placed.row, name, None) if self.placed.row else None
        for value in (by_row, (taken.said or {}).get(name), (taken.found or {}).get(name)):
            if value is not None and value != "":
                return self._formed(name, value, form)
        return None

    def _formed(self, name: str, value: str, form: Callable[[str], Value]) -> Value:
        try:
            return form(value)
        except ValueError:
            place = self.placed.taken.words
            raise BadInput(
                name.replace("_", " "), place=place, found=repr(value), expected="a number"
            ) from None
