"""What is told of a sound recording: the run table's row before names and `--as`, these before the file itself,
and the rig's own place of the microphone where nothing else is told.
"""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.sound.sound_mounting import Geometry
from stillroom.lab.book import Book, Placed
from stillroom.readers.words.recordings import Recorded

__all__ = ["Geometry", "SoundRun", "sound_run"]


@dataclass(frozen=True)
class SoundRun:
    """A recording, or a table of levels, with all that is told of it.

    Parameters
    ----------
    placed : with its place in the lab. recorded : a dwell, a ramp, a background, a calibrator.
    channel : from 1; 0 for a table. microphone : name of the instrument, "" where none is told.
    calibrator_level : what the calibrator makes [dB]; None where nobody told. geometry : of the microphone.
    tachometer, optical : readings beside the sound [1/s]. speed_from, speed_to : ends of a ramp [1/s].
    session : recordings that are told to belong together, or "". moment : text that sorts.
    timed : whether the moment is a time of day that was recorded, not the file's arrival.
    """

    placed: Placed
    recorded: Recorded
    channel: int
    microphone: str
    calibrator_level: float | None
    geometry: Geometry
    tachometer: float | None = None
    optical: float | None = None
    speed_from: float | None = None
    speed_to: float | None = None
    session: str = ""
    moment: str = ""
    timed: bool = False


def sound_run(book: Book, placed: Placed) -> SoundRun:
    """All that is told of a placed recording or table of levels."""
    raise NotImplementedError
