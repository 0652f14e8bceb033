"""A Source: the bytes of one file, reopenable, with their hash, their encoding and a name for messages."""

from __future__ import annotations

import codecs
import errno
import hashlib
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import BinaryIO

from stillroom.errors import BadInput, UnreadableFile

SIZE_LIMIT = 512 * 2**20
"""Largest single measurement file that is read [bytes]."""

RECORDING_LIMIT = 16 * 2**30
"""Largest sound recording that is read [bytes]: it is streamed, never held in memory."""

RECORDINGS = (".wav", ".wave", ".bwf", ".rf64", ".flac")
"""Endings of the names of sound recordings."""

LINE_LIMIT = 2**18
"""Longest line of text that is read [characters]."""

OLD_WORKBOOK = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""First bytes of the container of old binary workbooks ([MS-CFB] 2.2)."""

_BLOCK = 2**20

_BYTE_ORDER_MARKS: tuple[tuple[bytes, str], ...] = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)

_MAGIC: tuple[tuple[bytes, str], ...] = (
    (b"PK\x03\x04", "a ZIP container"),
    (b"PK\x05\x06", "an empty ZIP container"),
    (b"\xd0\xcf\x11\xe0", "an old binary workbook or document"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"\x1f\x8b", "a gzip file"),
    (b"7z\xbc\xaf", "a 7-Zip file"),
    (b"SQLite format 3", "an SQLite database"),
    (b"RIFF", "a RIFF (sound or film) file"),
    (b"fLaC", "a FLAC sound file"),
    (b"\x7fELF", "a program"),
    (b"MZ\x90", "a program"),
    (b"<!DOCTYPE", "a web page"),
    (b"<html", "a web page"),
    (b"<?xml", "an XML document"),
)

_FEWEST_WIDE, _NOUGHTS = 8, 0.8
_NO_CONTROLS = bytes({*range(256)} - {*range(9), *range(14, 27), *range(28, 32)})
_TEXT_EXPECTED = "a text table (CSV, TSV) or a workbook (XLSX, XLS, ODS)"

_IN_UTF_8 = re.compile(rb"[\xc2\xc3][\x80-\xbf]|\xe2\x80[\x80-\xbf]|\xef\xbb\xbf")
"""Letters with accents, dashes and marks in UTF-8; in Windows-1252 they would be pairs that no word holds."""

STILL_OPEN = "still open in another program?"
"""What may be the matter with a file that is there and can't be read."""

_SHARING = frozenset({errno.EACCES, errno.EPERM, errno.EBUSY, errno.EAGAIN, errno.ETXTBSY, errno.EDEADLK})
_SHARING_ON_WINDOWS = frozenset({5, 32, 33})


@dataclass(frozen=True)
class Source:
    """The bytes of one file.

    Parameters
    ----------
    name : the file's name as the user knows it, used in every message; signs that can't be shown (controls,
        marks that turn the direction of writing) stand there as escapes.
    data : the bytes themselves, or the path where they can be read as often as needed.
    limit : the largest size that is read [bytes].
    """

    name: str
    data: bytes | Path
    limit: int = SIZE_LIMIT

    def __post_init__(self) -> None:
        """Make the name fit to be shown."""
        if not self.name.isprintable():
            object.__setattr__(self, "name", shown(self.name))

    @classmethod
    def of_path(cls, path: Path, name: str = "") -> Source:
        """The source at a path; its name is the path as given unless another is said."""
        is_recording = path.suffix.lower() in RECORDINGS
        return cls(name or path.as_posix(), path, RECORDING_LIMIT if is_recording else SIZE_LIMIT)

    @cached_property
    def size(self) -> int:
        """The number of bytes.

        Raises
        ------
        UnreadableFile : there is no such file, it may not be read, or it isn't a file.
        BadInput : it is larger than the limit.
        """
        if isinstance(self.data, bytes):
            size = len(self.data)
        else:
            try:
                if not self.data.is_file():
                    found = "a folder" if self.data.is_dir() else "nothing there"
                    raise UnreadableFile("file", place=self.name, found=found, expected="a file")
                size = self.data.stat().st_size
            except (OSError, ValueError) as problem:
                raise self._refused(problem) from None
        if size > self.limit:
            raise BadInput(
                "file",
                place=self.name,
                found=f"{size / 2**20:,.0f} MiB",
                expected=f"at most {self.limit / 2**20:,.0f} MiB in one measurement file",
            )
        return size

    def open(self) -> BinaryIO:
        """The bytes as a stream, from the start."""
        _ = self.size  # checks that the file is there and within the limit
        if isinstance(self.data, bytes):
            return io.BytesIO(self.data)
        try:
            return self.data.open("rb")
        except OSError as problem:
            raise self._refused(problem) from None

    def head(self, count: int = 4096) -> bytes:
        """The first bytes."""
        with self.open() as stream:
            return self._read(stream, count)

    def blocks(self) -> Iterator[bytes]:
        """All bytes, in blocks of 1 MiB."""
        with self.open() as stream:
            while block := self._read(stream, _BLOCK):
                yield block

    def content(self) -> bytes:
        """All bytes at once."""
        return self.data if isinstance(self.data, bytes) else b"".join(self.blocks())

    @cached_property
    def sha256(self) -> str:
        """The SHA-256 of the bytes, in hexadecimal."""
        digest = hashlib.sha256()
        for block in self.blocks():
            digest.update(block)
        return digest.hexdigest()

    @cached_property
    def container(self) -> str:
        """What the first bytes say that the file is, in words; empty when they say nothing."""
        head = self.head(16)
        return next((what for magic, what in _MAGIC if head.startswith(magic)), "")

    @property
    def is_zip(self) -> bool:
        """Whether the file is a ZIP container, as XLSX and ODS workbooks are."""
        return self.head(4) == b"PK\x03\x04"

    @property
    def is_workbook(self) -> bool:
        """Whether the first bytes are a workbook's: a ZIP container, or the container of old binary ones."""
        return self.is_zip or self.head(8) == OLD_WORKBOOK

    @cached_property
    def encoding(self) -> str:
        """The encoding of the text: by byte order mark, else strict UTF-8, else Windows-1252.

        A text in UTF-16 without a mark is told by every second byte being nought, in nearly all of its
        first characters, and no other byte.

        Raises
        ------
        UnreadableFile : the file is empty, or its bytes aren't text.
        """
        if self.size == 0:
            raise UnreadableFile("file", place=self.name, found="no bytes at all", expected=_TEXT_EXPECTED)
        if self.container:
            raise UnreadableFile("file", place=self.name, found=self.container, expected=_TEXT_EXPECTED)
        head = self.head(4)
        for mark, encoding in _BYTE_ORDER_MARKS:
            if head.startswith(mark):
                return encoding
        if wide := _wide(self.head()):
            return wide
        self._refuse_control_bytes()
        return next(each for each in ("utf-8", "windows-1252") if self._decodes(each))

    def lines(self, encoding: str = "") -> Iterator[str]:
        """The lines of the text with their line ends, decoded strictly.

        Parameters
        ----------
        encoding : the encoding to use; the recognised one when empty.

        Raises
        ------
        UnreadableFile : the bytes don't fit the encoding, or a line is longer than `LINE_LIMIT`.
        """
        chosen = encoding or self.encoding
        count = 0
        with self.open() as raw, io.TextIOWrapper(raw, encoding=chosen, newline="") as stream:
            try:
                while line := stream.readline(LINE_LIMIT):
                    count += 1
                    if len(line) >= LINE_LIMIT and line[-1] not in "\r\n":
                        raise self._long_line(count)
                    yield line.removeprefix("\ufeff")  # files that were joined keep the second one's mark
            except UnicodeError as problem:
                raise UnreadableFile(
                    "text",
                    place=f"{self.name}, near line {count + 1}",
                    found=f"bytes that are not {chosen} ({_reason(problem)})",
                    expected=f"text in {chosen}, or another --as encoding=…",
                ) from None
            except OSError as problem:
                raise self._refused(problem) from None

    def text(self, encoding: str = "") -> str:
        """The whole text, decoded strictly and without the byte order mark."""
        return "".join(self.lines(encoding))

    def _long_line(self, count: int) -> UnreadableFile:
        return UnreadableFile(
            "line",
            place=f"{self.name}, line {count}",
            found=f"more than {LINE_LIMIT:,} characters",
            expected="a table with one reading a line",
        )

    def _decodes(self, encoding: str) -> bool:
        if encoding == "windows-1252":
            # The five bytes that Windows-1252 leaves undefined don't occur in text.
            undefined = re.compile(rb"[\x81\x8d\x8f\x90\x9d]")
            if any(undefined.search(block) for block in self.blocks()):
                raise self._binary("bytes that are neither UTF-8 nor Windows-1252")
            if any(_IN_UTF_8.search(block) for block in self.blocks()):
                raise UnreadableFile(
                    "text",
                    place=self.name,
                    found="some signs in UTF-8 and others in Windows-1252",
                    expected="one encoding in a file, or --as encoding=windows-1252",
                )
            return True
        decoder = codecs.getincrementaldecoder(encoding)("strict")
        try:
            for block in self.blocks():
                decoder.decode(block)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return False
        return True

    def _refuse_control_bytes(self) -> None:
        for block in self.blocks():
            if found := block.translate(None, _NO_CONTROLS):
                raise self._binary(f"binary data (byte {found[0]:#04x})")

    def _binary(self, found: str) -> UnreadableFile:
        return UnreadableFile("file", place=self.name, found=found, expected=_TEXT_EXPECTED)

    def _read(self, stream: BinaryIO, count: int) -> bytes:
        try:
            return stream.read(count)
        except OSError as problem:
            raise self._refused(problem) from None

    def _refused(self, problem: OSError | ValueError) -> UnreadableFile:
        reason = getattr(problem, "strerror", None) or str(problem)
        if _is_held(problem):
            reason += f" ({STILL_OPEN})"
        return UnreadableFile("file", place=self.name, found=reason, expected="a file that can be read")


def shown(words: str) -> str:
    """Words with signs that can't be shown as escapes."""
    return "".join(each if each.isprintable() else ascii(each)[1:-1] for each in words)


def _is_held(problem: OSError | ValueError) -> bool:
    """Whether the system refused because a program holds the file, or because nobody may read it."""
    on_windows = getattr(problem, "winerror", None) in _SHARING_ON_WINDOWS
    return on_windows or (isinstance(problem, OSError) and problem.errno in _SHARING)


def _wide(head: bytes) -> str:
    """UTF-16 in either order, where the first bytes of a text without a mark show it; else empty."""
    even, odd = head[: len(head) // 2 * 2 : 2], head[1::2]
    for high, low, encoding in ((odd, even, "utf-16-le"), (even, odd, "utf-16-be")):
        if len(high) >= _FEWEST_WIDE and 0 not in low and high.count(0) >= _NOUGHTS * len(high):
            return encoding
    return ""


def _reason(problem: UnicodeError) -> str:
    return getattr(problem, "reason", str(problem))


def place_of(source: Source, line: int = 0, column: int = 0, *, sheet: str = "") -> str:
    """The place of a cell, as messages say it; a line or column of 0 is left out."""
    words = [source.name]
    if sheet:
        words.append(f"sheet {sheet!r}")
    if line:
        words.append(f"{'row' if sheet else 'line'} {line}")
    if column:
        words.append(f"column {column}")
    return ", ".join(words)
