"""What a verb answers: words for a reader, a table, and the same as data."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

DONE, BLOCKED, BAD_INPUT, OUR_FAULT = 0, 1, 2, 3
"""Exit codes: done; findings that block; bad input; our own fault."""


@dataclass(frozen=True)
class Table:
    """A table of words: headers, and rows of cells. `right` are the columns that hold numbers."""

    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True)
class Said:
    """The answer of a verb.

    Parameters
    ----------
    title : the answer in one line. tables : with a heading each. lines : what else is to be said.
    data : the same for machines. code : exit code.
    """

    title: str
    tables: tuple[tuple[str, Table], ...] = ()
    lines: tuple[str, ...] = ()
    data: dict[str, Any] = field(default_factory=dict)
    code: int = DONE
