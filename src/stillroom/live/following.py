"""Files that grow: what they gained since the last look, in whole lines.

A file is known by what it is on the disk and not by its name: where a logger renames its file and begins another, the
renamed one stays the same and the new one is new. One that became shorter, or whose last bytes have changed, was
written anew. One that can't be opened just now is looked at again next time.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from stillroom.lab.intake.collecting import is_hidden

ENDINGS = frozenset({".csv", ".txt", ".tsv", ".tab", ".dat", ".log", ".asc", ".prn"})
"""Text files that loggers write; a workbook can't be read while it is being written."""

TAIL = 64
"""So many bytes before its end tell whether a file is still the one that was read."""

LARGEST_GAIN = 64 * 2**20
"""More than this at once is not taken in one look [bytes]."""

Identity = tuple[int, int, str]


@dataclass
class Followed:
    """One file as far as it was read.

    Parameters
    ----------
    path : where it lies now. read : bytes so far. tail : the last of them. part : a line that has no end yet.
    line_end : how lines end.
    grown : when it last gained something. written_anew : how often it was.
    is_held : whether it could not be opened at the last look. is_gone : whether it wasn't there then.
    """

    path: Path
    grown: datetime
    read: int = 0
    tail: bytes = b""
    part: bytes = b""
    line_end: bytes = b"\n"
    written_anew: int = 0
    is_held: bool = False
    is_gone: bool = False

    @property
    def is_whole(self) -> bool:
        """Whether its last line has an end."""
        return not self.part


@dataclass(frozen=True)
class Gained:
    """What a file gained: whole lines; `anew` where it was begun again, so that what was read before is void."""

    file: Followed
    data: bytes
    anew: bool = False


@dataclass
class Following:
    """The growing files of one folder.

    Parameters
    ----------
    folder : looked through with what lies below it. pattern : of the files' names, as a shell has it ("*.csv").
    """

    folder: Path
    pattern: str = "*"
    files: dict[Identity, Followed] = field(default_factory=dict)

    def look(self, now: datetime) -> list[Gained]:
        """What was gained since the last look, in order of the files' names; a folder that is away gains nothing."""
        gained: list[Gained] = []
        seen: set[Identity] = set()
        for path in self._paths():
            try:
                found = path.stat()
            except OSError:  # just renamed, or kept by the program that writes it
                continue
            identity = _identity(found, path)
            if identity in seen:
                continue
            seen.add(identity)
            file = self.files.get(identity)
            if file is None:
                changed = datetime.fromtimestamp(found.st_mtime)
                file = self.files[identity] = Followed(path, min(now, changed))
            file.path = path
            more = _more(file, found.st_size, now)
            if more is not None:
                gained.append(more)
        for identity, file in self.files.items():
            file.is_gone = identity not in seen
        return gained

    def forget(self, file: Followed) -> None:
        """Follow a file no longer."""
        self.files = {identity: each for identity, each in self.files.items() if each is not file}

    def _paths(self) -> Iterator[Path]:
        try:
            found = sorted(self.folder.rglob(self.pattern))
        except OSError:
            return
        for path in found:
            if path.suffix.lower() in ENDINGS and not is_hidden(path.relative_to(self.folder)):
                yield path


def _identity(found: os.stat_result, path: Path) -> Identity:
    """What a file is; its name where the disk gives it no number."""
    return (found.st_dev, found.st_ino, "" if found.st_ino else str(path))


def _more(file: Followed, size: int, now: datetime) -> Gained | None:
    """What a file gained, None where nothing, or where it can't be opened."""
    if size == file.read:
        file.is_held = False
        return None
    try:
        with file.path.open("rb") as stream:
            anew = size < file.read or not _goes_on(file, stream)
            if anew:
                stream.seek(0)
            data = stream.read(LARGEST_GAIN)
    except OSError:
        file.is_held = True
        return None
    file.is_held = False
    if anew:
        file.read, file.tail, file.part = 0, b"", b""
        file.written_anew += 1
    if not data and not anew:
        return None
    if file.read == 0 and data:
        file.line_end = _line_end(data)
    if file.read or anew:
        file.grown = now
    file.read += len(data)
    file.tail = (file.tail + data)[-TAIL:]
    whole, file.part = whole_lines(file.part + data, file.line_end)
    return Gained(file, whole, anew)


def _goes_on(file: Followed, stream: BinaryIO) -> bool:
    """Whether the bytes before the place where reading ended are still the same; leaves the stream there."""
    stream.seek(file.read - len(file.tail))
    return stream.read(len(file.tail)) == file.tail


def whole_lines(data: bytes, end: bytes) -> tuple[bytes, bytes]:
    """The lines that have an end, and what follows them."""
    at = data.rfind(end)
    while at >= 0 and at % len(end):  # a byte of one letter and a byte of the next
        at = data.rfind(end, 0, at + len(end) - 1)
    return (data[: at + len(end)], data[at + len(end) :]) if at >= 0 else (b"", data)


def _line_end(head: bytes) -> bytes:
    """How lines end, by how a text begins."""
    if head.startswith(b"\xff\xfe"):
        return b"\n\x00"
    if head.startswith(b"\xfe\xff"):
        return b"\x00\n"
    return b"\r" if b"\r" in head[:-1] and b"\n" not in head else b"\n"
