"""What has been understood of the files that are brought in, before anything is written."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from stillroom.readers.recording import Recording
from stillroom.readers.source import Source
from stillroom.readers.understanding import Understanding


@dataclass(frozen=True)
class Added:
    """What `add` did, or would do.

    Parameters
    ----------
    new, again, known : measurement files that are new, read anew, and already there.
    records : {kind: number of records written}. left_out : {file: why}. understood : words by file.
    names : what the names pattern says, or "". marks : what nobody told.
    """

    new: tuple[str, ...] = ()
    again: tuple[str, ...] = ()
    known: tuple[str, ...] = ()
    records: dict[str, int] = field(default_factory=dict)
    left_out: dict[str, str] = field(default_factory=dict)
    understood: dict[str, tuple[str, ...]] = field(default_factory=dict)
    names: str = ""
    marks: tuple[str, ...] = ()


@dataclass(frozen=True)
class File:
    """One file to bring in: its name in the lab (from the folder that was given), and its bytes."""

    name: str
    source: Source


@dataclass
class Batch:
    """What has been understood so far."""

    records: list[tuple[Any, str, str]] = field(default_factory=list)  # record, file, place
    measured: list[tuple[File, Understanding, Recording]] = field(default_factory=list)
    files: list[File] = field(default_factory=list)
    left_out: dict[str, str] = field(default_factory=dict)
    reading: bool = False  # whether it was told how to read the files
