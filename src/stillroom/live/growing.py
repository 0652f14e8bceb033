"""A logger's file while it grows: its readings, each line read once.

The first lines are understood as `add` understands a file. What follows is read by the layout found then: the lines
above the readings, some of the last lines read already, and the new ones make a file of their own, which the same
reader reads.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.errors import StillroomError
from stillroom.lab.book import Book
from stillroom.lab.executor import silent
from stillroom.lab.intake.batch import File
from stillroom.lab.intake.naming import name_files
from stillroom.lab.intake.understanding import understand_all
from stillroom.readers.layout import Layout
from stillroom.readers.reading.recording import Recording, read
from stillroom.readers.source import Source

OVERLAP = 16
"""So many lines are read once more with the new ones, so that their times go on from known ones."""

ENOUGH_LINES = 40
"""A file of so many lines that can't be understood won't be by waiting."""


@dataclass(frozen=True)
class Known:
    """What is known of a file once it is understood.

    Parameters
    ----------
    layout : how it is read. head : the bytes above its readings. said : what its name and its notes tell (fan …).
    moment : of its first reading, ISO 8601, or "".
    """

    layout: Layout
    head: bytes
    said: Mapping[str, str]
    moment: str


_LINE = re.compile(r"\bline ([0-9]+)")
_NUMBERS = itertools.count(1)


class GrowingLog:
    """One logger's file.

    Parameters
    ----------
    name : of the file, as messages name it. book : the lab's records, by which it is understood.
    """

    def __init__(self, name: str, book: Book, line_end: bytes = b"\n") -> None:
        self.name, self.why, self.number = name, "", next(_NUMBERS)
        self.known: Known | None = None
        self._book, self._end = book, line_end
        self._waiting = b""
        self._overlap, self._from = b"", 0.0
        self._skipped = 0
        self._parts: dict[str, list[Array]] = {}
        self._columns: dict[str, Array] = {}

    @property
    def is_understood(self) -> bool:
        """Whether its columns are known."""
        return self.known is not None

    @property
    def columns(self) -> Mapping[str, Array]:
        """{quantity: (n,)} [SI], "time" since its first reading among them [s]; empty before it is understood."""
        if self._parts:
            for name, parts in self._parts.items():
                before = [self._columns[name]] if name in self._columns else []
                self._columns[name] = np.concatenate([*before, *parts])
            self._parts = {}
        return self._columns

    def take(self, data: bytes) -> None:
        """Take more whole lines; `why` says what is wrong with them, where something is."""
        self._waiting += data
        if not self._waiting:
            return
        try:
            if self.known is None:
                self._understand()
            else:
                self._go_on(self.known)
            self.why = ""
        except StillroomError as error:
            hopeless = self.known is not None or self._waiting.count(self._end) >= ENOUGH_LINES
            self.why = self._by_its_own_lines(error.sentence()) if hopeless else ""

    def _understand(self) -> None:
        """Understand the first lines; raises where that can't be done yet."""
        file = File(self.name, Source(self.name, self._waiting), alone=True)
        batch = understand_all([file], {}, self._book, layout=None, ask=None, progress=silent)
        if batch.bad:
            raise batch.bad[0]
        logs = [part for each in batch.measured for part in each.parts if part.kind.is_heat]
        if not logs:
            self._waiting = b""  # a table of something else: nothing to watch
            return
        part, found = logs[0], batch.measured[0]
        try:
            said = name_files(self._book, [], [found], {}, None).said.get(self.name, {})
        except StillroomError:  # names that nobody confirmed tell nothing here
            said = {}
        lines = self._lines(self._waiting)
        head = b"".join(lines[: int(part.recording.lines[0]) - 1])
        layout = Layout.from_dict(part.layout)
        self.known = Known(layout, head, {**said, **part.found}, part.measured)
        self._keep(part.recording, self._waiting, 0.0, -np.inf)
        self._waiting = b""

    def _go_on(self, known: Known) -> None:
        sound = self._sound_lines(known.layout.delimiter)
        body = self._overlap + b"".join(sound)
        recording = read(Source(self.name, known.head + body), known.layout)
        last = float(self.columns["time"][-1])
        self._keep(recording, known.head + body, self._from, last)
        self._skipped += len(self._lines(self._waiting)) - len(sound)
        self._waiting = b""

    def _by_its_own_lines(self, why: str) -> str:
        """What is wrong, with the file's own count of lines: of those that were read only the last are read again."""
        return _LINE.sub(lambda found: f"line {int(found[1]) + self._skipped}", why) if self.known else why

    def _keep(self, recording: Recording, data: bytes, since: float, last: float) -> None:
        """Keep the readings after the last one; their times count from the first reading of all."""
        times = recording.columns["time"] + since
        new = times > last
        for name, values in recording.columns.items():
            self._parts.setdefault(name, []).append(times[new] if name == "time" else values[new])
        lines = self._lines(data)
        first = max(len(lines) - OVERLAP, int(recording.lines[0]) - 1)
        at = int(np.searchsorted(np.asarray(recording.lines), first + 1))
        at = min(at, len(times) - 1)
        self._from = float(times[at])
        begin = int(recording.lines[at]) - 1
        self._skipped += begin - int(recording.lines[0]) + 1
        self._overlap = b"".join(lines[begin:])

    def _sound_lines(self, delimiter: str) -> list[bytes]:
        """The waiting lines with as many cells as those before: a damaged one keeps no other from being read."""
        new, before = self._lines(self._waiting), self._lines(self._overlap)
        sign = delimiter.encode()
        if len(sign) != 1 or sign.isspace() or not before:
            return new
        cells = before[-1].count(sign)
        return [each for each in new if each.count(sign) == cells]

    def _lines(self, data: bytes) -> list[bytes]:
        parts = data.split(self._end)
        return [each + self._end for each in parts[:-1]] + ([parts[-1]] if parts[-1] else [])
