"""What is gathered while a table is streamed: very many readings, held so that they take little room."""

from __future__ import annotations

from array import array
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, overload

import numpy as np
from numpy.typing import NDArray

from stillroom.errors import BadInput
from stillroom.readers.grids.starts import LeftOut
from stillroom.readers.words.numbers import Array

if TYPE_CHECKING:
    import polars

KINDS_LIMIT = 2**16
"""Most combinations of open nozzles in one file."""


class Texts(Sequence[str]):
    """Many texts, those of runs as the parser holds them, turned into Python's only when they are asked for."""

    def __init__(self) -> None:
        self._parts: list[list[str] | polars.Series] = []
        self._ends: list[int] = [0]

    def add(self, part: list[str] | polars.Series) -> None:
        """Add texts at the end."""
        self._parts.append(part)
        self._ends.append(self._ends[-1] + len(part))

    def __len__(self) -> int:
        return self._ends[-1]

    def __iter__(self) -> Iterator[str]:
        for part in self._parts:
            yield from part if isinstance(part, list) else part.to_list()

    @overload
    def __getitem__(self, at: int) -> str: ...

    @overload
    def __getitem__(self, at: slice) -> tuple[str, ...]: ...

    def __getitem__(self, at: int | slice) -> str | tuple[str, ...]:
        if isinstance(at, slice):
            return tuple(self[i] for i in range(*at.indices(len(self))))
        place = at + len(self) if at < 0 else at
        if not 0 <= place < len(self):
            raise IndexError(at)
        part = bisect_right(self._ends, place) - 1
        return str(self._parts[part][place - self._ends[part]])


class Kinds(Sequence[tuple[str, ...]]):
    """Many values of few kinds, as a number for each and a list of the kinds."""

    def __init__(self) -> None:
        self.kinds: list[tuple[str, ...]] = []
        self._codes: dict[tuple[str, ...], int] = {}
        self._values = array("H")

    def code(self, kind: tuple[str, ...]) -> int:
        """The number of a kind.

        Raises
        ------
        BadInput : there are more kinds than a bank of nozzles can have.
        """
        if kind not in self._codes:
            if len(self.kinds) == KINDS_LIMIT:
                expected = f"at most {KINDS_LIMIT:,} combinations of open nozzles in a file"
                raise BadInput("nozzles", found="more", expected=expected)
            self._codes[kind] = len(self.kinds)
            self.kinds.append(kind)
        return self._codes[kind]

    def add(self, kinds: Iterable[tuple[str, ...]]) -> None:
        """Add values at the end."""
        self._values.extend(map(self.code, kinds))

    def add_coded(self, kinds: Sequence[tuple[str, ...]], codes: NDArray[np.uint16]) -> None:
        """Add values at the end that are told as numbers of a list."""
        own = np.array([self.code(kind) for kind in kinds], np.uint16)
        self._values.frombytes(own[codes].tobytes())

    def __len__(self) -> int:
        return len(self._values)

    @overload
    def __getitem__(self, at: int) -> tuple[str, ...]: ...

    @overload
    def __getitem__(self, at: slice) -> tuple[tuple[str, ...], ...]: ...

    def __getitem__(self, at: int | slice) -> tuple[str, ...] | tuple[tuple[str, ...], ...]:
        if isinstance(at, slice):
            return tuple(self.kinds[code] for code in self._values[at])
        return self.kinds[self._values[at]]


@dataclass
class Gathering:
    """What has been gathered so far while a table is streamed.

    Parameters
    ----------
    numbers, nozzles, texts, lines, left_out, remarks : of the readings, as in `Recording`.
    read, absent : how many readings there were, emptied ones too, and how many were left out.
    patterns : nozzle cells that have been read already.
    """

    numbers: dict[str, list[Array]] = field(default_factory=dict)
    nozzles: Kinds = field(default_factory=Kinds)
    texts: dict[str, Texts] = field(default_factory=dict)
    lines: array[int] = field(default_factory=lambda: array("q"))
    left_out: list[LeftOut] = field(default_factory=list)
    remarks: dict[int, str] = field(default_factory=dict)
    read: int = 0
    absent: int = 0
    patterns: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def empty(self) -> None:
        """Begin another part; lines left out behind the last reading belong to it."""
        last = self.lines[-1]
        self.numbers, self.texts, self.nozzles, self.lines = {}, {}, Kinds(), array("q")
        self.left_out = [each for each in self.left_out if each.line > last]
        self.remarks.clear()
