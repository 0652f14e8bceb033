"""The compound files of old workbooks: one stream taken out with every chain checked, or put in again clean.

[MS-CFB] Compound File Binary File Format, revision 12.0: header (2.2), allocation tables (2.3 to 2.5),
directory (2.6). A damaged chain can run in circles or point beyond the file, so each step is counted.
"""

from __future__ import annotations

import struct

_LAST_SECTOR = 0xFFFFFFF9
_FREE, _END, _TABLE = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD
_HEADER = struct.Struct("<8x16x5H6x9I")
_SECTOR = 512
_IN_HEADER = 109


class CompoundFile:
    """The streams of a compound file.

    Parameters
    ----------
    data : the bytes of the file.

    Raises
    ------
    ValueError : it isn't as the format says, in words.
    """

    def __init__(self, data: bytes) -> None:
        if len(data) < _SECTOR * 3:
            raise ValueError("cut short")
        self._data = data
        _, _, order, shift, short_shift, *rest = _HEADER.unpack_from(data)
        if order != 0xFFFE or shift not in {9, 12} or short_shift != 6:
            raise ValueError("sectors of a size that there isn't")
        _, self._tables, directory, _, self._cutoff, short_table, _, more, _ = rest
        self._size = 1 << shift
        self._count = len(data) // self._size + 1
        self._next = self._allocation(more)
        entries = self._chain(directory)
        self._entries = [entries[at : at + 128] for at in range(0, len(entries) - 127, 128)]
        if not self._entries:
            raise ValueError("no directory")
        self._short_next = self._numbers(self._chain(short_table)) if short_table < _LAST_SECTOR else []
        root = self._place(self._entries[0])
        self._short = self._chain(root[0])[: root[1]] if root[0] < _LAST_SECTOR else b""

    @property
    def names(self) -> tuple[str, ...]:
        """The names in the directory."""
        return tuple(self._name(entry) for entry in self._entries if entry[66] == 2)

    def stream(self, name: str) -> bytes:
        """The bytes of a stream.

        Raises
        ------
        ValueError : there is none of that name, or its chain is broken.
        """
        entry = next((each for each in self._entries if each[66] == 2 and self._name(each) == name), None)
        if entry is None:
            raise ValueError(f"no stream {name!r} in it")
        start, size = self._place(entry)
        if size > len(self._data):
            raise ValueError("a stream longer than the file")
        whole = self._short_chain(start) if size < self._cutoff else self._chain(start)
        if len(whole) < size:
            raise ValueError("cut short")
        return whole[:size]

    @staticmethod
    def _name(entry: bytes) -> str:
        length = max(min(struct.unpack_from("<H", entry, 64)[0], 64) - 2, 0)
        return entry[:length].decode("utf-16-le", "replace")

    @staticmethod
    def _place(entry: bytes) -> tuple[int, int]:
        start, size = struct.unpack_from("<II", entry, 116)
        return start, size

    @staticmethod
    def _numbers(data: bytes) -> list[int]:
        return list(struct.unpack(f"<{len(data) // 4}I", data[: len(data) // 4 * 4]))

    def _sector(self, number: int) -> bytes:
        at = (number + 1) * self._size
        taken = self._data[at : at + self._size]
        if not taken:
            raise ValueError("cut short")
        return taken

    def _allocation(self, more: int) -> list[int]:
        """Which sector follows which: the tables that the header lists, and the lists beyond it."""
        listed = list(struct.unpack_from(f"<{_IN_HEADER}I", self._data, 76))
        for _ in range(self._count):
            if more >= _LAST_SECTOR:
                break
            *numbers, more = self._numbers(self._sector(more))
            listed += numbers
        tables = [each for each in listed if each < _LAST_SECTOR][: self._tables]
        if len(tables) > self._count:
            raise ValueError("more tables than sectors")
        return [number for table in tables for number in self._numbers(self._sector(table))]

    def _chain(self, start: int) -> bytes:
        return b"".join(self._sector(number) for number in self._steps(start, self._next))

    def _short_chain(self, start: int) -> bytes:
        steps = self._steps(start, self._short_next)
        return b"".join(self._short[number * 64 : number * 64 + 64] for number in steps)

    def _steps(self, start: int, following: list[int]) -> list[int]:
        steps: list[int] = []
        while start < _LAST_SECTOR:
            if start >= len(following) or len(steps) > len(following):
                raise ValueError("a chain of sectors that leads nowhere")
            steps.append(start)
            start = following[start]
        return steps


def compound_file(stream: bytes, name: str) -> bytes:
    """A compound file that holds one stream and nothing else.

    Parameters
    ----------
    stream : its bytes; short ones are filled up with zeros so that no table of short sectors is needed.
    name : the stream's name.
    """
    stream = stream.ljust(8 * _SECTOR, b"\0")
    count = -(-len(stream) // _SECTOR)
    tables = lists = 0
    while tables * 128 < tables + lists + 1 + count or _IN_HEADER + lists * 127 < tables:
        tables += tables * 128 < tables + lists + 1 + count
        lists += _IN_HEADER + lists * 127 < tables
    first = tables + lists
    chain = [_TABLE] * tables + [_TABLE - 1] * lists + [_END, *range(first + 2, first + 1 + count), _END]
    chain += [_FREE] * (tables * 128 - len(chain))
    header = struct.pack(
        "<8s16x5H6x9I",
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
        *(0x3E, 3, 0xFFFE, 9, 6),
        *(0, tables, first, 0, 8 * _SECTOR, _END, 0, tables if lists else _END, lists),
    )
    numbers = [*range(tables)] + [_FREE] * (_IN_HEADER + lists * 127 - tables)
    header += struct.pack(f"<{_IN_HEADER}I", *numbers[:_IN_HEADER])
    beyond = b""
    for i in range(lists):
        at = _IN_HEADER + i * 127
        following = tables + i + 1 if i + 1 < lists else _END
        beyond += struct.pack("<128I", *numbers[at : at + 127], following)
    directory = _entry("Root Entry", 5, 1, _END, 0) + _entry(name, 2, _FREE, first + 1, len(stream))
    body = struct.pack(f"<{len(chain)}I", *chain) + beyond + directory.ljust(_SECTOR, b"\0")
    return header + body + stream.ljust(count * _SECTOR, b"\0")


def _entry(name: str, kind: int, child: int, start: int, size: int) -> bytes:
    words = name.encode("utf-16-le")
    head = words.ljust(64, b"\0") + struct.pack("<HBB3I", len(words) + 2, kind, 1, _FREE, _FREE, child)
    return head + bytes(36) + struct.pack("<IQ", start, size)
