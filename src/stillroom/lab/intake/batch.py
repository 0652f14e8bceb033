"""What has been understood of the files that are brought in, before anything is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from stillroom.errors import StillroomError
from stillroom.lab.book import BATH
from stillroom.lab.purposes import CONTENTS, Purpose
from stillroom.readers.meaning.understanding import FileUnderstanding
from stillroom.readers.reading.recording import Recording
from stillroom.readers.sound.audio import AudioFormat
from stillroom.readers.source import Source
from stillroom.readers.words.kinds import Kind
from stillroom.records.acts import Taken

Ask = Callable[[str], str]
"""Asks a question at the terminal and gives the answer; a lab without a terminal has none."""


def agreed(ask: Ask | None, words: str) -> bool:
    """Whether a person at the terminal says yes; nobody does where there is no terminal."""
    return ask is not None and ask(f"{words} [y/N]").strip().casefold() in {"y", "yes"}


@dataclass(frozen=True)
class Added:
    """What `add` did, or would do.

    Parameters
    ----------
    new, again, known : measurement files that are new, read anew, and already there.
    records : {kind: number of records written}. left_out : {file: why}. bad : what is wrong with the files
    that could not come in. understood : words by file, files alike together. parts : runs by file, in words.
    names : what the names pattern says, or "". by_layout : {file: the saved layout that it was read by}.
    marks : what nobody told. runs : names of the runs that are new or changed. shared : the file into which the
    way of reading was written, or "".
    """

    new: tuple[str, ...] = ()
    again: tuple[str, ...] = ()
    known: tuple[str, ...] = ()
    records: dict[str, int] = field(default_factory=dict)
    left_out: dict[str, str] = field(default_factory=dict)
    bad: tuple[StillroomError, ...] = ()
    understood: dict[str, tuple[str, ...]] = field(default_factory=dict)
    parts: dict[str, tuple[str, ...]] = field(default_factory=dict)
    names: str = ""
    by_layout: dict[str, str] = field(default_factory=dict)
    marks: tuple[str, ...] = ()
    runs: tuple[str, ...] = ()
    shared: str = ""

    @property
    def changed(self) -> bool:
        """Whether anything was written."""
        return bool(self.new or self.again or self.records)

    def refuse_bad(self) -> Added:
        """The same, where every file could come in.

        Raises
        ------
        StillroomError : what is wrong with the first file that could not.
        """
        if self.bad:
            raise self.bad[0]
        return self


@dataclass(frozen=True)
class File:
    """One file to bring in: its name in the lab (from the folder that was given), and its bytes.

    `alone` is a file that was asked for by its own path, and no other: whatever is wrong with it is said. `above` are
    the folders over its name, the nearest last: they may tell whose picture it is.
    """

    name: str
    source: Source
    alone: bool = False
    above: tuple[str, ...] = ()


@dataclass(frozen=True)
class Part:
    """One run of a file: a sweep of one of its tables.

    Parameters
    ----------
    number : from 1 in the file's order; None where the whole file is one run.
    kind, layout : of its table; the layout as plain values. recording : of its table.
    first, last : its readings [first, last).
    direction : of the flow, "up", "down" or "". found : what the file itself says (fan, sample, setting …).
    measured : when the first reading was taken, as the file says, or "".
    unread_date : what stands where the file should tell its day, where that is no date; else "".
    audio : what a sound recording is; None for a table. ended : when the last reading of a log was taken, or "".
    """

    number: int | None
    kind: Kind
    layout: dict[str, Any]
    recording: Recording
    first: int
    last: int
    direction: str
    found: dict[str, str]
    measured: str
    unread_date: str = ""
    audio: AudioFormat | None = None
    ended: str = ""

    @property
    def points(self) -> int:
        """The number of its readings; of a recording that of its samples."""
        return self.audio.frames if self.audio else self.last - self.first


@dataclass(frozen=True)
class Measured:
    """A measurement file as it was understood now, or as the lab knows it already.

    Parameters
    ----------
    file : the file. parts : its runs as understood now; empty where `before` stands as it is.
    before : its runs as the lab knows them. seen : what was understood now. layout : the saved layout that
    it was read by, or "". asked : whether a person told a unit, or a channel, of it at the terminal.
    unread : the columns that were told to be left out, as `squeeze` has them.
    """

    file: File
    parts: tuple[Part, ...]
    before: tuple[Taken, ...] = ()
    seen: FileUnderstanding | None = None
    layout: str = ""
    asked: bool = False
    unread: frozenset[str] = frozenset()

    @property
    def is_obstacle(self) -> bool:
        """Whether it is an obstacle's own measurement, without a fan."""
        return self.kinds == {Kind.OBSTACLE.value}

    @property
    def kinds(self) -> frozenset[str]:
        """What kinds of measurement its runs are."""
        return frozenset(each.kind.value for each in self.parts) or frozenset(
            each.content for each in self.before
        )

    @property
    def is_sound(self) -> bool:
        """Whether it is a measurement of sound."""
        return self.kinds <= CONTENTS[Purpose.SOUND]

    @property
    def is_heat(self) -> bool:
        """Whether it is a log of the heat rig."""
        return self.kinds <= CONTENTS[Purpose.HEAT]

    @property
    def is_control(self) -> bool:
        """Whether it is a test of the control."""
        return self.kinds <= CONTENTS[Purpose.CONTROL]

    @property
    def is_airflow(self) -> bool:
        """Whether it is a measurement of the chamber, at least in part."""
        return not (self.is_sound or self.is_heat or self.is_control)

    @property
    def runs_fan(self) -> bool:
        """Whether a fan has to be told of it: of a log of the heat rig only where it holds the hot probe, in no bath.
        Another lies beside such a log.
        """
        if not self.is_heat:
            return True
        channels = [set(each.recording.columns) for each in self.parts] or [
            set(each.quantities) for each in self.before
        ]
        baths = [each.get("what") == BATH for each in self.found]
        return any("hot_temperature" in each and not bath for each, bath in zip(channels, baths, strict=True))

    @property
    def is_recording(self) -> bool:
        """Whether it is a sound recording."""
        return self.kinds == {Kind.SOUND_RECORDING.value}

    @property
    def found(self) -> tuple[dict[str, str], ...]:
        """What the file itself says of each run."""
        if self.parts:
            return tuple(each.found for each in self.parts)
        return tuple(each.found or {} for each in self.before)


@dataclass
class Batch:
    """What has been understood so far."""

    records: list[tuple[Any, str, str]] = field(default_factory=list)  # record, file, place
    measured: list[Measured] = field(default_factory=list)
    files: list[File] = field(default_factory=list)
    left_out: dict[str, str] = field(default_factory=dict)
    bad: list[StillroomError] = field(default_factory=list)
    marks: list[str] = field(default_factory=list)  # what has to be said of files that came in
    reading: bool = False  # whether it was told how to read the files
    pictures: list[File] = field(default_factory=list)  # kept once it is known which fans there are

    def drop(self, name: str, why: StillroomError) -> None:
        """Take a file out again: it is bad for the reason given."""
        self.measured = [each for each in self.measured if each.file.name != name]
        self.files = [each for each in self.files if each.name != name]
        self.bad.append(why)
