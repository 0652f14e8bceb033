"""Files that have come to rest in a folder: written to their end, closed, and readable.

It looks again and again instead of being told: so it works on network folders and on every system. A file is
at rest when its size and time have not changed for a while, as this computer's own clock has it (the other
one's may be wrong).
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from stillroom.lab.intake.collecting import is_hidden
from stillroom.readers.source import RECORDINGS, Source

STILL = 2.0
"""How long a file has to be unchanged before it is read [s]."""

UNFINISHED = 3.0
"""How long where its last line has no end: a line may be half written [s]."""

STILL_RECORDING = 4.0
"""How long a sound recording has to be unchanged: recorders write in bursts [s]."""

GIVEN_UP = 10.0
"""After so long a file that can't be understood is named; it is tried again when it changes [s]."""

AGAIN = 1.0
"""How long to wait before a file that could not be understood is tried again [s]."""


@dataclass
class _State:
    size: int
    changed: int
    since: float
    handled: bool = False
    not_before: float = 0.0


@dataclass(frozen=True)
class Rested:
    """A file at rest: its bytes (of a sound recording its path: it may be large), and for how long it has been
    unchanged [s].
    """

    path: Path
    data: bytes | Path
    still: float

    def source(self, name: str) -> Source:
        """The file as one to bring in, under a name."""
        return Source.of_path(self.path, name) if isinstance(self.data, Path) else Source(name, self.data)

    @property
    def given_up(self) -> bool:
        """Whether it has been unchanged for so long that waiting won't help."""
        return self.still >= GIVEN_UP


class StillFiles:
    """The files of a folder that have come to rest and were not handled yet.

    Parameters
    ----------
    folder : looked through with all folders in it. clock : seconds, for tests.
    """

    def __init__(self, folder: Path, clock: Callable[[], float] = time.monotonic) -> None:
        self.folder, self.clock = folder, clock
        self._states: dict[Path, _State] = {}

    @property
    def waiting(self) -> bool:
        """Whether some file was seen and not handled yet."""
        return any(not each.handled for each in self._states.values())

    def handled(self, path: Path) -> None:
        """Leave a file alone until it changes."""
        self._states[path].handled = True

    def later(self, path: Path) -> None:
        """Try a file again in a while."""
        self._states[path].not_before = self.clock() + AGAIN

    def ready(self) -> Iterator[Rested]:
        """The files that are at rest now, in order of their names."""
        self._look()
        for path in sorted(self._states):
            state = self._states[path]
            still = self.clock() - state.since
            long = STILL_RECORDING if is_recording(path) else STILL
            if state.handled or still < long or self.clock() < state.not_before:
                continue
            data = _whole(path, state)
            if data is None:
                self.later(path)
            elif isinstance(data, Path) or still >= UNFINISHED or _is_finished(data):
                yield Rested(path, data, still)

    def _look(self) -> None:
        """Take note of what is there; a folder that can't be reached just now is looked into later."""
        there: set[Path] = set()
        reached = True

        def missed(_error: OSError) -> None:
            nonlocal reached
            reached = False

        for here, _, names in os.walk(self.folder, onerror=missed):
            for name in names:
                path = Path(here) / name
                if not is_hidden(path.relative_to(self.folder)) and self._note(path):
                    there.add(path)
        if reached:
            self._states = {path: state for path, state in self._states.items() if path in there}

    def _note(self, path: Path) -> bool:
        try:
            found = path.stat()
        except OSError:  # just removed, renamed, or kept by the program that writes it
            return path in self._states
        state = self._states.get(path)
        if state is None or (state.size, state.changed) != (found.st_size, found.st_mtime_ns):
            self._states[path] = _State(found.st_size, found.st_mtime_ns, self.clock())
        return True


def is_recording(path: Path) -> bool:
    """Whether a file is a sound recording by its name."""
    return path.suffix.lower() in RECORDINGS


def _whole(path: Path, state: _State) -> bytes | Path | None:
    """A file's bytes, or of a recording its path; None where it can't be opened or is just changing."""
    try:
        with path.open("rb") as stream:
            data = b"" if is_recording(path) else stream.read()
            after = os.fstat(stream.fileno())
    except OSError:
        return None
    same = (after.st_size, after.st_mtime_ns) == (state.size, state.changed)
    if is_recording(path):
        return path if same else None
    return data if same and len(data) == state.size else None


def _is_finished(data: bytes) -> bool:
    """Whether a text ends with a line's end, and has whole letters; a container is whole or can't be read."""
    if data.startswith((b"PK", b"\xd0\xcf")):
        return True
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return len(data) % 2 == 0 and data[-2:] in {b"\n\x00", b"\x00\n"}
    return data.endswith((b"\n", b"\r"))
